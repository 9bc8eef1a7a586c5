"""Pairs of marks by name: ``UR-LR`` is the upper mark UR and the lower mark LR, joined by a hyphen.

A mark's own name may hold hyphens as long as the pair can be read in one way only: every hyphen is tried, and
exactly one must have the name of an upper mark before it and the name of a lower mark behind it.
"""

from __future__ import annotations

from collections.abc import Mapping

from mountproof.case.base import Arch
from mountproof.case.marks import MarkPlace, Marks


def ways(pair: str, places: Mapping[str, MarkPlace]) -> list[tuple[str, str]]:
    """Return every way to read a pair as two known marks, in the order written, whatever their arches."""
    return [
        (pair[:at], pair[at + 1 :])
        for at, letter in enumerate(pair)
        if letter == "-" and pair[:at] in places and pair[at + 1 :] in places
    ]


def is_upper_lower(names: tuple[str, str], places: Mapping[str, MarkPlace]) -> bool:
    """Tell whether the first name is an upper mark and the second a lower one."""
    return places[names[0]].arch is Arch.UPPER and places[names[1]].arch is Arch.LOWER


def pair_marks(marks: Marks, pair: str) -> tuple[str, str]:
    """Return the names of the upper and the lower mark of a pair.

    ValueError where the pair cannot be read, or in more than one way; a case that was read from a file has no
    such pair.
    """
    fitting = [names for names in ways(pair, marks.places) if is_upper_lower(names, marks.places)]
    if len(fitting) != 1:
        raise ValueError(f"{pair!r} names no upper and lower mark, or can be read in {len(fitting)} ways")
    return fitting[0]
