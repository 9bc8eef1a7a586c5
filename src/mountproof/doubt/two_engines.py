"""The same answer twice: to first order (JCGM 100:2008) and by draws (JCGM 101:2008), and whether both say the same."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.doubt.blocks import Joined, sample
from mountproof.doubt.montecarlo import Drawn, monte_carlo, numerical_tolerance, quiet
from mountproof.doubt.propagate import effective_dof
from mountproof.geometry.carry import jacobian_of_rows
from mountproof.geometry.poses import Array
from mountproof.geometry.quantile import coverage_factor, normal_quantile, student_cdf

#: Inputs (n, K) to outputs (n, m).
Model = Callable[[Array], ArrayLike]

#: The draws have to stand to this part of what the comparison allows (JCGM 101:2008, 8.2).
_FINER: Final = 0.2
#: Differences below this part of a value are rounding.
_ROUNDING: Final = 1e-9


class FirstOrder(NamedTuple):
    """Values, standard uncertainties, interval ends and effective degrees of freedom (m,), to first order.

    ``cov`` (m, m), ``jacobian`` (m, K); ``own`` (m, blocks) is the variance that each block brings by itself.
    """

    values: Array
    us: Array
    low: Array
    high: Array
    dofs: Array
    cov: Array
    jacobian: Array
    own: Array


class Compared(NamedTuple):
    """Whether first order says the same as the draws, for each output (m,).

    ``low_by`` and ``high_by`` are how far the ends are apart, ``tolerance`` how far they may be. ``sure`` is False where
    the draws' own error could turn the answer.
    """

    low_by: Array
    high_by: Array
    tolerance: Array
    differs: NDArray[np.bool_]
    sure: NDArray[np.bool_]


class Both(NamedTuple):
    """Both engines and their comparison."""

    first: FirstOrder
    drawn: Drawn
    compared: Compared


def first_order(
    f: Model, joined: Joined, *, p: float = 0.95, jacobian: ArrayLike | None = None
) -> FirstOrder:
    """Return ``f`` at the centre of all blocks with its uncertainty, to first order (JCGM 100:2008, 5.1.2 and 5.2.2).

    ``f`` maps (n, K) to (n, m). ``jacobian`` (m, K) is found by five-point differences if it is not given. The interval is
    value -+ k u, k of Student's distribution with the effective degrees of freedom of Welch and Satterthwaite (G.2b),
    cut to the next lower integer (G.4.1). Blocks with few degrees of freedom share nothing with others (``join``), so
    all blocks with many count as one part. Raises ValueError where ``f`` is not finite, or shapes do not match.
    """
    values = _rows(f)(joined.centre[None])[0]
    if jacobian is None:
        us = np.sqrt(np.diag(joined.cov))
        scale = np.maximum(np.abs(joined.centre), us)
        j = np.zeros((values.shape[0], joined.centre.shape[0]))
        if np.any(us > 0.0):
            j = jacobian_of_rows(_rows(f), joined.centre, np.where(scale > 0.0, scale, 1.0), us > 0.0)
    else:
        j = np.asarray(jacobian, dtype=np.float64)
    if j.shape != (values.shape[0], joined.centre.shape[0]) or not np.all(np.isfinite(values)):
        raise ValueError(
            "the model gives finite values, and its Jacobian has a row for each and a column an input"
        )
    cov = j @ joined.cov @ j.T
    variances = np.maximum(np.diag(cov), 0.0)
    own = np.zeros((values.shape[0], len(joined.blocks)))
    for i, (b, where) in enumerate(zip(joined.blocks, joined.columns.values(), strict=True)):
        own[:, i] = np.einsum("mi,ij,mj->m", j[:, where], b.cov, j[:, where])
    dofs = _dofs(variances, own, np.array([b.dof for b in joined.blocks]))
    half = np.array([_factor(p, _whole(nu)) for nu in dofs]) * np.sqrt(variances)
    return FirstOrder(values, np.sqrt(variances), values - half, values + half, dofs, cov, j, own)


def compare(first: FirstOrder, drawn: Drawn, digits: int = 1) -> Compared:
    """Compare the intervals of both engines by JCGM 101:2008, clause 8, for ``digits`` significant digits of u."""
    low_by = np.abs(first.low - drawn.symmetric[:, 0])
    high_by = np.abs(first.high - drawn.symmetric[:, 1])
    tolerance = np.array([numerical_tolerance(float(u), digits) for u in drawn.us])
    tolerance = np.maximum(tolerance, _ROUNDING * np.abs(first.values))
    by = np.stack([low_by, high_by])
    margin = 2.0 * drawn.standard_errors[:, 2:].T
    differs = np.any(by > tolerance, axis=0)
    surely = np.any(by - margin > tolerance, axis=0)
    surely_not = np.all(by + margin <= tolerance, axis=0)
    return Compared(low_by, high_by, tolerance, differs, (differs & surely) | (~differs & surely_not))


def two_engines(
    f: Model,
    joined: Joined,
    rng: np.random.Generator,
    *,
    p: float = 0.95,
    digits: int = 1,
    jacobian: ArrayLike | None = None,
    most: int = 4_000_000,
    block: int | None = None,
    threads: int = 1,
    tell: Callable[[float], None] = quiet,
) -> Both:
    """Return ``f`` of all blocks by both engines, and whether they say the same to ``digits`` digits of u.

    ``f`` maps (n, K) to (n, m); ``jacobian`` (m, K) where it is known. The draws go on until they stand to a fifth of
    what the comparison allows (JCGM 101:2008, 8.2), or to ``most``. Further arguments as in ``monte_carlo``.
    """
    first = first_order(f, joined, p=p, jacobian=jacobian)
    drawn = monte_carlo(
        f,
        lambda n, own: sample(joined, n, own),
        rng,
        p=p,
        digits=digits,
        part=_FINER,
        most=most,
        block=block,
        threads=threads,
        tell=tell,
    )
    return Both(first, drawn, compare(first, drawn, digits))


#: With more degrees of freedom than this the factor is that of the normal, to a thousandth.
_MANY: Final = 2000.0


def _rows(f: Model) -> Callable[[Array], Array]:
    def inner(x: Array) -> Array:
        y = np.asarray(f(x), dtype=np.float64)
        return y[:, None] if y.ndim == 1 else y

    return inner


def _dofs(variances: Array, own: Array, dofs: Array) -> Array:
    few = np.isfinite(dofs)
    if not np.any(few):
        return np.full(variances.shape[0], math.inf)
    rest = np.maximum(variances - own[:, few].sum(axis=1), 0.0)
    parts = np.sqrt(np.concatenate([own[:, few], rest[:, None]], axis=1))
    every = np.append(dofs[few], math.inf)
    return np.array([effective_dof(row, every) for row in parts])


def _whole(nu: float) -> float:
    if nu >= _MANY:
        return math.inf
    return float(math.floor(nu)) if nu >= 1.0 else nu


@lru_cache(maxsize=4096)
def _factor(p: float, dof: float) -> float:
    """Coverage factor; from five degrees of freedom on by Newton's steps, twenty times as fast as halving.

    They start at the expansion of Abramowitz and Stegun, 26.7.5.
    """
    if dof < 5.0 or math.isinf(dof):
        return coverage_factor(p, dof)
    z = normal_quantile(0.5 * (1.0 + p))
    t = z + (z**3 + z) / (4.0 * dof) + (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / (96.0 * dof**2)
    log_front = math.lgamma(0.5 * (dof + 1.0)) - math.lgamma(0.5 * dof) - 0.5 * math.log(dof * math.pi)
    for _ in range(8):
        density = math.exp(log_front - 0.5 * (dof + 1.0) * math.log1p(t * t / dof))
        step = (student_cdf(t, dof) - 0.5 * (1.0 + p)) / density
        t -= step
        if abs(step) < 1e-12 * t:
            break
    return t
