"""The command on all cases of the store together."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mountproof.surfaces.cli.plain import Command, Json, Lang, plain_errors
from mountproof.surfaces.cli.store_commands import Store


def register(app: typer.Typer) -> None:
    """Add the command to ``app``."""
    app.command(cls=Command, short_help="See all cases of the store together: is the bench in control?")(
        practice
    )


def practice(
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", metavar="FOLDER", help="Write a picture of every chart there, as SVG files."
        ),
    ] = None,
    store: Store = None,
    lang: Lang = "en",
    as_json: Json = False,
) -> None:
    """See all cases of the store together: what is in control, what carries the spread, how well records repeat."""
    with plain_errors(as_json, lang):
        from mountproof.surfaces.cli import practice_work

        practice_work.practice(out=out, folder=store, as_json=as_json, lang=lang)
