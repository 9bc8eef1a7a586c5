"""A finite motion as a turn about one axis with a slide along it, with its covariance."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import (
    Array,
    checked,
    hat,
    inverse_left,
    pose,
    rotation_about,
    rotation_vector,
    translation,
)


class Screw(NamedTuple):
    """A motion as a screw: unit ``direction`` (3,), ``point_mm`` (3,) of the axis, ``angle_rad``, ``slide_mm``.

    The point is the one nearest to the place that was asked for (the origin when none was). A motion that does
    not turn has no axis: its direction is that of the shift and its point is NaN.
    """

    direction: Array
    point_mm: Array
    angle_rad: float
    slide_mm: float

    @property
    def pitch_mm_per_rad(self) -> float:
        """Return the slide for one radian of turn; infinite when nothing turns."""
        return self.slide_mm / self.angle_rad if self.angle_rad else math.copysign(math.inf, self.slide_mm)


def screw_of(
    motion: ArrayLike, toward: ArrayLike | None = None, near_mm: ArrayLike = (0.0, 0.0, 0.0)
) -> Screw:
    """Return the screw of a rigid motion (4, 4), mm.

    ``toward`` (3,) chooses the sign: the direction makes an acute angle with it, and the angle is then negative for
    a turn against it; without it the angle is in [0, pi]. ``near_mm`` (3,) picks the point of the axis.
    Source: M. Chasles 1830; point ``(t + cot(angle/2) w x t) / 2`` of the part of the shift across the axis.
    """
    given = checked(motion, (4, 4), "motion")
    near = checked(near_mm, (3,), "near_mm")
    vector = rotation_vector(given[:3, :3])
    shift = given[:3, 3] + given[:3, :3] @ near - near
    angle = float(np.linalg.norm(vector))
    if angle == 0.0:
        length = float(np.linalg.norm(shift))
        direction = shift / length if length else np.array([0.0, 0.0, 1.0])
    else:
        direction = vector / angle
    if toward is not None and float(direction @ checked(toward, (3,), "toward")) < 0:
        direction, angle = -direction, -angle
    slide = float(direction @ shift)
    if angle == 0.0:
        return Screw(direction, np.full(3, np.nan), 0.0, slide)
    across = shift - slide * direction
    point = near + 0.5 * (across + np.cross(direction, across) / math.tan(angle / 2))
    return Screw(direction, point, angle, slide)


def pose_of(screw: Screw) -> Array:
    """Return the rigid motion (4, 4) of a screw; the inverse of ``screw_of``."""
    if screw.angle_rad == 0.0:
        return translation(screw.direction * screw.slide_mm)
    turn = rotation_about(screw.direction, screw.angle_rad)[:3, :3]
    shift = screw.point_mm - turn @ screw.point_mm + screw.slide_mm * screw.direction
    return pose(turn, shift)


def screw_cov(screw: Screw, cov6: ArrayLike, near_mm: ArrayLike = (0.0, 0.0, 0.0)) -> Array:
    """Return the covariance (8, 8) of direction, point, angle, slide (in this order) of a screw.

    ``cov6`` (6, 6) is that of the motion (rotation first, in the target frame); ``near_mm`` as in ``screw_of``.
    First order, exact derivatives; the point's part grows as 1/angle and fails below about one degree
    for caliper and scanner noise. Raises ValueError for a motion that does not turn. Source: derivative of the
    formula in ``screw_of``; order of size as H. Woltring et al., J Biomech 1985;18:379-389.
    """
    if screw.angle_rad == 0.0:
        raise ValueError("screw: a motion that does not turn has no axis to be in doubt about")
    given = checked(cov6, (6, 6), "cov6")
    near = checked(near_mm, (3,), "near_mm")
    w, angle = screw.direction, screw.angle_rad
    motion = pose_of(screw)
    shift = motion[:3, 3] + motion[:3, :3] @ near - near
    along = np.outer(w, w)
    # A small motion (a, b) in front: the rotation vector changes by J a, the shift seen from near by b + a x (.).
    d_vector = np.hstack([inverse_left(w * angle), np.zeros((3, 3))])
    d_shift = np.hstack([-hat(shift + near), np.eye(3)])
    d_angle = w @ d_vector
    d_w = (np.eye(3) - along) @ d_vector / angle
    d_slide = w @ d_shift + shift @ d_w
    across = shift - screw.slide_mm * w
    d_across = d_shift - np.outer(w, d_slide) - screw.slide_mm * d_w
    cot = 1 / math.tan(angle / 2)
    d_cot = -d_angle / (2 * math.sin(angle / 2) ** 2)
    crossed = np.cross(w, across)
    d_point = 0.5 * (d_across + np.outer(crossed, d_cot) + cot * (hat(w) @ d_across - hat(across) @ d_w))
    jacobian = np.vstack([d_w, d_point, d_angle, d_slide])
    out: Array = jacobian @ given @ jacobian.T
    return out


class Crossing(NamedTuple):
    """Where an axis crosses a plane: ``point_mm`` (3,), covariance ``cov_mm2`` (3, 3)."""

    point_mm: Array
    cov_mm2: Array


def crossing(screw: Screw, cov8: ArrayLike, z_mm: float) -> Crossing:
    """Return where the axis of a screw crosses the sagittal plane ``z = z_mm``, as at the right or left hinge point.

    ``cov8`` (8, 8) comes from ``screw_cov``. Raises ValueError for an axis that lies in the plane.
    """
    given = checked(cov8, (8, 8), "cov8")
    w, point = screw.direction, screw.point_mm
    if w[2] == 0.0:
        raise ValueError("screw: the axis runs along the sagittal plane and never crosses it")
    reach = (z_mm - point[2]) / w[2]
    lever = np.zeros((3, 8))
    normal = np.array([0.0, 0.0, 1.0])
    lever[:, :3] = reach * (np.eye(3) - np.outer(w, normal) / w[2])
    lever[:, 3:6] = np.eye(3) - np.outer(w, normal) / w[2]
    return Crossing(point + reach * w, lever @ given @ lever.T)


def turn_centre_sd_mm(
    sd_mm: float, markers: int, angle_rad: float, distance_mm: float, spread_mm: float
) -> tuple[float, float]:
    """Return the SDs of the angle (rad) and of the centre (mm, both coordinates together) of a plane rotation.

    ``markers`` points, each coordinate in doubt by ``sd_mm`` in both positions; ``distance_mm`` from the centre to
    their mean, ``spread_mm`` their root mean square distance from it. First order; fails below about one degree.
    """
    root = math.sqrt(markers)
    sd_angle = sd_mm * math.sqrt(2) / (spread_mm * root)
    growth = math.sqrt(1 + distance_mm**2 / (2 * spread_mm**2))
    return sd_angle, sd_mm / (root * math.sin(abs(angle_rad) / 2)) * growth
