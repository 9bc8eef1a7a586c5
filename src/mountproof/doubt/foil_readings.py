"""What a foil tells of the gap at one tooth: an interval, how soft its ends are, and how far the tooth gives.

Foils of several thicknesses at one tooth make one interval: each that is held lowers its upper end, each that comes free
raises its lower end. Derivation: docs/theory/foils.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

from mountproof.geometry.quantile import normal_cdf, normal_quantile

State = Literal["holds", "drags", "free"]

#: A foil drags while the gap is within this part of its thickness on both sides of it. Our choice, no source.
DRAGS_PART: Final = 0.5
#: A state turns from one to the next softly: by so much (1 SD, mm), and by this part of the thickness (cut, wet, stretched,
#: doubled at a fold). Our choice, no source.
EDGE_SD_MM: Final = 0.003
THICKNESS_PART: Final = 0.10
#: One tooth gives by so much more or less than the others, and one place of a cast is so much too high or too low (1 SD,
#: mm). Our choice, no source.
OWN_GIVE_SD_MM: Final = 0.010
OWN_CAST_SD_MM: Final = 0.020


class Read(NamedTuple):
    """One foil at one tooth: its thickness, what it did, and whether dragging was looked for in that list."""

    thickness_mm: float
    state: State
    drags_told: bool = False


class Interval(NamedTuple):
    """The gap (mm, less what the tooth gives) lies between ``low_mm`` and ``high_mm``, both soft by ``sd_mm``."""

    low_mm: float
    high_mm: float
    sd_mm: float


def interval_of(reads: Sequence[Read], own_sd_mm: float, floor_mm: float) -> Interval | None:
    """Return the one interval of all foils at a tooth; None where they contradict each other.

    Held: thinner than the foil; free: wider; dragging: within ``DRAGS_PART`` of it. Where a list told which teeth drag, held
    and free begin beyond that. ``floor_mm`` is where the gap ends of itself: 0 on casts, which do not sink into each other,
    ``-inf`` in the mouth, where teeth give. Raises ValueError without any reading, or for a foil of no thickness.
    """
    if not reads or any(not r.thickness_mm > 0.0 for r in reads):
        raise ValueError("a tooth needs at least one foil, and each a thickness above zero")
    low, high, thinnest = floor_mm, math.inf, math.inf
    for r in reads:
        half = DRAGS_PART * r.thickness_mm if r.drags_told or r.state == "drags" else 0.0
        begins = {"holds": floor_mm, "drags": r.thickness_mm - half, "free": r.thickness_mm + half}[r.state]
        ends = {"holds": r.thickness_mm - half, "drags": r.thickness_mm + half, "free": math.inf}[r.state]
        if begins > low:
            low = begins
        if ends < high:
            high = ends
        thinnest = min(thinnest, r.thickness_mm)
    if not low < high:
        return None
    return Interval(low, high, math.hypot(EDGE_SD_MM, THICKNESS_PART * thinnest, own_sd_mm))


def give_values(mean_mm: float, sd_mm: float, count: int = 6) -> tuple[float, ...]:
    """Return ``count`` alike probable values of what all teeth give (mm): the middles of equal parts of a normal above zero.

    Raises ValueError for a give below zero.
    """
    if mean_mm < 0.0 or sd_mm < 0.0:
        raise ValueError("teeth give by zero or more")
    if sd_mm == 0.0:
        return (mean_mm,)
    under = normal_cdf(-mean_mm / sd_mm)
    parts = [under + (1.0 - under) * (k + 0.5) / count for k in range(count)]
    return tuple(mean_mm + sd_mm * normal_quantile(p) for p in parts)
