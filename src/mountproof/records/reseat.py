"""The same record taken off and put back: how well it finds its seat, whether it wanders, and whether it has two."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.poses import Array
from mountproof.geometry.quantile import student_cdf
from mountproof.records.repeats import SpreadOf, range_factor, sd_factors_of_dof, spread_of


class Trend(NamedTuple):
    """Change for each re-seating (mm), its standard uncertainty, and the probability of one so large by chance."""

    slope_mm: float
    u_mm: float
    tail: float


class TwoSeats(NamedTuple):
    """Two seats a record falls into: which re-seatings belong to the second, and how far they lie apart (mm)."""

    second: tuple[int, ...]
    apart_mm: float
    within_mm: float


class Reseating(NamedTuple):
    """What re-seating shows: SD by pair and pooled, with intervals; trend; two seats where there are two."""

    by_pair: Mapping[str, SpreadOf]
    pooled: SpreadOf
    trend: Trend
    two_seats: TwoSeats | None
    reseatings: int

    def seat_sd_mm(self, reading_sd_mm: float) -> float:
        """Return the SD of the seat alone: the pooled SD less that of reading, zero where reading explains it all."""
        return math.sqrt(max(0.0, self.pooled.sd**2 - reading_sd_mm**2))


def reseating(repeats_mm: Mapping[str, Sequence[float]], reading_sd_mm: float) -> Reseating:
    """Return what ``repeats_mm`` (pair -> distance at each re-seating, in order) show.

    ``reading_sd_mm`` is the SD of one reading, by which two seats are told from one wide one. Raises ValueError for
    fewer than two re-seatings or pairs of different length.
    """
    counts = {len(v) for v in repeats_mm.values()}
    if len(counts) != 1 or min(counts) < 2:
        raise ValueError("every pair needs the same number of re-seatings, at least two")
    table = np.array([list(v) for v in repeats_mm.values()], dtype=np.float64)
    if not np.all(np.isfinite(table)):
        raise ValueError("repeats must be finite")
    return Reseating(
        {name: spread_of(list(values)) for name, values in repeats_mm.items()},
        _pooled(table),
        trend_of(table),
        two_seats(table, reading_sd_mm),
        table.shape[1],
    )


def _pooled(table_mm: Array) -> SpreadOf:
    """Return the SD over all pairs (pairs, n) with an interval that knows that pairs of one seat move together.

    A seat that is off moves all pairs at once, so they are not independent: the pooled variance has
    ``(n - 1) (tr S)^2 / tr S^2`` degrees of freedom, from ``n - 1`` (all pairs say the same) to ``(n - 1)`` times the
    pairs. ``tr S^2`` of the covariance of the pairs is estimated without bias for normal values (T. Anderson, An
    Introduction to Multivariate Statistical Analysis, from memory); F. Satterthwaite 1946 for the degrees of freedom.
    """
    pairs, n = table_mm.shape
    nu = n - 1
    centred = table_mm - table_mm.mean(axis=1, keepdims=True)
    cov = centred @ centred.T / nu
    trace = float(np.trace(cov))
    sd = math.sqrt(trace / pairs)
    dof = float(nu)
    if nu > 1 and trace > 0.0:
        squares = nu**2 / ((nu + 2) * (nu - 1)) * (float(np.sum(cov * cov)) - trace**2 / nu)
        whole = trace**2 - 2.0 / nu * squares  # (tr S)^2 itself is too large by 2 tr S^2 / nu on average
        together = whole / squares if squares > 0.0 else float(pairs)
        dof = nu * min(max(together, 1.0), float(pairs))
    low, high = sd_factors_of_dof(max(1, math.floor(dof)))
    return SpreadOf(sd, max(1, math.floor(dof)), low * sd, high * sd)


def trend_of(table_mm: Array) -> Trend:
    """Return the common slope over re-seatings of a table (pairs, n): each pair has its own mean, all one slope."""
    pairs, n = table_mm.shape
    order = np.arange(n) - 0.5 * (n - 1)
    centred = table_mm - table_mm.mean(axis=1, keepdims=True)
    size = pairs * float(np.sum(order**2))
    slope = float(np.sum(centred * order)) / size
    dof = pairs * (n - 1) - 1
    if dof < 1:
        return Trend(slope, math.inf, 1.0)
    left = float(np.sum((centred - slope * order) ** 2))
    u = math.sqrt(left / dof / size)
    if u == 0.0:
        return Trend(slope, 0.0, 1.0 if slope == 0.0 else 0.0)
    return Trend(slope, u, 2.0 * student_cdf(-abs(slope) / u, dof))


def two_seats(table_mm: Array, reading_sd_mm: float) -> TwoSeats | None:
    """Return the two seats of a record, or None where one seat explains the table (pairs, n).

    The re-seatings are split in two along the direction in which they differ most, where the parts are told apart best.
    Two seats are told only where each part has at least two and keeps within the range that reading alone gives, where
    the parts lie further apart than ``n`` readings ever would, and where they stand clearer of each other, for their own
    width, than the best split of ``n`` values of one normal scatter does in 19 of 20 cases: a wide scatter is not two seats.
    """
    pairs, n = table_mm.shape
    if n < 4 or not reading_sd_mm > 0.0:
        return None
    centred = table_mm - table_mm.mean(axis=1, keepdims=True)
    _, _, axes = np.linalg.svd(centred, full_matrices=False)
    order = np.argsort(axes[0], kind="stable")
    clear, cut = _best_split(axes[0][order][None, :])
    if not clear[0] > _clear_of_one(n):
        return None
    low, high = order[: cut[0]], order[cut[0] :]
    apart = table_mm[:, high].mean(axis=1) - table_mm[:, low].mean(axis=1)
    # of the pair that differs most; so many looks need a share of the risk each
    p = 1.0 - 0.05 / pairs
    widest = int(np.argmax(np.abs(apart)))
    spread = max(float(np.ptp(table_mm[widest, low])), float(np.ptp(table_mm[widest, high])))
    allowed = max(range_factor(int(part.shape[0]), p) for part in (low, high)) * reading_sd_mm
    if abs(apart[widest]) <= range_factor(n, p) * reading_sd_mm or spread > allowed:
        return None
    first = set(low.tolist()) if 0 in low else set(high.tolist())
    second = tuple(sorted(i for i in range(n) if i not in first))
    return TwoSeats(second, float(abs(apart[widest])), spread)


def _best_split(rising: Array) -> tuple[Array, NDArray[np.intp]]:
    """Return for rows of rising values (m, n) how clear the best split in two stands (m,), and where it is (m,).

    Clear: the distance of the means of both parts, two values or more each, over the SD within them.
    """
    n = rising.shape[1]
    centred = rising - rising.mean(axis=1, keepdims=True)
    below, total = np.cumsum(centred, axis=1), np.sum(centred**2, axis=1)
    best, where = np.zeros(len(rising)), np.full(len(rising), 2)
    for cut in range(2, n - 1):
        # the sum of all is zero: what the low part lacks the high part has
        apart = -below[:, cut - 1] * (1.0 / cut + 1.0 / (n - cut))
        within = total - below[:, cut - 1] ** 2 * (1.0 / cut + 1.0 / (n - cut))
        # a part of no width stands as clear as one reads digits
        clear = apart / np.sqrt(np.maximum(within, _NO_WIDTH * total) / (n - 2) + (total == 0.0))
        better = clear > best
        best, where = np.where(better, clear, best), np.where(better, cut, where)
    return best, where


#: A part of the squares below this is rounding of doubles.
_NO_WIDTH = 1e-12
#: So many draws of one scatter tell its 95 % quantile to a percent.
_DRAWS = 20_000


@lru_cache(maxsize=32)
def _clear_of_one(n: int) -> float:
    """Return how clear the best split of ``n`` values of one normal scatter stands in at most 1 of 20 cases."""
    drawn = np.sort(np.random.default_rng(n).standard_normal((_DRAWS, n)), axis=1)
    return float(np.quantile(_best_split(drawn)[0], 0.95))
