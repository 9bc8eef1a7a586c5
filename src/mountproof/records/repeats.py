"""What repeats can tell: SD with its interval, pooling, critical ranges, and how many repeats are needed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from mountproof.geometry.poses import Array
from mountproof.geometry.quantile import chi_square_cdf, chi_square_quantile, coverage_factor, normal_quantile


class SpreadOf(NamedTuple):
    """A standard deviation from repeats, its degrees of freedom, and the interval the true one lies in."""

    sd: float
    dof: int
    low: float
    high: float


def sd_factors(n: int, p: float = 0.95) -> tuple[float, float]:
    """Return the factors that turn an SD from ``n`` repeats into the interval of the true SD (chi-square).

    For n = 3 they are 0.52 and 6.3: three repeats find a blunder, they do not measure repeatability.
    """
    if n < 2:
        raise ValueError("an SD needs at least two repeats")
    return sd_factors_of_dof(n - 1, p)


def sd_factors_of_dof(dof: int, p: float = 0.95) -> tuple[float, float]:
    """Return the factors of the interval of a true SD for ``dof`` degrees of freedom."""
    if dof < 1 or not 0.0 < p < 1.0:
        raise ValueError("degrees of freedom must be at least one and p between 0 and 1")
    high = chi_square_quantile(0.5 * (1.0 + p), dof)
    low = chi_square_quantile(0.5 * (1.0 - p), dof)
    return math.sqrt(dof / high), math.sqrt(dof / low)


def spread_of(values: Sequence[float], p: float = 0.95) -> SpreadOf:
    """Return the SD of repeats with the interval of the true SD."""
    return pooled_sd([values], p)


def pooled_sd(groups: Sequence[Sequence[float]], p: float = 0.95) -> SpreadOf:
    """Return the SD within groups of repeats, pooled, with its interval; groups of one tell nothing and are passed over.

    Raises ValueError where no group has two values.
    """
    squares, dof = 0.0, 0
    for group in groups:
        values = np.asarray(group, dtype=np.float64)
        if not np.all(np.isfinite(values)):
            raise ValueError("repeats must be finite")
        if values.shape[0] >= 2:
            squares += float(np.sum((values - values.mean()) ** 2))
            dof += values.shape[0] - 1
    if dof == 0:
        raise ValueError("an SD needs at least two repeats of something")
    sd = math.sqrt(squares / dof)
    low, high = sd_factors_of_dof(dof, p)
    return SpreadOf(sd, dof, low * sd, high * sd)


@lru_cache(maxsize=256)
def range_factor(n: int, p: float = 0.95, dof: float = math.inf) -> float:
    """Return the factor f(n): the range of ``n`` results stays below ``f(n)`` repeatability SDs with probability ``p``.

    The quantile of the range of ``n`` normal values: ``n integral phi(x) (Phi(x + w) - Phi(x))^(n-1) dx``. ISO 5725-6
    prints 2.8, 3.3, 3.6, 3.9 for n = 2 to 5 at 95 %. An SD that was itself found from ``dof`` degrees of freedom widens
    it (the studentized range): averaged over the SDs that so many would have given.
    """
    if n < 2 or not 0.0 < p < 1.0 or not dof > 0.0:
        raise ValueError("a range needs at least two results, p lies between 0 and 1, and dof is above zero")
    if dof <= _AS_EXACT:
        return _wider_factor(n, p, dof)
    low, high = 0.0, 20.0
    for _ in range(100):
        mid = 0.5 * (low + high)
        if mid in (low, high):
            break
        low, high = (mid, high) if range_cdf(mid, n) < p else (low, mid)
    return 0.5 * (low + high)


#: Beyond so many degrees of freedom an SD is as good as known: the factors differ by less than one in a thousand.
_AS_EXACT = 2000.0
#: Steps of the tables below: in SDs, and how many ratios of an SD found over the true one are averaged over.
_STEP_SD, _RATIOS = 0.02, 2_000


def _wider_factor(n: int, p: float, dof: float) -> float:
    """Return the quantile of a range over an SD found from ``dof`` degrees of freedom, by averaging over such SDs."""
    w, table = _range_table(n)
    # An SD found, over the true one: density r^(dof - 1) exp(-dof r^2 / 2), up to a constant; even steps of log r.
    r = np.exp(np.linspace(math.log(1e-6), math.log(1.0 + 12.0 / math.sqrt(2.0 * dof)), _RATIOS))
    log = dof * np.log(r) - 0.5 * dof * r * r
    weight = np.exp(log - log.max())
    weight /= weight.sum()

    def below(f: float) -> float:
        return float(weight @ np.interp(f * r, w, table))

    low, high = 0.0, 20.0
    while below(high) < p:
        high *= 2.0
    while high - low > 1e-9 * high:
        mid = 0.5 * (low + high)
        low, high = (mid, high) if below(mid) < p else (low, mid)
    return 0.5 * (low + high)


@lru_cache(maxsize=16)
def _range_table(n: int) -> tuple[Array, Array]:
    """Return ranges of ``n`` normal values from 0 to 20 and the probability below each, as ``range_cdf`` has it."""
    x = np.arange(-8.5, 8.5 + 20.0 + 0.5 * _STEP_SD, _STEP_SD)
    below = np.array([math.erfc(-v / math.sqrt(2.0)) / 2.0 for v in x])
    density: Array = np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    shifts = np.arange(0, 1001)
    count = len(x) - 1000
    table = [
        n * _STEP_SD * float(np.sum(density[:count] * (below[s : s + count] - below[:count]) ** (n - 1)))
        for s in shifts
    ]
    ranges = np.asarray(_STEP_SD * shifts, dtype=np.float64)
    return ranges, np.array(table)


def critical_range(n: int, s_r: float, p: float = 0.95) -> float:
    """Return how far ``n`` results may lie apart at repeatability ``s_r`` (same unit)."""
    if not s_r >= 0.0:
        raise ValueError("a repeatability cannot be below zero")
    return range_factor(n, p) * s_r


def range_cdf(w: float, n: int) -> float:
    """Return the probability that the range of ``n`` standard normal values is below ``w``."""
    # A smooth integrand that vanishes at both ends: at a tenth of an SD the trapezoidal rule is exact to the last digit.
    x = np.arange(-8.5 - w, 8.5, 0.1)
    lower = np.array([math.erfc(-v / math.sqrt(2.0)) / 2.0 for v in x])
    upper = np.array([math.erfc(-(v + w) / math.sqrt(2.0)) / 2.0 for v in x])
    f: Array = np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi) * (upper - lower) ** (n - 1)
    return float(n * np.sum(f) * (x[1] - x[0]))


def noncentral_for(threshold: float, dof: int, power: float) -> float:
    """Return the noncentrality at which chi-square with ``dof`` passes ``threshold`` with probability ``power``.

    Noncentral chi-square is chi-square with ``dof + 2 j`` degrees of freedom, ``j`` Poisson of half the noncentrality
    (Abramowitz and Stegun 26.4.25, from memory; tested against a general-purpose library). Zero where it passes
    so often without any. Beyond a threshold of a thousand its root is normal with unit SD, to three digits.
    """
    if not (threshold > 0.0 and 0.0 < power < 1.0):
        raise ValueError("the threshold is above zero, and the power between 0 and 1")
    if threshold > 1000.0:
        return max(0.0, (math.sqrt(threshold) + normal_quantile(power)) ** 2 - (dof - 1))

    def passed(far: float) -> float:
        half = 0.5 * far
        below, weight = 0.0, math.exp(-half)
        for j in range(int(half + 12.0 * math.sqrt(half) + 30.0)):
            if j:
                weight *= half / j
            below += weight * chi_square_cdf(threshold, dof + 2 * j)
        return 1.0 - below

    if passed(0.0) >= power:
        return 0.0
    low, high = 0.0, threshold + 10.0
    while passed(high) < power:
        high *= 2.0
    while high - low > 1e-6 * high:
        mid = 0.5 * (low + high)
        low, high = (mid, high) if passed(mid) < power else (low, mid)
    return 0.5 * (low + high)


def detectable(s_r: float, n0: int, n1: int, p: float = 0.95) -> float:
    """Return the smallest difference of two means of ``n0`` and ``n1`` results that is seen at repeatability ``s_r``."""
    if n0 < 1 or n1 < 1:
        raise ValueError("each mean needs at least one result")
    return coverage_factor(p) * s_r * math.sqrt(1.0 / n0 + 1.0 / n1)


def repeats_needed(s_r: float, difference: float, p: float = 0.95, power: float = 0.5) -> int:
    """Return how many results each of two means needs so that ``difference`` is seen at repeatability ``s_r``.

    It is then beyond what honest means keep within (with probability ``p``) in a share ``power`` of the trials; a half is
    where the difference just reaches that limit.
    """
    if not (s_r >= 0.0 and difference > 0.0 and 0.5 <= power < 1.0):
        raise ValueError(
            "the difference must be above zero, the repeatability not below it, the power from a half to one"
        )
    factor = coverage_factor(p) + normal_quantile(power)
    return max(1, math.ceil(2.0 * (factor * s_r / difference) ** 2))


def repeats_for_mean(s_r: float, within: float, p: float = 0.95) -> int:
    """Return how many results have a mean that lies ``within`` of the truth with probability ``p``."""
    if not (s_r >= 0.0 and within > 0.0):
        raise ValueError("the distance must be above zero and the repeatability not below it")
    return max(1, math.ceil((coverage_factor(p) * s_r / within) ** 2))
