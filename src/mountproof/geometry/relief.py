"""What a surface needs to be drawn well: a normal for every vertex, and how far it lies in a pit or on a ridge."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Rounds of averaging over neighbours: some 0.8 mm on a scan with sides of 0.25 mm, the width of a fissure.
_ROUNDS = 10
#: The scan that heights are told as of, and how much those of a finer one are made of it at most (they are mostly noise).
_SIDE_MM, _MOST = 0.25, 2.0


@njit(cache=True, nogil=True)
def _sum_normals(v, faces, out):  # type: ignore[no-untyped-def]
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = v[b, 0] - v[a, 0], v[b, 1] - v[a, 1], v[b, 2] - v[a, 2]
        wx, wy, wz = v[c, 0] - v[a, 0], v[c, 1] - v[a, 1], v[c, 2] - v[a, 2]
        n = (uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx)
        for i in (a, b, c):
            for k in range(3):
                out[i, k] += n[k]


@njit(cache=True, nogil=True)
def _averaged(v, faces, count, out):  # type: ignore[no-untyped-def]
    """Mean of the neighbours of each vertex, a neighbour counted once for each face that is shared."""
    out[:] = 0.0
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        for k in range(3):
            out[a, k] += v[b, k] + v[c, k]
            out[b, k] += v[a, k] + v[c, k]
            out[c, k] += v[a, k] + v[b, k]
    for i in range(v.shape[0]):
        if count[i] > 0:
            for k in range(3):
                out[i, k] /= 2.0 * count[i]
        else:
            for k in range(3):
                out[i, k] = v[i, k]


def vertex_normals(vertices_mm: Floats, faces: Ints) -> Floats:
    """Return a unit normal (n, 3) for each vertex, faces weighed by their area; zero where a vertex has none.

    ``vertices_mm`` (n, 3), ``faces`` (m, 3). A normal points to the side from which its faces run counterclockwise.
    """
    out = np.zeros_like(vertices_mm)
    _sum_normals(vertices_mm, faces, out)
    length = np.linalg.norm(out, axis=1, keepdims=True)
    unit: Floats = np.divide(out, length, out=np.zeros_like(out), where=length > 0.0)
    return unit


@njit(cache=True, nogil=True)
def _side_lengths(v, faces, out, count):  # type: ignore[no-untyped-def]
    """Add up the lengths of the sides at each vertex, and count them."""
    for f in range(faces.shape[0]):
        for k in range(3):
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            x, y, z = v[a, 0] - v[b, 0], v[a, 1] - v[b, 1], v[a, 2] - v[b, 2]
            length = np.sqrt(x * x + y * y + z * z)
            for i in (a, b):
                out[i] += length
                count[i] += 1


def relief_mm(vertices_mm: Floats, faces: Ints, normals: Floats) -> Floats:
    """Return how far each vertex (n,) stands out of the surface around it, mm; negative in a pit or a fissure.

    ``vertices_mm`` (n, 3), ``faces`` (m, 3), ``normals`` (n, 3) as from ``vertex_normals``. Height over the mean of the
    neighbours, their neighbours and so on, as it would be on a scan with sides of ``_SIDE_MM``: such a height grows as the
    square of what is averaged over. For shading only.
    """
    count = np.bincount(faces.ravel(), minlength=len(vertices_mm)).astype(np.int64)
    here, there = vertices_mm.copy(), np.zeros_like(vertices_mm)
    for _ in range(_ROUNDS):
        _averaged(here, faces, count, there)
        here, there = there, here
    height = np.einsum("ij,ij->i", vertices_mm - here, normals)
    total, sides = np.zeros(len(vertices_mm)), np.zeros(len(vertices_mm), dtype=np.int64)
    _side_lengths(vertices_mm, faces, total, sides)
    side = np.divide(total, sides, out=np.full(len(total), _SIDE_MM), where=sides > 0)
    with np.errstate(divide="ignore"):
        out: Floats = height * np.minimum((_SIDE_MM / side) ** 2, _MOST)
    return out
