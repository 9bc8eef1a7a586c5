"""Where two condylar guides carry the hinge axis: exact rigid poses of the axis for protrusion and for a lateral movement.

A guide is a surface that falls ahead of centric relation and is level from side to side; its inner wall says how far the
condylar point comes inward. Both condylar points belong to the lower, so they keep their distance, and the pose of the axis
follows from the two points alone: no small angle anywhere. What stays free is the turn about the axis, which a stop takes
(``geometry.driven``). Derivation: docs/theory/excursions.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.hinge_fit import axis_pose
from mountproof.geometry.poses import Array, checked

Side = Literal["right", "left"]
#: Which way each side lies along z, and the other side.
OUTWARD: Final = {"right": 1.0, "left": -1.0}
OTHER: Final[dict[Side, Side]] = {"right": "left", "left": "right"}


class Straight(NamedTuple):
    """A guide that falls evenly: its inclination (rad) against x, downwards positive."""

    inclination_rad: float


class Curved(NamedTuple):
    """A guide that begins at an inclination (rad) and flattens along an arc of ``radius_mm``."""

    inclination_rad: float
    radius_mm: float


class Tabled(NamedTuple):
    """A guide by points, straight between them: forward and down (mm each), from (0, 0) on, forward rising."""

    forward_mm: tuple[float, ...]
    down_mm: tuple[float, ...]


Slope = Straight | Curved | Tabled


def drop_mm(slope: Slope, forward_mm: float) -> float:
    """Return how far (mm) a condylar point has gone down when it has gone ``forward_mm`` along its guide.

    Straight: ``x tan a``. Curved: on the circle of radius r that leaves at the angle a,
    ``sqrt(r^2 - (r sin a - x)^2) - r cos a``.
    Raises ValueError behind the start, beyond the end of the guide, for a radius that is not above 0, for an inclination of
    a quarter turn or more, or for a table that does not begin at (0, 0) and rise.
    """
    x = float(forward_mm)
    if not x >= 0.0:
        raise ValueError("forward_mm: a guide begins in centric relation")
    if isinstance(slope, Tabled):
        ahead, down = np.array(slope.forward_mm), np.array(slope.down_mm)
        if len(ahead) < 2 or len(ahead) != len(down) or ahead[0] != 0.0 or down[0] != 0.0:
            raise ValueError("a guide by points begins at (0, 0) and has as many drops as ways forward")
        if not (np.diff(ahead) > 0.0).all():
            raise ValueError("a guide by points goes forward from each to the next")
        if x > ahead[-1]:
            raise ValueError(f"forward_mm: the guide ends at {ahead[-1]:g} mm")
        return float(np.interp(x, ahead, down))
    a = slope.inclination_rad
    if not abs(a) < math.pi / 2.0:
        raise ValueError("a guide lies flatter than a quarter turn")
    if isinstance(slope, Straight):
        return x * math.tan(a)
    r = slope.radius_mm
    if not r > 0.0:
        raise ValueError("radius_mm: above 0")
    ahead_of_top = r * math.sin(a) - x
    if abs(ahead_of_top) > r:
        raise ValueError("forward_mm: the arc of the guide ends before")
    return math.sqrt(r * r - ahead_of_top * ahead_of_top) - r * math.cos(a)


class Guide(NamedTuple):
    """One joint: its guide straight ahead and sideways, how it comes inward (rad), and the shift at the start (mm)."""

    ahead: Slope
    sideways: Slope
    inward_rad: float = 0.0
    shift_mm: float = 0.0


def axis_through(right_mm: ArrayLike, left_mm: ArrayLike) -> Array:
    """Return the pose (4, 4) of the hinge frame whose z axis runs from the left to the right condylar point (3,), mm.

    Its origin is midway; it turns from the frame of the upper by the shortest way. Raises ValueError where the right point
    does not lie to the right of the left one.
    """
    right, left = checked(right_mm, (3,), "right_mm"), checked(left_mm, (3,), "left_mm")
    if not right[2] > left[2]:
        raise ValueError("the right condylar point lies to the right of the left one")
    out = axis_pose(np.array([right[0], right[1], left[0], left[1]]), float(right[2] - left[2]))
    out[:3, 3] = 0.5 * (right + left)
    return out


def condyles(axis: ArrayLike, width_mm: float) -> tuple[Array, Array]:
    """Return the right and the left condylar point (3,), mm, of an axis pose (4, 4), ``width_mm`` apart."""
    given = checked(axis, (4, 4), "axis")
    half = 0.5 * width_mm * given[:3, 2]
    return given[:3, 3] + half, given[:3, 3] - half


def protruded(
    right: Slope, left: Slope, right_mm: float, left_mm: float, width_mm: float, aside_mm: float = 0.0
) -> Array:
    """Return the axis pose (4, 4) when the right and left condyles have gone ``right_mm`` and ``left_mm`` forward.

    Unequal ways turn the jaw to the side, unequal drops tilt it; the points then come together in z by what the distance
    asks, evenly about ``aside_mm`` to the right. Raises ValueError where the points cannot keep ``width_mm``, and as
    ``drop_mm``.
    """
    down_right, down_left = drop_mm(right, right_mm), drop_mm(left, left_mm)
    left_over = width_mm**2 - (right_mm - left_mm) ** 2 - (down_right - down_left) ** 2
    if not left_over > 0.0:
        raise ValueError("the condylar points cannot keep their distance so far apart")
    half = 0.5 * math.sqrt(left_over)
    return axis_through([right_mm, -down_right, aside_mm + half], [left_mm, -down_left, aside_mm - half])


def sideways(
    guide: Guide,
    moving: Side,
    travel_mm: float,
    width_mm: float,
    working_way: Sequence[float] = (0.0, 0.0, 1.0),
) -> Array:
    """Return the axis pose (4, 4) of a lateral movement in which the ``moving`` (nonworking) condyle has gone ``travel_mm``.

    First it comes inward by the shift, straight; then forward by the rest of the travel, down its guide, and inward by
    ``tan(inward)`` of the way forward. The other condyle goes along ``working_way`` (forward, up, outward; any length)
    from where it stands, as far as the distance asks. Raises ValueError for a negative travel or shift, or where it cannot.
    """
    if not travel_mm >= 0.0 or not guide.shift_mm >= 0.0:
        raise ValueError("travel and shift go from 0 up")
    half, out = 0.5 * width_mm, OUTWARD[moving]
    inward = min(travel_mm, guide.shift_mm)
    forward = travel_mm - inward
    inward += forward * math.tan(guide.inward_rad)
    point = np.array([forward, -drop_mm(guide.sideways, forward), out * (half - inward)])
    way = checked(working_way, (3,), "working_way") * [1.0, 1.0, -out]
    way = way / np.linalg.norm(way)
    start = np.array([0.0, 0.0, -out * half])
    # |start + k way - point| = width: of the two answers the one that goes on from standing still
    apart = start - point
    along = float(way @ apart)
    under = along * along - float(apart @ apart) + width_mm * width_mm
    if not under >= 0.0:
        raise ValueError("the condylar points cannot keep their distance so far apart")
    if not along > 0.0:
        raise ValueError("working_way: the working condyle goes outward")
    # both terms are lengths of the axis: the small answer is what is left of their difference, without cancelling
    k = (width_mm * width_mm - float(apart @ apart)) / (math.sqrt(under) + along)
    other = start + k * way
    return axis_through(point, other) if moving == "right" else axis_through(other, point)
