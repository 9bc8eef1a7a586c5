"""Bring two changes of one text together line by line, remarks included; or say that it cannot be done."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import NamedTuple


class _Hunk(NamedTuple):
    """Lines ``start`` to ``end`` of the text before are now ``lines``."""

    start: int
    end: int
    lines: tuple[str, ...]


def merged_lines(base: str, mine: str, theirs: str) -> str | None:
    """Return the text with both changes; None where both changed the same lines, or lines that touch."""
    before = base.splitlines(keepends=True)
    hunks = [_hunks(before, text.splitlines(keepends=True)) for text in (mine, theirs)]
    both = sorted({*hunks[0], *hunks[1]}, key=lambda hunk: (hunk.start, hunk.end))
    found: list[str] = []
    at = 0
    for number, hunk in enumerate(both):
        # A hunk that both have is one; hunks that only touch could have been meant in either order.
        if number and hunk.start <= both[number - 1].end and not _from_one(both[number - 1], hunk, hunks):
            return None
        found += before[at : hunk.start]
        found += hunk.lines
        at = hunk.end
    return "".join([*found, *before[at:]])


def _from_one(one: _Hunk, other: _Hunk, hunks: list[list[_Hunk]]) -> bool:
    return any(one in side and other in side for side in hunks) and one.end <= other.start


def _hunks(before: list[str], after: list[str]) -> list[_Hunk]:
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    return [
        _Hunk(start, end, tuple(after[first:last]))
        for tag, start, end, first, last in matcher.get_opcodes()
        if tag != "equal"
    ]
