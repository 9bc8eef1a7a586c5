"""What the draws say once something was read: weights, their worth, summaries with errors, redrawing, and surprise.

Draws are rows (n, k). Each is weighted by the likelihood of what was read; without a reading all weights are equal, and every
summary is that of the draws, bit for bit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.doubt.blocks import root_of
from mountproof.doubt.causes import Look, Target, left_over, prepare, stacked
from mountproof.doubt.hypotheses import Hypotheses
from mountproof.doubt.montecarlo import quiet
from mountproof.doubt.rates import Rate, share
from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array

#: So many independent draws know what a 95 % interval covers to one percent (one standard error).
ENOUGH: Final = math.ceil(0.95 * 0.05 / 0.01**2)
#: Part of the proposal that is always the prior, so that no weight exceeds the likelihood over this.
_DEFENSIVE: Final = 0.1
#: A fitted normal is widened by this, for a proposal may be too wide at little cost, and never too narrow.
_WIDER: Final = 1.2
#: A fit of r numbers rests on so many effective draws for each.
_FIT_A_NUMBER: Final = 10

#: A new round that is worth less than this many times the last one ends the fitting.
_NO_BETTER: Final = 1.1
_NOTHING_ACTS: Final = Hypotheses((), ((),), np.zeros(1))


class Weights(NamedTuple):
    """Weights (n,) that add up to one, their effective number, and the logarithm of the mean likelihood."""

    weights: Array
    ess: float
    log_mean: float


def weights_of(log_likelihood: ArrayLike) -> Weights:
    """Return the weights of draws from the logarithms (n,) of their likelihoods; minus infinity is allowed.

    Effective number: ``(sum w)^2 / sum w^2`` (Kong 1992; Liu 1996). Raises ValueError for NaN, or where no draw can give
    what was read.
    """
    log = np.asarray(log_likelihood, dtype=np.float64)
    if log.ndim != 1 or log.shape[0] == 0 or np.any(np.isnan(log)) or np.any(log == np.inf):
        raise ValueError("every draw needs the logarithm of its likelihood, below infinity")
    top = float(log.max())
    if top == -math.inf:
        raise ValueError("none of the draws can give what was read")
    w = np.exp(log - top)
    total = float(w.sum())
    return Weights(w / total, total**2 / float(np.sum(w**2)), top + math.log(total / log.shape[0]))


class Enough(NamedTuple):
    """Whether weighted draws may be summarised: effective number against the least, and how many draws would do."""

    enough: bool
    ess: float
    least: int
    draws_needed: int


def enough(weights: Weights, least: int = ENOUGH) -> Enough:
    """Return whether the effective number of draws reaches ``least``; if not, how many draws of this kind would."""
    n = weights.weights.shape[0]
    ok = weights.ess >= least
    return Enough(ok, weights.ess, least, n if ok else math.ceil(n * least / weights.ess))


class Summary(NamedTuple):
    """Weighted means (k,), covariance (k, k), and interval ends (k,), each with its Monte Carlo standard error."""

    mean: Array
    mean_se: Array
    cov: Array
    low: Array
    low_se: Array
    high: Array
    high_se: Array


def summary(draws: ArrayLike, weights: ArrayLike, p: float = 0.95) -> Summary:
    """Return mean, covariance and the symmetric ``p`` interval of weighted draws (n, k), ``weights`` (n,) adding up to one.

    Standard error of a mean: ``sqrt(sum w^2 (x - mean)^2)``; of a quantile: half the distance of the quantiles one
    standard error of the probability to either side.
    """
    x, w = np.asarray(draws, dtype=np.float64), np.asarray(weights, dtype=np.float64)
    if x.ndim != 2 or w.shape != (x.shape[0],):
        raise ValueError("draws are rows, with one weight each")
    mean = w @ x
    off = x - mean
    cov = (off * w[:, None]).T @ off
    low, low_se = quantile(x, w, 0.5 * (1.0 - p))
    high, high_se = quantile(x, w, 0.5 * (1.0 + p))
    return Summary(mean, np.sqrt(w**2 @ off**2), cov, low, low_se, high, high_se)


def quantile(draws: ArrayLike, weights: ArrayLike, level: float) -> tuple[Array, Array]:
    """Return the weighted quantile (k,) of draws (n, k) with ``weights`` (n,), and its standard error (k,)."""
    x, w = np.asarray(draws, dtype=np.float64), np.asarray(weights, dtype=np.float64)
    order = np.argsort(x, axis=0, kind="stable")
    value, error = np.zeros(x.shape[1]), np.zeros(x.shape[1])
    for j in range(x.shape[1]):
        xs, ws = x[order[:, j], j], w[order[:, j]]
        up_to = np.cumsum(ws)

        def at(q: float, xs: Array = xs, up_to: Array = up_to) -> float:
            # a part in 1e12 keeps rounding of the sum from stepping over the draw that reaches the level
            i = int(np.searchsorted(up_to, q * float(up_to[-1]) * (1.0 - 1e-12)))
            return float(xs[min(i, len(xs) - 1)])

        value[j] = at(level)
        s = math.sqrt(float(np.sum(ws**2 * ((xs <= value[j]) - level) ** 2)))
        error[j] = 0.5 * (at(min(level + s, 1.0)) - at(max(level - s, 0.0)))
    return value, error


def chance(event: NDArray[np.bool_], weights: ArrayLike) -> Rate:
    """Return the weighted share of draws (n,) for which ``event`` (n,) holds, with its standard error."""
    return share(np.asarray(event, dtype=bool), np.asarray(weights, dtype=np.float64))


def resampled(weights: ArrayLike, n: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Return the indices (n,) of draws picked in proportion to ``weights`` (m,): systematic, one random number for all.

    Each is picked ``n w`` times, rounded up or down. Equal weights and ``n`` of m pick each draw once.
    """
    w = np.asarray(weights, dtype=np.float64)
    start = rng.random()
    if n == w.shape[0] and np.all(w == w[0]):
        return np.arange(n, dtype=np.intp)
    up_to = np.cumsum(w)
    out: NDArray[np.intp] = np.searchsorted(up_to / up_to[-1], (start + np.arange(n)) / n, side="right")
    return np.minimum(out, int(np.flatnonzero(w > 0.0)[-1]))


