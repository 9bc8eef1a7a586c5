"""Whether a series of cases is in control: the chart of single values, and of how far each lies from the one before.

Single values and their moving ranges: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2. The mean moving range of two
over ``D2`` is the SD of what changes from case to case, whatever slow drift there is; limits are three of them from the mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from mountproof.geometry.poses import Array

#: Mean range of two standard normal values: 2 / sqrt(pi).
D2: Final = 2.0 / float(np.sqrt(np.pi))
#: Limits in mean moving ranges: 3 / d2 for the values, and D4 of two, 1 + 3 d3 / d2, for the ranges; d3 = sqrt(2 - 4 / pi).
LIMIT_OF_VALUES: Final = 3.0 / D2
LIMIT_OF_RANGES: Final = 1.0 + 3.0 * float(np.sqrt(2.0 - 4.0 / np.pi)) / D2
#: No limits before so many cases; these first ones set them, and later ones are held against them.
FEWEST: Final = 20
#: So many in a row on one side of the mean are no chance (1 in 128 for a given eight).
RUN: Final = 8


class Limits(NamedTuple):
    """What the first cases set: their mean, the SD from case to case, both limits, and that of the moving ranges."""

    mean: float
    sd: float
    low: float
    high: float
    range_high: float


class Chart(NamedTuple):
    """One series. ``limits`` None before ``FEWEST`` values, or where these are all alike.

    ``outside``: indices of values beyond a limit; ``jumps``: of values that lie too far from the one before; ``runs``:
    (first, last) index of every stretch of ``RUN`` or more on one side of the mean, as long as it lasts.
    """

    values: tuple[float, ...]
    limits: Limits | None
    outside: tuple[int, ...] = ()
    jumps: tuple[int, ...] = ()
    runs: tuple[tuple[int, int], ...] = ()

    @property
    def in_control(self) -> bool:
        """Tell whether nothing was found; without limits nothing can be."""
        return not (self.outside or self.jumps or self.runs)


def control_chart(values: Sequence[float], first: int = FEWEST) -> Chart:
    """Return the chart of values in the order of the cases; the ``first`` of them set the limits.

    ValueError for values that are not finite, or fewer than ``FEWEST`` to set limits.
    """
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or not np.all(np.isfinite(x)) or first < FEWEST:
        raise ValueError(f"a row of finite values, and {FEWEST} or more to set the limits")
    shown = tuple(float(v) for v in x)
    if len(x) < first:
        return Chart(shown, None)
    mean, spread = float(x[:first].mean()), float(np.mean(np.abs(np.diff(x[:first]))))
    if not spread > 0.0:
        return Chart(shown, None)
    half = LIMIT_OF_VALUES * spread
    limits = Limits(mean, spread / D2, mean - half, mean + half, LIMIT_OF_RANGES * spread)
    outside = np.flatnonzero((x < limits.low) | (x > limits.high))
    jumps = 1 + np.flatnonzero(np.abs(np.diff(x)) > limits.range_high)
    return Chart(
        shown, limits, tuple(int(i) for i in outside), tuple(int(i) for i in jumps), _runs(np.sign(x - mean))
    )


def _runs(sides: Array) -> tuple[tuple[int, int], ...]:
    """Return (first, last) of every stretch of ``RUN`` or more alike; a value on the mean itself ends one."""
    out, start = [], 0
    for i in range(1, len(sides) + 1):
        if i == len(sides) or sides[i] != sides[start]:
            if sides[start] and i - start >= RUN:
                out.append((start, i - 1))
            start = i
    return tuple(out)


@lru_cache(maxsize=64)
def seen_within(shift_sd: float, cases: int, before: int = FEWEST, histories: int = 4000) -> float:
    """Return in what share of histories a value beyond a limit, or a run, is seen in the first ``cases`` after a shift.

    Normal values; the mean moves by ``shift_sd`` SDs after ``before`` cases, from the first ``FEWEST`` of which the limits
    were found as they would be, doubt and all. Runs may begin before the shift; a sign that was there already does not count
    as one of the shift. With no shift it is the share of false alarms. Simulated, always with the same numbers. ValueError
    for fewer cases than that.
    """
    if before < FEWEST or cases < 1:
        raise ValueError(f"{FEWEST} or more cases before, and one after")
    rng = np.random.default_rng(20)
    x = rng.standard_normal((histories, before + cases))
    x[:, before:] += shift_sd
    base = x[:, :FEWEST]
    mean = base.mean(axis=1, keepdims=True)
    half = LIMIT_OF_VALUES * np.mean(np.abs(np.diff(base, axis=1)), axis=1, keepdims=True)
    seen = np.any(np.abs(x[:, before:] - mean) > half, axis=1)
    above = x > mean
    for end in range(before, before + cases):
        stretch = above[:, end - RUN + 1 : end + 1]
        seen |= np.all(stretch, axis=1) | ~np.any(stretch, axis=1)
    return float(np.mean(seen))
