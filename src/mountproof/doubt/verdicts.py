"""The verdict on a number that is known as a mixture: the guard band of two standard uncertainties, said in chances.

For one normal number it is the same as ``guard.judge``: ``|value| + 2 u`` inside a limit means that no more than
``1 - Phi(2)`` (2.3 %) lies beyond it at either end. For a mixture over causes the chances are summed over the causes.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from mountproof.doubt.normal import below
from mountproof.geometry.poses import Array

VERDICTS: Final = ("agrees", "doubtful", "does not agree", "cannot tell")
#: Chance on one side of two standard uncertainties.
_SURE: Final = 0.9772498680518208


def mixture_verdicts(
    weights: Array, mean: Array, sd: Array, agrees_within: float, redo_beyond: float
) -> NDArray[np.intp]:
    """Return (s,) indices into ``VERDICTS``.

    ``weights`` (s, h) add up to one; ``mean``, ``sd`` (s, h, r) of r numbers that all must be small. Agrees: every number is
    surely within the first limit. Does not agree: some number is surely beyond the second. Doubtful: some number is surely
    not zero, and none can be beyond the second. Else cannot tell.
    """
    w = weights[..., None]
    spread = np.maximum(sd, 1e-12)

    def chance_below(limit: float) -> Array:
        out: Array = np.sum(w * below((limit - mean) / spread), axis=-2)
        return out

    within = (chance_below(agrees_within) >= _SURE) & (chance_below(-agrees_within) <= 1.0 - _SURE)
    upper, lower = chance_below(redo_beyond), chance_below(-redo_beyond)
    beyond = (upper <= 1.0 - _SURE) | (lower >= _SURE)
    inside = (upper >= _SURE) & (lower <= 1.0 - _SURE)
    zero = chance_below(0.0)
    seen = (zero >= _SURE) | (zero <= 1.0 - _SURE)
    out = np.full(weights.shape[0], VERDICTS.index("cannot tell"))
    out[np.any(seen, axis=-1) & np.all(inside, axis=-1)] = VERDICTS.index("doubtful")
    out[np.all(within, axis=-1)] = VERDICTS.index("agrees")
    out[np.any(beyond, axis=-1)] = VERDICTS.index("does not agree")
    return out


def mixture_interval(weights: Array, mean: Array, sd: Array, p: float = 0.95) -> tuple[Array, Array]:
    """Return the ends (s, r) of the central interval of mixtures: ``weights`` (s, h), ``mean`` and ``sd`` (s, h, r)."""
    weights, mean, sd = _that_matter(weights, mean, sd)
    spread = np.maximum(sd, 1e-12)
    ends = []
    for level in (0.5 * (1.0 - p), 0.5 * (1.0 + p)):
        low = np.min(mean - 7.0 * spread, axis=-2)
        high = np.max(mean + 7.0 * spread, axis=-2)
        for _ in range(40):
            mid = 0.5 * (low + high)
            under = np.sum(weights[..., None] * below((mid[..., None, :] - mean) / spread), axis=-2) < level
            low, high = np.where(under, mid, low), np.where(under, high, mid)
        ends.append(0.5 * (low + high))
    return ends[0], ends[1]


def _that_matter(weights: Array, mean: Array, sd: Array) -> tuple[Array, Array, Array]:
    """Leave out the components that no mixture gives any weight to speak of: they move no end that is shown."""
    most = weights.reshape(-1, weights.shape[-1]).max(axis=0)
    order = np.argsort(-most, kind="stable")
    live = np.sort(order[: int(np.searchsorted(np.cumsum(most[order]), most.sum() - _NO_WEIGHT)) + 1])
    kept = weights[..., live]
    return kept / kept.sum(axis=-1, keepdims=True), mean[..., live, :], sd[..., live, :]


#: All components left out have less weight than this together.
_NO_WEIGHT = 1e-5


def mixture_moments(weights: Array, mean: Array, sd: Array) -> tuple[Array, Array]:
    """Return mean and standard deviation (s, r) of mixtures: ``weights`` (s, h), ``mean`` and ``sd`` (s, h, r)."""
    w = weights[..., None]
    centre = np.sum(w * mean, axis=-2)
    spread = np.sum(w * (sd**2 + (mean - centre[..., None, :]) ** 2), axis=-2)
    return centre, np.sqrt(spread)