class Adapted(NamedTuple):
    """Draws (n, K) from a proposal that was fitted to what was read, with their exact weights, and whether they suffice.

    ``rounds`` sets of draws were made, those of the fitting among them.
    """

    draws: Array
    weights: Weights
    enough: Enough
    rounds: int


class _Fit(NamedTuple):
    """A normal in whitened numbers: mean (r,), axes (r, r), and the SD (r,) along each."""

    mean: Array
    axes: Array
    sd: Array


class _Set(NamedTuple):
    """One set of draws: in whitened numbers (n, r), logarithms of prior times likelihood over proposal (n,), its fit."""

    z: Array
    log: Array
    weights: Weights
    fit: _Fit | None


def adapted(
    log_likelihood: Callable[[Array], ArrayLike],
    mean: ArrayLike,
    cov: ArrayLike,
    rng: np.random.Generator,
    *,
    n: int = 4096,
    least: int = ENOUGH,
    rounds: int = 30,
    tell: Callable[[float], None] = quiet,
) -> Adapted:
    """Draw from a normal prior ``mean`` (K,), ``cov`` (K, K) and weight by ``log_likelihood``, (n, K) to (n,).

    Where too few of ``n`` draws carry the weight, a normal is fitted to them and new ones are drawn from nine parts of it
    and one part of the prior. A fit that would rest on few draws uses a root of the weights that leaves enough of them (a
    bridge to the posterior). Once a new fit is hardly better than the last, the best one is kept and drawn from until
    all draws from it are worth ``least``. Weights are prior times likelihood over the mixture that was drawn from, which
    was fitted to other draws: they are exact whatever the fit. After ``rounds`` sets the best is returned, and ``enough``
    says that it does not suffice. ``tell`` is called with the fraction of ``rounds``; what it raises stops the work.
    Raises ValueError where no draw of a set can give what was read, or for ``n`` below ``least``.
    """
    if n < least:
        raise ValueError(f"{n} draws cannot be worth {least}")
    mid, root = np.asarray(mean, dtype=np.float64), root_of(cov)

    def made(fit: _Fit | None) -> _Set:
        z, log_ratio = _proposed(n, root.shape[1], fit, rng)
        log = np.asarray(log_likelihood(mid + z @ root.T), dtype=np.float64) + log_ratio
        return _Set(z, log, weights_of(log), fit)

    last = best = made(None)
    at = 1
    while at < rounds and best.weights.ess < least:
        fit, bridged = _fitted(last.z, last.log)
        new = made(fit)
        at += 1
        tell(at / rounds)
        settled = not bridged and new.weights.ess < _NO_BETTER * last.weights.ess
        last = new
        best = max(best, new, key=lambda s: s.weights.ess)
        if settled:
            break
    zs, logs = [best.z], [best.log]
    weights = best.weights
    while at < rounds and weights.ess < least:
        more = made(best.fit)
        at += 1
        tell(at / rounds)
        zs.append(more.z)
        logs.append(more.log)
        weights = weights_of(np.concatenate(logs))
    return Adapted(mid + np.concatenate(zs) @ root.T, weights, enough(weights, least), at)


