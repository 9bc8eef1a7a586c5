"""Where the teeth stand: the arch curve, the occlusal surface and a rigid frame for every crown.

Program frame: x anterior, y up, z to the patient's right, origin midway between the hinge points (mm). Everything
is worked out on the right; the left side is its mirror image, but for small typed differences.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom.shapes import LOWER, UPPER, Shape

Array = NDArray[np.float64]

#: Places the upper arch curve runs through, (x, z) mm: incisal edges, canines, first and second molars of the
#: average skull of the demo case.
_CURVE_THROUGH = ((92.0, 0.0), (84.0, 17.0), (61.2, 25.0), (51.0, 28.2))


class Even(NamedTuple):
    """A plane curve x(z) = x0 - a z^2 - b z^4 - c z^6, tabulated by arc length from the midline."""

    x0: float
    a: float
    b: float
    c: float
    s: Array
    z: Array

    def at(self, s: Array | float) -> tuple[Array, Array]:
        """Return points (n, 2) as (x, z) and unit tangents (n, 2) pointing backwards, at arc lengths s (mm)."""
        z = np.interp(np.atleast_1d(np.asarray(s, dtype=np.float64)), self.s, self.z)
        z2 = z * z
        x = self.x0 - z2 * (self.a + z2 * (self.b + z2 * self.c))
        dx = -z * (2 * self.a + z2 * (4 * self.b + z2 * 6 * self.c))
        t = np.stack([dx, np.ones_like(dx)], axis=1) / np.hypot(dx, 1.0)[:, None]
        return np.stack([x, z], axis=1), t


def even_curve(points: tuple[tuple[float, float], ...], z_end_mm: float) -> Even:
    """Curve of the form of `Even` through the midline point and three others ((x, z), mm), tabulated to z_end_mm."""
    (x0, _), *rest = points
    m = np.array([[z**2, z**4, z**6] for _, z in rest])
    a, b, c = np.linalg.solve(m, np.array([x0 - x for x, _ in rest]))
    z = np.linspace(0.0, z_end_mm, 4001)
    dx = -(2 * a * z + 4 * b * z**3 + 6 * c * z**5)
    speed = np.sqrt(1 + dx * dx)
    s = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(z))])
    return Even(x0, float(a), float(b), float(c), s, z)


@lru_cache(maxsize=1)
def arch_curve() -> Even:
    """Curve through the middle of the upper teeth (incisal edge, canine tip, central groove)."""
    return even_curve(_CURVE_THROUGH, 30.5)


#: Ends of the upper and lower crowns along the arch curve, mm from the midline (index: second digit of the number).
UPPER_ENDS = (0.0, 8.7, 15.5, 23.4, 30.7, 37.8, 48.4, 58.3)
LOWER_ENDS = (0.0, 5.85, 12.5, 20.9, 28.4, 35.6, 46.8, 56.9)


class Seat(NamedTuple):
    """How a crown stands: place along the curve, shift to buccal, height above the curve, tilts in degrees."""

    s_mm: float
    buccal_mm: float
    height_mm: float
    lean_deg: float
    tip_deg: float
    turn_deg: float


def _middle(ends: tuple[float, ...], k: int) -> float:
    return 0.5 * (ends[k - 1] + ends[k])


# buccal shift, height, lean (crown towards buccal), tip (crown towards distal), turn (mesial side to buccal)
_UPPER_SEATS = {
    1: (0.0, 0.0, 23.0, -2.0, 1.0),
    2: (-0.5, 0.5, 22.0, -4.0, -3.0),
    3: (0.0, -0.2, 10.0, -5.0, 2.0),
    4: (0.0, 0.1, 3.0, 0.0, 0.0),
    5: (0.0, 0.0, 4.0, 0.0, 0.0),
    6: (0.0, 0.0, 6.0, 0.0, 3.0),
    7: (0.0, 0.0, 8.5, 0.0, 3.0),
}
_LOWER_SEATS = {
    1: (-2.75, 2.6, 17.0, 0.0, 1.0),
    2: (-2.70, 2.6, 14.0, -1.0, -2.0),
    3: (-2.70, 3.1, 6.0, -3.0, 2.0),
    4: (-1.75, 1.4, -1.0, 0.0, 0.0),
    5: (-2.10, 1.3, -4.0, 0.0, 0.0),
    6: (-2.45, 1.1, -6.0, 0.0, 1.0),
    7: (-2.35, 1.0, -8.5, 0.0, 1.0),
}


def shape_of(arch: str, k: int) -> Shape:
    """Crown type of the k-th tooth from the midline of 'upper' or 'lower'."""
    return UPPER[k] if arch == "upper" else LOWER[k]


def seat_of(arch: str, k: int) -> Seat:
    """How the k-th tooth from the midline stands."""
    if arch == "upper":
        return Seat(_middle(UPPER_ENDS, k), *_UPPER_SEATS[k])
    return Seat(_middle(LOWER_ENDS, k), *_LOWER_SEATS[k])


def level(x_mm: Array | float) -> Array:
    """Height of the occlusal surface at x: straight from the incisors to the second molars, with a curve of Spee."""
    t = (92.0 - np.asarray(x_mm, dtype=np.float64)) / 42.0
    out: Array = -42.0 + 7.0 * t - 2.2 * t * (1.0 - t)
    return out


def _level_slope(x_mm: float) -> float:
    t = (92.0 - x_mm) / 42.0
    return -(7.0 - 2.2 * (1.0 - 2.0 * t)) / 42.0


def frame_of(arch: str, k: int) -> tuple[Array, Array]:
    """Rigid frame of the k-th right tooth of an arch.

    Returns the 3 x 3 matrix whose columns are the distal, buccal and occlusal directions, and the origin (3,), mm.
    """
    seat = seat_of(arch, k)
    curve = arch_curve()
    p, t = curve.at(seat.s_mm)
    tx, tz = t[0]
    nx, nz = tz, -tx
    x, z = p[0, 0] + seat.buccal_mm * nx, p[0, 1] + seat.buccal_mm * nz
    up = 1.0 if arch == "lower" else -1.0
    origin = np.array([x, float(level(p[0, 0])) + seat.height_mm, z])
    turn = np.radians(seat.turn_deg)
    d = np.array([tx, 0.0, tz])
    b = np.array([nx, 0.0, nz])
    d, b = d * np.cos(turn) - b * np.sin(turn), b * np.cos(turn) + d * np.sin(turn)
    # Along the occlusal surface (Spee), then tipped and leaned.
    d = d + np.array([0.0, _level_slope(p[0, 0]) * tx, 0.0])
    d = d / np.linalg.norm(d)
    b = b - d * (b @ d)
    b = b / np.linalg.norm(b)
    o = np.cross(d, b)
    o = o if o[1] * up > 0 else -o
    tip, lean = np.radians(seat.tip_deg), np.radians(seat.lean_deg)
    d, o = d * np.cos(tip) - o * np.sin(tip), o * np.cos(tip) + d * np.sin(tip)
    b, o = b * np.cos(lean) - o * np.sin(lean), o * np.cos(lean) + b * np.sin(lean)
    return np.stack([d, b, o], axis=1), origin
