"""Kernels for two features of a pair of parts: their corners, their contact, and which of two at once comes first."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._features import (
    _edge_against_edge,
    _normal,
    _point_against_edge,
    _vertex_against_face,
)
from mountproof.geometry._kernel import kernel
from mountproof.geometry._parts import Part
from mountproof.geometry._two_faces import EDGE_EDGE, FACE_VERTEX, VERTEX_FACE

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


class Corners(NamedTuple):
    """Scratch for the corners of two features: a face, its normal, four places."""

    face: Floats
    normal: Floats
    p: Floats
    p1: Floats
    q: Floats
    q1: Floats


@kernel
def _gathered(up: Part, low: Part, kind: int, i: int, j: int, points: Floats, row: int) -> None:
    """Write the four corners of two features: those of the face or of the upper's edge first."""
    for k in range(3):
        if kind == FACE_VERTEX:
            for c in range(3):
                points[row, 3 * c + k] = up.points[up.faces[i, c], k]
            points[row, 9 + k] = low.points[j, k]
        elif kind == VERTEX_FACE:
            for c in range(3):
                points[row, 3 * c + k] = low.points[low.faces[j, c], k]
            points[row, 9 + k] = up.points[i, k]
        else:
            for c in range(2):
                points[row, 3 * c + k] = up.points[up.edges[i, c], k]
                points[row, 6 + 3 * c + k] = low.points[low.edges[j, c], k]


@kernel
def _placed(points: Floats, row: int, c: int, poses: Floats, k: int, out: Floats) -> None:
    """One of four corners at a pose."""
    x = points[row, c]
    y = points[row, c + 1]
    z = points[row, c + 2]
    out[0] = poses[k, 0, 0] * x + poses[k, 0, 1] * y + poses[k, 0, 2] * z + poses[k, 0, 3]
    out[1] = poses[k, 1, 0] * x + poses[k, 1, 1] * y + poses[k, 1, 2] * z + poses[k, 1, 3]
    out[2] = poses[k, 2, 0] * x + poses[k, 2, 1] * y + poses[k, 2, 2] * z + poses[k, 2, 3]


@kernel
def _still(points: Floats, row: int, c: int, out: Floats) -> None:
    out[0] = points[row, c]
    out[1] = points[row, c + 1]
    out[2] = points[row, c + 2]


@kernel
def _solved(
    points: Floats,
    row: int,
    kind: int,
    poses: Floats,
    k: int,
    tol: float,
    best: float,
    face: Floats,
    normal: Floats,
    p: Floats,
    p1: Floats,
    q: Floats,
    q1: Floats,
    touch: Floats,
) -> float:
    """Closing angle at which two features touch, when it is below ``best``."""
    if kind == EDGE_EDGE:
        _still(points, row, 0, p)
        _still(points, row, 3, p1)
        _placed(points, row, 6, poses, k, q)
        _placed(points, row, 9, poses, k, q1)
        best = _edge_against_edge(p, p1, q, q1, tol, best, touch)
        if abs(p1[2] - p[2]) <= tol and abs(q1[2] - q[2]) <= tol and abs(p[2] - q[2]) <= 4.0 * tol:
            # level edges: an edge is held once here, so that both of its ends have to take their turn
            best = _point_against_edge(q1, p, p1, tol, True, best, touch)
            best = _point_against_edge(p1, q, q1, tol, False, best, touch)
        return best
    if kind == FACE_VERTEX:
        for c in range(3):
            for x in range(3):
                face[c, x] = points[row, 3 * c + x]
        _placed(points, row, 9, poses, k, p)
        sign = 1.0
    else:
        for c in range(3):
            _placed(points, row, 3 * c, poses, k, q)
            for x in range(3):
                face[c, x] = q[x]
        _still(points, row, 9, p)
        sign = -1.0
    nn = _normal(face, normal)
    if nn > 0.0:
        return _vertex_against_face(p, face, normal, nn, sign, tol, best, touch)
    return best


@kernel
def _names(up: Part, low: Part, kind: int, i: int, j: int) -> tuple[int, int]:
    """Lowest numbers of the faces that hold two features."""
    if kind == FACE_VERTEX:
        return up.ids[i], low.ids[low.vertex_face[j]]
    if kind == VERTEX_FACE:
        return up.ids[up.vertex_face[i]], low.ids[j]
    return up.ids[up.edge_face[i]], low.ids[low.edge_face[j]]


@kernel
def _before(what: Ints, row: int, best: Ints) -> bool:
    """Order of features that touch at once: lowest face numbers, then what they are. The order of the search does not show."""
    if what[row, 3] != best[3]:
        return bool(what[row, 3] < best[3])
    if what[row, 4] != best[4]:
        return bool(what[row, 4] < best[4])
    if what[row, 0] != best[0]:
        return bool(what[row, 0] == FACE_VERTEX or (what[row, 0] == VERTEX_FACE and best[0] == EDGE_EDGE))
    return bool(what[row, 1] < best[1] or (what[row, 1] == best[1] and what[row, 2] < best[2]))
