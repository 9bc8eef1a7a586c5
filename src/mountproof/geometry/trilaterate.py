"""The pose of the mounted upper cast from caliper distances between points of the instrument and landmarks on it.

Distances to the two hinge points alone leave the turn about the hinge axis free: it does not touch closing, only
the angles against the reference plane and the pin. One distance from a third point of the instrument holds it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.faults import Fault, FaultError
from mountproof.geometry.distances import (
    Readings,
    checked_readings,
    readings_from_table,
    refuse_impossible,
)
from mountproof.geometry.landmarks import BLAME_LEVEL, HELD_SD_RAD, match
from mountproof.geometry.least_squares import Fit, chi2_tail, gauss_newton
from mountproof.geometry.poses import (
    Array,
    checked,
    exp6,
    inverse,
    point_jacobian,
    rotation_vector,
    rotation_y,
    rotation_z,
    transform,
    translation,
)
from mountproof.said import joined, say

__all__ = ["Reach", "Readings", "Rival", "Trilateration", "readings_from_table", "trilaterate"]

#: Two solutions are equally believable while their likelihoods differ by less than a hundredfold.
_RIVAL_CHI2 = -2 * math.log(BLAME_LEVEL)

#: Two end points of the search are one solution when every landmark ends within this many millimetres; mirrored
#: ones lie many millimetres apart, and a settled search is a millionth of the doubt off.
_SAME_MM = 0.01

#: Passes that renew the covariance of the readings at the pose just found; the second changes it by the square of
#: the first change, the third by nothing that shows.
_PASSES = 3


class Reach(NamedTuple):
    """What the readings hold: ``closing`` about the hinge, angles against the reference plane, and the ``pin``."""

    closing: bool
    plane_angles: bool
    pin: bool


class Rival(NamedTuple):
    """Another pose that fits as well: ``pose`` (4, 4), its ``chi2``, how far it is turned from the expected one."""

    pose: Array
    chi2: float
    turn_from_expected_rad: float


class Trilateration(NamedTuple):
    """The pose found.

    ``pose`` (4, 4) upper from scan; ``cov6`` (6, 6) rotation first, in the frame of the upper; ``residuals_mm`` (n,)
    reading less computed; ``scores`` (n,): residuals in their own SDs (0 where nothing checks the reading); ``chi2``
    on ``dof`` with ``p_value``; ``reach``; ``turn_assumed``: the turn about the hinge came from the expected pose;
    ``rivals``; ``ambiguous``: a rival lies as near to the expected pose as anatomy can tell; ``doubtful``: the one
    reading whose removal makes the rest agree, or None; ``findings``: codes ``misfit``,
    ``far_from_expected``, and what would explain them: ``sides_swapped``, ``mirrored_scan`` (which distances from
    three points cannot show by a misfit, since their plane is a mirror: only the expected side can);
    ``rounds`` and ``settled`` of the search.
    """

    pose: Array
    cov6: Array
    residuals_mm: Array
    scores: Array
    chi2: float
    dof: int
    p_value: float
    reach: Reach
    turn_assumed: bool
    turn_from_expected_rad: float
    rivals: tuple[Rival, ...]
    ambiguous: bool
    doubtful: int | None
    findings: tuple[str, ...]
    rounds: int
    settled: bool


def _geometry(motion: Array, r: Readings) -> tuple[Array, Array, Array]:
    """Return computed distances (n,), unit vectors point to landmark (n, 3), and landmarks in the upper (k, 3)."""
    placed = transform(motion, r.landmarks_mm)
    away = placed[r.pairs[:, 1]] - r.points_mm[r.pairs[:, 0]]
    length = np.linalg.norm(away, axis=1)
    return length, away / np.maximum(length, np.finfo(float).tiny)[:, None], placed


def _reading_cov(motion: Array, r: Readings) -> Array:
    """Return the covariance (n, n) of the readings, shared landmarks and points included."""
    _, unit, _ = _geometry(motion, r)
    same_point = r.pairs[:, 0][:, None] == r.pairs[:, 0]
    same_landmark = r.pairs[:, 1][:, None] == r.pairs[:, 1]
    shared = r.point_sd_mm**2 * same_point + r.landmark_sd_mm**2 * same_landmark
    out: Array = np.diag(r.sds_mm**2) + shared * (unit @ unit.T)
    return out


def _solve(start: Array, r: Readings, passes: int) -> tuple[Fit, Array]:
    """Return the search's end from one start, and the whitening (n, n) it used."""
    motion = start
    for _ in range(passes):
        whiten: Array = np.asarray(
            np.linalg.inv(np.linalg.cholesky(_reading_cov(motion, r))), dtype=np.float64
        )

        def weighted(state: Array, whiten: Array = whiten) -> tuple[Array, Array]:
            length, unit, placed = _geometry(state, r)
            rows = np.einsum("ni,nij->nj", unit, point_jacobian(placed[r.pairs[:, 1]]))
            return whiten @ (length - r.distances_mm), whiten @ rows

        fit = gauss_newton(motion, weighted, lambda state, step: exp6(step) @ state)
        motion = fit.state
    return fit, whiten


