"""Propagation of distributions by random draws (JCGM 101:2008), adaptive, with the generator passed in.

Rows are draws: a model maps inputs (n, K) to outputs (n, m).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.doubt.blocks import root_of
from mountproof.geometry.carry import Carried
from mountproof.geometry.poses import Array

#: Outcomes (draws times outputs) that are kept at most: 160 megabytes.
MOST_VALUES: Final = 20_000_000
#: Blocks before the first look. The standard starts at two, where an SD of two numbers is often small by chance.
_FEWEST: Final = 4


def normal_draws(centre: ArrayLike, cov: ArrayLike, n: int, rng: np.random.Generator) -> Array:
    """Return ``n`` draws (n, k) of a normal, ``centre`` (k,) and ``cov`` (k, k), which may be of less than full rank."""
    mid = np.atleast_1d(np.asarray(centre, dtype=np.float64))
    c = np.atleast_2d(np.asarray(cov, dtype=np.float64))
    if c.shape != (mid.shape[0], mid.shape[0]):
        raise ValueError("the covariance does not match the centre")
    root = root_of(c)
    out: Array = mid + rng.standard_normal((n, root.shape[1])) @ root.T
    return out


def carried_draws(x: Carried, n: int, rng: np.random.Generator) -> Array:
    """Return ``n`` draws (n, k) of carried values: every source a normal of its own, shared where it is shared."""
    out: Array = x.values + rng.standard_normal((n, x.parts.shape[1])) @ x.parts.T
    return out


class Drawn(NamedTuple):
    """What the draws gave for m outputs: means and standard uncertainties (m,), both intervals (m, 2), and how sure.

    ``tolerance`` (m,) is what the ends had to stand to; ``settled`` (m,) whether they do; ``standard_errors`` (m, 4) of
    mean, u, and the two ends of the symmetric interval over the blocks; ``outcomes`` (n, m) the draws themselves.
    """

    values: Array
    us: Array
    symmetric: Array
    shortest: Array
    n: int
    settled: NDArray[np.bool_]
    tolerance: Array
    standard_errors: Array
    outcomes: Array


def quiet(_fraction: float) -> None:
    """Report no progress."""


def monte_carlo(
    f: Callable[[Array], ArrayLike],
    sample: Callable[[int, np.random.Generator], Array],
    rng: np.random.Generator,
    *,
    p: float = 0.95,
    digits: int = 2,
    part: float = 1.0,
    tolerance: ArrayLike | None = None,
    most: int = 4_000_000,
    block: int | None = None,
    threads: int = 1,
    tell: Callable[[float], None] = quiet,
) -> Drawn:
    """Return the distribution of ``f`` of the drawn inputs.

    ``f`` maps draws (n, K) to outputs (n, m), or (n,) where there is one; ``sample(n, rng)`` returns the draws. Adaptive
    procedure of JCGM 101:2008, 7.9, for every output: blocks of ``max(100 / (1 - p), 10 000)`` until twice the standard
    error of mean, u and both ends of the interval is below the tolerance: ``part`` of what ``digits`` significant digits
    of u ask for, or ``tolerance`` in the unit of the outputs (one number, or one for each). ``settled`` is False where
    ``most`` draws did not do. Intervals: 5.3 (symmetric in probability, and shortest).

    ``block`` makes other blocks, for models that take long: at least 100 / (1 - p). Every block has a generator of its
    own, so the result is the same, bit for bit, for any number of ``threads``. ``tell`` is called with the fraction of
    ``most``; what it raises stops the work. Raises ValueError where ``f`` is not finite.
    """
    if not 0.0 < p < 1.0 or digits < 1:
        raise ValueError("p must be between 0 and 1 and digits at least 1")
    fewest = math.ceil(round(100.0 / (1.0 - p), 6))
    size = max(fewest, 10_000 if block is None else block)
    key = [int(k) for k in rng.integers(0, 2**63, size=4)]

    def one(i: int) -> Array:
        own = np.random.default_rng([*key, i])
        y = np.asarray(f(sample(size, own)), dtype=np.float64)
        y = y[:, None] if y.ndim == 1 else y
        if y.ndim != 2 or y.shape[0] != size or not np.all(np.isfinite(y)):
            raise ValueError(f"f must give finite values, one row for each of {size} draws")
        return y

    kept: list[Array] = []
    rows: list[Array] = []  # of each block (4, m)
    settled, wanted, errors = np.zeros(0, dtype=bool), np.zeros(0), np.zeros((0, 4))
    for y in _in_order(one, threads):
        kept.append(y)
        ends = _symmetric(np.sort(y, axis=0), p)
        rows.append(np.stack([y.mean(axis=0), y.std(axis=0, ddof=1), *ends.T]))
        tell(min(1.0, len(rows) * size / most))
        fits = (len(rows) + 1) * size <= max(min(most, MOST_VALUES // y.shape[1]), 2 * size)
        if len(rows) < _FEWEST and fits:
            continue
        wanted, errors = _asked(np.stack(rows), size, digits, part, tolerance)
        settled = np.all(2.0 * errors <= wanted[:, None], axis=1) if len(rows) > 1 else settled
        if np.all(settled) or not fits:
            break
    every = np.concatenate(kept)
    sorted_ = np.sort(every, axis=0)
    return Drawn(
        every.mean(axis=0),
        np.where(sorted_[0] == sorted_[-1], 0.0, every.std(axis=0, ddof=1)),  # no rounding of a constant
        _symmetric(sorted_, p),
        _shortest(sorted_, p),
        int(every.shape[0]),
        settled,
        wanted,
        errors,
        every,
    )


def _in_order(one: Callable[[int], Array], threads: int) -> Iterator[Array]:
    """Blocks 0, 1, 2 ... in order, made ahead by threads; those made in vain are thrown away."""
    i = 0
    if threads <= 1:
        while True:
            yield one(i)
            i += 1
    with ThreadPoolExecutor(threads) as pool:
        while True:
            yield from pool.map(one, range(i, i + threads))
            i += threads


def _asked(
    rows: Array, size: int, digits: int, part: float, tolerance: ArrayLike | None
) -> tuple[Array, Array]:
    """Tolerances (m,) and standard errors (m, 4) after blocks (h, 4, m) of ``size`` draws."""
    h, _, m = rows.shape
    errors = np.std(rows, axis=0, ddof=1).T / math.sqrt(h) if h > 1 else np.full((m, 4), np.inf)
    if tolerance is not None:
        wanted = np.broadcast_to(np.asarray(tolerance, dtype=np.float64), (m,)).copy()
        return wanted, errors
    means, sds = rows[:, 0], rows[:, 1]
    within = (size - 1) * np.sum(sds**2, axis=0)
    between = size * np.sum((means - means.mean(axis=0)) ** 2, axis=0)
    us = np.sqrt((within + between) / (h * size - 1))
    return np.array([part * numerical_tolerance(float(u), digits) for u in us]), errors


def numerical_tolerance(u: float, digits: int) -> float:
    """Return half a unit of the last of ``digits`` significant digits of ``u`` (JCGM 101:2008, 7.9.2)."""
    if u <= 0.0:
        return 0.0
    exponent = math.floor(math.log10(u)) - digits + 1
    if round(u / 10.0**exponent) >= 10**digits:  # 0.0996 to two digits is 0.10
        exponent += 1
    return 0.5 * 10.0**exponent


def _symmetric(y: Array, p: float) -> Array:
    """Ends (m, 2) of the symmetric interval of sorted values (n, m).

    JCGM 101:2008, 7.7.2: q of the n lie inside, the rest half below and half above.
    """
    n = y.shape[0]
    q = min(n - 1, math.floor(p * n + 0.5))
    r = max(0, math.floor(0.5 * (n - q) + 0.5) - 1)
    return np.stack([y[r], y[min(n - 1, r + q)]], axis=1)


def _shortest(y: Array, p: float) -> Array:
    """Ends (m, 2) of the shortest interval of sorted values (n, m) (JCGM 101:2008, 7.7.4)."""
    n = y.shape[0]
    q = min(n - 1, math.floor(p * n + 0.5))
    r = np.argmin(y[q:] - y[: n - q], axis=0)
    at = np.arange(y.shape[1])
    return np.stack([y[r, at], y[r + q, at]], axis=1)
