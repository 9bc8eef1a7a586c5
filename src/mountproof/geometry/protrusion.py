"""The path of a condylar point in a protrusive or lateral record, and the gap that protrusion opens behind."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array, checked, transform
from mountproof.said import say

#: An angle is not told from a shorter path (mm): at a record's usual 0.2 mm doubt it would be in doubt by 11 degrees
#: or more. Common practice, no source.
SHORTEST_PATH_MM = 1.0


class PathAngle(NamedTuple):
    """An angle of a condylar path with its standard uncertainty; ``told`` is false, and ``why`` says so, where none is."""

    angle_rad: float
    sd_rad: float
    told: bool
    why: str


def path_of(motion: ArrayLike, point_mm: ArrayLike) -> Array:
    """Return the displacement (3,), mm, of a lower point (3,) under a rigid motion (4, 4) of the lower."""
    where = checked(point_mm, (3,), "point_mm")
    return transform(motion, where) - where


def _angle(across: float, forward: float, sd_mm: float) -> PathAngle:
    length = math.hypot(across, forward)
    if forward <= 0:
        return PathAngle(math.nan, math.nan, False, say("the point did not move forward"))
    if length < SHORTEST_PATH_MM:
        return PathAngle(
            math.nan,
            math.nan,
            False,
            say("the path of {length:.2f} mm is shorter than an angle needs", length=length),
        )
    return PathAngle(math.atan2(across, forward), math.atan(sd_mm / length), True, "")


def inclination(path_mm: ArrayLike, plane_rad: float = 0.0, sd_mm: float = 0.0) -> PathAngle:
    """Return the sagittal inclination of a condylar path (3,), downwards positive, against a plane.

    ``plane_rad``: how far the reference plane's front points below the x axis; ``sd_mm``: doubt of the end of the path
    across it, which turns the chord by ``atan(sd / path)``. It is the angle of the chord, so it belongs to the
    amount of protrusion. Not told for a path shorter than ``SHORTEST_PATH_MM`` or one that goes back.
    """
    dx, dy, _ = checked(path_mm, (3,), "path_mm")
    raw = _angle(-dy, dx, sd_mm)
    return raw._replace(angle_rad=raw.angle_rad - plane_rad)


def side_shift_angle(path_mm: ArrayLike, medial_sign: int, sd_mm: float = 0.0) -> PathAngle:
    """Return ``atan2(medial, forward)`` of the path (3,) of the nonworking condyle, medial positive.

    ``medial_sign``: +1 for the left condyle (medial is towards +z), -1 for the right. From one amount of movement an
    immediate shift cannot be told from a progressive one.
    """
    if medial_sign not in (-1, 1):
        raise ValueError("medial_sign: +1 for the left condyle, -1 for the right")
    dx, _, dz = checked(path_mm, (3,), "path_mm")
    return _angle(medial_sign * dz, dx, sd_mm)


def with_axis_error(path_mm: ArrayLike, turn_rad: float, wrong_by_mm: ArrayLike) -> Array:
    """Return the path (3,) that is read at a point ``wrong_by_mm`` (3,) from the condylar point.

    ``turn_rad``: how far the jaw turned (closing positive) between the two positions; with no turn nothing changes.
    """
    turn = np.eye(3)
    cos, sin = math.cos(turn_rad), math.sin(turn_rad)
    turn[:2, :2] = [[cos, -sin], [sin, cos]]
    out: Array = checked(path_mm, (3,), "path_mm") + (turn - np.eye(3)) @ checked(
        wrong_by_mm, (3,), "wrong_by_mm"
    )
    return out


class Protruded(NamedTuple):
    """A level protrusion: ``turn_rad`` of the jaw (closing), ``drop_mm`` of the condyles, and the ``motion`` (4, 4)."""

    turn_rad: float
    drop_mm: float
    motion: Array


def level_protrusion(path_mm: float, inclination_rad: float, incisor_mm: ArrayLike) -> Protruded:
    """Return the motion of a lower whose condyles go ``path_mm`` down a slope while its incisors slide level along x.

    ``incisor_mm`` (3,) keeps its y. Exact; the gap behind is ``-(transform(motion, p) - p)[1]``. Raises ValueError where
    the incisors cannot stay level. Source: C. Christensen 1905 (from memory) for the phenomenon.
    """
    x, y, _ = checked(incisor_mm, (3,), "incisor_mm")
    drop = path_mm * math.sin(inclination_rad)
    rho = math.hypot(x, y)
    if x <= 0 or abs(y + drop) > rho:
        raise ValueError("incisor_mm: the incisors cannot stay level over such a drop")
    turn = math.asin((y + drop) / rho) - math.asin(y / rho)
    motion = np.eye(4)
    cos, sin = math.cos(turn), math.sin(turn)
    motion[:2, :2] = [[cos, -sin], [sin, cos]]
    motion[:2, 3] = path_mm * math.cos(inclination_rad), -drop
    return Protruded(turn, drop, motion)
