"""Distribution functions and quantiles: normal, Student t, chi-square, beta.

Own short routines, because the general libraries take longer to import than a whole caliper case takes to
answer. The incomplete gamma and beta functions are summed by their series and continued fractions (Abramowitz
and Stegun 6.5.29, 6.5.31, 26.5.8); quantiles are found by bisection on them, down to neighbouring floats.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

_TINY = 5e-308  # keeps the modified Lentz fraction away from division by zero; just above the smallest normal
_EPS = 2.220446049250313e-16  # spacing of doubles at one: series stop when a term no longer changes the sum
_ROUNDS = 10_000


def normal_cdf(z: float) -> float:
    """Probability below ``z`` for the standard normal distribution."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


@lru_cache(maxsize=256)
def normal_quantile(p: float) -> float:
    """Value of the standard normal below which lies the probability ``p`` in (0, 1)."""
    _inside("p", p, 0.0, 1.0)
    return _invert(normal_cdf, p, -40.0, 40.0)


def chi_square_cdf(x: float, dof: float) -> float:
    """Probability below ``x`` for chi-square with ``dof`` > 0 degrees of freedom."""
    if not dof > 0.0:
        raise ValueError("dof must be above zero")
    return _gamma_p(0.5 * dof, 0.5 * x) if x > 0.0 else 0.0


@lru_cache(maxsize=256)
def chi_square_quantile(p: float, dof: float) -> float:
    """Value of chi-square with ``dof`` degrees of freedom below which lies the probability ``p`` in (0, 1)."""
    _inside("p", p, 0.0, 1.0)
    top = dof + 10.0
    while chi_square_cdf(top, dof) < p:
        top *= 2.0
    return _invert(lambda x: chi_square_cdf(x, dof), p, 0.0, top)


def student_cdf(t: float, dof: float) -> float:
    """Probability below ``t`` for Student's distribution; infinite ``dof`` is the normal."""
    if not dof > 0.0:
        raise ValueError("dof must be above zero")
    if math.isinf(dof):
        return normal_cdf(t)
    tail = 0.5 * _beta_i(0.5 * dof, 0.5, dof / (dof + t * t))
    return 1.0 - tail if t > 0.0 else tail


@lru_cache(maxsize=256)
def student_quantile(p: float, dof: float) -> float:
    """Value of Student's distribution below which lies the probability ``p`` in (0, 1)."""
    _inside("p", p, 0.0, 1.0)
    if math.isinf(dof):
        return normal_quantile(p)
    if p == 0.5:
        return 0.0
    low = min(p, 1.0 - p)
    far = 2.0
    while student_cdf(-far, dof) > low:
        far *= 2.0
    t = _invert(lambda x: student_cdf(x, dof), low, -far, 0.0)
    return t if p < 0.5 else -t


def f_cdf(x: float, dof: float, dof_below: float) -> float:
    """Probability below ``x`` for the ratio of two mean squares; infinite ``dof_below`` is chi-square over ``dof``."""
    if not (dof > 0.0 and dof_below > 0.0):
        raise ValueError("dof must be above zero")
    if x <= 0.0:
        return 0.0
    if math.isinf(dof_below):
        return chi_square_cdf(x * dof, dof)
    return _beta_i(0.5 * dof, 0.5 * dof_below, dof * x / (dof * x + dof_below))


def f_quantile(p: float, dof: float, dof_below: float) -> float:
    """Ratio of two mean squares below which lies the probability ``p`` in (0, 1)."""
    _inside("p", p, 0.0, 1.0)
    top = 4.0
    while f_cdf(top, dof, dof_below) < p:
        top *= 2.0
    return _invert(lambda x: f_cdf(x, dof, dof_below), p, 0.0, top)


def coverage_factor(p: float = 0.95, dof: float = math.inf) -> float:
    """Half-width, in standard uncertainties, of the interval that covers ``p`` of Student's distribution."""
    return student_quantile(0.5 * (1.0 + p), dof)


def beta_cdf(x: float, a: float, b: float) -> float:
    """Probability below ``x`` for the beta distribution with ``a`` and ``b``, both above zero."""
    if not (a > 0.0 and b > 0.0):
        raise ValueError("a and b must be above zero")
    return _beta_i(a, b, x)


def f_tail(ratio: float, dof_top: float, dof_below: float) -> float:
    """Probability that a ratio of variances is beyond ``ratio`` where both are one variance (Fisher's F)."""
    if ratio <= 0.0:
        return 1.0
    return beta_cdf(dof_below / (dof_below + dof_top * ratio), 0.5 * dof_below, 0.5 * dof_top)


def binomial_interval(k: int, n: int, p: float = 0.95) -> tuple[float, float]:
    """Return the interval of a share of which ``k`` of ``n`` were seen, that covers at least ``p`` (Clopper and Pearson).

    Its ends are quantiles of beta(k, n - k + 1) and beta(k + 1, n - k); 0 and 1 where nothing, or all, was seen.
    """
    if not (0 <= k <= n and n > 0):
        raise ValueError("k of n: n is above zero, and k is between 0 and n")
    _inside("p", p, 0.0, 1.0)
    tail = 0.5 * (1.0 - p)
    low = 0.0 if k == 0 else _invert(lambda x: beta_cdf(x, k, n - k + 1), tail, 0.0, 1.0)
    high = 1.0 if k == n else _invert(lambda x: beta_cdf(x, k + 1, n - k), 1.0 - tail, 0.0, 1.0)
    return low, high


def _inside(name: str, value: float, low: float, high: float) -> None:
    if not low < value < high:
        raise ValueError(f"{name} must be between {low} and {high}, got {value}")


def _invert(rising: Callable[[float], float], p: float, low: float, high: float) -> float:
    for _ in range(200):
        mid = 0.5 * (low + high)
        if mid in (low, high):
            break
        if rising(mid) < p:
            low = mid
        else:
            high = mid
    return 0.5 * (low + high)


def _gamma_p(a: float, x: float) -> float:
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1.0:
        term = total = 1.0 / a
        for k in range(1, _ROUNDS):
            term *= x / (a + k)
            total += term
            if term < total * _EPS:
                break
        return front * total
    b = x + 1.0 - a
    c = 1.0 / _TINY
    d = 1.0 / b
    h = d
    for i in range(1, _ROUNDS):
        an = -i * (i - a)
        b += 2.0
        d = 1.0 / _off_zero(an * d + b)
        c = _off_zero(b + an / c)
        h *= d * c
        if abs(d * c - 1.0) < _EPS:
            break
    return 1.0 - front * h


def _beta_i(a: float, b: float, x: float) -> float:
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    front = math.exp(log_front)
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, 1.0 - x) / b


def _beta_fraction(a: float, b: float, x: float) -> float:
    c = 1.0
    d = 1.0 / _off_zero(1.0 - (a + b) * x / (a + 1.0))
    h = d
    for m in range(1, _ROUNDS):
        for top in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1.0 / _off_zero(1.0 + top * d)
            c = _off_zero(1.0 + top / c)
            h *= d * c
        if abs(d * c - 1.0) < _EPS:
            break
    return h


def _off_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