def _lever_mm(placed: Array) -> float:
    return math.sqrt(float((placed**2).sum(axis=1).mean()))


def _held(information: Array, lever_mm: float) -> bool:
    """Return whether every direction of a small motion (its turns counted on the lever) is held."""
    size = len(information)
    scale = np.where(np.arange(size) < size - 3, 1 / lever_mm, 1.0)
    values = np.linalg.eigvalsh(scale[:, None] * information * scale)
    return bool(values[0] > (HELD_SD_RAD * lever_mm) ** -2)


def _turned_like(motion: Array, expected: Array, landmarks: Array) -> Array:
    """Turn a pose about the hinge until its landmarks lie nearest to where they are expected."""
    has, wants = transform(motion, landmarks)[:, :2], transform(expected, landmarks)[:, :2]
    sine = float((has[:, 0] * wants[:, 1] - has[:, 1] * wants[:, 0]).sum())
    return rotation_z(math.atan2(sine, float((has * wants).sum()))) @ motion


def _starts(expected: Array, landmarks: Array) -> list[Array]:
    """Return the expected pose, its mirror image across the plane of hinge and landmarks, and coarse turns of both."""
    placed = transform(expected, landmarks)
    middle = placed.mean(axis=0)
    across = np.array([-middle[1], middle[0], 0.0])
    across = across / max(float(np.linalg.norm(across)), np.finfo(float).tiny)
    mirrored = match(placed - 2 * np.outer(placed @ across, across), landmarks).pose
    about = translation(middle)
    half_turn = about @ rotation_y(math.pi) @ inverse(about)
    return [
        expected,
        mirrored,
        half_turn @ expected,
        half_turn @ mirrored,
        *(rotation_z(a) @ p for p in (expected, mirrored) for a in (-0.7, 0.7, math.pi)),
    ]


def _turn_between(a: Array, b: Array) -> float:
    return float(np.linalg.norm(rotation_vector(a[:3, :3] @ b[:3, :3].T)))


def _set_free_turn(fit: Fit, r: Readings, expected: Array) -> tuple[Fit, bool]:
    """Return the fit with a turn about the hinge that nothing holds set as expected, and whether it was."""
    if _held(fit.jacobian.T @ fit.jacobian, _lever_mm(transform(fit.state, r.landmarks_mm))):
        return fit, False
    return fit._replace(state=_turned_like(fit.state, expected, r.landmarks_mm)), True


def _known(motion: Array, others: Sequence[Array], r: Readings) -> bool:
    placed = transform(motion, r.landmarks_mm)
    return any(np.abs(placed - transform(o, r.landmarks_mm)).max() <= _SAME_MM for o in others)


def _solutions(r: Readings, expected: Array) -> list[tuple[Fit, Array, bool]]:
    """Return the distinct settled ends (fit, whitening, turn free), best first; all ends where none settled."""
    distinct: list[Array] = []
    for start in _starts(expected, r.landmarks_mm):
        here = _set_free_turn(_solve(start, r, 1)[0], r, expected)[0].state
        if not _known(here, distinct, r):
            distinct.append(here)
    ends: list[tuple[Fit, Array, bool]] = []
    for start in distinct:
        fit, whiten = _solve(start, r, _PASSES)
        fit, free = _set_free_turn(fit, r, expected)
        if not _known(fit.state, [e[0].state for e in ends], r):
            ends.append((fit, whiten, free))
    settled = [e for e in ends if e[0].settled] or ends
    return sorted(settled, key=lambda e: e[0].chi2)


def _scores(fit: Fit, whiten: Array, cov6: Array) -> Array:
    """Return each residual over its own SD after the fit (0 for a reading that no other checks)."""
    n = len(fit.residual)
    left = np.eye(n) - fit.jacobian @ cov6 @ fit.jacobian.T
    weight = whiten.T @ left @ whiten
    spread = np.diag(weight)
    checkable = spread > np.finfo(float).eps * n * np.diag(whiten.T @ whiten) * n
    score = whiten.T @ fit.residual / np.sqrt(np.where(checkable, spread, 1.0))
    return np.where(checkable, -score, 0.0)


def _doubtful(scores: Array, chi2: float, dof: int) -> int | None:
    """Return the one reading whose removal makes the rest agree, when only one does."""
    if dof < 2 or chi2_tail(chi2, dof) >= BLAME_LEVEL:
        return None
    explains = [i for i, s in enumerate(scores) if chi2_tail(max(chi2 - s * s, 0.0), dof - 1) >= BLAME_LEVEL]
    return explains[0] if len(explains) == 1 else None


def _mirrored(landmarks: Array) -> Array:
    """Return landmarks mirrored in the plane nearest to them: what lies in it stays where it was expected."""
    local = landmarks - landmarks.mean(axis=0)
    normal = np.linalg.svd(local)[2][2]
    out: Array = landmarks - 2 * np.outer(local @ normal, normal)
    return out


