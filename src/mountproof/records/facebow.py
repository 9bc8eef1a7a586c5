"""The facebow transfer: how the upper cast stands on the instrument, and how well published axes are known."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.geometry.average import MEASURED_ANATOMY
from mountproof.geometry.carry import Carried, measured, stack, through
from mountproof.geometry.poses import Array


class Heights(NamedTuple):
    """Heights of three points of the upper cast over the base of the instrument, and the lengths between them (mm).

    ``front``, ``right`` and ``left`` are the incisal edge and both molar cusps; ``back`` from the incisal edge to the
    line of the cusps, seen from above; ``across`` between the cusps.
    """

    front: float
    right: float
    left: float
    back: float
    across: float


def occlusal_plane(heights: Heights, u_height_mm: float, u_length_mm: float) -> Carried:
    """Return pitch and cant (2, rad) of the upper cast, with their covariance, from three heights over the base.

    ``pitch = atan((mean of both molars - front) / back)``: the plane falls to the front. ``cant = atan((left - right) /
    across)``: it is lower on the patient's right. Every height has ``u_height_mm``, both lengths ``u_length_mm``. Raises
    ValueError for lengths that are not above zero.
    """
    if not (heights.back > 0.0 and heights.across > 0.0):
        raise ValueError("back and across must be above zero")
    read = stack(
        measured(value, u, f"facebow/{name}")
        for name, value, u in zip(
            Heights._fields, heights, (u_height_mm,) * 3 + (u_length_mm,) * 2, strict=True
        )
    )
    return through(_plane, read)


def _plane(v: Array) -> Array:
    front, right, left, back, across = v
    return np.array([math.atan((0.5 * (right + left) - front) / back), math.atan((left - right) / across)])


def plane_of(front_mm: Array, right_mm: Array, left_mm: Array) -> Array:
    """Return pitch and cant (2, rad) of the plane through three points (3,) of the frame: as ``occlusal_plane`` has them."""
    middle = 0.5 * (right_mm + left_mm)
    back = math.hypot(*(front_mm - middle)[[0, 2]])
    across = math.hypot(*(right_mm - left_mm)[[0, 2]])
    return _plane(np.array([front_mm[1], right_mm[1], left_mm[1], back, across]))


def sd_of_share(share: float, within_mm: float) -> float:
    """Return the SD of one coordinate of points of which the ``share`` (0 to 1) lies ``within_mm`` of the true one.

    ``r / sqrt(-2 ln(1 - p))``: the distance of a round normal scatter follows Rayleigh's distribution. ValueError for a
    share that is not between 0 and 1, or a distance that is not above zero.
    """
    if not (0.0 < share < 1.0 and within_mm > 0.0):
        raise ValueError("the share lies between 0 and 1, and the distance is above zero")
    return within_mm / math.sqrt(-2.0 * math.log1p(-share))


def share_within(sd_mm: float, within_mm: float) -> float:
    """Return the share (0 to 1) of points with ``sd_mm`` a coordinate that lies ``within_mm``: ``sd_of_share`` undone."""
    return -math.expm1(-0.5 * (within_mm / sd_mm) ** 2)


def sd_of_mean_distance(mean_mm: float) -> float:
    """Return the SD of one coordinate of points that lie ``mean_mm`` from the true one on average: ``mean / sqrt(pi/2)``."""
    return mean_mm / math.sqrt(0.5 * math.pi)


class AxisBand(NamedTuple):
    """How well an axis is known: SD of one coordinate (mm), lowest and highest of what is published."""

    low_mm: float
    high_mm: float

    @property
    def sd_mm(self) -> float:
        """Middle of the band."""
        return 0.5 * (self.low_mm + self.high_mm)

    @property
    def u_mm(self) -> float:
        """Standard uncertainty of that SD: anything in the band is as likely (a rectangle)."""
        return (self.high_mm - self.low_mm) / math.sqrt(12.0)


#: Points of the skin: 95 % within 5 mm (Schallhorn 1957; elsewhere quoted as 97 %) to 17 % within 5 mm (Beck 1959).
POINTS = AxisBand(sd_of_share(0.97, 5.0), sd_of_share(0.17, 5.0))
#: Ear rods: a mean of 4.08 mm on eight people (a poster of 2012) to 56 % within 6 mm (Teteruck and Lundeen 1966).
EARS = AxisBand(sd_of_mean_distance(4.08), sd_of_share(0.56, 6.0))
#: Located by a stylus: 95 % inside an area 2.4 mm across, or within what 0.25 mm of stray at 10 mm of opening shows.
LOCATED = AxisBand(sd_of_share(0.95, 1.2), sd_of_share(0.95, 2.26))
#: Average lengths instead of a facebow: how far people lie from the mean, upward and forward (``MEASURED_ANATOMY``).
AVERAGE = AxisBand(min(MEASURED_ANATOMY.incisal_sd_mm), max(MEASURED_ANATOMY.incisal_sd_mm))
