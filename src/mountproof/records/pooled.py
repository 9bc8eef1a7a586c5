"""Repeatability pooled over many cases, cases that scatter too much told apart, and what another visit adds (ISO 5725-2)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from mountproof.geometry.quantile import f_tail
from mountproof.records.repeats import sd_factors_of_dof

#: A case is told to scatter too much where chance would leave one such among all of them in fewer than 1 of 100 practices.
_CHANCE: Final = 0.01


class Cell(NamedTuple):
    """One case: its mean square (may be below zero, where readings were taken off) and its degrees of freedom."""

    name: str
    variance: float
    dof: int


class Between(NamedTuple):
    """One case with several visits: the mean square between them, its freedom, and the mean number of records in one."""

    mean_square: float
    dof: int
    size: float


class Pooled(NamedTuple):
    """The pooled variance with its degrees of freedom; ``sd`` with its interval; ``beyond`` the cases left out as too wide."""

    variance: float
    dof: int
    low: float
    high: float
    cells: int
    beyond: tuple[str, ...]

    @property
    def sd(self) -> float:
        """Return the SD; zero where the readings alone scatter more than the records."""
        return math.sqrt(max(0.0, self.variance))


def pooled(cells: Sequence[Cell], p: float = 0.95) -> Pooled:
    """Return the repeatability pooled over cases: sums of squares over degrees of freedom, interval by chi-square.

    A case whose variance stands out from all others together is left out and named, the widest first (Cochran's test of
    ISO 5725-2, as the F of one case over the rest with the chance shared among all cases, so that cases may have unequal
    numbers of records). ValueError where there is no case, or one has no freedom.
    """
    left = list(cells)
    if not left or any(c.dof < 1 or not math.isfinite(c.variance) for c in left):
        raise ValueError("one or more cases, each with two records or more")
    beyond = []
    while len(left) > 2:
        tails = [_tail(c, [o for o in left if o is not c]) for c in left]
        worst = min(range(len(left)), key=lambda i: tails[i])
        if tails[worst] * len(left) >= _CHANCE:
            break
        beyond.append(left.pop(worst).name)
    dof = sum(c.dof for c in left)
    variance = math.fsum(c.variance * c.dof for c in left) / dof
    low, high = (f * math.sqrt(max(0.0, variance)) for f in sd_factors_of_dof(dof, p))
    return Pooled(variance, dof, low, high, len(left), tuple(beyond))


def _tail(one: Cell, rest: Sequence[Cell]) -> float:
    dof = sum(c.dof for c in rest)
    variance = math.fsum(c.variance * c.dof for c in rest) / dof
    if variance <= 0.0:
        return 1.0
    return f_tail(max(0.0, one.variance) / variance, one.dof, dof)


def visit_variance(within: float, found: Sequence[Between]) -> tuple[float, int]:
    """Return what another visit adds (variance; below zero: nothing seen) and the degrees of freedom, over all cases.

    The squares between visits less what records of one visit leave there, over ``dof size``. ValueError for no case.
    """
    dof = sum(b.dof for b in found)
    if dof < 1:
        raise ValueError("one case with two visits or more")
    above = math.fsum(b.dof * (b.mean_square - within) for b in found)
    return above / math.fsum(b.dof * b.size for b in found), dof
