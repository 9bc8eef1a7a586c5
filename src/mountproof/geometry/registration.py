"""One surface laid onto another: the rigid motion that brings points onto a mesh, and how well it is held.

Each round takes every point to its nearest point of the mesh and moves all of them so that the distances along the
normals there shrink (point to plane). A few points go first, all go last, so that most of the way is cheap. Where the
surface just ends the nearest point lies on a border and says nothing; such points are left out. Points that do not
belong (a blob, a part that was cut away) weigh less the farther they stand off, and nothing beyond a limit that follows
from the others.

Sources: Y. Chen and G. Medioni 1992 (point to plane); A. E. Beaton and J. W. Tukey 1974 (the weights); both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.geometry import _nearest as kernels
from mountproof.geometry.nearest import Mesh, Nearest, along_curve, nearest
from mountproof.geometry.poses import Array, checked, exp6, hat, transform

#: Points of the first rounds, and of those in between; the last rounds take all.
_FEW, _MORE = 600, 5000
_ROUNDS = 40
#: Where all points come this near, and nearly all weigh, nobody needs to look for another place.
_USUAL_MM, _NEARLY_ALL = 0.05, 0.95
#: The limit beyond which nothing weighs narrows by this share a round, so that what is far off first pulls, then does not.
_NARROWER = 0.7
#: Where nothing moves any more it narrows faster.
_AT_REST = 0.2
#: Where a few points only show the way, this is near enough.
_NEAR_MM = 1e-3
#: A motion that moves no point farther than this has settled: a hundredth of what any scanner resolves.
_SETTLED_MM = 1e-4
#: Tukey's weight is nothing beyond this many SDs: 95 % efficient where all points belong.
_TUKEY = 4.685
#: The middle of absolute residuals of a normal distribution lies at this many SDs.
_MAD = 0.6744897501960817
#: No scanner repeats better than this: smaller residuals are rounding, and the weights need not tell them apart.
_LEAST_SD_MM = 5e-4
#: A direction counts as held where its information is above this share of that of the best held one (lever rms).
_HELD_SHARE = 1e-4


class Registered(NamedTuple):
    """How points lie on a mesh.

    ``pose`` (4, 4) mesh from points; ``cov6`` (6, 6), rotation first, of a small motion in front of it, from residuals
    that are independent from patch to patch of ``patch_mm`` (the larger, direction by direction, of that and of
    independent points); ``residual_mm`` (n,) signed distance along the normal at the end, NaN where a point has no
    partner; ``used`` (n,) points that weighed; ``sd_mm`` of one residual, robust; ``directions`` (6, 6) columns: motions
    about the points' middle (rotations as movement at their rms distance), worst held first, with ``held`` (6,) their
    SDs in mm (inf where nothing holds them); ``middle_mm`` (3,) and ``lever_mm``: that middle, in the mesh's frame, and
    that distance; ``settled``: whether the last round moved nothing.
    """

    pose: Array
    cov6: Array
    residual_mm: Array
    used: NDArray[np.bool_]
    sd_mm: float
    directions: Array
    held: Array
    middle_mm: Array
    lever_mm: float
    rounds: int
    settled: bool


def register_surface(
    points_mm: ArrayLike,
    mesh: Mesh,
    start: ArrayLike,
    *,
    most_mm: float = 2.0,
    patch_mm: float = 3.0,
    progress: Callable[[float], None] | None = None,
) -> Registered:
    """Lay ``points_mm`` (n, 3; n >= 6) onto ``mesh``, beginning with the pose ``start`` (4, 4) mesh from points.

    Points farther than ``most_mm`` from the mesh take no part. The answer is a minimum near the start: an arch laid on
    backwards stays backwards, so the start must come from landmarks or from how the scans were made. ``progress`` is
    called with the share of the work done, before each part and each round of all points; what it raises ends it. Raises
    ValueError where fewer than six points have a partner.
    """
    given = np.ascontiguousarray(checked(points_mm, (3,), "points_mm").reshape(-1, 3))
    order = along_curve(given)
    points = given[order]
    told_of = progress or _nobody
    told_of(0.0)
    at = _begin(points[_spread_rows(len(points), _FEW)], mesh, checked(start, (4, 4), "start"), most_mm)
    told_of(0.2)
    if len(points) > _MORE:
        some = points[_spread_rows(len(points), _MORE)]
        at = _descend(some, mesh, at.pose, most_mm, _NEAR_MM, at.reach)
    rounds = at.rounds
    at = _descend(points, mesh, at.pose, most_mm, _SETTLED_MM, at.reach, told_of)
    told_of(1.0)
    told = _told(transform(at.pose, points), at.found, mesh, at.pose, patch_mm)
    residual, used = np.full(len(given), np.nan), np.zeros(len(given), np.bool_)
    residual[order], used[order] = told.residual_mm, told.used
    return told._replace(residual_mm=residual, used=used, rounds=rounds + at.rounds, settled=at.settled)


class _At(NamedTuple):
    """Where a descent ended: its pose, the partners there, the limit of the weights, and the usual distance."""

    pose: Array
    found: Nearest
    reach: float
    usual_mm: float
    rounds: int
    settled: bool


def _begin(points: Array, mesh: Mesh, start: Array, most_mm: float) -> _At:
    """Return the best of several descents with few points: from all of them, and from each half along their axes.

    Where one side does not belong, all points together settle for a tilt between the sides; one of the halves
    then finds the pose that most points fit.
    """
    whole = _descend(points, mesh, start, most_mm, _NEAR_MM, most_mm)
    belong = np.abs(_signed(transform(whole.pose, points), whole.found, mesh)) < whole.reach
    if whole.usual_mm <= _USUAL_MM and belong.mean() > _NEARLY_ALL:
        return whole
    arms = points - points.mean(axis=0)
    axes = np.linalg.svd(arms, full_matrices=False)[2][:2]
    best = whole
    for axis in (axes[0], -axes[0], axes[1], -axes[1]):
        half = points[arms @ axis > 0.0]
        try:
            lead = _descend(half, mesh, start, most_mm, _NEAR_MM, most_mm)
            found = _descend(points, mesh, lead.pose, most_mm, _NEAR_MM, lead.reach)
        except ValueError:  # a half without partners leads nowhere
            continue
        if found.usual_mm < best.usual_mm:
            best = found
    return best


def _nobody(_share: float) -> None:
    """Tell nobody."""


def _descend(
    points: Array,
    mesh: Mesh,
    pose: Array,
    most_mm: float,
    goal_mm: float,
    reach: float,
    progress: Callable[[float], None] = _nobody,
) -> _At:
    """Move points until a round would move none of them farther than ``goal_mm``."""
    hint, rounds, at_rest = None, 0, False
    while True:
        # How many rounds it takes nobody knows: each goes half of the way that is left.
        progress(1.0 - 0.7 * 0.5**rounds)
        moved = transform(pose, points)
        found = nearest(moved, mesh, most_mm, hint)
        hint = found.row
        signed = _signed(moved, found, mesh)
        sd = _sd_of(signed)
        reach = max(_TUKEY * sd, (_AT_REST if at_rest else _NARROWER) * reach)
        step, far = _step(moved, found, mesh, signed, reach)
        at_rest = far <= goal_mm
        settled = at_rest and reach == _TUKEY * sd
        if settled or rounds == _ROUNDS:
            return _At(pose, found, reach, sd, rounds, settled)
        rounds += 1
        pose = exp6(step) @ pose


def _spread_rows(n: int, wanted: int) -> NDArray[np.intp]:
    """Return about ``wanted`` of ``n`` rows, evenly."""
    return np.unique(np.linspace(0, n - 1, min(n, wanted)).astype(np.intp))


def _signed(moved: Array, found: Nearest, mesh: Mesh) -> Array:
    """Return signed distances along the normals (n,), NaN without a partner. ValueError for fewer than six."""
    out = np.zeros(len(moved))
    count = kernels.signed_of(moved, found.place_mm, found.row, found.on_border, mesh.normals, out)
    if count < 6:
        raise ValueError("fewer than six points lie near the surface: look at the start")
    return out


def _sd_of(signed: Array) -> float:
    return max(float(np.nanmedian(np.abs(signed))) / _MAD, _LEAST_SD_MM)


def _step(moved: Array, found: Nearest, mesh: Mesh, signed: Array, reach: float) -> tuple[Array, float]:
    """Return the twist (6,) of one round about the frame's origin, and how far it moves a point, mm."""
    middle, lever = _middle(moved)
    information, push = _information(moved, found, mesh, signed, middle, lever, reach)
    values, vectors = np.linalg.eigh(information)
    seen = values > _HELD_SHARE**2 * values[-1]
    along = -vectors[:, seen] @ ((vectors[:, seen].T @ push) / values[seen])
    return _carry(middle, lever) @ along, float(np.linalg.norm(along))


