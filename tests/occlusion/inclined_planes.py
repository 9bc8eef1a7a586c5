"""A lower facet of known tilt, and an upper that is the same facet turned about the hinge by a known angle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]


def grid_faces(n: int) -> I32:
    """Two triangles for each square of an n by n grid of vertices."""
    i = np.arange(n * n).reshape(n, n)
    a, b, c, d = (q.ravel() for q in (i[:-1, :-1], i[:-1, 1:], i[1:, :-1], i[1:, 1:]))
    return np.concatenate([np.stack([a, b, c], 1), np.stack([b, d, c], 1)]).astype(np.int32)


def turned(v: F64, angle_rad: float) -> F64:
    """Turn points about the hinge axis by +angle (closing, for a lower)."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return v @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])


def facet(
    tilt_deg: float,
    *,
    x_mm: float = 58.0,
    y_mm: float = -36.0,
    z_mm: float = 22.0,
    half_mm: float = 3.0,
    n: int = 25,
) -> F64:
    """A square facet centred at (x, y, z), tilted sideways (about the radius) against the direction of closing."""
    radius = np.array([x_mm, y_mm, 0.0]) / np.hypot(x_mm, y_mm)
    way = np.array([-radius[1], radius[0], 0.0])
    t = np.radians(tilt_deg)
    across = np.cos(t) * np.array([0.0, 0.0, 1.0]) + np.sin(t) * way
    p, q = np.meshgrid(np.linspace(-half_mm, half_mm, n), np.linspace(-half_mm, half_mm, n), indexing="ij")
    return np.array([x_mm, y_mm, z_mm]) + p.reshape(-1, 1) * radius + q.reshape(-1, 1) * across


FACET_FACES = grid_faces(25)
