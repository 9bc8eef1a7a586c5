"""How long work says where it is, and how a person stops it."""

from __future__ import annotations

from collections.abc import Callable

#: Called with a fraction of the work done and what is being done; may raise ``mountproof.faults.Cancelled``.
Progress = Callable[[float, str], None]


def quiet(_fraction: float, _what: str) -> None:
    """Report no progress."""


def within(progress: Progress, start: float, share: float) -> Progress:
    """Return a progress function for one part of the work, from ``start`` over ``share`` of the whole."""

    def inner(fraction: float, what: str) -> None:
        progress(start + share * fraction, what)

    return inner