def _information(
    moved: Array, found: Nearest, mesh: Mesh, signed: Array, middle: Array, lever: float, reach: float
) -> tuple[Array, Array]:
    information, push = np.zeros((6, 6)), np.zeros(6)
    kernels.information_of(moved, found.row, mesh.normals, signed, middle, lever, reach, information, push)
    return information, push


def _middle(points: Array) -> tuple[Array, float]:
    """Return the middle (3,) of points and their rms distance from it, at which rotations are counted in mm."""
    middle = points.mean(axis=0)
    return middle, math.sqrt(float(np.mean((points - middle) ** 2)) * 3.0) or 1.0


def _carry(middle: Array, lever: float) -> Array:
    """Return what turns a motion about the middle (6,), rotations in mm at the lever, into one about the origin."""
    carry = np.eye(6)
    carry[:3, :3] = np.eye(3) / lever
    carry[3:, :3] = hat(middle) / lever
    return carry


def _told(moved: Array, found: Nearest, mesh: Mesh, pose: Array, patch_mm: float) -> Registered:
    signed = _signed(moved, found, mesh)
    sd = _sd_of(signed)
    middle, lever = _middle(moved)
    information, _ = _information(moved, found, mesh, signed, middle, lever, _TUKEY * sd)
    values, vectors = np.linalg.eigh(information)
    lost = values <= _HELD_SHARE**2 * values[-1]
    inverse = (vectors / np.where(lost, np.inf, values)) @ vectors.T
    alone = sd**2 * inverse
    used = np.abs(signed) < _TUKEY * sd
    rows = np.flatnonzero(used)
    normals = mesh.normals[found.row[rows]]
    jacobian = np.hstack([np.cross(moved[rows] - middle, normals) / lever, normals])
    share = (signed[rows] / (_TUKEY * sd)) ** 2
    weight = (1.0 - share) ** 2
    # Where a residual grows its weight falls: points answer a motion by less than their weights, by the slope of the pull.
    yields = max(float(((1.0 - share) * (1.0 - 5.0 * share)).sum()), 0.1 * float(weight.sum()))
    grows = (float(weight.sum()) / yields) ** 2
    patches = grows * _patch_cov(moved[rows], jacobian, weight * signed[rows], inverse, patch_mm)
    local = patches if np.trace(patches) > np.trace(alone) else alone
    carry = _carry(middle, lever)
    spread = np.sqrt(np.maximum(np.einsum("ij,ik,kj->j", vectors, local, vectors), 0.0))
    spread[lost] = np.inf
    worst = np.argsort(-spread, kind="stable")
    return Registered(
        pose,
        carry @ local @ carry.T,
        signed,
        used,
        sd,
        vectors[:, worst],
        spread[worst],
        middle,
        lever,
        0,
        False,
    )


