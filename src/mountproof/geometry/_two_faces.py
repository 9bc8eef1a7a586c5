"""First contact of two faces: every feature of one against every feature of the other, or only those that may be first.

Three corners of one on the face of the other, both ways about, and nine pairs of edges: what they do is in ``_features``.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._features import _edge_against_edge, _normal, _vertex_against_face

Floats = NDArray[np.float64]

#: Which features touch (as stored by the search; words in contact.KINDS).
VERTEX_FACE = 0
FACE_VERTEX = 1
EDGE_EDGE = 2


@njit(cache=True, nogil=True, error_model="numpy")
def _triangle_pair(
    up: Floats, low: Floats, tol: float, best: float, touch: Floats, feature: NDArray[np.int64]
) -> float:
    """Least closing angle below ``best`` at which two triangles touch; ``feature``: kind, upper, lower part."""
    n = np.zeros(3)
    nn = _normal(up, n)
    if nn > 0.0:
        for i in range(3):
            got = _vertex_against_face(low[i], up, n, nn, 1.0, tol, best, touch)
            if got < best:
                best = got
                feature[0] = FACE_VERTEX
                feature[1] = 0
                feature[2] = i
    nn = _normal(low, n)
    if nn > 0.0:
        for i in range(3):
            got = _vertex_against_face(up[i], low, n, nn, -1.0, tol, best, touch)
            if got < best:
                best = got
                feature[0] = VERTEX_FACE
                feature[1] = i
                feature[2] = 0
    for i in range(3):
        for j in range(3):
            got = _edge_against_edge(up[i], up[(i + 1) % 3], low[j], low[(j + 1) % 3], tol, best, touch)
            if got < best:
                best = got
                feature[0] = EDGE_EDGE
                feature[1] = i
                feature[2] = j
    return best


@njit(cache=True, nogil=True, error_model="numpy")
def _quarter_side2(q0: float, q1: float, b: float) -> float:
    """A bound on a quarter of the longest side squared, seen along the axis, of what lies in a range of r^2 and angle.

    Between radii r0 <= r1 and angles b apart, a side squared is at most (r1 - r0)^2 + 2 r0 r1 (1 - cos b)
    <= (r1 - r0)^2 + r0 r1 b^2, with (r1 - r0)^2 = (q1 - q0)^2 / (r1 + r0)^2 <= (q1 - q0)^2 / q1. ``b`` may be a
    difference of y / x as well, which is never smaller than that of the angles.
    """
    d = q1 - q0
    return 0.25 * (d * d / q1 + q1 * b * b)


@njit(cache=True, nogil=True, error_model="numpy")
def _edges_may_meet(a: Floats, i: int, b: Floats, j: int, q_tol: float, tol: float, limit: float) -> bool:
    """Whether edge i of an upper face and edge j of a lower one overlap in (r^2, z) and may touch by ``limit``.

    ``a``, ``b``: (r^2, z, phi) of the corners.
    """
    i1 = (i + 1) % 3
    j1 = (j + 1) % 3
    if (
        min(a[i, 1], a[i1, 1]) > max(b[j, 1], b[j1, 1]) + tol
        or min(b[j, 1], b[j1, 1]) > max(a[i, 1], a[i1, 1]) + tol
    ):
        return False
    if min(a[i, 2], a[i1, 2]) - max(b[j, 2], b[j1, 2]) > limit:
        return False
    a_high = max(a[i, 0], a[i1, 0])
    a_low = min(a[i, 0], a[i1, 0])
    b_high = max(b[j, 0], b[j1, 0])
    b_low = min(b[j, 0], b[j1, 0])
    if a_low <= b_high + q_tol and b_low <= a_high + q_tol:
        return True
    a_low -= _quarter_side2(a_low, a_high, a[i, 2] - a[i1, 2])
    b_low -= _quarter_side2(b_low, b_high, b[j, 2] - b[j1, 2])
    return bool(a_low <= b_high + q_tol and b_low <= a_high + q_tol)


@njit(cache=True, nogil=True, error_model="numpy")
def _beside_plane(tri: Floats, other: Floats, sign: float, least: float, most: float, tol: float) -> bool:
    """Whether all of ``other`` stays on one side of the plane of ``tri`` while it turns by ``least`` to ``most``, times ``sign``.

    A corner b at height h over the plane of normal n comes, turned by t, to h + t n . (z x b) within |n| r t^2 / 2. What is
    linear in t is least at an end, and in a face at a corner; so no place of the face, at no angle between, is in the plane.
    """
    ux = tri[1, 0] - tri[0, 0]
    uy = tri[1, 1] - tri[0, 1]
    uz = tri[1, 2] - tri[0, 2]
    vx = tri[2, 0] - tri[0, 0]
    vy = tri[2, 1] - tri[0, 1]
    vz = tri[2, 2] - tri[0, 2]
    nx = uy * vz - uz * vy
    ny = uz * vx - ux * vz
    nz = ux * vy - uy * vx
    low = np.inf
    high = -np.inf
    rr = 0.0
    for k in range(3):
        x = other[k, 0]
        y = other[k, 1]
        h = nx * (x - tri[0, 0]) + ny * (y - tri[0, 1]) + nz * (other[k, 2] - tri[0, 2])
        w = sign * (ny * x - nx * y)
        a = h + least * w
        b = h + most * w
        low = min(low, min(a, b))
        high = max(high, max(a, b))
        rr = max(rr, x * x + y * y)
    widest = max(least * least, most * most)
    room = math.sqrt(nx * nx + ny * ny + nz * nz) * (0.5 * widest * math.sqrt(rr) + 64.0 * tol)
    return bool(low > room) | bool(high < -room)


@njit(cache=True, nogil=True, error_model="numpy")
def _kept_apart(up: Floats, low: Floats, least: float, most: float, tol: float) -> bool:
    """Whether the plane of one of two faces keeps them apart at every closing from ``least`` to ``most``."""
    apart = _beside_plane(up, low, 1.0, least, most, tol)
    if not apart:
        apart = _beside_plane(low, up, -1.0, least, most, tol)
    return apart


@njit(cache=True, nogil=True, error_model="numpy")
def _near_pair(
    up: Floats,
    up_polar: Floats,
    up_box: Floats,
    low: Floats,
    low_polar: Floats,
    low_box: Floats,
    q_tol: float,
    tol: float,
    slack: float,
    best: float,
    touch: Floats,
    feature: NDArray[np.int64],
    n: Floats,
) -> float:
    """As ``_triangle_pair``, leaving out features that cannot touch by ``best``. ``n``: three numbers of scratch.

    ``..._polar``: (r^2, z, phi) of the corners; ``..._box``: box of the face as in ``_tree``.
    """
    nn = -1.0
    for i in range(3):
        q = low_polar[i, 0]
        z = low_polar[i, 1]
        if (
            q < up_box[0] - q_tol
            or q > up_box[1] + q_tol
            or z < up_box[2] - tol
            or z > up_box[3] + tol
            or up_box[4] - low_polar[i, 2] > best + slack
        ):
            continue
        if nn < 0.0:
            nn = _normal(up, n)
        if nn > 0.0:
            got = _vertex_against_face(low[i], up, n, nn, 1.0, tol, best, touch)
            if got < best:
                best = got
                feature[0] = FACE_VERTEX
                feature[1] = 0
                feature[2] = i
    nn = -1.0
    for i in range(3):
        q = up_polar[i, 0]
        z = up_polar[i, 1]
        if (
            q < low_box[0] - q_tol
            or q > low_box[1] + q_tol
            or z < low_box[2] - tol
            or z > low_box[3] + tol
            or up_polar[i, 2] - low_box[5] > best + slack
        ):
            continue
        if nn < 0.0:
            nn = _normal(low, n)
        if nn > 0.0:
            got = _vertex_against_face(up[i], low, n, nn, -1.0, tol, best, touch)
            if got < best:
                best = got
                feature[0] = VERTEX_FACE
                feature[1] = i
                feature[2] = 0
    for i in range(3):
        for j in range(3):
            if not _edges_may_meet(up_polar, i, low_polar, j, q_tol, tol, best + slack):
                continue
            got = _edge_against_edge(up[i], up[(i + 1) % 3], low[j], low[(j + 1) % 3], tol, best, touch)
            if got < best:
                best = got
                feature[0] = EDGE_EDGE
                feature[1] = i
                feature[2] = j
    return best
