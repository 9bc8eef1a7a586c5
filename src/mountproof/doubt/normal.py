"""The normal distribution for whole arrays, without a library that takes longer to load than a case to answer."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from mountproof.geometry.poses import Array

#: Chebyshev coefficients of erfc, fractional error below 1.2e-7 everywhere (Press et al., Numerical Recipes, 6.2).
_ERFC: Final = (
    -1.26551223,
    1.00002368,
    0.37409196,
    0.09678418,
    -0.18628806,
    0.27886807,
    -1.13520398,
    1.48851587,
    -0.82215223,
    0.17087277,
)
#: Nothing is left beyond so many standard deviations, and squares of it are still finite.
_FAR: Final = 1e8
_LOG_ROOT: Final = 0.5 * math.log(2.0 * math.pi)
#: Gauss and Legendre on an interval of length one about zero: exact to 1e-12 for the intervals that ``log_between`` sums.
_NODES, _WEIGHTS = (half * 0.5 for half in np.polynomial.legendre.leggauss(14))


def below(z: Array) -> Array:
    """Return the probability below ``z`` of the standard normal, (n,) or any shape; fractional error below 2e-7."""
    t, exponent = _tail(z)
    tail = 0.5 * t * np.exp(np.maximum(exponent, -700.0))
    return np.where(z > 0.0, 1.0 - tail, tail)


def _tail(z: Array) -> tuple[Array, Array]:
    """Return (t, e) with ``0.5 t exp(e)`` the probability beyond ``|z|``."""
    x = np.abs(z) / math.sqrt(2.0)
    t = 1.0 / (1.0 + 0.5 * x)
    series = np.full_like(t, _ERFC[-1])
    for c in _ERFC[-2::-1]:
        series = series * t + c
    return t, series - x * x


def density(z: Array) -> Array:
    """Return the density of the standard normal at ``z`` (n,), or any shape."""
    out: Array = np.exp(-0.5 * np.minimum(z * z, 1400.0)) / math.sqrt(2.0 * math.pi)
    return out


def between(mean: Array, sd: Array, low: float, high: float) -> tuple[Array, Array, Array]:
    """Return (probability, mean, variance) of normals kept between ``low`` and ``high`` (which may be infinite).

    Any shape. The moments of a truncated normal; where hardly anything is left (below 1e-12) they are those of the
    nearer end.
    """
    a, b = (low - mean) / sd, (high - mean) / sd
    # in the upper tail the difference of two probabilities near one would cancel: mirror it
    flip = a > 0.0
    lo, hi = np.where(flip, -b, a), np.where(flip, -a, b)
    p = below(hi) - below(lo)
    fine = p > 1e-12
    z = np.where(fine, p, 1.0)
    da = density(np.where(np.isfinite(a), a, 40.0))
    db = density(np.where(np.isfinite(b), b, 40.0))
    shift = (da - db) / z
    aa, bb = np.where(np.isfinite(a), a, 0.0), np.where(np.isfinite(b), b, 0.0)
    narrow = 1.0 + (aa * da - bb * db) / z - shift**2
    end = np.where(np.isfinite(a) & (flip | ~np.isfinite(b)), low, high)
    return (
        np.maximum(p, 1e-300),
        np.where(fine, mean + sd * shift, end),
        np.where(fine, sd**2 * np.clip(narrow, 0.0, 1.0), 0.0),
    )


def log_below(z: Array) -> Array:
    """Return the logarithm of the probability below ``z`` (n,), or any shape, to 2e-7 however far the tail; -inf gives -inf."""
    t, exponent = _tail(np.clip(z, -_FAR, _FAR))
    tail = np.log(0.5 * t) + exponent
    out: Array = np.where(z > 0.0, np.log1p(-np.exp(np.minimum(tail, -1e-9))), tail)
    return out


def log_above(z: Array) -> Array:
    """Return the logarithm of the probability above ``z`` (n,), or any shape."""
    return log_below(-np.asarray(z, dtype=np.float64))


def log_between(low: Array, high: Array) -> tuple[Array, Array, Array]:
    """Return (log p, its slope by ``low``, its slope by ``high``) of the probability between ``low`` and ``high``.

    (n,), or any shapes that go together; either end may be infinite. Where the interval is narrow the density is summed over it
    (Gauss and Legendre, so that nothing is subtracted), else the smaller tail is taken off the larger in logarithms. Raises
    ValueError where an interval is empty.
    """
    a, b = np.broadcast_arrays(
        np.clip(np.asarray(low, dtype=np.float64), -_FAR, _FAR),
        np.clip(np.asarray(high, dtype=np.float64), -_FAR, _FAR),
    )
    if not np.all(a < b):
        raise ValueError("an interval begins below its end")
    # in the upper tail both probabilities are near one: mirror it
    flip = a + b > 0.0
    lo, hi = np.where(flip, -b, a), np.where(flip, -a, b)
    top, bottom = log_below(hi), log_below(lo)
    middle, wide = 0.5 * (lo + hi), hi - lo
    fine = (wide < 1.0) & (np.abs(middle) * wide < 10.0)
    p = top + np.log1p(-np.exp(np.minimum(bottom - top, -1e-12)))
    if np.any(fine):
        m, h = np.where(fine, middle, 0.0), np.where(fine, wide, 1.0)
        u = h[..., None] * _NODES
        # density about its middle, so that no exponent grows
        inner = np.sum(_WEIGHTS * np.exp(-m[..., None] * u - 0.5 * u * u), axis=-1)
        p = np.where(fine, -0.5 * m * m - _LOG_ROOT + np.log(h * inner), p)
    by_low = -np.exp(np.minimum(-0.5 * a * a - _LOG_ROOT - p, 700.0))
    by_high = np.exp(np.minimum(-0.5 * b * b - _LOG_ROOT - p, 700.0))
    return p, by_low, by_high
