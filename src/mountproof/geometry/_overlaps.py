"""Kernels that tell whether two features may overlap in (r, z) at some motion of a bunch (docs/theory/draws.md)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel

Floats = NDArray[np.float64]


@kernel
def _beside(
    r: float, z: float, p: Floats, a: int, b: int, c: int, bulge: float, loose_r: float, loose_z: float
) -> bool:
    """Whether a place (r, z), loose by a box, misses a triangle in (r, z) whose inside bends by ``bulge`` towards the axis."""
    wide = loose_r + bulge
    ar = p[a, 0] - r
    br = p[b, 0] - r
    cr = p[c, 0] - r
    az = p[a, 1] - z
    bz = p[b, 1] - z
    cz = p[c, 1] - z
    if (
        min(ar, min(br, cr)) > wide
        or max(ar, max(br, cr)) < -loose_r
        or min(az, min(bz, cz)) > loose_z
        or max(az, max(bz, cz)) < -loose_z
    ):
        return True
    det = (br - ar) * (cz - az) - (cr - ar) * (bz - az)
    if det == 0.0 or not wide < np.inf:
        return False
    sign = 1.0 if det > 0.0 else -1.0
    # The side of each border on which the place lies: the cross product of its ends as seen from the place.
    return bool(
        sign * (ar * bz - br * az) < -(abs(bz - az) * wide + abs(br - ar) * loose_z)
        or sign * (br * cz - cr * bz) < -(abs(cz - bz) * wide + abs(cr - br) * loose_z)
        or sign * (cr * az - ar * cz) < -(abs(az - cz) * wide + abs(ar - cr) * loose_z)
    )


@kernel
def _crossing(
    polar: Floats,
    spans: Floats,
    i: int,
    a: int,
    b: int,
    boxes: Floats,
    c: int,
    d: int,
    bulge: float,
    wide: float,
) -> bool:
    """Whether two edges may cross in (r, z) at some motion; corners c and d of the lower's lie in ``boxes``."""
    if (
        spans[i, 0] > max(boxes[c, 1], boxes[d, 1]) + wide
        or min(boxes[c, 0], boxes[d, 0]) - bulge > spans[i, 1] + wide
        or spans[i, 2] > max(boxes[c, 3], boxes[d, 3]) + wide
        or min(boxes[c, 2], boxes[d, 2]) > spans[i, 3] + wide
    ):
        return False
    ar = polar[a, 0]
    az = polar[a, 1]
    ur = polar[b, 0] - ar
    uz = polar[b, 1] - az
    # both ends of the lower's on one side of the upper's at every motion
    loose = wide + max(min(ar, polar[b, 0]) - spans[i, 0], bulge)
    along = abs(uz) * loose + abs(ur) * wide
    s = ur * (0.5 * (boxes[c, 2] + boxes[c, 3]) - az) - uz * (0.5 * (boxes[c, 0] + boxes[c, 1]) - ar)
    t = ur * (0.5 * (boxes[d, 2] + boxes[d, 3]) - az) - uz * (0.5 * (boxes[d, 0] + boxes[d, 1]) - ar)
    wide_s = along + 0.5 * (abs(ur) * (boxes[c, 3] - boxes[c, 2]) + abs(uz) * (boxes[c, 1] - boxes[c, 0]))
    wide_t = along + 0.5 * (abs(ur) * (boxes[d, 3] - boxes[d, 2]) + abs(uz) * (boxes[d, 1] - boxes[d, 0]))
    return not ((s > wide_s and t > wide_t) or (s < -wide_s and t < -wide_t))
