"""How often the joined verdict is wrong with the checks that were made: false alarms and false comfort, by simulation.

Mountings are drawn with nothing wrong and with faults, their checks are drawn, and the same decision is taken as for the
case in hand. The two strata are weighted by their chances before any check.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.doubt.causes import (
    Prepared,
    Target,
    direct_chance,
    left_over,
    log_evidence,
    normalised,
    prepare,
)
from mountproof.doubt.hypotheses import Hypotheses
from mountproof.doubt.outcomes import drawn_outcomes, rows, weigh_choices
from mountproof.doubt.verdicts import VERDICTS, mixture_verdicts
from mountproof.doubt.weighing import Checks, join_targets
from mountproof.geometry.poses import Array

#: Hypotheses that a simulated verdict keeps: all others together weigh less than a percent (tests hold it).
_KEPT: Final = 24
_CHUNK: Final = 250


class Rate(NamedTuple):
    """A share with its standard error."""

    share: float
    se: float


class Rates(NamedTuple):
    """What the verdict does with these checks.

    ``false_alarm``: called ``does not agree`` with nothing wrong; ``open``: ``cannot tell`` with nothing wrong; ``miss``:
    called ``agrees`` with an error beyond the upper limit; ``found``: called ``does not agree`` with such an error.
    """

    false_alarm: Rate
    open: Rate
    miss: Rate
    found: Rate
    draws: int


class Drawn(NamedTuple):
    """Simulated mountings: which hypothesis (s,), wanted numbers (s, r), checks (s, m), outcomes, and seen findings."""

    hypothesis: NDArray[np.intp]
    truth: Array
    found: Array
    outcomes: list[NDArray[np.intp]]
    seen: list[NDArray[np.bool_]]


def draw(
    honest_cov: Array,
    hypotheses: Hypotheses,
    checks: Checks,
    target: Target,
    which: NDArray[np.intp],
    rng: np.random.Generator,
) -> Drawn:
    """Return mountings with the given hypotheses (s,), and what their checks show."""
    n = which.shape[0]
    slices = hypotheses.columns()
    nf = slices[-1].stop if slices else 0
    z = rng.standard_normal((n, honest_cov.shape[0])) @ _root(honest_cov).T
    a = np.zeros((n, nf))
    acts = [np.array([i in acting for acting in hypotheses.acting]) for i in range(len(hypotheses.modes))]
    for i, (mode, where) in enumerate(zip(hypotheses.modes, slices, strict=True)):
        on = np.flatnonzero(acts[i][which])
        if on.size:
            k = mode.mean.shape[0]
            a[on, where] = mode.mean + rng.standard_normal((on.size, k)) @ _root(mode.cov).T
    found = [
        z @ k.honest.T
        + a @ k.faults.T
        + rng.standard_normal((n, k.values.shape[0])) @ _root(np.asarray(k.cov)).T
        for k in checks.looks
    ]
    _, about = rows(checks.choices)
    numbers = z @ about.honest.T + a @ about.faults.T if about.honest.shape[0] else np.zeros((n, 0))
    seen = [rng.random(n) < direct_chance(hypotheses, d)[which] for d in checks.directs]
    return Drawn(
        which,
        z @ target.honest.T + a @ target.faults.T,
        np.concatenate(found, axis=1) if found else np.zeros((n, 0)),
        drawn_outcomes(checks.choices, numbers, rng),
        seen,
    )


def decide(
    prepared: Prepared, checks: Checks, target: Target, drawn: Drawn, limits: tuple[float, float]
) -> NDArray[np.intp]:
    """Return the verdict (s,) on each simulated mounting, as indices into ``VERDICTS``."""
    hyp = prepared.hypotheses
    log = hyp.log_prior + log_evidence(prepared, drawn.found)
    for one, seen in zip(checks.directs, drawn.seen, strict=True):
        p = direct_chance(hyp, one)
        log += np.where(seen[:, None], np.log(p), np.log(1.0 - p))
    _, about = rows(checks.choices)
    wanted = join_targets(target, about)
    r = target.honest.shape[0]
    out = []
    for start in range(0, log.shape[0], _CHUNK):
        part = slice(start, start + _CHUNK)
        left = left_over(prepared, drawn.found[part], wanted)
        keep = np.argpartition(-log[part], min(_KEPT, log.shape[1]) - 1, axis=1)[:, :_KEPT]
        mean = np.take_along_axis(left.mean, keep[:, :, None], axis=1)
        cov = left.cov[keep]
        weights = np.take_along_axis(log[part], keep, axis=1)
        if checks.choices:
            called = np.stack([o[part] for o in drawn.outcomes], axis=1)
            for combination in np.unique(called, axis=0):
                same = np.all(called == combination, axis=1)
                more, mean[same], cov[same] = weigh_choices(
                    checks.choices, [int(i) for i in combination], mean[same], cov[same], r
                )
                weights[same] += more
        sd = np.sqrt(np.maximum(np.diagonal(cov, axis1=2, axis2=3), 0.0))
        out.append(mixture_verdicts(normalised(weights), mean[..., :r], sd[..., :r], *limits))
    return np.concatenate(out) if out else np.zeros(0, dtype=np.intp)


def verdict_rates(
    honest_cov: Array,
    hypotheses: Hypotheses,
    checks: Checks,
    target: Target,
    limits: tuple[float, float],
    rng: np.random.Generator,
    draws: int = 2000,
) -> Rates:
    """Return the rates of the verdict on ``target`` (r numbers, each against the limits) with these checks.

    ``honest_cov`` (nz, nz).
    Half of the ``draws`` have nothing wrong, half a fault, each in proportion to its chance before the checks.
    """
    prepared = prepare(honest_cov, hypotheses, checks.looks)
    prior = np.exp(hypotheses.log_prior)
    orderly = hypotheses.orderly()
    half = draws // 2
    picked, weights, which_sound = [], [], []
    for inside, is_sound in ((orderly, True), (~orderly, False)):
        p = np.where(inside, prior, 0.0)
        total = float(p.sum())
        if total > 0.0:
            picked.append(rng.choice(len(prior), size=half, p=p / total))
            weights.append(np.full(half, total / half))
            which_sound.append(np.full(half, is_sound))
    drawn = draw(honest_cov, hypotheses, checks, target, np.concatenate(picked), rng)
    called = decide(prepared, checks, target, drawn, limits)
    weight, sound = np.concatenate(weights), np.concatenate(which_sound)
    off = np.max(np.abs(drawn.truth), axis=1) > limits[1]
    says = {word: called == i for i, word in enumerate(VERDICTS)}
    return Rates(
        share(says["does not agree"], weight * sound),
        share(says["cannot tell"], weight * sound),
        share(says["agrees"], weight * off),
        share(says["does not agree"], weight * off),
        2 * half,
    )


def share(hit: NDArray[np.bool_], weight: Array) -> Rate:
    """Return the share of hits (n,) weighted (n,), with its standard error (that of a ratio); NaN without any weight.

    Where none, or all, were hit the error is that of one more draw that went the other way.
    """
    total = float(weight.sum())
    if total <= 0.0:
        return Rate(math.nan, math.nan)
    p = float(np.sum(weight * hit)) / total
    n = total**2 / float(np.sum(weight**2))
    q = min(max(p, 1.0 / (n + 2.0)), 1.0 - 1.0 / (n + 2.0))
    se = math.sqrt(float(np.sum(weight**2 * (hit - p) ** 2))) / total
    return Rate(p, max(se, math.sqrt(q * (1.0 - q) / n) if p in (0.0, 1.0) else 0.0))


def _root(cov: Array) -> Array:
    if not np.any(cov - np.diag(np.diag(cov))):
        return np.diag(np.sqrt(np.diag(cov)))
    scale, axes = np.linalg.eigh(0.5 * (cov + cov.T))
    out: Array = axes * np.sqrt(np.clip(scale, 0.0, None))
    return out
