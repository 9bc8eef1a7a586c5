"""Progress on work that takes more than a second: on the screen for a person, silent otherwise."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

_PATIENCE_S = 1.0
_WIDTH = 24


def on_stderr() -> Callable[[float, str], None]:
    """Return a progress function that begins to show after one second, on standard error.

    On a terminal it keeps one line; elsewhere it writes a line whenever the work changes. Ctrl-C stops the work.
    """
    start = time.monotonic()
    terminal = sys.stderr.isatty()
    last = ""

    def show(fraction: float, what: str) -> None:
        nonlocal last
        if time.monotonic() - start < _PATIENCE_S:
            return
        if terminal:
            filled = round(_WIDTH * min(max(fraction, 0.0), 1.0))
            line = f"\r{'━' * filled}{'╌' * (_WIDTH - filled)} {fraction:4.0%}  {what[:60]:60}"
            sys.stderr.write("\r" + " " * (len(line) + 2) + "\r" if fraction >= 1.0 else line)
            sys.stderr.flush()
        elif what != last:
            sys.stderr.write(f"{fraction:4.0%}  {what}\n")
        last = what

    return show
