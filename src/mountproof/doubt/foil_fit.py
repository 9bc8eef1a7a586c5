"""What foil in the mouth and on the casts tells of the change between them: a small shift and tilt, from intervals.

Unknown are three numbers of the lower against the upper, casts less mouth (``motions.MOTION``): ``down`` (mm), ``pitch`` and
``roll`` (rad). At a tooth the gap changes by ``down + pitch (ahead - middle) + roll right``. Every tooth brings the table of
``foil_tables``; how far teeth give is one number for the whole mouth and is summed over. Newton's method finds the top of the
posterior; moments and intervals are weighted sums over a fixed set of Halton points about it (importance sampling), whose
effective number is told. Derivation: docs/theory/foils.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from statistics import NormalDist
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.doubt.foil_readings import Interval
from mountproof.doubt.foil_tables import CHANGES_MM, GAPS_MM, STEP_MM, Known, Table, along, table
from mountproof.doubt.motions import MIDDLE_MM
from mountproof.doubt.steps import covariance, free_step
from mountproof.geometry.poses import Array

#: The change beforehand: so much at the last teeth (1 SD, mm), shared by height, pitch and roll. Wider than records differ.
PRIOR_SD_MM: Final = 0.5
#: Points of the first look about the top, and of the one that counts.
_FIRST, _DRAWS = 512, 2048
_ROUNDS: Final = 50
#: The search ends where a step promises less than this (logarithm): the points about the top take care of the rest.
_SETTLED: Final = 1e-4
#: Half of the points reach so many times as far as the other half: tails are never missed.
_WIDE: Final = 2.0
#: A tooth whose readings are less likely by this factor (natural logarithm) than some other change there would make them.
ODD: Final = 3.0
#: A direction in which more than this part of the variance beforehand is left is not held by the readings.
_NOT_HELD: Final = 0.35


class Site(NamedTuple):
    """One tooth: where it stands (mm ahead of the hinge, to the right), what was read, and whether it gives."""

    ahead_mm: float
    right_mm: float
    mouth: Interval | None
    casts: Interval
    gives: bool = True
    known: Known | None = None


class Ends(NamedTuple):
    """Mean, standard uncertainty and 95 % interval of one number."""

    mean: float
    u: float
    low: float
    high: float


class FoilFit(NamedTuple):
    """The change: points (m, 3: down mm, pitch rad, roll rad) with weights (m, k: by value of give) that add up to one.

    ``mean`` (3,), ``cov`` (3, 3); ``effective``: how many equal weights these are worth; ``loss`` (n,): by how much
    (logarithm) each tooth contradicts the change at the top; ``at_zero``: logarithm of how much less likely the readings are
    without any change than at their likeliest; ``prior_cov`` (3, 3); ``middle_mm``: ahead.
    """

    sites: tuple[Site, ...]
    gives_mm: tuple[float, ...]
    points: Array
    weights: Array
    mean: Array
    cov: Array
    prior_cov: Array
    middle_mm: float
    effective: float
    loss: Array
    at_zero: float

    def at(self, ahead_mm: float, right_mm: float) -> Ends:
        """Return the change of the gap (mm) at a place."""
        return self.along([1.0, ahead_mm - self.middle_mm, right_mm])

    def along(self, row: ArrayLike) -> Ends:
        """Return one linear combination (3,) of down, pitch and roll."""
        values = self.points @ np.asarray(row, dtype=np.float64)
        w = self.weights.sum(axis=1)
        mean = float(w @ values)
        low, high = _quantiles(values, w)
        return Ends(mean, float(np.sqrt(max(0.0, w @ (values - mean) ** 2))), low, high)

    def not_held(self) -> tuple[tuple[float, Array], ...]:
        """Return what the readings do not tell: (part of the variance left, direction (3,) in SDs of the prior), worst first."""
        sd = np.sqrt(np.diag(self.prior_cov))
        left, ways = np.linalg.eigh(self.cov / np.outer(sd, sd))
        return tuple((float(left[i]), ways[:, i]) for i in (2, 1, 0) if left[i] > _NOT_HELD)

    def odd(self) -> tuple[int, ...]:
        """Return which teeth (numbers in ``sites``) contradict the rest, worst first."""
        return tuple(int(i) for i in np.argsort(-self.loss, kind="stable") if self.loss[i] > ODD)


def fit_foils(
    sites: Sequence[Site],
    gives_mm: Sequence[float],
    *,
    middle_mm: float = MIDDLE_MM[0],
    prior_sd_mm: float = PRIOR_SD_MM,
    draws: int = _DRAWS,
) -> FoilFit:
    """Return the change that readings tell, with ``gives_mm`` (k) alike probable values of what teeth give.

    Raises ValueError without teeth or values of give, for places that are no numbers, or for a prior without width.
    """
    if not sites or not gives_mm or not prior_sd_mm > 0.0:
        raise ValueError("a fit needs teeth read in the mouth and on the casts, what teeth give, and a prior")
    places = np.array([(s.ahead_mm, s.right_mm) for s in sites], dtype=np.float64)
    if not np.all(np.isfinite(places)):
        raise ValueError("every tooth needs a place in mm")
    design = np.column_stack([np.ones(len(sites)), places[:, 0] - middle_mm, places[:, 1]])
    gives = tuple(float(g) for g in gives_mm)
    tables = tables_of(sites, gives)
    logs = np.stack([t.log for t in tables])
    prior = covariance(free_step("foils", prior_sd_mm))[:3, :3]
    top, spread = _top(design, logs, tables, prior)
    first, w = _weighed(design, logs, prior, top, spread, _FIRST)
    centre, about = _moments(first, w.sum(axis=1))
    # few points may see hardly any spread: never narrower than about the top
    points, weights = _weighed(design, logs, prior, centre, about + 0.1 * spread, draws)
    mean, cov = _moments(points, weights.sum(axis=1))
    one = weights.sum(axis=1)
    seen = _log_likelihood(_look(logs, points @ design.T).sum(axis=1))
    none = _log_likelihood(_look(logs, np.zeros((1, len(sites)))).sum(axis=1))
    best = np.max(logs, axis=1)
    at_top = _look(logs, (top @ design.T)[None])[0]
    share = np.exp(at_top.sum(axis=0) - at_top.sum(axis=0).max())
    loss = (best - at_top) @ (share / share.sum())
    return FoilFit(
        tuple(sites),
        gives,
        points,
        weights,
        mean,
        cov,
        prior,
        middle_mm,
        float(1.0 / np.sum(one**2)),
        np.maximum(loss, 0.0),
        float(max(0.0, seen.max() - none[0])),
    )


def tables_of(sites: Sequence[Site], gives_mm: tuple[float, ...]) -> tuple[Table, ...]:
    """Return the table of every tooth; those with the same readings share one."""
    none = (0.0,) * len(gives_mm)
    return tuple(table(s.mouth, s.casts, gives_mm if s.gives else none, s.known) for s in sites)


def fitted_gaps(fit: FoilFit) -> tuple[Ends, ...]:
    """Return for each tooth the gap (mm) that is left once the change is taken away, given all readings."""
    out = []
    for i, one in enumerate(tables_of(fit.sites, fit.gives_mm)):
        site = fit.sites[i]
        change = fit.points @ np.array([1.0, site.ahead_mm - fit.middle_mm, site.right_mm])
        at = np.clip(np.rint((change - CHANGES_MM[0]) / STEP_MM).astype(np.intp), 0, len(CHANGES_MM) - 1)
        share = np.zeros_like(one.log)
        np.add.at(share, at, fit.weights)
        share *= np.exp(-one.log)
        chance = np.sum(one.mouth * (along(one.casts).T @ share), axis=1)
        chance /= chance.sum()
        mean = float(chance @ GAPS_MM)
        u = float(np.sqrt(chance @ (GAPS_MM - mean) ** 2))
        out.append(Ends(mean, u, *_quantiles(GAPS_MM, chance)))
    return tuple(out)


class Gain(NamedTuple):
    """A foil that was not tried: at which tooth, where, its thickness, and the u (3,) of the change it would leave on average."""

    site: int
    in_mouth: bool
    thickness_mm: float
    us: Array


def best_reading(fit: FoilFit, thicknesses_mm: Sequence[float], scale: ArrayLike) -> Gain | None:
    """Return the one further foil that narrows the change most, ``scale`` (3,) being what counts as much in each number.

    A foil that would be held with probability ``p`` for each change splits the variance: on average it takes away
    ``cov(change, p)^2 / (p (1 - p))``. None where no thickness lies within an interval that is open.
    """
    size = np.asarray(scale, dtype=np.float64)
    w = fit.weights
    off = fit.points - fit.mean
    var = np.diag(fit.cov)
    best: Gain | None = None
    most = 0.0
    for i, site in enumerate(fit.sites):
        row = np.array([1.0, site.ahead_mm - fit.middle_mm, site.right_mm])
        change = (fit.points @ row)[:, None]
        now = tables_of([site], fit.gives_mm)
        read = _look(np.stack([now[0].log]), change)[:, 0]
        for in_mouth, where in ((False, site.casts), (True, site.mouth)):
            for t in thicknesses_mm if where is not None else ():
                if where is None or not where.low_mm < t < where.high_mm:
                    continue
                below = where._replace(high_mm=float(t))
                then = site._replace(mouth=below) if in_mouth else site._replace(casts=below)
                held = _look(np.stack([tables_of([then], fit.gives_mm)[0].log]), change)[:, 0]
                p = np.exp(np.minimum(held - read, 0.0))
                mean = float(np.sum(w * p))
                if not 1e-6 < mean < 1.0 - 1e-6:
                    continue
                taken = (np.sum(w * p, axis=1) @ off) ** 2 / (mean * (1.0 - mean))
                worth = float(np.sum(taken / size**2))
                if worth > most:
                    most = worth
                    best = Gain(i, in_mouth, float(t), np.sqrt(np.maximum(var - taken, 0.0)))
    return best


def as_reading(fit: FoilFit) -> tuple[Array, Array]:
    """Return (values (3,), cov (3, 3)) of the change as if it were read: what the lists tell, the prior taken out again.

    In directions the readings do not narrow, the covariance is wide. The values are drawn towards no change until the normal
    makes no change as likely as the readings themselves do: a bound on one side is no measurement of what lies beyond it.
    """
    root = np.linalg.cholesky(fit.prior_cov)
    back = np.linalg.inv(root)
    left, ways = np.linalg.eigh(back @ fit.cov @ back.T)
    left = np.clip(left, 1e-9, _NOTHING_TOLD)
    var = left / (1.0 - left)
    white = (ways.T @ back @ fit.mean) / (1.0 - left)
    white = np.where(left < _NOTHING_TOLD, white, 0.0)
    size = 0.5 * float(np.sum(white**2 / var))
    if size > fit.at_zero:
        white = white * np.sqrt(fit.at_zero / size)
    whole = root @ ways
    return whole @ white, (whole * var) @ whole.T


#: Where more than this part of the variance beforehand is left, nothing was told: the covariance is then 24 times the prior's.
_NOTHING_TOLD: Final = 0.96


def _look(logs: Array, changes_mm: Array) -> Array:
    """Return (s, n, k): tables (n, d, k) at changes (s, n), straight between the points of the grid."""
    at = np.clip((changes_mm - CHANGES_MM[0]) / STEP_MM, 0.0, len(CHANGES_MM) - 1.000001)
    whole = at.astype(np.intp)
    part = (at - whole)[:, :, None]
    n = np.arange(logs.shape[0])[None, :]
    out: Array = logs[n, whole] * (1.0 - part) + logs[n, whole + 1] * part
    return out


def _log_likelihood(by_give: Array) -> Array:
    top = by_give.max(axis=-1, keepdims=True)
    out: Array = (top + np.log(np.mean(np.exp(by_give - top), axis=-1, keepdims=True)))[..., 0]
    return out


def _top(design: Array, logs: Array, tables: Sequence[Table], prior: Array) -> tuple[Array, Array]:
    """Return the top of the posterior and the inverse of its curvature there: Newton's method, steps halved as needed."""
    inverse = np.linalg.inv(prior)
    slopes, bends = np.stack([t.slope for t in tables]), np.stack([t.bend for t in tables])

    def value(theta: Array) -> float:
        one = _log_likelihood(_look(logs, (design @ theta)[None]).sum(axis=1))[0]
        return float(one - 0.5 * theta @ inverse @ theta)

    theta, best = np.zeros(3), value(np.zeros(3))
    bend = inverse
    for _ in range(_ROUNDS):
        d = (design @ theta)[None]
        each = _look(logs, d)[0].sum(axis=0)
        share = np.exp(each - each.max())
        share /= share.sum()
        slope = design.T @ (_look(slopes, d)[0] @ share) - inverse @ theta
        bend = inverse - (design.T * (_look(bends, d)[0] @ share)) @ design
        step = np.linalg.solve(bend, slope)
        if float(slope @ step) < _SETTLED:
            break
        scale, now = 1.0, value(theta + step)
        while now < best and scale > _SETTLED:
            scale *= 0.5
            now = value(theta + scale * step)
        if now < best:
            break
        theta, best = theta + scale * step, now
    return theta, np.linalg.inv(bend)


