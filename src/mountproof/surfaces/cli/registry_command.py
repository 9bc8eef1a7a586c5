"""The command over many cases."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mountproof.surfaces.cli.plain import Command, Json, Lang, plain_errors


def register(app: typer.Typer) -> None:
    """Add the command to ``app``."""
    app.command(cls=Command, short_help="Work out the numbers of many cases, and keep them.")(registry)


def registry(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="FOLDER",
            help="Folders that hold case folders, or case folders.",
            show_default="the cases of your store",
        ),
    ] = None,
    store: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="The cases of the store in this folder, too.")
    ] = None,
    to: Annotated[
        str,
        typer.Option(
            metavar="WHERE",
            envvar="MOUNTPROOF_REGISTRY",
            show_envvar=False,
            help="Where the numbers are kept: a file, or postgresql://NAME@COMPUTER:PORT/DATABASE. If not given: "
            "MOUNTPROOF_REGISTRY (for an address with a password), else a file in your data folder.",
        ),
    ] = "",
    workers: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            min=0,
            max=256,
            help="How many processes of this computer; 0: one by one, in this one. If not given: one for each processor.",
        ),
    ] = None,
    scheduler: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS",
            help="Let the workers of this Dask scheduler work, such as tcp://COMPUTER:8786. Only one that you trust as "
            "your own computer.",
        ),
    ] = "",
    lang: Lang = "en",
    as_json: Json = False,
) -> None:
    """Work out the numbers of many cases and keep them in a registry. Stopped, the same command goes on from there."""
    with plain_errors(as_json, lang):
        from mountproof.surfaces.cli import registry_work

        asked = registry_work.Asked(tuple(folders or ()), store, to, workers, scheduler)
        raise typer.Exit(registry_work.registry(asked, as_json, lang))