def cubes_of(at_mm: Array, edge_mm: float) -> tuple[NDArray[np.intp], int]:
    """Return for each of ``at_mm`` (n, 3) the number of its cube of ``edge_mm``, and how many cubes hold any."""
    cell = np.floor((at_mm - at_mm.min(axis=0)) / edge_mm).astype(np.int64)
    key = np.ravel_multi_index(tuple(cell.T), tuple(cell.max(axis=0) + 1))
    found, which = np.unique(key, return_inverse=True)
    return which, len(found)


def _patch_cov(at: Array, jacobian: Array, pull: Array, inverse: Array, patch_mm: float) -> Array:
    """Return the covariance of the motion where residuals hang together within cubes of ``patch_mm`` and not beyond.

    The sandwich of clustered residuals, with what six fitted numbers take of so many patches. Source: K.-Y. Liang and
    S. L. Zeger 1986 (from memory).
    """
    which, patches = cubes_of(at, patch_mm)
    if patches < 7:
        return np.full((6, 6), np.inf) * np.eye(6) if patches < 2 else inverse * float(pull @ pull)
    pulls = np.column_stack([np.bincount(which, jacobian[:, k] * pull, patches) for k in range(6)])
    meat = pulls.T @ pulls * (patches / (patches - 6.0))
    return np.asarray(inverse @ meat @ inverse)
