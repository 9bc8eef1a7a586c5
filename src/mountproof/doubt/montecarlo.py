"""Propagation of distributions by random draws (JCGM 101:2008), adaptive, with the generator passed in."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.carry import Carried
from mountproof.geometry.poses import Array

Shape = Literal["normal", "rectangular", "triangular", "arcsine", "student", "trapezoidal"]


class Input(NamedTuple):
    """One input by its distribution, ``centre`` and ``spread``.

    ``spread`` is the standard uncertainty for ``normal``, the scale for ``student`` (with ``dof``), and half the
    width for ``rectangular``, ``triangular``, ``arcsine`` and ``trapezoidal`` (with ``top``, half the width of the
    flat part).
    """

    shape: Shape
    centre: float
    spread: float
    dof: float = math.inf
    top: float = 0.0


def draws(inputs: Sequence[Input], n: int, rng: np.random.Generator) -> Array:
    """Return ``n`` draws of independent inputs, (k, n). Source: JCGM 101:2008, 6.4."""
    return np.stack([_draw(one, n, rng) for one in inputs])


def normal_draws(centre: ArrayLike, cov: ArrayLike, n: int, rng: np.random.Generator) -> Array:
    """Return ``n`` draws (k, n) of a multivariate normal; a covariance of less than full rank is allowed."""
    mid = np.atleast_1d(np.asarray(centre, dtype=np.float64))
    c = np.atleast_2d(np.asarray(cov, dtype=np.float64))
    if c.shape != (mid.shape[0], mid.shape[0]):
        raise ValueError("the covariance does not match the centre")
    scale, axes = np.linalg.eigh(0.5 * (c + c.T))
    root = axes * np.sqrt(np.clip(scale, 0.0, None))
    out: Array = mid[:, None] + root @ rng.standard_normal((mid.shape[0], n))
    return out


def carried_draws(x: Carried, n: int, rng: np.random.Generator) -> Array:
    """Return ``n`` draws (k, n) of carried values: every source a normal of its own, shared where it is shared."""
    out: Array = x.values[:, None] + x.parts @ rng.standard_normal((x.parts.shape[1], n))
    return out


class Drawn(NamedTuple):
    """What the draws gave: mean, standard uncertainty, both intervals, how many draws, and whether they settled.

    ``tolerance`` is half a unit of the last digit asked for in u; ``standard_errors`` those of mean, u, and the
    two ends of the symmetric interval over the blocks.
    """

    value: float
    u: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    n: int
    settled: bool
    tolerance: float
    standard_errors: tuple[float, float, float, float]


def monte_carlo(
    f: Callable[[Array], Array],
    sample: Callable[[int, np.random.Generator], Array],
    rng: np.random.Generator,
    *,
    p: float = 0.95,
    digits: int = 2,
    most: int = 4_000_000,
) -> Drawn:
    """Return the distribution of ``f`` of the drawn inputs.

    ``f`` maps draws (k, n) to (n,); ``sample(n, rng)`` returns them. Adaptive procedure of JCGM 101:2008, 7.9:
    blocks of ``max(100 / (1 - p), 10 000)`` until twice the standard error of mean, u and both ends of the interval
    is below the tolerance that ``digits`` significant digits of u ask for; ``settled`` is False if ``most`` draws
    did not do. Intervals: 5.3 (symmetric in probability, and shortest). Raises ValueError where ``f`` is not finite.
    """
    if not 0.0 < p < 1.0 or digits < 1:
        raise ValueError("p must be between 0 and 1 and digits at least 1")
    block = max(math.ceil(100.0 / (1.0 - p)), 10_000)
    kept: list[Array] = []
    rows: list[tuple[float, float, float, float]] = []
    settled, tolerance, errors = False, math.inf, (math.inf,) * 4
    while (len(kept) + 1) * block <= max(most, 2 * block):
        y = np.asarray(f(sample(block, rng)), dtype=np.float64)
        if y.shape != (block,) or not np.all(np.isfinite(y)):
            raise ValueError(f"f must give {block} finite values, one a draw")
        kept.append(y)
        low, high = _symmetric(np.sort(y), p)
        rows.append((float(np.mean(y)), float(np.std(y, ddof=1)), low, high))
        h = len(rows)
        if h < 2:
            continue
        spread = np.std(np.asarray(rows), axis=0, ddof=1) / math.sqrt(h)
        errors = (float(spread[0]), float(spread[1]), float(spread[2]), float(spread[3]))
        u = float(np.std(np.concatenate(kept), ddof=1))
        tolerance = numerical_tolerance(u, digits)
        if u == 0.0 or 2.0 * max(errors) < tolerance:
            settled = True
            break
    every = np.sort(np.concatenate(kept))
    return Drawn(
        float(np.mean(every)),
        float(np.std(every, ddof=1)),
        _symmetric(every, p),
        _shortest(every, p),
        int(every.shape[0]),
        settled,
        tolerance,
        errors,
    )


def numerical_tolerance(u: float, digits: int) -> float:
    """Return half a unit of the last of ``digits`` significant digits of ``u`` (JCGM 101:2008, 7.9.2)."""
    if u <= 0.0:
        return 0.0
    exponent = math.floor(math.log10(u)) - digits + 1
    if round(u / 10.0**exponent) >= 10**digits:  # 0.0996 to two digits is 0.10
        exponent += 1
    return 0.5 * 10.0**exponent


class Validation(NamedTuple):
    """Whether first order stands beside the draws: largest difference of interval ends, tolerance, and verdict."""

    difference: float
    tolerance: float
    validated: bool


def validate_first_order(first: tuple[float, float], drawn: Drawn, digits: int = 1) -> Validation:
    """Compare a first-order interval with the drawn one by JCGM 101:2008, clause 8."""
    d = max(abs(first[0] - drawn.symmetric[0]), abs(first[1] - drawn.symmetric[1]))
    tolerance = numerical_tolerance(drawn.u, digits)
    return Validation(d, tolerance, d <= tolerance)


def _draw(one: Input, n: int, rng: np.random.Generator) -> Array:
    c, s = one.centre, one.spread
    if not (math.isfinite(c) and s >= 0.0):
        raise ValueError("an input needs a finite centre and a spread of at least zero")
    if one.shape == "normal":
        return c + s * rng.standard_normal(n)
    if one.shape == "rectangular":
        return c + s * (2.0 * rng.random(n) - 1.0)
    if one.shape == "triangular":
        return c + s * (rng.random(n) + rng.random(n) - 1.0)
    if one.shape == "arcsine":
        return c + s * np.sin(2.0 * math.pi * rng.random(n))
    if one.shape == "student":
        if math.isinf(one.dof):
            return c + s * rng.standard_normal(n)
        return c + s * rng.standard_t(one.dof, n)
    if one.shape == "trapezoidal":
        if not 0.0 <= one.top <= s:
            raise ValueError("the flat part of a trapezium is no wider than the whole")
        wide, narrow = 0.5 * (s + one.top), 0.5 * (s - one.top)
        return c + wide * (2.0 * rng.random(n) - 1.0) + narrow * (2.0 * rng.random(n) - 1.0)
    raise ValueError(f"no distribution is called {one.shape!r}")


def _symmetric(y: Array, p: float) -> tuple[float, float]:
    # JCGM 101:2008, 7.7.2: q of the M sorted values lie inside, the rest half below and half above.
    n = y.shape[0]
    q = min(n - 1, math.floor(p * n + 0.5))
    r = max(0, math.floor(0.5 * (n - q) + 0.5) - 1)
    return float(y[r]), float(y[min(n - 1, r + q)])


def _shortest(y: Array, p: float) -> tuple[float, float]:
    n = y.shape[0]
    q = min(n - 1, math.floor(p * n + 0.5))
    r = int(np.argmin(y[q:] - y[: n - q]))
    return float(y[r]), float(y[r + q])
