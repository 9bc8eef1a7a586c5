"""The commands on the store of cases: list, bring in, take out, enter, back up, put back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mountproof.surfaces.cli.plain import Command, Json, plain_errors

CaseArgument = Annotated[
    str, typer.Argument(metavar="CASE", help="The code of the case, or its number in the list.")
]
Store = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER", help="Where the cases are kept. If not given: your data folder on this computer."
    ),
]
Who = Annotated[
    str,
    typer.Option(
        metavar="INITIALS",
        envvar="MOUNTPROOF_WHO",
        show_envvar=False,
        help="Who does this, for the history. If not given: MOUNTPROOF_WHO, else your name on this computer.",
    ),
]


def register(app: typer.Typer) -> None:
    """Add the commands to ``app``."""
    app.command(cls=Command, short_help="List the cases of the store.")(cases)
    app.command("bring-in", cls=Command, short_help="Bring a case folder or a bundle into the store.")(
        bring_in
    )
    app.command(
        "take-out", cls=Command, short_help="Write a case as a folder, or with its history as a bundle."
    )(take_out)
    app.command(
        cls=Command,
        short_help="Change an entry of a case of the store.",
        context_settings={"ignore_unknown_options": True},
    )(enter)
    app.command(cls=Command, short_help="Copy the store with its scans, while it is in use.")(backup)
    app.command("put-back", cls=Command, short_help="Put a backup in the place of the store.")(put_back)


def cases(
    search: Annotated[
        str,
        typer.Option(metavar="WORDS", help="Only cases with all of these words in code, laboratory or note."),
    ] = "",
    state: Annotated[
        str, typer.Option(metavar="STATE", help="Only these: open, waiting, done, or put away.")
    ] = "",
    order: Annotated[
        str, typer.Option(metavar="ORDER", help="changed (last change first) or code.")
    ] = "changed",
    most: Annotated[int, typer.Option(metavar="NUMBER", help="At most so many.")] = 50,
    store: Store = None,
    as_json: Json = False,
) -> None:
    """List the cases of the store: number, code, where each stands, when it was changed last and by whom."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import store_work

        store_work.cases(search, state, order, most, store, as_json)


def bring_in(
    what: Annotated[
        Path,
        typer.Argument(
            metavar="WHAT", help="A case folder, its case.toml, or a bundle (.zip) with its history."
        ),
    ],
    as_new: Annotated[
        bool,
        typer.Option(
            "--as-new", help="Make it a case of its own where it went on both here and in the bundle."
        ),
    ] = False,
    who: Who = "",
    store: Store = None,
    as_json: Json = False,
) -> None:
    """Bring a case into the store: a folder with the files beside it, or a bundle. What is brought in stays as it is."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import store_work

        store_work.bring_in(what, as_new, who, store, as_json)


def take_out(
    case: CaseArgument,
    to: Annotated[
        Path,
        typer.Option(
            metavar="PLACE",
            help="A new or empty folder for the case and its files, or a new file ending in .zip for a bundle with all "
            "revisions.",
        ),
    ],
    revision: Annotated[
        int | None,
        typer.Option(metavar="NUMBER", help="Which revision goes to a folder. If not given: the newest."),
    ] = None,
    store: Store = None,
    as_json: Json = False,
) -> None:
    """Write a case of the store as a folder, or as one file with its whole history. The case stays in the store."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import store_work

        store_work.take_out(case, to, revision, store, as_json)


def enter(
    case: CaseArgument,
    field: Annotated[
        str,
        typer.Argument(
            metavar="FIELD",
            help="The entry as faults name it, such as bench.powder_g; marks.readings_mm.PAIR.STATE is a cell, "
            "foils.+ a new item.",
        ),
    ],
    values: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="VALUE",
            help='What to enter, as in the case file: 38,05 or "110 +- 0,5"; several for a list or for repeats.',
            show_default="needed, or --nothing",
        ),
    ] = None,
    nothing: Annotated[bool, typer.Option("--nothing", help="Take the entry out.")] = False,
    based_on: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            help="The revision that you looked at: what others changed since is not overwritten. If not given: the newest.",
        ),
    ] = None,
    who: Who = "",
    store: Store = None,
    as_json: Json = False,
) -> None:
    """Change one entry of a case of the store, as a new revision. Nothing is overwritten: every revision stays."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import store_work

        store_work.enter(case, field, values or [], nothing, based_on, who, store, as_json)


def backup(
    to: Annotated[
        Path,
        typer.Option(
            metavar="FOLDER",
            help="A new folder, or that of an earlier backup; scans there are not copied again.",
        ),
    ],
    store: Store = None,
    as_json: Json = False,
) -> None:
    """Copy every case with its history and scans to a folder, while others work. It can be opened as a store."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import store_work

        store_work.backup(to, store, as_json)


def put_back(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder that a backup was made in.")],
    who: Who = "",
    store: Store = None,
    as_json: Json = False,
) -> None:
    """Put a backup in the place of what is in the store. What is there now is kept as a file beside it."""
    with plain_errors(as_json):
        from mountproof.surfaces.cli import store_work

        store_work.put_back(folder, who, store, as_json)
