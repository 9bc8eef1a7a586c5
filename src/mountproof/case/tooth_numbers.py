"""Tooth numbers of a case: kept as they were written, handed out in ISO 3950."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from mountproof import teeth
from mountproof.case.model import Arch, Case, Numbering


def system_of(case: Case) -> Literal["iso3950", "universal"]:
    """Return the numbering of the case by the name that ``mountproof.teeth`` uses."""
    return "universal" if case.dentition.numbering is Numbering.UNIVERSAL else "iso3950"


def is_number(number: int, numbering: Numbering) -> bool:
    """Tell whether ``number`` names a tooth in a numbering."""
    return 1 <= number <= 32 if numbering is Numbering.UNIVERSAL else teeth.is_tooth(number)


def teeth_iso(case: Case, numbers: Iterable[int]) -> tuple[int, ...]:
    """Return tooth numbers of the case in ISO 3950, in the same order; ValueError for a number that is none."""
    system = system_of(case)
    return tuple(teeth.parse_tooth(str(number), system) for number in numbers)


def arch_of(number: int, numbering: Numbering) -> Arch | None:
    """Return the arch that a tooth stands in; None where ``number`` is no tooth."""
    if not is_number(number, numbering):
        return None
    upper = number <= 16 if numbering is Numbering.UNIVERSAL else number // 10 in (1, 2, 5, 6)
    return Arch.UPPER if upper else Arch.LOWER


def told_otherwise(
    groups: Iterable[tuple[Sequence[int], float]],
) -> Iterator[tuple[int, int, int, float, float]]:
    """Yield where a tooth has another value than where it was named first: group, place in it, tooth, first value, this one."""
    seen: dict[int, float] = {}
    for at, (named, value) in enumerate(groups):
        for i, tooth in enumerate(named):
            before = seen.setdefault(tooth, value)
            if before != value:
                yield at, i, tooth, before, value
