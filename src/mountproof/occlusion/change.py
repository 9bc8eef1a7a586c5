"""What it takes to reach a vertical dimension: what comes off each tooth, what is added, and within which limits.

Derivation: docs/theory/change.md. Angles are closings about the hinge (rad) from the pose of the record, as in
``geometry.sweep``; depths are across the surfaces, mm.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.carry import Carried
from mountproof.geometry.contact import Contact
from mountproof.geometry.poses import Array, point_jacobian, transform

Floats = NDArray[np.float64]
#: Whose teeth are reshaped where two overlap.
Share = Literal["both", "upper", "lower"]
_PARTS: Final[dict[str, tuple[float, float]]] = {"both": (0.5, 0.5), "upper": (1.0, 0.0), "lower": (0.0, 1.0)}


def parts_of(
    upper_tooth: int, lower_tooth: int, share: Share, excluded: Collection[int] = ()
) -> tuple[float, float] | None:
    """Return which part of an overlap comes off the upper and off the lower tooth; None where neither may be reshaped.

    A tooth of ``excluded``, or what is no tooth (0), keeps its shape: its opponent takes all, where ``share`` lets it.
    """
    up, low = _PARTS[share]
    if upper_tooth == 0 or upper_tooth in excluded:
        up, low = 0.0, 1.0 if low > 0.0 else 0.0
    if lower_tooth == 0 or lower_tooth in excluded:
        up, low = (1.0 if up > 0.0 else 0.0), 0.0
    return None if up + low == 0.0 else (up, low)


def crossing(angles: Floats, rising: Floats, level: float) -> float:
    """Return the angle at which a curve that never falls passes a level; the last angle (or infinity) where it does not.

    ``angles`` (k,) rising, rad; ``rising`` (k,): the curve, straight between them; ``level`` in its unit.
    """
    beyond = np.flatnonzero(rising > level)
    if not len(beyond):
        return float(angles[-1]) if rising[-1] >= level else math.inf
    n = int(beyond[0])
    if n == 0:
        return float(angles[0])
    a, b = rising[n - 1], rising[n]
    return float(angles[n - 1] + (angles[n] - angles[n - 1]) * (level - a) / (b - a))


def height_closing(upper_from_lower: Array, in_mip: Array, place_mm: Array) -> float:
    """Return how far the lower closes (rad) from one pose until a place of it stands as high as in MIP.

    ``upper_from_lower``, ``in_mip`` (4, 4): where the closing starts, and MIP; ``place_mm`` (3,): in the lower's own
    coordinates. On the circle about the hinge height is r sin(phi): closing asin(y_mip / r) - phi. ValueError
    where the place cannot come so high.
    """
    start = transform(upper_from_lower, place_mm)
    high = float(transform(in_mip, place_mm)[1])
    radius = math.hypot(float(start[0]), float(start[1]))
    if not radius > abs(high):
        raise ValueError("about this hinge the place never stands as high as in MIP")
    return math.asin(high / radius) - math.atan2(float(start[1]), float(start[0]))


def carried_height(
    closing_rad: float, upper_from_lower: Array, place_mm: Array, motion: Carried, mip_motion: Carried
) -> Carried:
    """Return the closing of ``height_closing`` with the doubt of both relations, to first order.

    ``upper_from_lower`` (4, 4), ``place_mm`` (3,): as there. ``motion``, ``mip_motion`` (6, rotation first): small motions of
    the lower that the record, and MIP, leave open.
    """
    c, s = math.cos(closing_rad), math.sin(closing_rad)
    x, y, z = (float(v) for v in transform(upper_from_lower, place_mm))
    there = np.array([c * x - s * y, s * x + c * y, z])
    rises = point_jacobian(there)[1:2] / there[0]
    return motion.linear(-rises, [closing_rad]) + mip_motion.linear(rises, [0.0])


def carried_closing(contact: Contact, motion: Carried) -> Carried:
    """Return the closing (rad) at which a contact meets, moved to first order by a small motion (6) of the lower."""
    p, n = contact.point_mm, contact.normal
    along = float(n @ np.array([-p[1], p[0], 0.0]))
    return motion.linear(-(n @ point_jacobian(p))[None, :] / along, [contact.closing_rad])