def _explained(r: Readings, expected: Array, near_rad: float) -> bool:
    """Return whether changed readings would fit a pose near the expected one."""
    best = _solutions(r, expected)[0][0]
    dof = len(r.pairs) - 6
    good = chi2_tail(best.chi2, max(dof, 1)) >= BLAME_LEVEL
    return good and _turn_between(best.state, expected) <= near_rad


def _findings(
    r: Readings, expected: Array, p_value: float, turn_rad: float, near_rad: float
) -> tuple[str, ...]:
    misfit, far = p_value < BLAME_LEVEL, turn_rad > near_rad
    if not misfit and not far:
        return ()
    said = [code for code, there in (("misfit", misfit), ("far_from_expected", far)) if there]
    swapped = np.where(r.pairs[:, 0] < 2, 1 - r.pairs[:, 0], r.pairs[:, 0])
    if _explained(r._replace(pairs=np.stack([swapped, r.pairs[:, 1]], axis=1)), expected, near_rad):
        said.append("sides_swapped")
    if _explained(r._replace(landmarks_mm=_mirrored(r.landmarks_mm)), expected, near_rad):
        said.append("mirrored_scan")
    return tuple(said)


def trilaterate(
    readings: Readings,
    expected: ArrayLike,
    expected_sd_rad: float,
) -> Trilateration:
    """Return the pose of a cast from caliper distances: weighted least squares from several starts.

    ``expected`` (4, 4) upper from scan: the side on which anatomy puts the cast (as from ``average_placement``), with
    ``expected_sd_rad`` for each of its turns. It chooses between mirrored solutions and, where the readings leave the
    turn about the hinge free, gives that turn (said in ``turn_assumed``; the doubt is in ``cov6``).
    Raises FaultError: ``trilateration.landmarks``, ``trilateration.impossible`` for two distances no point can have,
    ``trilateration.not_held`` where more than that turn is free. ValueError for shapes that do not belong together.
    """
    r = checked_readings(readings)
    towards = checked(expected, (4, 4), "expected")
    refuse_impossible(r)
    near_rad = 3 * math.sqrt(3) * expected_sd_rad
    ends = _solutions(r, towards)
    equal = [e for e in ends if e[0].chi2 - ends[0][0].chi2 < _RIVAL_CHI2]
    equal.sort(key=lambda e: _turn_between(e[0].state, towards))
    fit, whiten, free = equal[0]
    rivals = tuple(Rival(e[0].state, e[0].chi2, _turn_between(e[0].state, towards)) for e in equal[1:])

    # The search ends before the free turn is set; the derivative must be taken where the pose now is.
    length, unit, placed = _geometry(fit.state, r)
    rows = np.einsum("ni,nij->nj", unit, point_jacobian(placed[r.pairs[:, 1]]))
    fit = fit._replace(residual=whiten @ (length - r.distances_mm), jacobian=whiten @ rows)
    information = fit.jacobian.T @ fit.jacobian
    others = np.delete(np.delete(information, 2, 0), 2, 1)
    lever = _lever_mm(placed)
    if free and not _held(others, lever):
        raise FaultError([_not_held(others, lever)])
    if free:
        information[2, 2] += expected_sd_rad**-2
    cov6: Array = np.asarray(np.linalg.inv(information), dtype=np.float64)
    dof = len(r.pairs) - (5 if free else 6)
    chi2 = fit.chi2
    p_value = chi2_tail(chi2, dof)
    scores = _scores(fit, whiten, cov6)
    turn = _turn_between(fit.state, towards)
    return Trilateration(
        pose=fit.state,
        cov6=cov6,
        residuals_mm=r.distances_mm - length,
        scores=scores,
        chi2=chi2,
        dof=dof,
        p_value=p_value,
        reach=Reach(True, not free, not free),
        turn_assumed=free,
        turn_from_expected_rad=turn,
        rivals=rivals,
        ambiguous=any(v.turn_from_expected_rad <= near_rad for v in rivals),
        doubtful=_doubtful(scores, chi2, dof),
        findings=_findings(r, towards, p_value, turn, near_rad),
        rounds=fit.rounds,
        settled=fit.settled,
    )


def _not_held(others: Array, lever_mm: float) -> Fault:
    scale = np.array([1 / lever_mm, 1 / lever_mm, 1.0, 1.0, 1.0])
    values, vectors = np.linalg.eigh(scale[:, None] * others * scale)
    names = (
        say("roll (about x)"),
        say("yaw (about y)"),
        say("a shift along x"),
        say("a shift along y"),
        say("a shift along z"),
    )
    loose = [
        names[int(np.argmax(np.abs(vectors[:, k])))]
        for k in np.nonzero(values <= (HELD_SD_RAD * lever_mm) ** -2)[0]
    ]
    return Fault(
        "trilateration.not_held",
        say(
            "the distances do not hold the cast: left free is mostly {loose}",
            loose=joined(", ", dict.fromkeys(loose)),
        ),
        say("Measure each of three landmarks (both second molars and an incisor) to both hinge points"),
    )
