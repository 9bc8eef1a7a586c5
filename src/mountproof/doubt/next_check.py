"""The cheapest check that tells the two likeliest causes apart.

For a check not yet made its outcome is predicted under each cause, from what is known now. After it the likelier of the two
would be named; the chance that this is the right one, less the chance of naming the right one today, is what the check
buys, and it is weighed by its minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.doubt.causes import (
    Direct,
    Look,
    Prepared,
    Target,
    direct_chance,
    left_over,
    prepare,
    stacked,
)
from mountproof.doubt.hypotheses import among
from mountproof.doubt.outcomes import Choice, rows, weigh_choices
from mountproof.doubt.weighing import Checks, Weighed
from mountproof.geometry.poses import Array

#: Hypotheses of each cause that are worth predicting from; the rest weigh little.
_KEPT: Final = 12
_DRAWS: Final = 160


class Candidate(NamedTuple):
    """A check that could be made: its key, its cost in minutes, and how its outcome hangs together with the steps."""

    key: str
    minutes: float
    check: Look | Choice | Direct


class Worth(NamedTuple):
    """What a check would buy: the chance of naming the right one of two causes, today and after it."""

    candidate: Candidate
    today: float
    after: float

    @property
    def a_minute(self) -> float:
        """Chance gained for each minute."""
        return (self.after - self.today) / self.candidate.minutes


def worth_of(
    weighed: Weighed,
    checks: Checks,
    pair: tuple[str, str],
    candidates: Sequence[Candidate],
    rng: np.random.Generator,
) -> list[Worth]:
    """Return what each candidate buys in telling two causes (of ``Hypotheses.causes``) apart, best value first."""
    whole = weighed.prepared.hypotheses
    named, names = whole.named(), whole.causes()
    a, b = (named[names.index(c)] for c in pair)
    which = [_likeliest(weighed.weights, a & ~b), _likeliest(weighed.weights, b & ~a)]
    shares = np.array([float(weighed.weights[a & ~b].sum()), float(weighed.weights[b & ~a].sum())])
    if shares.sum() <= 0.0 or min(len(s) for s in which) == 0:
        return []
    shares = shares / shares.sum()
    kept = np.concatenate(which)
    hyp = among(whole, kept)
    prepared = prepare(weighed.prepared.honest_cov, hyp, checks.looks)
    sides = [np.arange(len(which[0])), len(which[0]) + np.arange(len(which[1]))]
    weights = weighed.weights[kept]
    found = stacked(checks.looks)[None]
    out = []
    for candidate in candidates:
        check = candidate.check
        if isinstance(check, Direct):
            p = direct_chance(hyp, check)
            seen = np.array([_mean(p, weights, s) for s in sides])
            after = _right(shares, np.stack([seen, 1.0 - seen]))
        elif isinstance(check, Choice):
            _, about = rows((check,))
            left = left_over(prepared, found, about)
            table = []
            for outcome in range(len(check.outcomes)):
                log, _, _ = weigh_choices((check,), (outcome,), left.mean[0], left.cov, 0)
                table.append([_mean(np.exp(log), weights, s) for s in sides])
            chances = np.array(table)
            after = _right(shares, chances / np.maximum(chances.sum(axis=0), 1e-12))
        else:
            after = _by_draws(prepared, weights, found, check, sides, shares, rng)
        out.append(Worth(candidate, float(shares.max()), max(float(shares.max()), after)))
    return sorted(out, key=lambda w: -w.a_minute)


def _likeliest(weights: Array, inside: NDArray[np.bool_]) -> NDArray[np.intp]:
    which = np.flatnonzero(inside)
    out: NDArray[np.intp] = which[np.argsort(-weights[which])][:_KEPT]
    return out


def _mean(values: Array, weights: Array, which: NDArray[np.intp]) -> float:
    return float(np.sum(values[which] * weights[which]) / max(float(np.sum(weights[which])), 1e-300))


def _right(shares: Array, chances: Array) -> float:
    """Chance of naming the right one: in each outcome the likelier is named."""
    return float(np.sum(np.max(chances * shares, axis=1)))


def _by_draws(
    prepared: Prepared,
    every: Array,
    found: Array,
    look: Look,
    sides: Sequence[NDArray[np.intp]],
    shares: Array,
    rng: np.random.Generator,
) -> float:
    left = left_over(prepared, found, Target(look.honest, look.faults))
    cov = left.cov + look.cov
    right = 0.0
    weights = [every[s] / every[s].sum() for s in sides]
    for own in (0, 1):
        which = rng.choice(sides[own], size=_DRAWS, p=weights[own])
        y = np.zeros((_DRAWS, look.values.shape[0]))
        for h in np.unique(which):
            on = which == h
            root = np.linalg.cholesky(cov[h] + 1e-15 * np.trace(cov[h]) * np.eye(cov.shape[1]))
            y[on] = left.mean[0, h] + rng.standard_normal((int(on.sum()), y.shape[1])) @ root.T
        density = [
            np.sum(w[:, None] * np.exp(_log_normal(y, left.mean[0, s], cov[s])), axis=0)
            for s, w in zip(sides, weights, strict=True)
        ]
        named_right = shares[own] * density[own] > shares[1 - own] * density[1 - own]
        right += float(shares[own]) * float(np.mean(named_right))
    return right


def _log_normal(y: Array, mean: Array, cov: Array) -> Array:
    """Log densities (h, s) of outcomes (s, m) under normals (h, m), (h, m, m), up to one constant."""
    size = np.sqrt(np.maximum(np.diagonal(cov, axis1=1, axis2=2), 1e-300))
    unit = cov / (size[:, :, None] * size[:, None, :])
    d = (y[None] - mean[:, None]) / size[:, None]
    solved = np.linalg.solve(unit + 1e-12 * np.eye(cov.shape[1]), np.swapaxes(d, 1, 2))
    _, logdet = np.linalg.slogdet(unit + 1e-12 * np.eye(cov.shape[1]))
    quad = np.sum(d * np.swapaxes(solved, 1, 2), axis=2)
    out: Array = -0.5 * quad - 0.5 * (logdet + 2.0 * np.sum(np.log(size / size[0]), axis=1))[:, None]
    return out
