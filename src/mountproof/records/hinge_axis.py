"""The hinge axis from records of different thickness: where it lies, how well that is known, and what it buys.

Two poses of the lower with a thick and a thin record in differ by a turn about the patient's own hinge (a finite screw,
``mountproof.geometry.screw``); more records give one axis by least squares (``mountproof.geometry.hinge_fit``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.hinge import axis_error_cov
from mountproof.geometry.hinge_fit import hinge_from_records
from mountproof.geometry.poses import Array, checked, inverse, point_jacobian
from mountproof.geometry.screw import screw_of

#: Right and left of a facebow's axis err mostly alike: one ear is not placed by itself. Our choice.
_ALIKE = 0.75
#: Turns nearer to nothing than this many of their own SDs have no axis: its place would be anywhere.
_TURN_SDS = 4.0


class HingeAxis(NamedTuple):
    """The axis against the one that was entered (the frame's z axis).

    ``ends_mm`` (4,): x and y in the planes of the right and of the left hinge point, with ``cov_mm2`` (4, 4); ``turn_rad``
    the widest turn between two records; ``slide_mm`` how far the two slid along the axis, which a hinge does not, and
    ``out_rad`` by how much the axis of that turn leans out of the entered one; ``tail`` how often records of one hinge
    would disagree as much; ``settled`` whether the search ended.
    """

    ends_mm: Array
    cov_mm2: Array
    turn_rad: float
    slide_mm: float
    out_rad: float
    tail: float
    settled: bool

    @property
    def middle_mm(self) -> Array:
        """Return x and y (2,) of the axis midway between the hinge points: ahead of and above the entered one."""
        out: Array = 0.5 * (self.ends_mm[:2] + self.ends_mm[2:])
        return out

    @property
    def middle_cov(self) -> Array:
        """Return the covariance (2, 2) of the middle."""
        half = 0.5 * np.hstack([np.eye(2), np.eye(2)])
        out: Array = half @ self.cov_mm2 @ half.T
        return out

    @property
    def sd_mm(self) -> float:
        """Return the larger SD of the middle's two directions: how well the axis is known, one coordinate."""
        return math.sqrt(float(np.linalg.eigvalsh(self.middle_cov)[-1]))

    def lean(self, width_mm: float) -> tuple[Array, Array]:
        """Return by how much (rad, 2) the axis points ahead and up on the right, and the SD (2,) of both."""
        across = np.hstack([np.eye(2), -np.eye(2)]) / width_mm
        sd: Array = np.sqrt(np.diag(across @ self.cov_mm2 @ across.T))
        return across @ self.ends_mm, sd


def widest_turn(poses: Sequence[ArrayLike]) -> tuple[int, int, float]:
    """Return which two of the ``poses`` (4, 4) turn most against each other about the side axis, thin first, and by what.

    Raises ValueError for fewer than two.
    """
    given = [checked(m, (4, 4), "poses") for m in poses]
    if len(given) < 2:
        raise ValueError("poses: two or more records")
    opened_by = [-math.atan2(m[1, 0], m[0, 0]) for m in (p @ inverse(given[0]) for p in given)]
    thin, thick = int(np.argmin(opened_by)), int(np.argmax(opened_by))
    return thin, thick, opened_by[thick] - opened_by[thin]


def expected_sd_mm(first_cov6: ArrayLike, second_cov6: ArrayLike, turn_rad: float) -> float:
    """Return how well two records that turn by ``turn_rad`` show the axis (SD of one coordinate, mm).

    The centre of a turn is off by the doubt of the shift at the hinge over ``2 sin(turn / 2)``: it grows as one over the
    turn. Covariances (6, 6), rotation first, about the hinge's middle. Infinite for no turn.
    """
    both = checked(first_cov6, (6, 6), "first_cov6") + checked(second_cov6, (6, 6), "second_cov6")
    if turn_rad == 0.0:
        return math.inf
    shift = math.sqrt(float(np.linalg.eigvalsh(both[3:5, 3:5])[-1]))
    return shift / (2.0 * abs(math.sin(0.5 * turn_rad)))


def turn_is_seen(first_cov6: ArrayLike, second_cov6: ArrayLike, turn_rad: float) -> bool:
    """Tell whether a turn stands clear of its own doubt, so that it has an axis at all.

    ``first_cov6`` and ``second_cov6`` (6, 6) as for ``expected_sd_mm``.
    """
    both = checked(first_cov6, (6, 6), "first_cov6") + checked(second_cov6, (6, 6), "second_cov6")
    return abs(turn_rad) > _TURN_SDS * math.sqrt(float(both[2, 2]))


def facebow_cov(u_mm: float) -> Array:
    """Return the covariance (4, 4) of (x right, y right, x left, y left) of an axis known to ``u_mm`` a coordinate."""
    out: Array = u_mm**2 * np.kron(np.array([[1.0, _ALIKE], [_ALIKE, 1.0]]), np.eye(2))
    return out


def hinge_axis(
    poses: Sequence[ArrayLike],
    covs6: Sequence[ArrayLike],
    width_mm: float,
    facebow_u_mm: float | None = None,
) -> HingeAxis:
    """Return the hinge axis of two or more records of different thickness.

    ``poses`` (4, 4) ``upper_from_lower``, one a record; ``covs6`` (6, 6) their covariances, rotation first, upper frame:
    of the scan **and** of how well honest records repeat, each independent of the others; ``width_mm`` between the
    hinge points; ``facebow_u_mm`` brings in the entered axis with that doubt as well. Raises ValueError for fewer than two
    records, or where nothing turned.
    """
    thin, thick, turn = widest_turn(poses)
    prior = (
        {} if facebow_u_mm is None else {"prior_mm": np.zeros(4), "prior_cov_mm2": facebow_cov(facebow_u_mm)}
    )
    fit = hinge_from_records(poses, covs6, width_mm, **prior)
    screw = screw_of(np.asarray(poses[thick]) @ inverse(poses[thin]), toward=(0.0, 0.0, 1.0))
    return HingeAxis(
        np.concatenate([fit.right_mm, fit.left_mm]),
        fit.cov_mm2,
        turn,
        screw.slide_mm,
        math.acos(min(1.0, abs(float(screw.direction[2])))),
        fit.p_value,
        fit.settled,
    )


def slip_at(closing_rad: float, axis_cov_mm2: ArrayLike, width_mm: float, place_mm: ArrayLike) -> float:
    """Return how far (root mean square, mm) a doubtful axis lets the lower slip at ``place`` once it has met there.

    Closed by ``closing_rad`` about an axis with covariance (4, 4), the place is off by ``e``; closing on until it is at its
    own height turns the height ``e_y`` into ``e_y y / x`` of slip, to first order.
    """
    place = checked(place_mm, (3,), "place_mm")
    motion = axis_error_cov(closing_rad, axis_cov_mm2, width_mm)
    x, y, _ = place
    lever = point_jacobian(place)
    slip = np.array([[1.0, y / x, 0.0], [0.0, 0.0, 1.0]]) @ lever
    return math.sqrt(float(np.trace(slip @ motion @ slip.T)))
