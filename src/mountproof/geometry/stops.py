"""What stops a lower that closes about a moved axis, in closed form: the tip of a pin on a table, a point on a plane.

Each plane has one equation ``A cos t + B sin t = C`` in the closing t. Derivation: docs/theory/excursions.md.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import checked, inverse, transform


class Table(NamedTuple):
    """A table on the lower member under the tip of a pin on the upper.

    ``tip_mm`` (3,) of the pin and ``zero_rad``: the closing at which members are parallel and, the pin reading zero, its tip
    rests on the middle of the table. ``pin_mm``: how much longer the pin is set. The table rises towards the back by
    ``ahead_rad`` and to the sides by ``right_rad`` and ``left_rad``: the sides to which the jaw goes.
    """

    tip_mm: tuple[float, float, float]
    ahead_rad: float = 0.0
    right_rad: float = 0.0
    left_rad: float = 0.0
    pin_mm: float = 0.0
    zero_rad: float = 0.0


def table_closing(table: Table, axis: ArrayLike) -> float:
    """Return the closing (rad) about the axis pose (4, 4) at which the tip of the pin first meets the table; inf: never.

    Each plane of the table has one equation ``A cos t + B sin t = C`` in the closing; the first plane met counts.
    """
    hinge = checked(axis, (4, 4), "axis")
    x0, y0, z0 = table.tip_mm
    x, y, z = transform(inverse(hinge), np.array([x0, y0 - table.pin_mm, z0]))
    # the jaw going right carries the right of the table away under the tip, which then rests on its left
    sides = (0.0, math.tan(table.right_rad), -math.tan(table.left_rad))
    found = math.inf
    for side in dict.fromkeys(sides):
        # height of the plane: y = y0 - tan(ahead) (x - x0) - side (z - z0)
        n = np.array([math.tan(table.ahead_rad), 1.0, side])
        met = _turn_to(n[0] * x + n[1] * y, n[0] * y - n[1] * x, float(n @ [x0, y0, z0]) - n[2] * z)
        found = min(found, met + table.zero_rad)
    return found


def plane_closing(axis: ArrayLike, point_mm: ArrayLike, through_mm: ArrayLike, normal: ArrayLike) -> float:
    """Return the closing (rad) about the axis pose (4, 4) at which a point (3,) of the lower rests on a plane of the upper.

    ``point_mm`` (3,) as the lower stands before the axis moves; the plane by a place (3,) and a normal (3,) that points down, to
    the side of the lower. inf where it never does.
    """
    hinge = checked(axis, (4, 4), "axis")
    back = inverse(hinge)
    p, at = checked(point_mm, (3,), "point_mm"), transform(back, checked(through_mm, (3,), "through_mm"))
    n = back[:3, :3] @ checked(normal, (3,), "normal")
    return _turn_to(n[0] * p[0] + n[1] * p[1], n[1] * p[0] - n[0] * p[1], float(n @ at) - n[2] * p[2])


def _turn_to(a: float, b: float, c: float) -> float:
    """The turn t in (-pi, pi] at which ``a cos t + b sin t`` comes down to c; inf: never."""
    size = math.hypot(a, b)
    if not abs(c) <= size or size == 0.0:
        return math.inf
    turn = math.atan2(b, a) + math.acos(c / size)
    return turn - 2.0 * math.pi if turn > math.pi else turn
