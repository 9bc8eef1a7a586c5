"""Kernels that tell how a contact lies: where it is and how its normal leans against the direction of closing."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._features import _normal
from mountproof.geometry._kernel import kernel
from mountproof.geometry._leaf_pairs import Room
from mountproof.geometry._pair_features import Corners, _gathered, _placed, _solved, _still
from mountproof.geometry._parts import Part
from mountproof.geometry._two_faces import EDGE_EDGE, VERTEX_FACE
from mountproof.geometry.policy import PARALLEL_SIN

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@kernel
def _cross(p: Floats, p1: Floats, q: Floats, q1: Floats, out: Floats) -> float:
    """Write the cross product of two edges; return its length over the product of theirs (0 where one has none)."""
    ux = p1[0] - p[0]
    uy = p1[1] - p[1]
    uz = p1[2] - p[2]
    vx = q1[0] - q[0]
    vy = q1[1] - q[1]
    vz = q1[2] - q[2]
    out[0] = uy * vz - uz * vy
    out[1] = uz * vx - ux * vz
    out[2] = ux * vy - uy * vx
    size = math.sqrt(out[0] * out[0] + out[1] * out[1] + out[2] * out[2])
    both = math.sqrt((ux * ux + uy * uy + uz * uz) * (vx * vx + vy * vy + vz * vz))
    return size / both if both > 0.0 else 0.0


@kernel
def _normal_of(
    part: Part, face: int, poses: Floats, k: int, lower: bool, points: Floats, c: Corners
) -> float:
    """Normal of a face, the lower's at its pose (not yet closed)."""
    for v in range(3):
        for x in range(3):
            points[0, x] = part.points[part.faces[face, v], x]
        if lower:
            _placed(points, 0, 0, poses, k, c.q)
        else:
            _still(points, 0, 0, c.q)
        for x in range(3):
            c.face[v, x] = c.q[x]
    return _normal(c.face, c.normal)


@kernel
def _direction(
    up: Part, low: Part, which: Ints, poses: Floats, k: int, touch: Floats, points: Floats, c: Corners
) -> bool:
    """Write the normal of a contact into ``c.normal``, chosen as ``contact.told`` chooses it; False where there is none."""
    kind = which[0]
    cos = math.cos(touch[0])
    sin = math.sin(touch[0])
    n = c.normal
    if kind == EDGE_EDGE:
        _gathered(up, low, kind, which[1], which[2], points, 0)
        _still(points, 0, 0, c.p)
        _still(points, 0, 3, c.p1)
        _placed(points, 0, 6, poses, k, c.q)
        _placed(points, 0, 9, poses, k, c.q1)
        _turned(c.q, cos, sin)
        _turned(c.q1, cos, sin)
        if _cross(c.p, c.p1, c.q, c.q1, n) > PARALLEL_SIN:
            return True
        upper = up.edge_face[which[1]]
        lower = low.edge_face[which[2]]
    elif kind == VERTEX_FACE:
        upper = up.vertex_face[which[1]]
        lower = which[2]
    else:
        upper = which[1]
        lower = low.vertex_face[which[2]]
    for turn in range(2):
        on_lower = (kind == VERTEX_FACE) == (turn == 0)
        if on_lower:
            size = _normal_of(low, lower, poses, k, True, points, c)
            _turned(n, cos, sin)
        else:
            size = _normal_of(up, upper, poses, k, False, points, c)
        if size > 0.0:
            return True
    return False


@kernel
def _rise(n: Floats, touch: Floats) -> float:
    """Cosine between a normal and the direction of closing."""
    size = math.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
    r = math.sqrt(touch[1] * touch[1] + touch[2] * touch[2])
    return float(abs(n[1] * touch[1] - n[0] * touch[2]) / (size * r))


@kernel
def _turned(p: Floats, cos: float, sin: float) -> None:
    x = p[0]
    y = p[1]
    p[0] = cos * x - sin * y
    p[1] = sin * x + cos * y


@kernel
def _finished(
    up: Part,
    low: Part,
    poses: Floats,
    first_rad: Floats,
    band_mm: float,
    tol: float,
    room: Room,
    closing: Floats,
    which: Ints,
    rise: Floats,
    radius: Floats,
) -> None:
    """Rise and radius of every contact in the band; what lies behind it is no number then."""
    touch = room.touch
    points = room.points
    c = room.corners
    for k in range(closing.shape[0]):
        if not closing[k] < np.inf:
            closing[k] = np.nan
            continue
        _gathered(up, low, which[k, 0], which[k, 1], which[k, 2], points, 0)
        _solved(points, 0, which[k, 0], poses, k, tol, 4.0, c.face, c.normal, c.p, c.p1, c.q, c.q1, touch)
        r = math.sqrt(touch[1] * touch[1] + touch[2] * touch[2])
        if (closing[k] - first_rad[k]) * r > band_mm:
            closing[k] = np.nan
            continue
        radius[k] = r
        # where neither has a direction that of the motion is all that is left
        known = _direction(up, low, which[k], poses, k, touch, points, c)
        rise[k] = _rise(c.normal, touch) if known else 1.0
