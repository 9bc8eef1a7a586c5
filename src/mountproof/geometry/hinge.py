"""What a hinge axis that is not the patient's costs at the teeth: exact motions, no small-angle shortcuts.

``wrong_by_mm`` is always *used minus true*: the axis of the instrument seen from the axis of the patient.
Angles are closings: the casts were joined with the jaw open by ``closing_rad`` and are closed by it again.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.hinge_fit import axis_pose
from mountproof.geometry.poses import (
    Array,
    adjoint,
    checked,
    closed,
    inverse,
    opened,
    rotation_z,
    transform,
    translation,
)


def opening_for_gap(gap_mm: float, point_mm: ArrayLike) -> float:
    """Return the opening (rad) at which a lower point (3,) in front of the hinge has sunk by ``gap_mm``.

    The gap is measured along y, on the point's own arc: ``asin(sin phi + gap/rho) - phi``. Raises ValueError where
    the arc never sinks that far, or for a point behind the hinge.
    """
    x, y, _ = checked(point_mm, (3,), "point_mm")
    rho = math.hypot(x, y)
    if x <= 0 or gap_mm - y > rho:
        raise ValueError("gap_mm: the point's arc about the hinge never sinks that far")
    return math.asin((gap_mm - y) / rho) - math.asin(-y / rho)


def axis_error_shift(closing_rad: float, wrong_by_mm: ArrayLike) -> Array:
    """Return the shift (3,), mm, of every lower point after closing by ``closing_rad`` about a parallel wrong axis.

    ``(I - R(closing)) d`` with ``d = wrong_by_mm`` (3,): the same vector at every tooth, length
    ``2 |d| sin(closing/2)``, zero when nothing was opened. Source: rigid motion; the question is L. Weinberg's,
    J Prosthet Dent 1959;9:775-87 (from memory).
    """
    d = checked(wrong_by_mm, (3,), "wrong_by_mm")
    out: Array = (np.eye(3) - rotation_z(closing_rad)[:3, :3]) @ d
    return out


def axis_error_length_mm(closing_rad: float, wrong_by_mm: float) -> float:
    """Return ``2 |d| sin(|closing|/2)``: length of the shift, of a stylus's stray, and of a split-cast gap.

    A stylus ``wrong_by_mm`` beside the true axis strays by this much while the jaw turns by ``closing_rad``.
    """
    return 2 * abs(wrong_by_mm) * math.sin(abs(closing_rad) / 2)


def split_gap(first_rad: float, second_rad: float, wrong_by_mm: ArrayLike) -> Array:
    """Return the gap vector (3,), mm, at the split when a second record of another thickness is put between the casts.

    The casts were mounted with the record that opens by ``first_rad``; the second opens by ``second_rad``. Both
    records are taken as faultless: the gap, ``2 |d| sin(|difference|/2)``, is the axis's alone and cannot be told
    from records that disagree. Zero when the records are equally thick or the axis is the patient's.
    """
    return axis_error_shift(first_rad - second_rad, wrong_by_mm)


class StopShift(NamedTuple):
    """Where the wrong axis leaves the lower once a stop is met: ``closing_rad`` used, ``motion`` (4, 4) of the error.

    ``transform(motion, point) - point`` is the error of any lower point, mm.
    """

    closing_rad: float
    motion: Array


def close_to_stop(closing_rad: float, wrong_by_mm: ArrayLike, stop_mm: ArrayLike) -> StopShift:
    """Return how the lower errs when it is closed about a wrong axis until a stop is back at its own height.

    The jaw was open by ``closing_rad`` about the true axis when the casts were joined; the instrument closes
    about the parallel axis ``wrong_by_mm`` (3,) away until the lower point ``stop_mm`` (3,) has its true y again.
    Exact. Raises ValueError where the stop never comes back to its height.
    """
    d = checked(wrong_by_mm, (3,), "wrong_by_mm")
    stop = checked(stop_mm, (3,), "stop_mm")
    x, y, _ = transform(opened(closing_rad), stop) - d
    rho = math.hypot(x, y)
    if x <= 0 or abs(stop[1] - d[1]) > rho:
        raise ValueError("stop_mm: about this axis the stop never comes back to its height")
    angle = math.asin((stop[1] - d[1]) / rho) - math.asin(y / rho)
    motion = translation(d) @ closed(angle) @ translation(-d) @ opened(closing_rad)
    return StopShift(angle, motion)


def zero_direction(stop_mm: ArrayLike) -> Array:
    """Return the unit direction (3,) in which an axis error costs nothing, to first order, at a stop on ``stop_mm``.

    It is the direction from the axis to the stop: sliding the axis along it leaves the arc of the stop unchanged.
    Raises ValueError for a point on the axis.
    """
    x, y, _ = checked(stop_mm, (3,), "stop_mm")
    length = math.hypot(x, y)
    if length == 0.0:
        raise ValueError("stop_mm: a point on the axis has no direction from it")
    return np.array([x / length, y / length, 0.0])


def two_sided_error(closing_rad: float, right_mm: ArrayLike, left_mm: ArrayLike, width_mm: float) -> Array:
    """Return the error motion (4, 4) of the lower when the axis is wrong by different amounts right and left.

    ``right_mm`` and ``left_mm`` (2,): x and y, used minus true, in the planes of the right (``z = +width/2``) and left
    hinge points; errors along the axis cost nothing. Closing is by the same ``closing_rad`` as the opening was. Exact:
    equal errors give the pure shift of ``axis_error_shift``, unequal ones add yaw and roll of about
    ``closing x difference / width``.
    """
    right, left = checked(right_mm, (2,), "right_mm"), checked(left_mm, (2,), "left_mm")
    axis = axis_pose(np.concatenate([right, left]), width_mm)
    out: Array = axis @ closed(closing_rad) @ inverse(axis) @ opened(closing_rad)
    return out


def axis_error_cov(closing_rad: float, cov_mm2: ArrayLike, width_mm: float) -> Array:
    """Return the covariance (6, 6), rotation first, upper frame, that the doubt of the axis puts on the closed lower.

    ``cov_mm2`` (4, 4) of (x right, y right, x left, y left) of the axis used. First order in the axis, exact in the
    closing: the small motion of the axis less the same motion carried round by the closing. Zero for no closing.
    """
    given = checked(cov_mm2, (4, 4), "cov_mm2")
    lever = np.zeros((6, 4))
    # The axis direction moves by (right - left) / width; a turn (wx, wy) moves z towards (wy, -wx).
    lever[0, 1], lever[0, 3] = -1 / width_mm, 1 / width_mm
    lever[1, 0], lever[1, 2] = 1 / width_mm, -1 / width_mm
    lever[3, 0] = lever[3, 2] = lever[4, 1] = lever[4, 3] = 0.5
    carry = (np.eye(6) - adjoint(closed(closing_rad))) @ lever
    out: Array = carry @ given @ carry.T
    return out
