"""Hill shading of a depth raster, quiet enough to print and to carry bands of gap."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
U8 = NDArray[np.uint8]

NO_SURFACE = 0
#: The light comes from the upper left of the picture, half way up, as is usual for relief.
_LIGHT = np.array([-0.45, -0.45, 0.771])
_RELIEF_MM = 0.8


@njit(cache=True, nogil=True)
def _vertex_normals(v, faces, out):  # type: ignore[no-untyped-def]
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = v[b, 0] - v[a, 0], v[b, 1] - v[a, 1], v[b, 2] - v[a, 2]
        wx, wy, wz = v[c, 0] - v[a, 0], v[c, 1] - v[a, 1], v[c, 2] - v[a, 2]
        nx, ny, nz = uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx
        for i in (a, b, c):
            out[i, 0] += nx
            out[i, 1] += ny
            out[i, 2] += nz


@njit(cache=True, nogil=True)
def _light_of(p, normals, faces, face, light, out):  # type: ignore[no-untyped-def]
    """Cosine between light and the smoothed normal at each pixel; ``p`` (n, 2) vertices in pixels, z up."""
    for r in range(face.shape[0]):
        for q in range(face.shape[1]):
            f = face[r, q]
            if f < 0:
                continue
            a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
            wa = (p[b, 0] - q) * (p[c, 1] - r) - (p[b, 1] - r) * (p[c, 0] - q)
            wb = (p[c, 0] - q) * (p[a, 1] - r) - (p[c, 1] - r) * (p[a, 0] - q)
            wc = (p[a, 0] - q) * (p[b, 1] - r) - (p[a, 1] - r) * (p[b, 0] - q)
            total = wa + wb + wc
            if total == 0.0:
                continue
            wa, wb, wc = wa / total, wb / total, wc / total
            n0 = wa * normals[a, 0] + wb * normals[b, 0] + wc * normals[c, 0]
            n1 = wa * normals[a, 1] + wb * normals[b, 1] + wc * normals[c, 1]
            n2 = wa * normals[a, 2] + wb * normals[b, 2] + wc * normals[c, 2]
            length = np.sqrt(n0 * n0 + n1 * n1 + n2 * n2)
            if length > 0.0:
                turn = 1.0 if n2 >= 0.0 else -1.0  # a surface wound inwards is lit all the same
                out[r, q] = turn * (n0 * light[0] + n1 * light[1] + n2 * light[2]) / length


def blurred(field: F64, seen: NDArray[np.bool_], half: int) -> F64:
    """Mean over a square of 2 half + 1 pixels of what is seen."""

    def boxed(a: F64) -> F64:
        for axis in (0, 1):
            pad = [(half + 1, half), (0, 0)] if axis == 0 else [(0, 0), (half + 1, half)]
            total = np.cumsum(np.pad(a, pad), axis=axis)
            span = a.shape[axis]
            low = np.take(total, np.arange(span), axis=axis)
            a = np.take(total, np.arange(span) + 2 * half + 1, axis=axis) - low
        return a

    weight = boxed(seen.astype(np.float64))
    return boxed(np.where(seen, field, 0.0)) / np.maximum(weight, 0.5)


def shaded(
    right_mm: F64, down_mm: F64, up_mm: F64, faces: I32, height_mm: F64, face: I32, pixel_mm: float
) -> U8:
    """Return brightness 1 to 255 of each pixel, 0 where there is no surface.

    ``right_mm``, ``down_mm``, ``up_mm`` (n,) vertices in picture mm, up towards the viewer; ``faces`` (m, 3);
    ``height_mm``, ``face`` (rows, columns) of the raster. Normals are smoothed over the faces around a vertex;
    fissures are darkened and ridges lightened, so that both survive a photocopy.
    """
    placed = np.stack([right_mm, down_mm, up_mm], axis=1)
    normals = np.zeros_like(placed)
    _vertex_normals(placed, faces, normals)
    light = np.zeros(height_mm.shape)
    _light_of(placed[:, :2] / pixel_mm - 0.5, normals, faces, face, _LIGHT, light)
    seen = np.isfinite(height_mm)
    relief = np.where(seen, height_mm - blurred(height_mm, seen, max(1, round(_RELIEF_MM / pixel_mm))), 0.0)
    bright = 0.18 + 0.78 * np.clip(light, 0.0, 1.0) ** 0.9 + 0.55 * np.clip(relief, -0.35, 0.25)
    return np.where(seen, np.clip(np.rint(255.0 * bright), 1, 255), NO_SURFACE).astype(np.uint8)
