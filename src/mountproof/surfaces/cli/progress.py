"""Progress on work that takes more than a second: on the screen for a person, silent otherwise."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from mountproof.said import render
from mountproof.said.catalogue import ENGLISH

_PATIENCE_S = 1.0
_WIDTH = 24
_TEXT = 40
#: Longest line that is drawn; it is wiped with as many spaces.
_LINE = _WIDTH + _TEXT + 7


@contextmanager
def on_stderr(language: str = ENGLISH) -> Iterator[Callable[[float, str], None]]:
    """Give a progress function that begins to show after one second, on standard error.

    On a terminal it keeps one line and wipes it at the end, however the work ends; elsewhere it writes a line
    whenever the work changes.
    """
    start = time.monotonic()
    terminal = sys.stderr.isatty()
    last, drawn = "", False

    def show(fraction: float, text: str) -> None:
        nonlocal last, drawn
        what = render(text, language)
        if time.monotonic() - start < _PATIENCE_S or fraction >= 1.0:
            return
        if terminal:
            filled = round(_WIDTH * max(fraction, 0.0))
            bar = "━" * filled + "╌" * (_WIDTH - filled)
            # Before the line: a stop that comes while it is written must wipe it too.
            drawn = True
            sys.stderr.write(f"\r{bar} {fraction:4.0%}  {what[:_TEXT]:{_TEXT}}")
        elif what != last:
            sys.stderr.write(f"{fraction:4.0%}  {what}\n")
        sys.stderr.flush()
        last = what

    try:
        yield show
    finally:
        if drawn:
            sys.stderr.write("\r" + " " * _LINE + "\r")
            sys.stderr.flush()
