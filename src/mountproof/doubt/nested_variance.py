"""Which level carries the spread: variances of nested groups of any size, with intervals (random effects).

Each level's sum of squares is ``y' (P_l - P_(l-1)) y``, ``P_l`` the projection on the groups of that level; its expectation is
``sum_k c_lk variance_k`` with ``c_lk = tr((P_l - P_(l-1)) Z_k Z_k')``, zero for every level above. Solved from the finest level
up: the method of moments (analysis of variance; own derivation, docs/theory/many-cases.md).
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.poses import Array

#: The group of every value, counted from zero.
Codes = NDArray[np.int64]


class Level(NamedTuple):
    """One level: its groups, sum of squares, degrees of freedom, variance, and the interval of its SD.

    ``variance`` may come out below zero: nothing is seen there, and it is kept as it came. None, with the interval, where the
    level has no freedom of its own (each group of the level above holds one group only), so nothing tells it from that one.
    """

    groups: int
    square: float
    dof: int
    variance: float | None
    low_sd: float
    high_sd: float

    @property
    def seen(self) -> float:
        """Return the variance, zero where it is below or cannot be told."""
        return max(0.0, self.variance or 0.0)


class Nested(NamedTuple):
    """All levels, the coarsest first; the last is what is left within the finest groups."""

    levels: tuple[Level, ...]

    @property
    def shares(self) -> tuple[float, ...]:
        """Return the share of every level in the whole variance, as far as each is seen; zeros where there is none."""
        whole = sum(one.seen for one in self.levels)
        return tuple(one.seen / whole if whole > 0.0 else 0.0 for one in self.levels)


def nested_variance(
    values: Sequence[float], labels: Sequence[Sequence[Hashable]], p: float = 0.95, draws: int = 20_000
) -> Nested:
    """Return the variances of ``values`` (n) whose groups are named by ``labels`` (n rows, the coarsest level first).

    A group is told by its label and all those above: "bag 1" of two persons are two groups. Intervals: with every sum of
    squares over a chi-square of its own in the place of its expectation, the same equations give draws of the variances
    (generalized pivots; S. Weerahandi 1993, from memory). For groups of equal size their cover is ``p`` or a little more,
    else near it (simulated). ValueError for values not finite, rows of unequal length, or nothing left within the groups.
    """
    y = np.asarray(values, dtype=np.float64)
    depth = len(labels[0]) if len(labels) else 0
    if y.ndim != 1 or not np.all(np.isfinite(y)) or len(labels) != len(y):
        raise ValueError("one row of labels for each finite value")
    if any(len(row) != depth for row in labels):
        raise ValueError("labels: every row has every level")
    groups: list[Codes] = [np.zeros(len(y), dtype=np.int64), *(_codes(labels, k + 1) for k in range(depth))]
    groups.append(np.arange(len(y)))
    y = y - y.mean()
    explained = np.array([_explained(y, g) for g in groups])
    counts = np.array([int(g.max()) + 1 for g in groups])
    squares, dofs = np.maximum(np.diff(explained), 0.0), np.diff(counts)
    if dofs[-1] < 1:
        raise ValueError("some group of the finest level needs two values")
    m = depth + 1
    weight = np.array([[_overlap(groups[lv], groups[k + 1]) for k in range(m)] for lv in range(m + 1)])
    c = np.diff(weight, axis=0)
    variances = _solved(squares[:, None], c, dofs)[:, 0]
    rng = np.random.default_rng(63)
    chi = np.array([rng.chisquare(max(1, d), draws) for d in dofs])
    drawn = _solved(squares[:, None] * dofs[:, None] / chi, c, dofs)
    ends = np.sqrt(np.maximum(0.0, np.quantile(drawn, [0.5 * (1.0 - p), 0.5 * (1.0 + p)], axis=1)))
    levels = [
        Level(
            int(counts[k + 1]),
            float(squares[k]),
            int(dofs[k]),
            float(variances[k]) if dofs[k] else None,
            float(ends[0, k]),
            float(ends[1, k]) if dofs[k] else float("inf"),
        )
        for k in range(m)
    ]
    return Nested(tuple(levels))


def _codes(labels: Sequence[Sequence[Hashable]], depth: int) -> Codes:
    seen: dict[tuple[Hashable, ...], int] = {}
    return np.array([seen.setdefault(tuple(row[:depth]), len(seen)) for row in labels], dtype=np.int64)


def _explained(y: Array, group: Codes) -> float:
    n = np.bincount(group)
    return float(np.sum(np.bincount(group, weights=y) ** 2 / n))


def _overlap(coarse: Codes, fine: Codes) -> float:
    """Return ``tr(P Z Z')``: for every group of ``coarse`` the squares of its parts in ``fine`` over its own size."""
    pairs, counts = np.unique(np.stack([coarse, fine]), axis=1, return_counts=True)
    size = np.bincount(coarse)
    return float(np.sum(counts**2 / size[pairs[0]]))


def _solved(squares: Array, c: Array, dofs: Array) -> Array:
    """Return variances (m, draws) from squares (m, draws), the finest first; zero for a level without freedom."""
    out = np.zeros_like(squares)
    for k in range(len(dofs) - 1, -1, -1):
        if dofs[k]:
            out[k] = (squares[k] - c[k, k + 1 :] @ out[k + 1 :]) / c[k, k]
    return out
