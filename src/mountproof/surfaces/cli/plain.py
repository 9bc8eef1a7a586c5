"""What every command shares: help in plain words, errors as messages, the option for other programs."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

import typer
from typer.core import TyperArgument, TyperCommand

from mountproof.faults import Cancelled, FaultError
from mountproof.said import languages, render, say
from mountproof.said.catalogue import ENGLISH
from mountproof.surfaces.cli.status import BROKEN, CLOSED_PIPE, FAULTY_INPUT, STOPPED


def _known(asked: str) -> str:
    """Return the language of ``de`` or ``de_DE.UTF-8``; a usage error for one that there are no files of."""
    language = asked.strip().lower()[:2]
    if language not in languages():
        raise typer.BadParameter(f"{asked!r}: texts are there in {', '.join(languages())}")
    return language


Lang = Annotated[
    str,
    typer.Option(
        "--lang",
        metavar="LANGUAGE",
        envvar="MOUNTPROOF_LANG",
        callback=_known,
        show_envvar=False,
        help="Language of the texts: en or de; MOUNTPROOF_LANG says it for every time. JSON is in English.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print for another program, as JSON.")]


class Command(TyperCommand):
    """A command whose help names its arguments without the types of a programming language."""

    def __init__(self, *words: Any, **named: Any) -> None:
        super().__init__(*words, **named)
        for parameter in self.params:
            if isinstance(parameter, TyperArgument):
                vars(parameter)["display_type_rich"] = _no_type


def _no_type(**_: Any) -> None:
    return None


@contextmanager
def plain_errors(as_json: bool = False, language: str = ENGLISH) -> Iterator[None]:
    """Turn what goes wrong into one clear message and an exit status."""
    try:
        yield
    except FaultError as error:
        from mountproof.surfaces.cli.screen import show_faults

        show_faults(error.faults, as_json, language)
        raise typer.Exit(FAULTY_INPUT) from None
    except (Cancelled, KeyboardInterrupt):
        sys.stderr.write(render(say("Stopped. Your files are as they were."), language) + "\n")
        raise typer.Exit(STOPPED) from None
    except BrokenPipeError:
        # Whoever read the output has seen enough; what is left in the buffer must not be tried again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(CLOSED_PIPE) from None
    except typer.Exit:
        raise
    except Exception as error:
        if os.environ.get("MOUNTPROOF_TRACEBACK"):
            raise
        sys.stderr.write(
            f"The program itself went wrong here ({type(error).__name__}: {error}). Your files are as they were. "
            "Set MOUNTPROOF_TRACEBACK=1 and run it again to see where, and report that.\n"
        )
        raise typer.Exit(BROKEN) from None
