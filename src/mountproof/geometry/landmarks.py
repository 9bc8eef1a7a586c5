"""A pose from pairs of landmarks: exact least squares without reflection, doubt, and which pair spoils it."""

from __future__ import annotations

import math
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.faults import Fault, FaultError
from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array, checked, point_jacobian, pose, transform
from mountproof.said import joined, say

#: A turn in doubt by more than this (rad, one standard uncertainty) is not held: its second-order term,
#: 1 - cos, then moves a point by half a percent of its lever, and first-order doubts mean nothing any more.
HELD_SD_RAD = 0.1

#: A pair (or a swap of two) is named when chance alone would do as much in fewer than one of a hundred sets,
#: counted over all the pairs that were tried. Common practice, no source.
BLAME_LEVEL = 0.01


class Match(NamedTuple):
    """A least-squares pose: ``pose`` (4, 4) target from source, ``residuals_mm`` (n, 3), ``rms_mm`` (weighted)."""

    pose: Array
    residuals_mm: Array
    rms_mm: float


def match(
    targets_mm: ArrayLike, sources_mm: ArrayLike, weights: ArrayLike | None = None, mirror: bool = False
) -> Match:
    """Return the rigid motion that brings sources (n, 3) nearest to targets (n, 3) in weighted squares, n >= 1.

    Never a reflection, unless ``mirror`` asks for the best one that mirrors (as a diagnosis). Closed form; where the
    points leave a turn free the answer is one of many. Raises ValueError for shapes that differ or weights that are
    not positive. Source: W. Kabsch, Acta Cryst 1976;A32:922; B. Horn, J Opt Soc Am A 1987;4:629.
    """
    targets = checked(targets_mm, (3,), "targets_mm").reshape(-1, 3)
    sources = checked(sources_mm, (3,), "sources_mm").reshape(-1, 3)
    share = np.ones(len(targets)) if weights is None else np.asarray(weights, dtype=np.float64)
    if (
        targets.shape != sources.shape
        or not len(targets)
        or share.shape != (len(targets),)
        or not (share > 0).all()
    ):
        raise ValueError(
            "targets_mm, sources_mm: as many of the one as of the other, each pair with a positive weight"
        )
    share = share / share.sum()
    to, fro = share @ targets, share @ sources
    u, _, vt = np.linalg.svd((targets - to).T @ (share[:, None] * (sources - fro)))
    sign = np.sign(np.linalg.det(u) * np.linalg.det(vt)) * (-1.0 if mirror else 1.0)
    turn = (u * np.array([1.0, 1.0, sign])) @ vt
    motion = pose(turn, to - turn @ fro)
    residuals = targets - transform(motion, sources)
    return Match(motion, residuals, math.sqrt(float(share @ (residuals**2).sum(axis=1))))


class Blame(NamedTuple):
    """What a set of pairs would gain by leaving one out: ``pair``, ``miss_mm`` of the pair from what the others
    predict, ``chi2_without``, ``gain`` (chi-square, three degrees) and ``p_value`` for the worst of all pairs."""

    pair: int
    miss_mm: float
    chi2_without: float
    gain: float
    p_value: float


class Registration(NamedTuple):
    """A pose from landmark pairs.

    ``pose`` (4, 4) target from source; ``cov6`` (6, 6) rotation first, in the target frame; ``residuals_mm`` (n, 3);
    ``rms_mm``; ``chi2`` on ``dof`` with ``p_value``; ``turn_axes`` (3, 3): rows are the principal axes of the doubt of
    the turn in the target frame, the least held first, with ``turn_sds_rad`` (3,); ``mirror_rms_mm``: what the best
    mirrored fit would leave; ``guilty``: the pair that stands out, and ``swapped``: the two whose names look
    exchanged, or None.
    """

    pose: Array
    cov6: Array
    residuals_mm: Array
    rms_mm: float
    chi2: float
    dof: int
    p_value: float
    turn_axes: Array
    turn_sds_rad: Array
    mirror_rms_mm: float
    guilty: Blame | None
    swapped: tuple[int, int] | None


def _information(targets: Array, sds: Array) -> Array:
    levers = point_jacobian(targets)
    out: Array = np.einsum("nki,nkj,n->ij", levers, levers, 1 / sds**2)
    return out


def _turns(targets: Array, sds: Array) -> tuple[Array, Array]:
    """Return principal axes (rows, least held first) and SDs (rad) of the turn; an SD is infinite where nothing holds."""
    share = 1 / sds**2
    local = targets - share @ targets / share.sum()
    inertia = np.einsum("n,nij->ij", share, (local**2).sum(axis=1)[:, None, None] * np.eye(3)) - np.einsum(
        "n,ni,nj->ij", share, local, local
    )
    values, vectors = np.linalg.eigh(inertia)
    noise = np.finfo(float).eps * len(targets) * max(float(values[-1]), np.finfo(float).tiny)
    held = values > noise
    sds_rad = np.where(held, 1 / np.sqrt(np.where(held, values, 1.0)), np.inf)
    return vectors.T, sds_rad


def _refuse_unheld(targets: Array, sds: Array) -> tuple[Array, Array]:
    axes, sds_rad = _turns(targets, sds)
    loose = sds_rad > HELD_SD_RAD
    if loose.any():
        lines = joined(
            say(" and "), (say("({x:+.2f}, {y:+.2f}, {z:+.2f})", x=x, y=y, z=z) for x, y, z in axes[loose])
        )
        how = (
            say("nothing")
            if np.isinf(sds_rad[0])
            else say("only {degrees:.0f} degrees (1 SD)", degrees=math.degrees(sds_rad[0]))
        )
        raise FaultError(
            [
                Fault(
                    "landmarks.in_line",
                    say(
                        "the landmarks lie in or near one line: turning about the direction {lines} is held by {how}",
                        lines=lines,
                        how=how,
                    ),
                    say(
                        "Add a landmark well off that line: two molars of different sides and an incisor hold every turn"
                    ),
                )
            ]
        )
    return axes, sds_rad