def _proposed(n: int, r: int, fit: _Fit | None, rng: np.random.Generator) -> tuple[Array, Array]:
    """Draws (n, r) of the mixture, in numbers whose prior is standard normal, and logarithms (n,) of prior over mixture."""
    z = rng.standard_normal((n, r))
    if fit is None:
        return z, np.zeros(n)
    ours = rng.random(n) >= _DEFENSIVE
    z = np.where(ours[:, None], fit.mean + (z * fit.sd) @ fit.axes.T, z)
    prior = -0.5 * np.sum(z**2, axis=1)
    white = (z - fit.mean) @ fit.axes / fit.sd
    fitted = -0.5 * np.sum(white**2, axis=1) - float(np.sum(np.log(fit.sd)))
    both = np.logaddexp(math.log(_DEFENSIVE) + prior, math.log(1.0 - _DEFENSIVE) + fitted)
    return z, prior - both


def _fitted(z: Array, log: Array) -> tuple[_Fit, bool]:
    """A normal fitted to draws (n, r) by a root of their weights, and whether a root was needed.

    Where the reading says nothing the posterior is the prior. A variance that chance alone would bring, between
    ``(1 -+ sqrt(r / ess))^2``, is therefore left at one, and so is a mean that chance would bring: or the noise of sixty
    directions would drown the two or three that were read.
    """
    r = z.shape[1]
    wanted = min(max(_FIT_A_NUMBER * r, 50), z.shape[0] // 4)
    power = 1.0
    if weights_of(log).ess < wanted:
        low, high = 0.0, 1.0
        for _ in range(40):
            power = 0.5 * (low + high)
            if weights_of(_tempered(log, power)).ess < wanted:
                high = power
            else:
                low = power
        power = low
    used = weights_of(_tempered(log, power))
    mean = used.weights @ z
    off = z - mean
    cov = (off * used.weights[:, None]).T @ off
    few = used.ess < r + 2.0
    if few:  # so few draws span no covariance: as wide every way as they are on average
        cov = cov + np.eye(r) * max(float(np.trace(cov)) / r, 1e-6)
    variances, axes = np.linalg.eigh(cov)
    by_chance = math.sqrt(r / used.ess)
    read = np.full(r, few) | (variances < (1.0 - by_chance) ** 2) | (variances > (1.0 + by_chance) ** 2)
    along = axes.T @ mean
    idle = ~read
    if float(np.sum(along[idle] ** 2)) * used.ess < idle.sum() + 3.0 * math.sqrt(2.0 * max(idle.sum(), 1)):
        along[idle] = 0.0
    sd = np.where(read, _WIDER * np.sqrt(np.maximum(variances, 1e-20)), 1.0)
    return _Fit(axes @ along, axes, sd), power < 1.0


def _tempered(log: Array, power: float) -> Array:
    return np.where(np.isneginf(log), -np.inf, power * np.where(np.isneginf(log), 0.0, log))


class Conditioned(NamedTuple):
    """A normal after linear looks: ``mean`` (K,), ``cov`` (K, K), and how surprising the looks were before.

    ``surprise``: chance of looks at least as far from what was foretold (chi-square ``distance`` with ``dof``); ``alone`` the
    same for each look by itself.
    """

    mean: Array
    cov: Array
    surprise: float
    distance: float
    dof: int
    alone: dict[str, float]


def linear_look(key: str, rows: ArrayLike, found: ArrayLike, cov: ArrayLike, words: str = "") -> Look:
    """Return a look that reads ``rows`` (m, K) of the inputs as ``found`` (m,) with noise ``cov`` (m, m); no fault acts."""
    h = np.atleast_2d(np.asarray(rows, dtype=np.float64))
    y, r = (
        np.atleast_1d(np.asarray(found, dtype=np.float64)),
        np.atleast_2d(np.asarray(cov, dtype=np.float64)),
    )
    if y.shape != (h.shape[0],) or r.shape != (h.shape[0],) * 2:
        raise ValueError(f"{key}: one number and one row and column of noise for each row read")
    return Look(key, words, h, np.zeros((h.shape[0], 0)), y, r)


def condition(mean: ArrayLike, cov: ArrayLike, looks: Sequence[Look]) -> Conditioned:
    """Return the normal ``mean`` (K,), ``cov`` (K, K) given looks ``y = H x + e``: exact, by the whitener of the causes.

    Without a look it comes back as it was, bit for bit. Looks that read faults are for ``weighing.weigh``: ValueError.
    """
    mid, s = np.asarray(mean, dtype=np.float64), np.asarray(cov, dtype=np.float64)
    if not looks:
        return Conditioned(mid, s, 1.0, 0.0, 0, {})
    prepared = prepare(s, _NOTHING_ACTS, looks)
    off = stacked(looks) - np.concatenate([k.honest for k in looks]) @ mid
    k = s.shape[0]
    left = left_over(prepared, off, Target(np.eye(k), np.zeros((k, 0))))
    after = left.cov[0]
    distance = float(np.sum((prepared.whiten @ off) ** 2))
    dof = prepared.whiten.shape[0]
    alone = {one.key: _surprise(mid, s, one) for one in looks}
    return Conditioned(
        mid + left.mean[0, 0], 0.5 * (after + after.T), chi2_tail(distance, dof), distance, dof, alone
    )


def _surprise(mean: Array, cov: Array, look: Look) -> float:
    whiten = prepare(cov, _NOTHING_ACTS, (look,)).whiten
    off = look.values - look.honest @ mean
    return chi2_tail(float(np.sum((whiten @ off) ** 2)), whiten.shape[0])


def surprise_of_draws(predicted: ArrayLike, found: ArrayLike) -> Rate:
    """Return the chance of readings at least as far out as ``found`` (m,) among those ``predicted`` (n, m), noise included.

    How far is told by the draws' own mean and covariance (Mahalanobis), so that readings which hang together are not
    counted twice. Never zero: one more draw might have gone further.
    """
    y, x = np.asarray(predicted, dtype=np.float64), np.asarray(found, dtype=np.float64)
    y = y[:, None] if y.ndim == 1 else y
    x = np.atleast_1d(x)
    if y.shape[1:] != x.shape or y.shape[0] <= y.shape[1]:
        raise ValueError("more predictions than readings, one number for each reading")
    mean = y.mean(axis=0)
    root = root_of(np.atleast_2d(np.cov(y, rowvar=False)))
    white = np.linalg.pinv(root)
    far = np.sum(((y - mean) @ white.T) ** 2, axis=1)
    own = float(np.sum((white @ (x - mean)) ** 2))
    # what lies off the directions that draws take at all was foretold by none of them
    missed = np.linalg.norm(x - mean - root @ (white @ (x - mean)))
    beyond = (
        far >= own if missed <= 1e-9 * (1.0 + np.linalg.norm(x - mean)) else np.zeros(len(far), dtype=bool)
    )
    return share(np.append(beyond, True), np.ones(len(far) + 1))
