"""Which step brings how much of the doubt: shares of the variance, by pick and freeze, in closed form, or from draws.

The first share of a step is what of the variance would go if that step alone were known exactly (Sobol's first-order index
of a group of inputs); its total is what would stay if all others were known. For steps that do not act together both are the
same and add up to one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations_with_replacement, pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.doubt.blocks import Joined, checked_covariance, root_of, sample
from mountproof.doubt.two_engines import Model
from mountproof.geometry.poses import Array

#: Groups of draws that are left out in turn: so the standard error itself is known to a tenth.
_LEFT_OUT: Final = 64
#: Differences below this part of a value are rounding.
_ROUNDING: Final = 1e-13
#: Draws for each term of a fitted surface.
_DRAWS_A_TERM: Final = 10


class Shares(NamedTuple):
    """Shares of B steps in the variances (m,) of m outputs: ``first`` and ``total`` (m, B) with standard errors.

    Estimates below zero are chance; they are told as zero, and ``at_zero`` (m, B, 2: first, total) says where.
    ``evaluations`` of the model were made.
    """

    names: tuple[str, ...]
    variances: Array
    first: Array
    first_se: Array
    total: Array
    total_se: Array
    at_zero: NDArray[np.bool_]
    evaluations: int

    @property
    def together(self) -> Array:
        """Share (m,) of the variance that no step brings alone: what steps do only together."""
        out: Array = np.clip(1.0 - self.first.sum(axis=1), 0.0, 1.0)
        return np.where(self.variances > 0.0, out, 0.0)


def called_shares(
    f: Model,
    joined: Joined,
    n: int,
    rng: np.random.Generator,
    groups: Mapping[str, Sequence[str]] | None = None,
) -> Shares:
    """Return the shares of groups of blocks (default: each block) in every output of ``f``, (n, K) to (n, m).

    Two sets A and B of ``n`` draws, and for each group A with the group's columns from B: ``n (groups + 2)`` evaluations
    give all first and total shares. Total: Jansen's ``mean (f_A - f_AB)^2 / 2``. First: the mix with least variance of
    ``mean f_B (f_AB - f_A)`` (Saltelli et al. 2010), which is sharp for small shares, and ``V - mean (f_B - f_AB)^2 / 2``
    (Jansen), sharp for large ones; each is unbiased, and so is any mix. Standard errors leave out one of 64 groups of
    draws in turn (jackknife). Blocks that hang together belong in one group. Raises ValueError where they do not, for
    groups that do not hold every block once, fewer than 128 draws, or values that are not finite. The model
    is asked once, with all draws.
    """
    columns = _grouped(joined, groups)
    if n < 2 * _LEFT_OUT:
        raise ValueError(f"shares need at least {2 * _LEFT_OUT} draws")
    a, b = sample(joined, n, rng), sample(joined, n, rng)
    mixes = [_mixed(a, b, where) for where in columns.values()]
    # all at once: a model that closes surfaces is quicker when alike draws come together
    fa, fb, *others = np.split(_values(f, np.concatenate([a, b, *mixes])), len(columns) + 2)
    middle = 0.5 * (fa.mean(axis=0) + fb.mean(axis=0))  # takes noise out of the products, and no more
    fa, fb = _off(fa, middle), _off(fb, middle)
    ends = np.linspace(0, n, _LEFT_OUT + 1).astype(int)[:-1]

    def summed(terms: Array) -> Array:
        return np.asarray(np.add.reduceat(terms, ends, axis=0), dtype=np.float64)

    counts = np.diff(np.append(ends, n)).astype(np.float64)[:, None]
    ratio = _ratio(counts, summed(fa + fb), summed(fa**2 + fb**2))
    m, groups_n = fa.shape[1], len(columns)
    first, total = np.zeros((m, groups_n)), np.zeros((m, groups_n))
    first_se, total_se = np.zeros((m, groups_n)), np.zeros((m, groups_n))
    for i, other in enumerate(others):
        fab = _off(other, middle)
        product, near = fb * (fab - fa), 0.5 * (fb - fab) ** 2
        share = _least_variance(product, -near)
        terms = summed(share * product - (1.0 - share) * near)
        apart = summed(0.5 * (fa - fab) ** 2)
        first[:, i], first_se[:, i] = ratio.of(terms, 1.0 - share)
        total[:, i], total_se[:, i] = ratio.of(apart, np.zeros(m))
    at_zero = np.stack([first < 0.0, total < 0.0], axis=2)
    return Shares(
        tuple(columns),
        ratio.all,
        np.maximum(first, 0.0),
        first_se,
        np.maximum(total, 0.0),
        total_se,
        at_zero,
        n * (groups_n + 2),
    )


class LinearShares(NamedTuple):
    """Shares (m, B) of B blocks in the variances (m,) of linear outputs of normal inputs, exact.

    ``own`` is what the block brings by itself, ``shared`` half of what it brings through its covariances, counted with
    sign: own and shared of all blocks add up to one. ``known``: the part of the variance that goes if this block becomes known;
    ``left``: the part that stays if all others become known. Without links own, known and left are one number.
    """

    names: tuple[str, ...]
    variances: Array
    own: Array
    shared: Array
    known: Array
    left: Array


def linear_shares(jacobian: ArrayLike, joined: Joined) -> LinearShares:
    """Return the shares of every block in outputs ``jacobian`` (m, K) times the inputs, in closed form.

    With ``y_b = J_b x_b`` the covariance decomposition ``Cov(y_b, y) / Var y = own + shared`` tells what is shared
    half to each side. A block may have a negative shared part: its error then takes away from that of another.
    """
    j = np.atleast_2d(np.asarray(jacobian, dtype=np.float64))
    if j.shape[1] != joined.centre.shape[0]:
        raise ValueError("the Jacobian has one column for each input")
    s = joined.cov
    reach = j @ s  # covariance of outputs and inputs
    v = np.maximum(np.einsum("mk,mk->m", reach, j), 0.0)
    own, whole, known, left = (np.zeros((j.shape[0], len(joined.blocks))) for _ in range(4))
    for i, where in enumerate(joined.columns.values()):
        jb = j[:, where]
        own[:, i] = np.einsum("mi,ij,mj->m", jb, s[where, where], jb)
        whole[:, i] = np.einsum("mi,mi->m", reach[:, where], jb)
        if joined.linked:
            known[:, i] = _explained(s[where, where], reach[:, where])
            rest = np.ones(s.shape[0], dtype=bool)
            rest[where] = False
            cross = jb @ s[where][:, rest]
            left[:, i] = np.maximum(own[:, i] - _explained(s[np.ix_(rest, rest)], cross), 0.0)
        else:
            known[:, i] = left[:, i] = own[:, i]
    parts = (_part(x, v) for x in (own, whole - own, known, left))
    return LinearShares(tuple(joined.columns), v, *parts)


class DrawnShares(NamedTuple):
    """First shares (m, B) estimated from draws that were there already, with standard errors; ``at_zero`` as in ``Shares``."""

    names: tuple[str, ...]
    variances: Array
    first: Array
    first_se: Array
    at_zero: NDArray[np.bool_]


def drawn_shares(
    joined: Joined,
    inputs: ArrayLike,
    outcomes: ArrayLike,
    degree: int = 2,
    groups: Mapping[str, Sequence[str]] | None = None,
) -> DrawnShares:
    """Return first shares from draws ``inputs`` (n, K) and ``outcomes`` (n, m) alone: no call of the model.

    The outcome is fitted by a surface of ``degree`` in the numbers of one group, and the share is the part of the variance
    that the surface explains, less what it would explain by chance (``1 - (1 - R^2)(n - 1)/(n - p - 1)``). What bends
    more sharply than such a surface is missed: the share is a lower bound then. Totals need ``called_shares``. Raises ValueError
    for fewer than ten draws a term.
    """
    columns = _grouped(joined, groups)
    x, y = np.asarray(inputs, dtype=np.float64), np.asarray(outcomes, dtype=np.float64)
    y = y[:, None] if y.ndim == 1 else y
    n, m = y.shape
    if x.shape != (n, joined.centre.shape[0]):
        raise ValueError("inputs and outcomes have one row for each draw, and inputs a column for each input")
    y = _off(y, y.mean(axis=0))
    v = np.sum(y**2, axis=0) / (n - 1)
    order = np.linspace(0, n, _LEFT_OUT + 1).astype(int)
    outs = [slice(a, b) for a, b in pairwise(order)]
    square, sums = np.sum(y**2, axis=0), np.zeros(m)
    squares = square - np.stack([np.sum(y[out] ** 2, axis=0) for out in outs])
    others = sums - np.stack([y[out].sum(axis=0) for out in outs])
    left = n - np.diff(order)[:, None]
    first, se = np.zeros((m, len(columns))), np.zeros((m, len(columns)))
    for i, where in enumerate(columns.values()):
        q = _surface(x[:, where], degree)
        p = q.shape[1]  # the constant among them
        if n < _DRAWS_A_TERM * p or n < 2 * _LEFT_OUT:
            raise ValueError(f"{n} draws are too few for {p} terms of a surface")
        gram, hit = np.eye(p), q.T @ y
        first[:, i] = _adjusted(gram, hit, square, sums, n, p)
        grams = gram - np.stack([q[out].T @ q[out] for out in outs])
        hits = hit - np.stack([q[out].T @ y[out] for out in outs])
        se[:, i] = _jackknife(_adjusted(grams, hits, squares, others, left, p))
    return DrawnShares(tuple(columns), v, np.maximum(first, 0.0), se, first < 0.0)


def _grouped(joined: Joined, groups: Mapping[str, Sequence[str]] | None) -> dict[str, NDArray[np.intp]]:
    """Columns of each group; no two groups may hang together."""
    own = joined.columns
    told = groups if groups is not None else {name: (name,) for name in own}
    if sorted(k for keys in told.values() for k in keys) != sorted(own):
        raise ValueError("the groups hold every block once")
    each = np.arange(joined.centre.shape[0])
    out = {
        name: np.concatenate([each[own[k]] for k in keys]) if keys else each[:0]
        for name, keys in told.items()
    }
    for name, where in out.items():
        rest = np.ones(each.shape[0], dtype=bool)
        rest[where] = False
        if np.any(joined.cov[np.ix_(where, rest)]):
            raise ValueError(
                f"{name} hangs together with others: put them in one group, or use linear_shares"
            )
    return out


def _mixed(a: Array, b: Array, where: NDArray[np.integer]) -> Array:
    """Draws of ``a`` with the columns ``where`` of ``b``."""
    out = a.copy()
    out[:, where] = b[:, where]
    return out


def _values(f: Model, x: Array) -> Array:
    y = np.asarray(f(x), dtype=np.float64)
    y = y[:, None] if y.ndim == 1 else y
    if y.shape[0] != x.shape[0] or not np.all(np.isfinite(y)):
        raise ValueError("the model must give finite values, one row for each draw")
    return y


def _off(y: Array, middle: Array) -> Array:
    """Outcomes (n, m) less their middle (m,); what is no more than rounding of it is zero, so a constant varies by nothing."""
    off = y - middle
    return np.where(np.abs(off) <= _ROUNDING * np.abs(middle), 0.0, off)


class _Ratio(NamedTuple):
    """Variance (m,) of all draws and (g, m) without each group of them, and the number of draws (g, 1) in each group."""

    all: Array
    without: Array
    counts: Array

    def of(self, terms: Array, part: Array) -> tuple[Array, Array]:
        """Return (mean of terms + part V) / V (m,) with its standard error; terms are summed over groups (g, m)."""
        n = self.counts.sum()
        every = _divided(terms.sum(axis=0) / n + part * self.all, self.all)
        turns = (terms.sum(axis=0) - terms) / (n - self.counts) + part * self.without
        return every, _jackknife(_divided(turns, self.without))


def _ratio(counts: Array, sums: Array, squares: Array) -> _Ratio:
    """Variances from sums over groups (g, m) of two values for each of ``counts`` (g, 1) draws."""

    def variance(count: Array, total: Array, square: Array) -> Array:
        return np.maximum((square - total**2 / count) / (count - 1.0), 0.0)

    n = 2.0 * counts.sum()
    total, square = sums.sum(axis=0), squares.sum(axis=0)
    without = variance(n - 2.0 * counts, total - sums, square - squares)
    return _Ratio(variance(n, total, square), without, counts)


def _jackknife(turns: Array) -> Array:
    g = turns.shape[0]
    out: Array = np.sqrt((g - 1.0) / g * np.sum((turns - turns.mean(axis=0)) ** 2, axis=0))
    return out


def _least_variance(one: Array, other: Array) -> Array:
    """Share (m,) of ``one`` in the mix of two columns of terms (n, m) that varies least."""
    a, b = one - one.mean(axis=0), other - other.mean(axis=0)
    below = np.mean((a - b) ** 2, axis=0)
    return np.clip(_divided(np.mean(b * (b - a), axis=0), below), 0.0, 1.0)


def _divided(above: Array, below: Array) -> Array:
    return np.divide(above, below, out=np.zeros_like(above), where=below > 0.0)


def _part(x: Array, v: Array) -> Array:
    return np.divide(x, v[:, None], out=np.zeros_like(x), where=v[:, None] > 0.0)


def _explained(cov: Array, reach: Array) -> Array:
    """Variance (m,) of outputs that inputs of ``cov`` (k, k) explain, ``reach`` (m, k) their covariances with them."""
    root = root_of(checked_covariance(cov))
    if root.shape[1] == 0:
        return np.zeros(reach.shape[0])
    size = np.sqrt(np.where(np.diag(cov) > 0.0, np.diag(cov), 1.0))
    inverse = np.linalg.pinv(root / size[:, None])
    out: Array = np.sum((inverse @ (reach / size).T) ** 2, axis=0)
    return out


def _surface(x: Array, degree: int) -> Array:
    """Orthonormal columns (n, p) of all products of up to ``degree`` of the numbers of a group, the constant included."""
    centred = x - x.mean(axis=0)
    size = np.sqrt(np.mean(centred**2, axis=0))
    u, s, _ = np.linalg.svd(centred / np.where(size > 0.0, size, 1.0), full_matrices=False)
    z = u[:, s > 1e-7 * max(float(s[0]) if s.size else 0.0, 1e-300)] * math.sqrt(x.shape[0])
    terms = [np.ones(x.shape[0])]
    for d in range(1, degree + 1):
        terms += [np.prod(z[:, list(c)], axis=1) for c in combinations_with_replacement(range(z.shape[1]), d)]
    q, _ = np.linalg.qr(np.column_stack(terms))
    return np.asarray(q, dtype=np.float64)


def _adjusted(gram: Array, hit: Array, square: Array, sums: Array, n: int | Array, p: int) -> Array:
    """Adjusted R^2 (..., m) of p terms with ``gram`` (..., p, p) and ``hit`` (..., p, m), from n draws."""
    fitted = np.sum(hit * np.linalg.solve(gram, hit), axis=-2)
    whole = square - sums**2 / n
    unexplained = _divided(square - fitted, whole)
    return np.where(whole > 0.0, 1.0 - unexplained * (n - 1.0) / (n - p), 0.0)