def _chi2(targets: Array, sources: Array, sds: Array) -> float:
    found = match(targets, sources, 1 / sds**2)
    return float(((found.residuals_mm / sds[:, None]) ** 2).sum())


def leave_one_out(targets_mm: ArrayLike, sources_mm: ArrayLike, sds_mm: ArrayLike) -> tuple[Blame, ...]:
    """Return what leaving out each pair would gain, worst first; empty where three pairs or fewer cannot say.

    Targets and sources (n, 3), ``sds_mm`` (n,) of one coordinate of each pair. A pair without which the rest no longer
    holds every turn is passed over. The gain of one innocent pair is chi-square with three degrees of freedom.
    """
    targets = checked(targets_mm, (3,), "targets_mm").reshape(-1, 3)
    sources = checked(sources_mm, (3,), "sources_mm").reshape(-1, 3)
    sds = np.asarray(sds_mm, dtype=np.float64)
    everything = _chi2(targets, sources, sds)
    found = []
    for k in range(len(targets) if len(targets) > 3 else 0):
        rest = np.arange(len(targets)) != k
        if (_turns(targets[rest], sds[rest])[1] > HELD_SD_RAD).any():
            continue
        without = match(targets[rest], sources[rest], 1 / sds[rest] ** 2)
        chi2 = float(((without.residuals_mm / sds[rest][:, None]) ** 2).sum())
        miss = float(np.linalg.norm(targets[k] - transform(without.pose, sources[k])))
        gain = max(everything - chi2, 0.0)
        found.append(Blame(k, miss, chi2, gain, min(1.0, len(targets) * chi2_tail(gain, 3))))
    return tuple(sorted(found, key=lambda b: -b.gain))


def _swap(targets: Array, sources: Array, sds: Array, chi2: float, dof: int) -> tuple[int, int] | None:
    """Return the two pairs whose exchange turns a set that cannot be into one that can, if exactly one exchange does."""
    good = []
    for i, j in combinations(range(len(targets)), 2):
        order = np.arange(len(targets))
        order[[i, j]] = j, i
        if chi2_tail(_chi2(targets, sources[order], sds), dof) > BLAME_LEVEL:
            good.append((i, j))
    return good[0] if len(good) == 1 and chi2_tail(chi2, dof) < BLAME_LEVEL else None


def register(targets_mm: ArrayLike, sources_mm: ArrayLike, sds_mm: ArrayLike) -> Registration:
    """Return the pose of three or more landmark pairs with its doubt, its residuals and what spoils it.

    ``targets_mm`` and ``sources_mm`` (n, 3); ``sds_mm`` (n,) or one number: standard uncertainty of one coordinate of
    each pair, both ends together. Raises FaultError ``landmarks.too_few`` below three pairs and
    ``landmarks.in_line`` where a turn is not held to ``HELD_SD_RAD``; ValueError for shapes or SDs that make no sense.
    """
    targets = checked(targets_mm, (3,), "targets_mm").reshape(-1, 3)
    sources = checked(sources_mm, (3,), "sources_mm").reshape(-1, 3)
    if targets.shape != sources.shape:
        raise ValueError("targets_mm, sources_mm: as many of the one as of the other")
    sds = np.array(np.broadcast_to(np.asarray(sds_mm, dtype=np.float64), (len(targets),)))
    if not (np.isfinite(sds) & (sds > 0)).all():
        raise ValueError("sds_mm: every standard uncertainty must be positive")
    if len(targets) < 3:
        raise FaultError(
            [
                Fault(
                    "landmarks.too_few",
                    say("a placement by landmarks needs three pairs that do not lie in one line"),
                    say("Measure another landmark on both"),
                    got=str(len(targets)),
                    allowed=say("3 or more"),
                )
            ]
        )
    found = match(targets, sources, 1 / sds**2)
    # Both sets are asked: a line in either leaves the turn about it free.
    axes, sds_rad = _refuse_unheld(transform(found.pose, sources), sds)
    _refuse_unheld(targets, sds)
    chi2 = float(((found.residuals_mm / sds[:, None]) ** 2).sum())
    dof = 3 * len(targets) - 6
    blames = leave_one_out(targets, sources, sds)
    suspicious = chi2_tail(chi2, dof) < BLAME_LEVEL
    swapped = _swap(targets, sources, sds, chi2, dof) if suspicious else None
    worst = blames[0] if blames and blames[0].p_value < BLAME_LEVEL and swapped is None else None
    # Four pairs can show which one is off only if the three others agree.
    if worst is not None and chi2_tail(worst.chi2_without, dof - 3) < BLAME_LEVEL:
        worst = None
    cov6: Array = np.asarray(
        np.linalg.inv(_information(transform(found.pose, sources), sds)), dtype=np.float64
    )
    return Registration(
        pose=found.pose,
        cov6=cov6,
        residuals_mm=found.residuals_mm,
        rms_mm=found.rms_mm,
        chi2=chi2,
        dof=dof,
        p_value=chi2_tail(chi2, dof),
        turn_axes=axes,
        turn_sds_rad=sds_rad,
        mirror_rms_mm=match(targets, sources, 1 / sds**2, mirror=True).rms_mm,
        guilty=worst,
        swapped=swapped,
    )
