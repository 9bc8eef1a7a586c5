"""Kernels that bound how corners, edges, faces and patches lean: what touches first leans alike (docs/theory/draws.md).

The lean of a plane at a place is (b, g), its rise along closing per mm of r and of z: r dphi = b dr + g dz. A box of leans is
b from, to; g from, to; and ``amp``: turned by a small angle t, no lean in it moves by more than t amp. A box from inf to -inf
belongs to what never touches first; -inf to inf: nothing is known.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel
from mountproof.geometry._parts import Part

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Planes whose normal is nearer than this (as a sine) to square with closing lean too much to say anything.
_LEAST_SIN = 0.2

#: Largest turn that leans are told for, rad: a plane that passed ``_LEAST_SIN`` keeps facing the same way.
MOST_TILT_RAD = 0.1

#: Leans that may be turned beyond this, rad, are not told: their number knows no bounds.
_STEEPEST_RAD = 1.55

#: Room for rounding: far above it, far below what a mesh shows.
_ROOM = 1e-6

#: Most corners of a clipped box of leans; a corner with more edges is left alone.
_MOST = 64


@njit(cache=True, nogil=True, error_model="numpy")
def _unknown(box: Floats) -> None:
    box[0] = -np.inf
    box[1] = np.inf
    box[2] = -np.inf
    box[3] = np.inf
    box[4] = 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def _joined(box: Floats, other: Floats) -> None:
    box[0] = min(box[0], other[0])
    box[1] = max(box[1], other[1])
    box[2] = min(box[2], other[2])
    box[3] = max(box[3], other[3])
    box[4] = max(box[4], other[4])


@njit(cache=True, nogil=True, error_model="numpy")
def _amplified(box: Floats, turn: float) -> None:
    """Widen a box by a turn, then write its ``amp`` (docs/theory/draws.md)."""
    b = max(abs(box[0]), abs(box[1]))
    g = max(abs(box[2]), abs(box[3]))
    steep = math.atan(math.sqrt(b * b + g * g)) + turn
    if steep + MOST_TILT_RAD > _STEEPEST_RAD:
        _unknown(box)
        return
    most = math.tan(steep)
    wide = turn * (1.0 + most * most) + _ROOM
    box[0] -= wide
    box[1] += wide
    box[2] -= wide
    box[3] += wide
    most = math.tan(steep + MOST_TILT_RAD)
    box[4] = 1.0 + most * most


@njit(cache=True, nogil=True, error_model="numpy")
def _cross(points: Floats, a: int, b: int, c: int, out: Floats) -> float:
    ux = points[b, 0] - points[a, 0]
    uy = points[b, 1] - points[a, 1]
    uz = points[b, 2] - points[a, 2]
    vx = points[c, 0] - points[a, 0]
    vy = points[c, 1] - points[a, 1]
    vz = points[c, 2] - points[a, 2]
    out[0] = uy * vz - uz * vy
    out[1] = uz * vx - ux * vz
    out[2] = ux * vy - uy * vx
    return math.sqrt(out[0] * out[0] + out[1] * out[1] + out[2] * out[2])


@njit(cache=True, nogil=True, error_model="numpy")
def _lean(n: Floats, size: float, x: float, y: float, out: Floats) -> bool:
    """Lean of a plane of normal ``n`` at a place over (x, y); False where it leans too much."""
    r = math.sqrt(x * x + y * y)
    along = (n[1] * x - n[0] * y) / r
    if not abs(along) >= _LEAST_SIN * size or not size > 0.0:
        return False
    out[0] = -(n[0] * x + n[1] * y) / (r * along)
    out[1] = -n[2] / along
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def _face_leans(points: Floats, faces: Ints, leans: Floats) -> None:
    n = np.zeros(3)
    got = np.zeros(2)
    for i in range(faces.shape[0]):
        a = faces[i, 0]
        b = faces[i, 1]
        c = faces[i, 2]
        size = _cross(points, a, b, c, n)
        x = (points[a, 0] + points[b, 0] + points[c, 0]) / 3.0
        y = (points[a, 1] + points[b, 1] + points[c, 1]) / 3.0
        if not _lean(n, size, x, y, got):
            _unknown(leans[i])
            continue
        far = 0.0
        for k in range(3):
            v = faces[i, k]
            far = max(far, math.hypot(points[v, 0] - x, points[v, 1] - y))
        turn = 1.1 * far / math.sqrt(x * x + y * y)
        if turn > 0.5 * MOST_TILT_RAD:
            _unknown(leans[i])
            continue
        leans[i, 0] = leans[i, 1] = got[0]
        leans[i, 2] = leans[i, 3] = got[1]
        _amplified(leans[i], turn)


@njit(cache=True, nogil=True, error_model="numpy")
def _across(points: Floats, a: int, b: int, c: int, cos: float, sin: float) -> float:
    """On which side of an edge a place lies, seen along closing."""
    ur = (points[b, 0] - points[a, 0]) * cos + (points[b, 1] - points[a, 1]) * sin
    uz = points[b, 2] - points[a, 2]
    vr = (points[c, 0] - points[a, 0]) * cos + (points[c, 1] - points[a, 1]) * sin
    vz = points[c, 2] - points[a, 2]
    return float(ur * vz - uz * vr)


@njit(cache=True, nogil=True, error_model="numpy")
def _edge_leans(
    points: Floats,
    faces: Ints,
    face_leans: Floats,
    edges: Ints,
    sides: Ints,
    sign: float,
    leans: Floats,
    known: NDArray[np.bool_],
) -> None:
    """Leans of edges; ``known``: corners all of whose edges have a face on each side.

    ``sides`` (e, 3): two of its faces, and how many there are. ``sign``: +1 for the upper, -1 for the lower.
    """
    n = np.zeros(3)
    for e in range(edges.shape[0]):
        a = edges[e, 0]
        b = edges[e, 1]
        f = sides[e, 0]
        g = sides[e, 1]
        if sides[e, 2] != 2 or not face_leans[f, 1] < np.inf or not face_leans[g, 1] < np.inf:
            _unknown(leans[e])
            known[a] = False
            known[b] = False
            continue
        c = faces[f, 0] + faces[f, 1] + faces[f, 2] - a - b
        d = faces[g, 0] + faces[g, 1] + faces[g, 2] - a - b
        x = 0.5 * (points[a, 0] + points[b, 0])
        y = 0.5 * (points[a, 1] + points[b, 1])
        r = math.sqrt(x * x + y * y)
        if _across(points, a, b, c, x / r, y / r) * _across(points, a, b, d, x / r, y / r) >= 0.0:
            _unknown(leans[e])
            known[a] = False
            known[b] = False
            continue
        leans[e] = face_leans[f]
        _joined(leans[e], face_leans[g])
        # the far corner of one face over the plane of the other, along closing
        size = _cross(points, a, b, c, n)
        high = 0.0
        for k in range(3):
            high += n[k] * (points[d, k] - points[a, k])
        if n[1] * x - n[0] * y < 0.0:
            high = -high
        wide = _cross(points, a, b, d, n) / math.sqrt(
            (points[b, 0] - points[a, 0]) ** 2
            + (points[b, 1] - points[a, 1]) ** 2
            + (points[b, 2] - points[a, 2]) ** 2
        )
        if sign * high < -_ROOM * size * wide:  # a valley: what meets it has met its flanks before
            leans[e, 0] = np.inf
            leans[e, 1] = -np.inf


@njit(cache=True, nogil=True, error_model="numpy")
def _clipped(poly: Floats, count: int, other: Floats, nb: float, ng: float, most: float) -> int:
    """Cut a polygon of leans by nb b + ng g <= most; returns how many corners it has left."""
    left = 0
    for i in range(count):
        j = i + 1 if i + 1 < count else 0
        s = nb * poly[i, 0] + ng * poly[i, 1] - most
        t = nb * poly[j, 0] + ng * poly[j, 1] - most
        if s <= 0.0:
            other[left, 0] = poly[i, 0]
            other[left, 1] = poly[i, 1]
            left += 1
        if (s <= 0.0) != (t <= 0.0):
            w = s / (s - t)
            other[left, 0] = poly[i, 0] + w * (poly[j, 0] - poly[i, 0])
            other[left, 1] = poly[i, 1] + w * (poly[j, 1] - poly[i, 1])
            left += 1
    for i in range(left):
        poly[i, 0] = other[i, 0]
        poly[i, 1] = other[i, 1]
    return left


@njit(cache=True, nogil=True, error_model="numpy")
def _vertex_leans(
    points: Floats,
    faces: Ints,
    face_leans: Floats,
    edges: Ints,
    known: NDArray[np.bool_],
    sign: float,
    leans: Floats,
) -> None:
    """Leans of the planes that hold a corner and leave all of its edges on its own arch's side."""
    v = points.shape[0]
    for i in range(v):
        leans[i, 0] = leans[i, 2] = np.inf
        leans[i, 1] = leans[i, 3] = -np.inf
        leans[i, 4] = 0.0
    for f in range(faces.shape[0]):
        for k in range(3):
            _joined(leans[faces[f, k]], face_leans[f])
    starts = np.zeros(v + 1, dtype=np.int32)
    for e in range(edges.shape[0]):
        starts[edges[e, 0] + 1] += 1
        starts[edges[e, 1] + 1] += 1
    for i in range(v):
        starts[i + 1] += starts[i]
    fill = starts.copy()
    ends = np.zeros(2 * edges.shape[0], dtype=np.int32)
    for e in range(edges.shape[0]):
        for k in range(2):
            i = edges[e, k]
            ends[fill[i]] = edges[e, 1 - k]
            fill[i] += 1
    poly = np.zeros((_MOST + 8, 2))
    other = np.zeros((_MOST + 8, 2))
    for i in range(v):
        if not known[i] or not leans[i, 1] < np.inf or starts[i + 1] - starts[i] > _MOST:
            _unknown(leans[i])
            continue
        r = math.sqrt(points[i, 0] * points[i, 0] + points[i, 1] * points[i, 1])
        cos = points[i, 0] / r
        sin = points[i, 1] / r
        for k in range(4):
            poly[k, 0] = leans[i, 0] if k == 0 or k == 3 else leans[i, 1]
            poly[k, 1] = leans[i, 2] if k < 2 else leans[i, 3]
        count = 4
        for at in range(starts[i], starts[i + 1]):
            j = ends[at]
            x = points[j, 0] - points[i, 0]
            y = points[j, 1] - points[i, 1]
            z = points[j, 2] - points[i, 2]
            room = _ROOM * math.sqrt(x * x + y * y + z * z)
            count = _clipped(
                poly, count, other, sign * (cos * x + sin * y), sign * z, sign * (cos * y - sin * x) + room
            )
            if count == 0:
                break
        leans[i, 0] = leans[i, 2] = np.inf
        leans[i, 1] = leans[i, 3] = -np.inf
        for k in range(count):
            leans[i, 0] = min(leans[i, 0], poly[k, 0])
            leans[i, 1] = max(leans[i, 1], poly[k, 0])
            leans[i, 2] = min(leans[i, 2], poly[k, 1])
            leans[i, 3] = max(leans[i, 3], poly[k, 1])
        if count > 0:
            _amplified(leans[i], 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def _node_leans(part: Part) -> None:
    """Leans of all that a patch owns; children lie behind their parent."""
    nodes = part.nodes
    leans = part.leans
    for node in range(nodes.shape[0] - 1, -1, -1):
        box = leans[node]
        box[0] = box[2] = np.inf
        box[1] = box[3] = -np.inf
        box[4] = 0.0
        child = nodes[node, 0]
        if child > 0:
            _joined(box, leans[child])
            _joined(box, leans[child + 1])
            continue
        leaf = nodes[node, 1]
        for i in range(part.face_starts[leaf], part.face_starts[leaf + 1]):
            _joined(box, part.face_leans[i])
        for i in range(part.vertex_starts[leaf], part.vertex_starts[leaf + 1]):
            if part.vertex_leans[i, 0] <= part.vertex_leans[i, 1]:
                _joined(box, part.vertex_leans[i])
        for i in range(part.edge_starts[leaf], part.edge_starts[leaf + 1]):
            if part.edge_leans[i, 0] <= part.edge_leans[i, 1]:
                _joined(box, part.edge_leans[i])


@kernel
def _lean_apart(up: Floats, i: int, low: Floats, j: int, turn: float) -> bool:
    """Whether two boxes of leans stay apart when the lower's is turned by at most ``turn``."""
    wide = turn * low[j, 4]
    return bool(
        up[i, 0] > low[j, 1] + wide
        or low[j, 0] - wide > up[i, 1]
        or up[i, 2] > low[j, 3] + wide
        or low[j, 2] - wide > up[i, 3]
    )
