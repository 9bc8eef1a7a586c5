"""Records of one relation brought to the same opening, so that thick and thin ones can be compared.

How far a record opens the hinge is the operator's choice and says nothing about the relation. What is left after the
opening is taken out ought to be the same for every honest record. A wrong hinge axis leaves
``2 |e| sin(dtheta / 2)`` between records that differ by ``dtheta`` in opening.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.bench.marks import Arms, hinge_opening, psi_from_distance
from mountproof.bench.pose import PoseTable
from mountproof.bench.reach import AXES, Point
from mountproof.bench.readings import Table
from mountproof.geometry.hinge import axis_error_cov
from mountproof.geometry.poses import Array, closed, moved_cov, point_jacobian, transform
from mountproof.said import joined


class Features(NamedTuple):
    """Numbers that ought to be alike: ``values`` (records, k), and ``covs`` (records, k, k) from each record's readings.

    What all records share (the reference, the marks) is left out of ``covs``: it drops out of comparisons. ``repeat``
    (k, k) is the covariance that honest records have besides, where they repeat to 1 mm (SD) at a condyle along each
    axis; ``openings_rad`` (records,) what was taken out, from the opening that all are brought to; ``lever`` (k, 6)
    what a small motion of the lower (rotation first, upper frame) does to the numbers, None where only pairs were read.
    """

    states: tuple[str, ...]
    names: tuple[str, ...]
    values: Array
    covs: Array
    repeat: Array
    openings_rad: Array
    lever: Array | None

    @property
    def cov(self) -> Array:
        """Return the mean (k, k) of the records' covariances."""
        mean: Array = self.covs.mean(axis=0)
        return mean

    def axis_cov(self, u_mm: float, width_mm: float) -> Array:
        """Return (k, k) what an axis known to ``u_mm`` a coordinate leaves in the numbers, for each radian of opening.

        Both hinge points err alike, ``width_mm`` apart. Where only pairs were read, each may lie along the shift.
        """
        if self.lever is None:
            return u_mm**2 * self.repeat
        alike = u_mm**2 * np.kron(np.ones((2, 2)), np.eye(2))
        shift = axis_error_cov(_SMALL_RAD, alike, width_mm) / _SMALL_RAD**2
        out: Array = self.lever @ shift @ self.lever.T
        return out


#: The cost of an axis is in proportion to the opening; this one is small enough (its square does not count in doubles) and
#: large enough (its own rounding does not).
_SMALL_RAD = 1e-4
#: Directions that no reading sees have no part in comparisons: below this part of the largest, see records.joint.
_LIVE = 1e-9


def residual_features(arms: Sequence[Arms], table: Table, reference: str, states: Sequence[str]) -> Features:
    """Return what each pair is off by (mm) once the hinge opening from ``reference`` is taken out, for each record.

    Uses pairs read in the reference and in every state. One number less than the pairs is free, since the
    opening was taken out: ``cov`` has that rank. Honest records vary by as much in every direction that is left.
    """
    used = [a for a in arms if all(a.pair in table.get(s, {}) for s in (reference, *states))]
    if len(used) < 2:
        raise ValueError("two or more pairs must be read in the reference and in every record")
    rows, cov, opened_by = [], np.zeros((len(used), len(used))), []
    for s in states:
        opening = hinge_opening(used, table, reference, s)
        opened_by.append(opening.theta.value)
        rows.append([p.residual_mm for p in opening.pairs])
        u = np.array([table[s][a.pair].u_mm for a in used])
        # a reading moves its own residual by itself, and every residual by what it does to the common opening
        of = dict(zip(opening.theta.sources, opening.theta.parts[0], strict=True))
        pull = np.array([of.get(f"reading/{s}/{a.pair}", 0.0) for a in used])
        slope = np.array([_slope(a, table[s][a.pair].mean_mm) for a in used])
        moves = np.diag(u) - np.outer(slope, pull)
        cov += moves @ moves.T / len(states)
    scale, axes = np.linalg.eigh(cov)
    seen = axes[:, scale > _LIVE * scale[-1]]
    covs = np.repeat(cov[None], len(states), axis=0)
    openings = np.array(opened_by) - np.median(opened_by)
    names = tuple(a.pair for a in used)
    return Features(tuple(states), names, np.array(rows), covs, seen @ seen.T, openings, None)


