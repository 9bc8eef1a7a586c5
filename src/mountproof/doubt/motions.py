"""Small motions of the lower cast as six plain numbers, and what they do at teeth and condyles.

The parts (``MOTION``), in this order: ``down`` (mm) of the middle of the teeth, ``pitch`` (rad) opens the front, ``roll``
(rad) lowers the right side, ``ahead`` and ``right`` (mm) shift the middle of the teeth, ``yaw`` (rad) turns the front to
the right. In the frame of the upper jaw (x anterior, y superior, z right) that is the turn
``omega = (roll, -yaw, -pitch)`` about the middle of the teeth and the shift ``(ahead, -down, right)``; a place ``p``
moves by ``shift + omega x (p - middle)``. The twist about the hinge's middle (rotation first, as in
``geometry.poses.exp6``) is ``as_twist``: the adjoint of the same motion.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array

MOTION: Final = ("down", "pitch", "roll", "ahead", "right", "yaw")
#: Middle of the teeth where nothing else is known: mean of first molars and incisors of an average jaw (mm).
MIDDLE_MM: Final = (70.0, -40.0, 0.0)
#: What the rows of ``at_place`` are.
WAYS: Final = ("down", "ahead", "right")


def at_place(place_mm: ArrayLike, middle_mm: ArrayLike = MIDDLE_MM) -> Array:
    """Return (3, 6): how far a place (3,) of the lower goes down, ahead and right (mm) for each part of a motion."""
    x, y, z = np.asarray(place_mm, dtype=np.float64) - np.asarray(middle_mm, dtype=np.float64)
    return np.array(
        [
            [1.0, x, z, 0.0, 0.0, 0.0],
            [0.0, y, 0.0, 1.0, 0.0, -z],
            [0.0, 0.0, y, 0.0, 1.0, x],
        ]
    )


def hinge_opening(middle_mm: ArrayLike = MIDDLE_MM) -> Array:
    """Return (6,): the motion that one radian of opening about the hinge axis is."""
    x, y, _ = np.asarray(middle_mm, dtype=np.float64)
    return np.array([x, 1.0, 0.0, y, 0.0, 0.0])


def from_condyles(half_width_mm: float, middle_mm: ArrayLike = MIDDLE_MM) -> Array:
    """Return (6, 5): the motion, without opening, for right and left condyle down, right and left ahead, and both right.

    The lower is rigid: what the condyles do apart turns it by their difference over their distance.
    """
    w = 2.0 * half_width_mm
    hinge = np.zeros((6, 5))  # the same parts, but of the hinge's middle
    hinge[0, :2] = 0.5
    hinge[2, :2] = 1.0 / w, -1.0 / w
    hinge[3, 2:4] = 0.5
    hinge[5, 2:4] = -1.0 / w, 1.0 / w
    hinge[4, 4] = 1.0
    out = hinge.copy()
    out[[0, 3, 4]] = at_place(middle_mm, (0.0, 0.0, 0.0)) @ hinge
    return out


def condyles_of(half_width_mm: float, middle_mm: ArrayLike = MIDDLE_MM) -> Array:
    """Return (5, 6): right and left condyle down, right and left ahead, and both right, for each part of a motion."""
    right = at_place((0.0, 0.0, half_width_mm), middle_mm)
    left = at_place((0.0, 0.0, -half_width_mm), middle_mm)
    return np.stack([right[0], left[0], right[1], left[1], 0.5 * (right[2] + left[2])])


def as_twist(middle_mm: ArrayLike = MIDDLE_MM) -> Array:
    """Return (6, 6): the twist about the hinge's middle (rotation x, y, z, then shift x, y, z) for each part."""
    out = np.zeros((6, 6))
    out[0, 2], out[1, 5], out[2, 1] = 1.0, -1.0, -1.0
    origin = at_place((0.0, 0.0, 0.0), middle_mm)
    out[3:] = origin[1], -origin[0], origin[2]
    return out


def plane_of_stops(stops_mm: ArrayLike, middle_mm: ArrayLike = MIDDLE_MM) -> Array | None:
    """Return (3, n): down, pitch and roll of the least-squares plane for each of n stops (n, 2: ahead, right) going down.

    None for fewer than three stops, or stops in a line: they hold no plane.
    """
    at = np.asarray(stops_mm, dtype=np.float64).reshape(-1, 2)
    if at.shape[0] < 3:
        return None
    mid = np.asarray(middle_mm, dtype=np.float64)
    design = np.column_stack([np.ones(at.shape[0]), at[:, 0] - mid[0], at[:, 1] - mid[2]])
    spread = np.linalg.svd(at - at.mean(axis=0), compute_uv=False)
    if spread[1] < _IN_LINE * spread[0]:
        return None
    return np.asarray(np.linalg.pinv(design), dtype=np.float64)


#: Stops whose spread across is below this part of that along stand in a line: an error at one of them would be
#: twenty times as large at a tooth as far beside the line as they reach along it.
_IN_LINE: Final = 0.05
