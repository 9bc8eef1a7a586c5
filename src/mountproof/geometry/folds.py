"""Which way the grooves of a surface face: the hollow edges, each with its angle, its length and its direction."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from mountproof.geometry.topology import opposite_half_edges

Floats = npt.NDArray[np.float64]

#: Edges of a scanned surface differ by less than this factor from their median; those of a drawn base do not.
_LONG_EDGE = 3.0


class Folds(NamedTuple):
    """Sums over the edges of a surface, mm: ``hollow`` (3,) with direction, ``hollow_sum`` without.

    ``hollow`` is the sum of bend x length x direction over edges folded inwards; the bend of an edge is the
    distance between the unit normals of its two faces (2 sin of half the angle), the direction that of their
    mean. ``bulging_sum`` is the sum without direction over edges folded outwards.
    """

    hollow: Floats
    hollow_sum: float
    bulging_sum: float


def folds(vertices_mm: Floats, faces: npt.NDArray[Any]) -> Folds:
    """Sum the folds of a surface: the integral of its mean curvature, edges taken as thin cylinders.

    ``vertices_mm`` (n, 3) finite, mm; ``faces`` (m, 3). Over a closed surface hollow and bulging edges have
    the same sum with direction (it cannot pull itself anywhere); turning all faces over changes its sign.
    Edges at a border, flat faces and edges of three or more faces are left out. Raises ValueError or TypeError
    for wrong shapes, indices out of range and coordinates that are not finite.
    """
    v = np.ascontiguousarray(vertices_mm, dtype=np.float64)
    if v.ndim != 2 or v.shape[1] != 3 or not np.isfinite(v).all():
        raise ValueError("vertices must be (n, 3) and finite")
    across = opposite_half_edges(faces, len(v))
    hollow, hollow_sum, bulging_sum = _sums(v, np.ascontiguousarray(faces, dtype=np.int32), across)
    return Folds(hollow, float(hollow_sum), float(bulging_sum))


def smoothed_copy(vertices_mm: Floats, faces: npt.NDArray[Any], rounds: int) -> Floats:
    """Return a copy of the vertices for judging shape only: each moved halfway to the mean of its neighbours.

    ``vertices_mm`` (n, 3), ``faces`` (m, 3), ``rounds`` times. Vertices without a face stay, and so do those
    with an edge longer than three times the median: a few large triangles of a base would fold otherwise.
    Grooves wider than about the edge length times the root of ``rounds`` survive, a scanner's noise does not.
    Raises as ``folds``.
    """
    v = np.ascontiguousarray(vertices_mm, dtype=np.float64)
    opposite_half_edges(faces, len(v))  # checks the indices
    f = np.ascontiguousarray(faces, dtype=np.int32)
    edge = np.linalg.norm(v[f] - v[np.roll(f, 1, axis=1)], axis=2)
    long = np.unique(
        np.concatenate([f, np.roll(f, 1, axis=1)])[np.tile(edge > _LONG_EDGE * np.median(edge), (2, 1))]
    )
    held = np.zeros(len(v), np.bool_)
    held[long] = True
    smooth: Floats = _smoothed(v, f, held, rounds)
    return smooth


@njit(cache=True, nogil=True)
def _smoothed(v, faces, held, rounds):  # type: ignore[no-untyped-def]
    v = v.copy()
    n = v.shape[0]
    count = np.zeros(n)
    for f in range(faces.shape[0]):
        for k in range(3):
            count[faces[f, k]] += 2.0
    total = np.zeros((n, 3))
    for _ in range(rounds):
        total[:] = 0.0
        for f in range(faces.shape[0]):
            a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
            for d in range(3):
                x, y, z = v[a, d], v[b, d], v[c, d]
                total[a, d] += y + z
                total[b, d] += z + x
                total[c, d] += x + y
        for i in range(n):
            if count[i] > 0.0 and not held[i]:
                for d in range(3):
                    v[i, d] = 0.5 * v[i, d] + 0.5 * total[i, d] / count[i]
    return v


@njit(cache=True, nogil=True)
def _normals(v, faces):  # type: ignore[no-untyped-def]
    m = faces.shape[0]
    n = np.zeros((m, 3))
    for f in range(m):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = v[b, 0] - v[a, 0], v[b, 1] - v[a, 1], v[b, 2] - v[a, 2]
        wx, wy, wz = v[c, 0] - v[a, 0], v[c, 1] - v[a, 1], v[c, 2] - v[a, 2]
        x, y, z = uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx
        length = np.sqrt(x * x + y * y + z * z)
        if length > 0.0:
            n[f, 0], n[f, 1], n[f, 2] = x / length, y / length, z / length
    return n


@njit(cache=True, nogil=True)
def _sums(v, faces, across):  # type: ignore[no-untyped-def]
    n = _normals(v, faces)
    hollow = np.zeros(3)
    hollow_sum = 0.0
    bulging_sum = 0.0
    for h in range(across.size):
        g = across[h]
        if g < h:  # each pair once; borders and the like are negative
            continue
        f, k = h // 3, h % 3
        a, b = faces[f, k], faces[f, (k + 1) % 3]
        p, q = n[f], n[g // 3]
        ex, ey, ez = v[b, 0] - v[a, 0], v[b, 1] - v[a, 1], v[b, 2] - v[a, 2]
        length = np.sqrt(ex * ex + ey * ey + ez * ez)
        sx, sy, sz = p[0] + q[0], p[1] + q[1], p[2] + q[2]
        size = np.sqrt(sx * sx + sy * sy + sz * sz)
        if length == 0.0 or size == 0.0:
            continue
        cx, cy, cz = p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]
        bend = np.sqrt((p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 + (p[2] - q[2]) ** 2)
        weight = bend * length
        if cx * ex + cy * ey + cz * ez < 0.0:
            hollow_sum += weight
            hollow[0] += weight * sx / size
            hollow[1] += weight * sy / size
            hollow[2] += weight * sz / size
        else:
            bulging_sum += weight
    return hollow, hollow_sum, bulging_sum