def _weighed(
    design: Array, logs: Array, prior: Array, centre: Array, spread: Array, count: int
) -> tuple[Array, Array]:
    """Return points (m, 3) about a centre, half of them wider, and their posterior weights (m, k)."""
    z = _halton_normal(count // 2)
    root = np.linalg.cholesky(spread)
    points = centre + np.concatenate([z, _WIDE * z]) @ root.T
    far = np.sum(np.concatenate([z, _WIDE * z]) ** 2, axis=1)
    drawn = np.log(0.5 * np.exp(-0.5 * far) + 0.5 * np.exp(-0.5 * far / _WIDE**2) / _WIDE**3)
    inverse = np.linalg.inv(prior)
    log = _look(logs, points @ design.T).sum(axis=1)
    log += (-0.5 * np.einsum("ij,jk,ik->i", points, inverse, points) - drawn)[:, None]
    w = np.exp(log - log.max())
    return points, w / w.sum()


def _moments(points: Array, w: Array) -> tuple[Array, Array]:
    mean = w @ points
    off = points - mean
    return mean, (off * w[:, None]).T @ off


def _quantiles(values: Array, w: Array, p: float = 0.95) -> tuple[float, float]:
    order = np.argsort(values, kind="stable")
    up = np.cumsum(w[order]) - 0.5 * w[order]
    low, high = np.interp([0.5 * (1.0 - p), 0.5 * (1.0 + p)], up, values[order])
    return float(low), float(high)


@lru_cache(maxsize=8)
def _halton_normal(count: int) -> Array:
    """Return (count, 3) normal points from Halton's sequence in bases 2, 3 and 5 (Halton 1960): no generator, no seed."""
    n: NDArray[np.intp] = np.arange(1, count + 1)
    inverse = NormalDist().inv_cdf
    out = np.zeros((count, 3))
    for column, base in enumerate((2, 3, 5)):
        rest, part, u = n.copy(), 1.0 / base, np.zeros(count)
        while np.any(rest > 0):
            u += part * (rest % base)
            rest //= base
            part /= base
        out[:, column] = [inverse(float(v)) for v in u]
    return out
