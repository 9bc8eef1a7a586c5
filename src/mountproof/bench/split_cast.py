"""The gaps of a split cast: a plane through three or more places of the rim, carried to condyles, molars and incisors.

With a second record in, the base of the cast stands off from the base it was split from. Two rigid faces that once met
are two planes: the gap is ``h + a (x - x0) + b (z - z0)``, and three places give it exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.carry import Carried, measured, stack
from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array


class Gap(NamedTuple):
    """The gap (mm) at one place of the rim (ahead of the hinge axis, to the right; mm), with its standard uncertainty."""

    ahead_mm: float
    right_mm: float
    gap_mm: float
    u_mm: float


class SplitFit(NamedTuple):
    """The plane: ``plane`` carries the gap (mm) at ``middle_mm`` (ahead, right), its slope ahead and to the right (rad).

    ``residuals_mm`` (n,) of the gaps; ``tail``: chance of residuals so large from reading alone, 1 for three places.
    """

    plane: Carried
    middle_mm: tuple[float, float]
    residuals_mm: Array
    dof: int
    tail: float

    def at(self, places_mm: ArrayLike) -> Carried:
        """Return the gap (mm) carried to places (k, 2: ahead, right; mm), with the doubt of all readings."""
        at = np.asarray(places_mm, dtype=np.float64).reshape(-1, 2)
        return self.plane.linear(
            np.column_stack(
                [np.ones(at.shape[0]), at[:, 0] - self.middle_mm[0], at[:, 1] - self.middle_mm[1]]
            )
        )


class InLine(NamedTuple):
    """Why a plane cannot be told, and where (ahead, right; mm) a further place would show it."""

    places: int
    ahead_mm: float
    right_mm: float


def gap_between(passes_mm: float | None, holds_mm: float, sd_mm: float) -> tuple[float, float]:
    """Return the gap and its u (mm) where a strip of ``passes_mm`` passes and one of ``holds_mm`` is held.

    Anything between is alike probable: the middle, and the width over ``2 sqrt(3)`` (JCGM 100:2008, 4.3.7), beside the
    SD of telling at one strip. Without a strip that passes the gap begins at zero. Raises ValueError where the strip that is
    held is not the thicker one.
    """
    low = passes_mm or 0.0
    if not 0.0 <= low < holds_mm:
        raise ValueError("the strip that is held must be thicker than the one that passes")
    return 0.5 * (low + holds_mm), math.hypot((holds_mm - low) / math.sqrt(12.0), sd_mm)


def split_plane(gaps: Sequence[Gap]) -> SplitFit | InLine:
    """Return the weighted least-squares plane through the gaps, with its covariance; ``InLine`` where they hold none.

    Three places give it exactly. Raises ValueError for an uncertainty that is not above zero, or without any place.
    """
    if not gaps or any(not g.u_mm > 0.0 for g in gaps):
        raise ValueError("gaps need a standard uncertainty above zero")
    at = np.array([(g.ahead_mm, g.right_mm) for g in gaps])
    middle = at.mean(axis=0)
    arm = at - middle
    _, spread, ways = np.linalg.svd(arm, full_matrices=True)
    if len(gaps) < 3 or spread[1] < _IN_LINE * spread[0]:
        return _beside(len(gaps), middle, spread, ways)
    w = np.array([1.0 / g.u_mm for g in gaps])
    design = np.column_stack([np.ones(len(gaps)), arm])
    gain = np.linalg.pinv(design * w[:, None]) * w[None, :]
    read = stack([measured(g.gap_mm, g.u_mm, f"split/{i}") for i, g in enumerate(gaps)])
    plane = read.linear(gain)
    residuals = read.values - design @ plane.values
    dof = len(gaps) - 3
    tail = chi2_tail(float(np.sum((residuals * w) ** 2)), dof) if dof else 1.0
    return SplitFit(plane, (float(middle[0]), float(middle[1])), residuals, dof, tail)


def _beside(count: int, middle: Array, spread: Array, ways: Array) -> InLine:
    """Return a place across the line that all places stand on, as far from it as they reach along it."""
    reach = max(_HALF_BASE_MM, float(spread[0]) / math.sqrt(count) if spread.size else 0.0)
    across = ways[1] if spread.size and spread[0] > 0.0 else np.array([1.0, 0.0])
    both = [middle + reach * across, middle - reach * across]
    # a place behind the hinge axis, or far ahead of the teeth, is no place of a base: take the other side of the line
    best = min(both, key=lambda p: abs(float(p[0]) - _MIDDLE_OF_BASE_MM))
    return InLine(count, float(best[0]), float(best[1]))


def expected_sd_mm(repeat_mm: float, reseat_mm: float, reading_u_mm: float) -> float:
    """Return the SD (mm) by which two honest records differ at a condyle: ``sqrt(2 (repeat^2 + reseat^2) + reading^2)``.

    Each record strays by ``repeat_mm`` and is seated once, with ``reseat_mm``. What a wrong hinge axis adds between records
    of unequal thickness (``bench.same_opening.axis_cost_mm``) is no spread and is added by the caller.
    """
    return math.sqrt(2.0 * (repeat_mm**2 + reseat_mm**2) + reading_u_mm**2)


#: Places whose spread across is below this part of that along stand in a line: slope across it would be twenty times
#: as doubtful as along it.
_IN_LINE = 0.05
#: Half of a base of 50 mm, and about how far ahead of the hinge the middle of a base lies. Common sizes, no source.
_HALF_BASE_MM = 25.0
_MIDDLE_OF_BASE_MM = 65.0
