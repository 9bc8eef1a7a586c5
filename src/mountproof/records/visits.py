"""How records vary within a visit and between visits: one-way analysis of variance with intervals.

Repeats in one sitting share the state of the muscles and the hand that took them: what they agree on may still move by the
next visit. Model II (random visits), groups of unequal size allowed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.geometry.quantile import chi_square_quantile, f_quantile, f_tail


class OneWay(NamedTuple):
    """Sums of squares between and within groups, their degrees of freedom, ``tail`` of F, and both components.

    ``within`` and ``between`` are variances; ``between`` may come out below zero, which says that nothing is seen between
    the groups, and is kept as it came. Intervals are of SDs, (low, high), at the asked probability. ``size`` is the mean
    number in a group, weighted so that groups of unequal size come out right.
    """

    square_between: float
    square_within: float
    dof_between: int
    dof_within: int
    tail: float
    within: float
    between: float
    within_sd: tuple[float, float]
    between_sd: tuple[float, float]
    size: float

    @property
    def ratio(self) -> float:
        """Return F: mean square between over mean square within."""
        return (self.square_between / self.dof_between) / (self.square_within / self.dof_within)

    @property
    def alike(self) -> float:
        """Return the intraclass correlation of single results: the part of the variance that lies between groups."""
        whole = self.between + self.within
        return self.between / whole if whole > 0.0 else 0.0


def one_way(groups: Sequence[Sequence[float]], p: float = 0.95) -> OneWay:
    """Return the analysis of variance of values in groups, groups of one included.

    The interval of the SD within is chi-square; the ends of that between are ``SSB (1 - F_q / F) / (size chi2_q)``, zero
    where below (J. Williams 1962, from memory; simulated, it covers ``p`` or a little more). Raises ValueError for
    fewer than two groups, for values that are not finite, or where no group has two.
    """
    values = [np.asarray(g, dtype=np.float64) for g in groups if len(g)]
    if len(values) < 2 or not all(np.all(np.isfinite(v)) for v in values):
        raise ValueError("two or more groups of finite values")
    counts = np.array([len(v) for v in values])
    total = int(counts.sum())
    grand = math.fsum(float(x) for v in values for x in v) / total
    # Values far from zero lose digits when squared: everything is taken from the grand mean first.
    centred = [v - grand for v in values]
    means = np.array([v.mean() for v in centred])
    between = float(np.sum(counts * (means - means @ counts / total) ** 2))
    within = float(sum(np.sum((v - m) ** 2) for v, m in zip(centred, means, strict=True)))
    dof_between, dof_within = len(values) - 1, total - len(values)
    if dof_within < 1:
        raise ValueError("some group needs two values")
    size = (total - float(np.sum(counts**2)) / total) / dof_between
    mean_between, mean_within = between / dof_between, within / dof_within
    ratio = mean_between / mean_within if mean_within > 0.0 else math.inf if mean_between > 0.0 else 0.0
    tail = f_tail(ratio, dof_between, dof_within) if math.isfinite(ratio) else 0.0
    ends = (0.5 * (1.0 - p), 0.5 * (1.0 + p))
    within_sd = tuple(math.sqrt(within / chi_square_quantile(q, dof_within)) for q in reversed(ends))
    between_sd = (0.0, 0.0)
    if mean_within > 0.0:
        between_sd = (
            _between(between, ratio, ends[1], dof_between, dof_within, size),
            _between(between, ratio, ends[0], dof_between, dof_within, size),
        )
    return OneWay(
        between,
        within,
        dof_between,
        dof_within,
        tail,
        mean_within,
        (mean_between - mean_within) / size,
        (within_sd[0], within_sd[1]),
        between_sd,
        size,
    )


def _between(square: float, ratio: float, q: float, dof_between: int, dof_within: int, size: float) -> float:
    """Return one end of the interval of the SD between groups; zero where it falls below."""
    part = 1.0 - f_quantile(q, dof_between, dof_within) / ratio if ratio > 0.0 else 0.0
    return math.sqrt(max(0.0, part) * square / chi_square_quantile(q, dof_between) / size)
