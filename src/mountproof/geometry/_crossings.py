"""Where edges of one triangle mesh pierce triangles of another."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True, error_model="numpy")
def crossings(
    a: Floats,
    edges: Ints,
    b: Floats,
    faces: Ints,
    normals: Floats,
    out_edge: Ints,
    out_face: Ints,
    out_part: Floats,
) -> int:
    """Write edge, face and part of the way along the edge (0 to 1) of every crossing; return how many there are.

    ``a`` (n, 3) with ``edges`` (e, 2); ``b`` (m, 3) with ``faces`` (f, 3) and their ``normals`` (f, 3), any length. Where the
    outputs are too short the rest is counted, not written. An edge pierces a face where its ends lie on both sides of the
    plane, and the line between them passes all three sides of the face on the same hand.
    """
    count = 0
    low = np.zeros((len(faces), 3))
    high = np.zeros((len(faces), 3))
    for f in range(len(faces)):
        i, j, k = faces[f]
        for c in range(3):
            low[f, c] = min(b[i, c], b[j, c], b[k, c])
            high[f, c] = max(b[i, c], b[j, c], b[k, c])
    for e in range(len(edges)):
        p, q = a[edges[e, 0]], a[edges[e, 1]]
        x0, x1 = min(p[0], q[0]), max(p[0], q[0])
        y0, y1 = min(p[1], q[1]), max(p[1], q[1])
        z0, z1 = min(p[2], q[2]), max(p[2], q[2])
        for f in range(len(faces)):
            if low[f, 0] > x1 or high[f, 0] < x0 or low[f, 1] > y1 or high[f, 1] < y0:
                continue
            if low[f, 2] > z1 or high[f, 2] < z0:
                continue
            u, v, w = b[faces[f, 0]], b[faces[f, 1]], b[faces[f, 2]]
            n = normals[f]
            over_p = (p[0] - u[0]) * n[0] + (p[1] - u[1]) * n[1] + (p[2] - u[2]) * n[2]
            over_q = (q[0] - u[0]) * n[0] + (q[1] - u[1]) * n[1] + (q[2] - u[2]) * n[2]
            if (over_p > 0.0) == (over_q > 0.0):
                continue
            # The same for both faces that share a side, so that no edge slips between them or pierces both.
            side = _turn(p, q, u, v)
            if _turn(p, q, v, w) != side or _turn(p, q, w, u) != side:
                continue
            if count < len(out_edge):
                out_edge[count], out_face[count] = e, f
                out_part[count] = over_p / (over_p - over_q)
            count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _turn(p: Floats, q: Floats, u: Floats, v: Floats) -> bool:
    """Tell on which side the line p q passes the line u v: the sign of a volume, computed alike in both directions of u v."""
    flip = False
    for c in range(3):
        if u[c] != v[c]:
            flip = u[c] > v[c]
            break
    first, last = (v, u) if flip else (u, v)
    d0, d1, d2 = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    e0, e1, e2 = first[0] - p[0], first[1] - p[1], first[2] - p[2]
    f0, f1, f2 = last[0] - p[0], last[1] - p[1], last[2] - p[2]
    volume = d0 * (e1 * f2 - e2 * f1) + d1 * (e2 * f0 - e0 * f2) + d2 * (e0 * f1 - e1 * f0)
    left: bool = (volume > 0.0) != flip
    return left
