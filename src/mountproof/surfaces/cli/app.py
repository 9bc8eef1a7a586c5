"""The commands. Each reads a case, asks for answers, and hands them to a surface."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from mountproof.surfaces.cli import practice_command, registry_command, store_commands
from mountproof.surfaces.cli.plain import Command, Json, Lang, plain_errors

_STATUS = (
    "Exit status: 0 agrees, 3 doubtful, 4 does not agree, 5 cannot tell; the worst of the questions asked decides, "
    "those that this version does not answer left aside. "
    "2 something in the input cannot be used, 130 stopped by you, 70 the program itself went wrong."
)


app = typer.Typer(
    name="mountproof",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
    help="Mount casts on an articulator and know whether the mounting can be trusted.\n\n"
    "A case is a folder with a file case.toml that you fill in, and the scans beside it, if there are any. "
    "Begin with: mountproof new my-case\n\n"
    "Cases can also be kept together, with every revision, in a store: see mountproof open and mountproof cases.",
    epilog=_STATUS,
)

CaseArgument = Annotated[
    str,
    typer.Argument(
        metavar="CASE",
        help="The folder of the case, or its case.toml; else a code or number from the list of cases.",
    ),
]
StoreOption = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER",
        help="Take CASE from the store in this folder. If not given: a case folder where there is one, else your store.",
    ),
]


def _version(wanted: bool) -> None:
    if wanted:
        from mountproof.version import VERSION

        typer.echo(f"mountproof {VERSION}")
        raise typer.Exit


@app.callback()
def _whole(
    _version_wanted: Annotated[
        bool,
        typer.Option("--version", help="Show the version and exit.", callback=_version, is_eager=True),
    ] = False,
) -> None:
    pass


@app.command(cls=Command, short_help="Make a folder with a case.toml to fill in at the bench.")
def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder to make for the new case.")],
    as_json: Json = False,
) -> None:
    """Start a case: make a folder with a case.toml to fill in at the bench."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import work

        work.new(folder, as_json)


@app.command(
    cls=Command, short_help="Answer the eight questions; name one to see it in full.", epilog=_STATUS
)
def answer(
    case: CaseArgument,
    questions: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="QUESTION",
            help="Only these questions, in full: pin, stone, record, mounting, contacts, guidance, change, doubt.",
        ),
    ] = None,
    store: StoreOption = None,
    lang: Lang = "en",
    as_json: Json = False,
) -> None:
    """Answer the eight questions of a case in short; name one or more to see them in full."""
    with plain_errors(as_json, lang):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.answer(case, store, questions, as_json, lang))


@app.command(cls=Command, short_help="Write the sheet as a PDF, to print, sign and file.", epilog=_STATUS)
def report(
    case: CaseArgument,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            metavar="FILE",
            help="Where to write the PDF. If not given: in the folder of the case, or here, called as its code.",
        ),
    ] = None,
    store: StoreOption = None,
    lang: Lang = "en",
    as_json: Json = False,
) -> None:
    """Write the sheet of a case as a PDF, to print, sign and file."""
    with plain_errors(as_json, lang):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.report(case, store, out, as_json, lang))


@app.command(cls=Command, short_help="Write a neutral message about the mounting, to lab or dentist.")
def message(
    case: CaseArgument,
    to: Annotated[str, typer.Option("--to", metavar="WHOM", help="To whom it goes: lab or dentist.")] = "lab",
    store: StoreOption = None,
    lang: Lang = "en",
    as_json: Json = False,
) -> None:
    """Print a message to the lab or the dentist: what was measured, its limit, and what is asked for."""
    with plain_errors(as_json, lang):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.message(case, store, to, as_json, lang))


@app.command(
    cls=Command, short_help="Write one paper of a case as a PDF: for the lab, the patient, the file."
)
def paper(
    case: CaseArgument,
    which: Annotated[
        str,
        typer.Argument(
            metavar="PAPER",
            help="prescription, patient, before-cutting or message. The case sheet itself: mountproof report.",
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            metavar="FILE",
            help="Where to write the PDF. If not given: in the folder of the case, or here, called as its code and paper.",
        ),
    ] = None,
    store: StoreOption = None,
    lang: Lang = "en",
    as_json: Json = False,
) -> None:
    """Write one paper of a case as a PDF. Exit status: 0 written, 5 a prescription with blank fields, written as not ready."""
    with plain_errors(as_json, lang):
        from mountproof.surfaces.cli import paper_work

        raise typer.Exit(paper_work.paper(case, store, which, out, as_json, lang))


@app.command(cls=Command, short_help="Write contact sites, closing map and coloured casts.", epilog=_STATUS)
def export(
    case: CaseArgument,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where to write the files.")],
    decimal_comma: Annotated[
        bool,
        typer.Option(
            "--decimal-comma", help="Write CSV with decimal commas, and semicolons between the columns."
        ),
    ] = False,
    store: StoreOption = None,
    as_json: Json = False,
) -> None:
    """Write contact sites and closing map for other programs: CSV, JSON, and both casts as coloured PLY."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.export(case, store, folder, decimal_comma, as_json))


@app.command(cls=Command, short_help="Make an invented case, answer it, write its sheet.")
def demo(
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="FOLDER", help="The folder to put the demo case in.")
    ] = Path("mountproof-demo"),
    as_json: Json = False,
) -> None:
    """Make an invented case with made-up casts, answer it, and write its sheet."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.demo(out, as_json))


@app.command("open", cls=Command, short_help="Open the web bench in the browser.")
def open_bench(
    port: Annotated[
        int | None,
        typer.Option(metavar="NUMBER", min=1, max=65535, help="The port to use. If not given: a free one."),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only show the address; open no browser.")
    ] = False,
    store: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Where the cases are kept. If not given: your data folder on this computer.",
        ),
    ] = None,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan", help="Let in tablets of this network, too, once you have paired them in the page."
        ),
    ] = False,
    at: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS",
            help="With --lan: the name or address of this computer that tablets open. If not given: found.",
        ),
    ] = "",
    cert: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="With --lan: your certificate (PEM). Without one, others in the network can read what passes.",
        ),
    ] = None,
    key: Annotated[
        Path | None, typer.Option(metavar="FILE", help="With --lan: the key of the certificate (PEM).")
    ] = None,
) -> None:
    """Open the web bench, with every case, until you stop it with Ctrl+C. Only this computer comes in, unless --lan."""
    with plain_errors():
        from mountproof.surfaces.web.serve import serve, wish_of

        wish = wish_of(lan, at, cert, key)
        serve(store, port, browser=not no_browser, show=lambda text: typer.echo(text), lan=wish)


store_commands.register(app)
practice_command.register(app)
registry_command.register(app)


def run() -> None:
    """Run the commands, with texts in UTF-8 whatever the terminal says."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    app(prog_name="mountproof")
