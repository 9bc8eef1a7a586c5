"""All checks of one case together: chances of every cause, and the mixture of what is left of the error."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from mountproof.doubt.causes import (
    Direct,
    Look,
    Prepared,
    Target,
    left_over,
    log_direct,
    log_evidence,
    normalised,
    prepare,
    stacked,
)
from mountproof.doubt.hypotheses import Hypotheses, among
from mountproof.doubt.outcomes import Choice, rows, weigh_choices
from mountproof.geometry.poses import Array

#: Hypotheses that stay in the weighing once the numbers have spoken; the others together weigh less than a percent.
_KEPT: Final = 400


class Checks(NamedTuple):
    """Every check that was made, by its kind."""

    looks: tuple[Look, ...] = ()
    choices: tuple[Choice, ...] = ()
    directs: tuple[Direct, ...] = ()


class Weighed(NamedTuple):
    """Hypotheses given the checks: ``weights`` (h,), wanted numbers (h, r) and their covariances (h, r, r)."""

    prepared: Prepared
    weights: Array
    mean: Array
    cov: Array

    @property
    def sd(self) -> Array:
        """Standard deviations (h, r) of the wanted numbers."""
        out: Array = np.sqrt(np.maximum(np.diagonal(self.cov, axis1=1, axis2=2), 0.0))
        return out

    def chances(self) -> dict[str, float]:
        """Return the chance of each cause; a case with two counts to both, so they may add up to more than one."""
        named = self.prepared.hypotheses.named() @ self.weights
        return dict(zip(self.prepared.hypotheses.causes(), (float(p) for p in named), strict=True))

    def pairs(self, least: float) -> list[tuple[str, str, float]]:
        """Return two causes that act together with a chance of at least ``least``, likeliest first."""
        modes = self.prepared.hypotheses.modes
        both: dict[tuple[str, str], float] = {}
        for acting, w in zip(self.prepared.hypotheses.acting, self.weights, strict=True):
            main = sorted({modes[i].cause for i in acting if not modes[i].beside})
            if len(main) == 2:
                both[main[0], main[1]] = both.get((main[0], main[1]), 0.0) + float(w)
        ranked = sorted(both.items(), key=lambda item: -item[1])
        return [(a, b, p) for (a, b), p in ranked if p >= least]


def join_targets(first: Target, second: Target) -> Target:
    """Return the wanted numbers of both, one below the other; the second may be empty."""
    if second.honest.shape[0] == 0:
        return first
    return Target(
        np.concatenate([first.honest, second.honest]), np.concatenate([first.faults, second.faults])
    )


def weigh(honest_cov: Array, hypotheses: Hypotheses, checks: Checks, target: Target) -> Weighed:
    """Return the chances of all hypotheses given the checks, and the wanted numbers under each; ``honest_cov`` (nz, nz)."""
    prepared = prepare(honest_cov, hypotheses, checks.looks)
    found = stacked(checks.looks)[None]
    log = hypotheses.log_prior + log_evidence(prepared, found)[0] + log_direct(hypotheses, checks.directs)
    if checks.choices and len(log) > _KEPT:
        # ways of seating are weighed one hypothesis at a time: those that the numbers leave no chance are dropped
        keep = np.sort(np.argpartition(-log, _KEPT)[:_KEPT])
        prepared = prepare(honest_cov, among(hypotheses, keep), checks.looks)
        log = log[keep]
    _, about = rows(checks.choices)
    left = left_over(prepared, found, join_targets(target, about))
    r = target.honest.shape[0]
    more, mean, cov = weigh_choices(
        checks.choices, [c.found for c in checks.choices], left.mean[0], left.cov, r
    )
    return Weighed(prepared, normalised(log + more), mean[:, :r], cov[:, :r, :r])


def speaks(honest_cov: Array, hypotheses: Hypotheses, checks: Checks) -> list[tuple[str, dict[str, float]]]:
    """Return for each check, alone, its words, and the log factor by which it speaks for each cause.

    A fault of the mounting is held against an orderly mounting (whatever stands beside), what stands beside against
    ``NOTHING``. ``honest_cov`` (nz, nz).
    """
    named, names = hypotheses.named(), hypotheses.causes()
    main = {m.cause for m in hypotheses.modes if not m.beside}
    rows = np.concatenate([named, hypotheses.orderly()[None]])
    base = np.array([len(names) if name in main else 0 for name in names])
    nz = honest_cov.shape[0]
    slices = hypotheses.columns()
    nothing = Target(np.zeros((0, nz)), np.zeros((0, slices[-1].stop if slices else 0)))
    alone = [Checks(looks=(k,)) for k in checks.looks]
    alone += [Checks(choices=(k,)) for k in checks.choices]
    alone += [Checks(directs=(k,)) for k in checks.directs]
    before = np.log(rows @ np.exp(hypotheses.log_prior))
    out = []
    for one in alone:
        after = np.log(np.maximum(rows @ weigh(honest_cov, hypotheses, one, nothing).weights, 1e-300))
        factor = (after - before)[:-1] - (after - before)[base]
        words = (one.looks or one.choices or one.directs)[0].words
        out.append((words, {name: float(f) for name, f in zip(names, factor, strict=True)}))
    return out