def place_features(
    fit: PoseTable, states: Sequence[str], points: Sequence[Point], width_mm: float = 110.0
) -> Features:
    """Return where ``points`` of the lower cast lie in each state once all are closed to the median opening (mm).

    Each state is turned about the hinge to the median opening of all; the names read ``point, axis``.
    """
    poses, covs = [], []
    for s in states:
        motion = fit.poses[s].motion
        own = [
            i for i, name in enumerate(motion.sources) if name.startswith((f"reading/{s}/", f"assumed/{s}/"))
        ]
        poses.append(fit.poses[s].upper_from_lower)
        covs.append(motion.parts[:, own] @ motion.parts[:, own].T)
    return relation_features(states, poses, covs, points, width_mm)


def relation_features(
    names: Sequence[str],
    poses: Sequence[Array],
    covs6: Sequence[Array],
    points: Sequence[Point],
    width_mm: float = 110.0,
) -> Features:
    """Return where ``points`` of the lower lie with each record in, all closed about the hinge to the median opening.

    ``poses`` (4, 4), one a record, move the lower from where ``points`` are given; ``covs6`` (6, 6) their own doubt,
    rotation first, upper frame. ``width_mm`` between the condyles, at which honest records repeat alike. A small motion
    of one record moves the points by ``point_jacobian`` less its turn about the hinge, which the opening takes out.
    """
    turns = [-math.atan2(m[1, 0], m[0, 0]) for m in poses]
    common = float(np.median(turns))
    at = np.array([p.xyz_mm for p in points])
    rows, carried = [], []
    for pose, cov6, opening in zip(poses, covs6, turns, strict=True):
        back = closed(opening - common)
        rows.append(transform(back @ pose, at))
        carried.append(moved_cov(cov6, back))
    values = np.array(rows)
    # One lever for all: where they differ in it is of second order, and would count as directions of its own.
    lever = point_jacobian(values.mean(axis=0)).reshape(-1, 6)
    lever[:, 2] = 0.0
    return Features(
        tuple(names),
        tuple(joined(", ", (p.name, axis)) for p in points for axis in AXES),
        values.reshape(len(poses), -1),
        np.array([lever @ c @ lever.T for c in carried]),
        lever @ repeat_cov6(1.0, width_mm) @ lever.T,
        np.array(turns) - common,
        lever,
    )


def repeat_cov6(sd_mm: float, width_mm: float) -> Array:
    """Return (6, 6) how honest records vary that repeat to ``sd_mm`` (SD) along each axis at each condyle.

    Rotation first, about the hinge's middle. Ahead and up both condyles vary by themselves, which is half of the variance
    at their middle and half of it in yaw and roll; to the side they move together. How far the jaw was opened is free.
    """
    half = 0.5 * width_mm
    out: Array = sd_mm**2 * np.diag([0.5 / half**2, 0.5 / half**2, 0.0, 0.5, 0.5, 1.0])
    return out


def _slope(a: Arms, d_mm: float) -> float:
    """Millimetres of distance for each radian of opening."""
    return a.a_mm * a.b_mm * math.sin(psi_from_distance(d_mm, a.a_mm, a.b_mm, a.dz_mm)) / d_mm


def axis_cost_mm(axis_error_mm: float, opening_difference_rad: float) -> float:
    """Return what an error of the hinge axis leaves between records of different opening: ``2 |e| sin(dtheta / 2)``."""
    return 2.0 * abs(axis_error_mm) * abs(math.sin(0.5 * opening_difference_rad))
