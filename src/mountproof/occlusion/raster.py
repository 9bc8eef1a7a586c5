"""Depth raster of a triangle mesh seen straight along one axis.

A raster keeps, for each cell, the highest surface and the face it belongs to. It serves the pictures and the
unrolling of an arch; no contact is decided on it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]


class Raster(NamedTuple):
    """The surface nearest to the viewer on a square grid.

    ``height_mm`` (rows, columns) is NaN and ``face`` -1 where there is no surface; ``u0_mm``, ``v0_mm`` is the
    centre of cell (0, 0), columns run along u, rows along v, ``cell_mm`` apart.
    """

    height_mm: F64
    face: I32
    u0_mm: float
    v0_mm: float
    cell_mm: float


@njit(cache=True, nogil=True)
def _edge(au, av, bu, bv, a, b, pu, pv):  # type: ignore[no-untyped-def]
    # The lower vertex number always comes first, so that two faces sharing an edge get exactly opposite values
    # and no cell centre can fall between them.
    if a < b:
        return (bu - au) * (pv - av) - (bv - av) * (pu - au)
    return -((au - bu) * (pv - bv) - (av - bv) * (pu - bu))


@njit(cache=True, nogil=True)
def _zbuffer(u, v, h, faces, rows, columns, height, face_of):  # type: ignore[no-untyped-def]
    """Draw every face into ``height`` (filled with NaN) and ``face_of`` (filled with -1); u, v in cells."""
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        au, av, bu, bv, cu, cv = u[a], v[a], u[b], v[b], u[c], v[c]
        total = au + av + bu + bv + cu + cv + h[a] + h[b] + h[c]
        if not np.isfinite(total):
            continue
        c0 = max(0, int(np.ceil(min(au, bu, cu))))
        c1 = min(columns - 1, int(np.floor(max(au, bu, cu))))
        r0 = max(0, int(np.ceil(min(av, bv, cv))))
        r1 = min(rows - 1, int(np.floor(max(av, bv, cv))))
        if c0 > c1 or r0 > r1:
            continue
        area = _edge(au, av, bu, bv, a, b, cu, cv)
        if area == 0.0:
            continue
        sign = 1.0 if area > 0.0 else -1.0
        for r in range(r0, r1 + 1):
            for q in range(c0, c1 + 1):
                wa = sign * _edge(bu, bv, cu, cv, b, c, q, r)
                if wa < 0.0:
                    continue
                wb = sign * _edge(cu, cv, au, av, c, a, q, r)
                if wb < 0.0:
                    continue
                wc = sign * _edge(au, av, bu, bv, a, b, q, r)
                if wc < 0.0:
                    continue
                total = wa + wb + wc
                if total <= 0.0:
                    continue
                z = (wa * h[a] + wb * h[b] + wc * h[c]) / total
                if not (z <= height[r, q]):
                    height[r, q] = z
                    face_of[r, q] = f


def draw(
    u_mm: F64,
    v_mm: F64,
    height_mm: F64,
    faces: I32,
    *,
    cell_mm: float,
    box_mm: tuple[float, float, float, float],
) -> Raster:
    """Return the raster of a mesh seen from +height.

    ``u_mm``, ``v_mm``, ``height_mm`` (n,) float64 mm; ``faces`` (m, 3) int32; ``box_mm`` = (u low, u high, v low,
    v high) of the cell centres. Faces with a non-finite corner are left out.
    """
    u0, u1, v0, v1 = box_mm
    columns = int(np.floor((u1 - u0) / cell_mm)) + 1
    rows = int(np.floor((v1 - v0) / cell_mm)) + 1
    height = np.full((rows, columns), np.nan)
    face = np.full((rows, columns), -1, dtype=np.int32)
    _zbuffer((u_mm - u0) / cell_mm, (v_mm - v0) / cell_mm, height_mm, faces, rows, columns, height, face)
    return Raster(height, face, u0, v0, cell_mm)
