"""The commands. Each reads a case, asks for answers, and hands them to a surface."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from mountproof.faults import Cancelled, FaultError
from mountproof.surfaces.wording import FAULTY_INPUT

STOPPED, BROKEN = 130, 70

app = typer.Typer(
    name="mountproof",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
    help="Mount casts on an articulator and know whether the mounting can be trusted.\n\n"
    "A case is a folder with a file case.toml that you fill in, and the scans beside it, if there are any.",
    epilog="Exit status: 0 agrees, 3 doubtful, 4 does not agree, 5 cannot tell, 2 something in the input is wrong, "
    "130 stopped by you.",
)

CaseArgument = Annotated[
    Path, typer.Argument(help="The folder of the case, or its case.toml.", show_default=False)
]
Json = Annotated[bool, typer.Option("--json", help="Print for another program, as JSON.")]


@contextmanager
def _plain_errors(as_json: bool = False) -> Iterator[None]:
    """Turn what goes wrong into one clear message and an exit status."""
    from mountproof.surfaces.cli.screen import show_faults

    try:
        yield
    except FaultError as error:
        show_faults(error.faults, as_json)
        raise typer.Exit(FAULTY_INPUT) from None
    except (Cancelled, KeyboardInterrupt):
        sys.stderr.write("\nStopped. Nothing was changed.\n")
        raise typer.Exit(STOPPED) from None
    except typer.Exit:
        raise
    except Exception as error:
        if os.environ.get("MOUNTPROOF_TRACEBACK"):
            raise
        sys.stderr.write(
            f"The program itself went wrong here ({type(error).__name__}: {error}). Your files are unchanged. "
            "Set MOUNTPROOF_TRACEBACK=1 and run it again to see where, and report that.\n"
        )
        raise typer.Exit(BROKEN) from None


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="The folder to make for the new case.", show_default=False)],
) -> None:
    """Start a case: make a folder with a case.toml to fill in at the bench."""
    with _plain_errors():
        from mountproof.case.template import write_template

        made = write_template(folder)
        typer.echo(f"Made {made}. Fill in what you have measured, then run:  mountproof answer {folder}")


@app.command()
def answer(
    case: CaseArgument,
    questions: Annotated[
        list[str] | None,
        typer.Argument(
            help="Only these questions, in full: pin, stone, record, mounting, contacts, guidance, change, doubt.",
            show_default=False,
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Answer the eight questions of a case, one line each; name a question to see it in full."""
    with _plain_errors(as_json):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.answer(case, questions, as_json))


@app.command()
def report(
    case: CaseArgument,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="Where to write the PDF; beside the case if not given.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Write the one-page sheet of a case as a PDF, to print, sign and file."""
    with _plain_errors(as_json):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.report(case, out, as_json))


@app.command()
def export(
    case: CaseArgument,
    folder: Annotated[Path, typer.Argument(help="Where to write the files.", show_default=False)],
    decimal_comma: Annotated[
        bool, typer.Option(help="Write CSV with decimal commas and semicolons.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Write the contact sites and the closing map: CSV, JSON, and both casts as coloured PLY."""
    with _plain_errors(as_json):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.export(case, folder, decimal_comma, as_json))


@app.command()
def demo(
    out: Annotated[Path, typer.Option("--out", "-o", help="Where to put the demo case.")] = Path(
        "mountproof-demo"
    ),
    as_json: Json = False,
) -> None:
    """Make an invented case with made-up casts, answer it, and write its sheet."""
    with _plain_errors(as_json):
        from mountproof.surfaces.cli import work

        raise typer.Exit(work.demo(out, as_json))


def run() -> None:
    """Run the commands, with texts in UTF-8 whatever the terminal says."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    app()
