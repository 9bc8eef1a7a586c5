"""Where an upper cast sits on average, for a case without a facebow: an assumption, and how far it may be off."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array, checked, inverse, moved_cov, pose, rotation_z, translation
from mountproof.said import say


class AverageAnatomy(NamedTuple):
    """Mean position of the upper incisal midpoint and tilt of the occlusal plane, each with its SD between people.

    ``incisal_mm`` (x, y) from the hinge axis; ``pitch_rad``: how far the plane falls from the molars to the
    incisors against the x axis; ``cant_sd_rad`` about x, ``yaw_sd_rad`` about y, ``side_sd_mm`` along z have mean
    zero. ``source`` says where the numbers come from.
    """

    incisal_mm: tuple[float, float]
    incisal_sd_mm: tuple[float, float]
    pitch_rad: float
    pitch_sd_rad: float
    cant_sd_rad: float
    yaw_sd_rad: float
    side_sd_mm: float
    source: str


#: Width of a normal sample of 120 in SDs, on average (L. Tippett 1925, from memory; a test integrates it).
_RANGE_OF_120_SDS = 5.144

_ARM_MM, _BASE_MM, _HEIGHT_MM = 103.3, 99.6, 34.3
_FORWARD_MM = math.sqrt(_ARM_MM**2 - (_BASE_MM / 2) ** 2 - _HEIGHT_MM**2)
_ARM_SD_MM = (117.9 - 90.2) / _RANGE_OF_120_SDS
_BASE_SD_MM = (112.6 - 85.2) / _RANGE_OF_120_SDS
_HEIGHT_SD_MM = (47.2 - 21.0) / _RANGE_OF_120_SDS

#: The x axis lies parallel to the occlusal plane, as the height of 34.3 mm was measured from it.
MEASURED_ANATOMY = AverageAnatomy(
    incisal_mm=(_FORWARD_MM, -_HEIGHT_MM),
    incisal_sd_mm=(
        math.hypot(_ARM_MM * _ARM_SD_MM, _BASE_MM / 4 * _BASE_SD_MM, _HEIGHT_MM * _HEIGHT_SD_MM)
        / _FORWARD_MM,
        _HEIGHT_SD_MM,
    ),
    pitch_rad=0.0,
    pitch_sd_rad=math.radians((27.6 - 9.0) / _RANGE_OF_120_SDS),
    cant_sd_rad=math.radians(2.0),
    yaw_sd_rad=math.radians(2.0),
    side_sd_mm=2.0,
    source=say(
        "hinge to incisors 103.3 (90.2 to 117.9), between condyles 99.6 (85.2 to 112.6), above the "
        "occlusal plane 34.3 (21.0 to 47.2) mm, 120 people, PMID 26734666; SDs from the ranges; cant, "
        "yaw and side: 2 degrees and 2 mm, common practice, no source"
    ),
)


class AveragePlacement(NamedTuple):
    """An assumed placement: ``pose`` (4, 4) upper from scan, ``cov6`` (6, 6) in the frame of the upper, ``source``."""

    pose: Array
    cov6: Array
    source: str


def cast_frame(incisal_mm: ArrayLike, right_molar_mm: ArrayLike, left_molar_mm: ArrayLike) -> Array:
    """Return the pose (4, 4) scan from cast: origin at the incisal midpoint, z to the right, x forward, y up.

    The three points (3,) of the upper occlusal plane are in scan coordinates; x runs from the middle of the molars to
    the incisal midpoint as far as that is square to the line of the molars. Raises ValueError for points in one line.
    """
    front = checked(incisal_mm, (3,), "incisal_mm")
    right, left = (
        checked(right_molar_mm, (3,), "right_molar_mm"),
        checked(left_molar_mm, (3,), "left_molar_mm"),
    )
    z = right - left
    forward = front - (right + left) / 2
    width = float(np.linalg.norm(z))
    across = z / width if width else z
    x = forward - (forward @ across) * across
    depth = float(np.linalg.norm(x))
    if depth <= np.finfo(float).eps * max(float(np.linalg.norm(forward)), width) or width == 0.0:
        raise ValueError("incisal_mm: the three points lie in one line and span no occlusal plane")
    x = x / depth
    return pose(np.stack([x, np.cross(across, x), across], axis=1), front)


def average_placement(
    incisal_mm: ArrayLike,
    right_molar_mm: ArrayLike,
    left_molar_mm: ArrayLike,
    anatomy: AverageAnatomy = MEASURED_ANATOMY,
) -> AveragePlacement:
    """Return where anatomy puts an upper cast on average, from three points (3,) of its scan, with the doubt of it.

    ``right_molar_mm`` and ``left_molar_mm``: the same cusp right and left, of the first or the second molars, patient's
    sides. An assumption, never a measurement: show it as such. The parts of the doubt are taken as independent.
    """
    scan_from_cast = cast_frame(incisal_mm, right_molar_mm, left_molar_mm)
    upper_from_cast = translation([*anatomy.incisal_mm, 0.0]) @ rotation_z(-anatomy.pitch_rad)
    sds = (
        anatomy.cant_sd_rad,
        anatomy.yaw_sd_rad,
        anatomy.pitch_sd_rad,
        *anatomy.incisal_sd_mm,
        anatomy.side_sd_mm,
    )
    # The turns are about the incisal midpoint, the shifts along the axes of the upper.
    cov6 = moved_cov(np.diag(np.square(sds)), translation([*anatomy.incisal_mm, 0.0]))
    return AveragePlacement(upper_from_cast @ inverse(scan_from_cast), cov6, anatomy.source)
