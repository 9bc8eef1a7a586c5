"""Record bases and tracings, where teeth do not hold a record: how far a base gives, and how a tracing scatters."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.carry import Carried, measured
from mountproof.geometry.poses import Array, checked
from mountproof.geometry.quantile import f_tail
from mountproof.geometry.support import amplification
from mountproof.records.repeats import sd_factors_of_dof

#: Sittings that differ by more than chance would leave in so many of all tracings are said to differ.
_CHANCE = 0.05


def push_range(readings_mm: Mapping[str, float], sd_mm: float, source: str) -> Carried:
    """Return the range (mm) of a distance while a base was at rest and pushed to and fro: largest less smallest.

    ``readings_mm`` by the way it was pushed; each has ``sd_mm``, and what the caliper shows too much drops out. Raises
    ValueError for fewer than two readings.
    """
    if len(readings_mm) < 2:
        raise ValueError("a range needs two readings")
    high = max(readings_mm, key=lambda k: readings_mm[k])
    low = min(readings_mm, key=lambda k: readings_mm[k])
    read = {k: measured(v, sd_mm, f"{source}/{k}") for k, v in readings_mm.items()}
    if high == low:
        high, low = list(readings_mm)[:2]
    return read[high] - read[low]


class Tracing(NamedTuple):
    """The tips of a tracing: ``mean_mm`` (2) ahead and right, their scatter, and what lies between sittings.

    ``within_cov`` (2, 2) pooled within the sittings; ``sd_mm`` root mean square of both axes, with ``dof`` degrees of
    freedom an axis and the interval ``low_mm`` to ``high_mm`` of the true one (chi-square, both axes); ``long_mm`` and
    ``long_rad`` the SD along the axis in which the tips scatter most, and its direction, right of straight ahead;
    ``mean_u_mm`` (2) of the mean. ``between_mm`` (root mean square of both axes) is what sittings add, 0 where nothing is
    seen, None for one sitting; ``between_seen`` true where it is beyond chance (1 in 20).
    """

    mean_mm: Array
    mean_u_mm: Array
    within_cov: Array
    sd_mm: float
    dof: int
    low_mm: float
    high_mm: float
    long_mm: float
    long_rad: float
    between_mm: float | None
    between_seen: bool


def tracing(points_mm: ArrayLike, sittings: Sequence[str]) -> Tracing:
    """Return how the tips (n, 2), ahead and right, of a tracing scatter within and between sittings (n names).

    Between: analysis of variance with unequal groups, a variance below zero is zero. Seen where the F of both axes
    together is beyond what chance leaves in 1 of 20 tracings. Raises ValueError where no sitting has two tips.
    """
    points = np.atleast_2d(checked(points_mm, (2,), "points_mm"))
    if len(sittings) != points.shape[0]:
        raise ValueError("name the sitting of every tip")
    names = list(dict.fromkeys(sittings))
    groups = [points[[s == name for s in sittings]] for name in names]
    means = np.array([g.mean(axis=0) for g in groups])
    sizes = np.array([len(g) for g in groups])
    dof = int(points.shape[0] - len(groups))
    if dof < 1:
        raise ValueError("a scatter needs two tips of one sitting")
    left = np.concatenate([g - m for g, m in zip(groups, means, strict=True)])
    cov = left.T @ left / dof
    sd = math.sqrt(float(np.trace(cov)) / 2.0)
    low, high = sd_factors_of_dof(2 * dof)
    scale, axes = np.linalg.eigh(cov)
    long = axes[:, -1] if axes[0, -1] >= 0.0 else -axes[:, -1]
    between, seen = None, False
    variance = cov
    mean = points.mean(axis=0)
    weight = float(np.sum(sizes**2)) / float(np.sum(sizes)) ** 2
    if len(groups) > 1:
        apart = (means - mean) * np.sqrt(sizes)[:, None]
        ms = apart.T @ apart / (len(groups) - 1)
        n0 = (float(np.sum(sizes)) - float(np.sum(sizes**2)) / float(np.sum(sizes))) / (len(groups) - 1)
        extra = float(np.trace(ms - cov)) / 2.0 / n0
        between = math.sqrt(max(0.0, extra))
        ratio = float(np.trace(ms) / np.trace(cov)) if np.trace(cov) > 0.0 else math.inf
        seen = f_tail(ratio, 2 * (len(groups) - 1), 2 * dof) < _CHANCE
        variance = cov + between**2 * np.eye(2) * weight * points.shape[0]
    u = np.sqrt(np.diag(variance) / points.shape[0])
    return Tracing(
        mean,
        u,
        cov,
        sd,
        dof,
        low * sd,
        high * sd,
        math.sqrt(max(0.0, float(scale[-1]))),
        math.atan2(float(long[1]), float(long[0])),
        between,
        seen,
    )


class StopGain(NamedTuple):
    """One stop that could be added: its index among the candidates, and the worst amplification before and after."""

    candidate: int
    before: float
    after: float


def stop_to_add(places_mm: ArrayLike, candidates_mm: ArrayLike, teeth_mm: ArrayLike) -> StopGain:
    """Return the candidate (n, 2) that lowers the worst amplification at ``teeth`` (m, 2) most, beside stops (k, 2).

    Stops in a line, or fewer than three, hold no plane: infinite. Raises ValueError for no candidate.
    """
    places = np.asarray(places_mm, dtype=np.float64).reshape(-1, 2)
    candidates = np.atleast_2d(checked(candidates_mm, (2,), "candidates_mm"))
    if candidates.shape[0] == 0:
        raise ValueError("name at least one place for a stop")
    before = worst_amplification(places, teeth_mm)
    after = [worst_amplification(np.concatenate([places, c[None]]), teeth_mm) for c in candidates]
    best = int(np.argmin(after))
    return StopGain(best, before, after[best])


def worst_amplification(places_mm: ArrayLike, teeth_mm: ArrayLike) -> float:
    """Return the largest amplification of an error at stops (k, 2) over ``teeth`` (m, 2); infinite where no plane is held."""
    places = np.asarray(places_mm, dtype=np.float64).reshape(-1, 2)
    if places.shape[0] < 3:
        return math.inf
    try:
        return float(np.max(amplification(places, teeth_mm)))
    except ValueError:
        return math.inf
