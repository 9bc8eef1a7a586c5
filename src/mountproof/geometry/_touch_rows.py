"""Kernel that puts pairs of faces that meet into gaps, places and normals."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._two_faces import EDGE_EDGE, VERTEX_FACE
from mountproof.geometry.policy import PARALLEL_SIN

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]


@njit(cache=True, nogil=True, error_model="numpy")
def _cross(p: Floats, p1: Floats, q: Floats, q1: Floats, out: Floats) -> float:
    """Write the cross product of two edges; return its squared length over those of both (nothing where one has none)."""
    ux = p1[0] - p[0]
    uy = p1[1] - p[1]
    uz = p1[2] - p[2]
    vx = q1[0] - q[0]
    vy = q1[1] - q[1]
    vz = q1[2] - q[2]
    out[0] = uy * vz - uz * vy
    out[1] = uz * vx - ux * vz
    out[2] = ux * vy - uy * vx
    size2 = out[0] * out[0] + out[1] * out[1] + out[2] * out[2]
    both2 = (ux * ux + uy * uy + uz * uz) * (vx * vx + vy * vy + vz * vz)
    return size2 / both2 if both2 > 0.0 else 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def _corners_at(rest: Floats, faces: Ints, f: int, pose: Floats, angle: float, out: Floats) -> None:
    """The corners of a face at a pose, then turned about z."""
    c = math.cos(angle)
    s = math.sin(angle)
    for k in range(3):
        v = faces[f, k]
        x = pose[0, 0] * rest[v, 0] + pose[0, 1] * rest[v, 1] + pose[0, 2] * rest[v, 2] + pose[0, 3]
        y = pose[1, 0] * rest[v, 0] + pose[1, 1] * rest[v, 1] + pose[1, 2] * rest[v, 2] + pose[1, 3]
        out[k, 0] = c * x - s * y
        out[k, 1] = s * x + c * y
        out[k, 2] = pose[2, 0] * rest[v, 0] + pose[2, 1] * rest[v, 1] + pose[2, 2] * rest[v, 2] + pose[2, 3]


@njit(cache=True, nogil=True, error_model="numpy")
def _rows(
    up_rest: Floats,
    up_faces: Ints,
    up_pose: Floats,
    low_rest: Floats,
    low_faces: Ints,
    low_pose: Floats,
    found: Floats,
    which: Longs,
    closed: float,
    out: Floats,
) -> None:
    """Write for each pair (``found``, ``which`` as the searches write them) what is true once the lower has closed by an angle.

    ``out`` (n, 8): gap along the normal (mm), place of the lower (3), normal (3) chosen as ``contact.told`` chooses it and
    facing against closing, gap along closure (mm).
    """
    up = np.zeros((3, 3))
    low = np.zeros((3, 3))
    n = np.zeros(3)
    for i in range(found.shape[0]):
        _corners_at(up_rest, up_faces, which[i, 0], up_pose, 0.0, up)
        _corners_at(low_rest, low_faces, which[i, 1], low_pose, found[i, 0], low)
        kind = which[i, 2]
        ready = False
        if kind == EDGE_EDGE:
            a = which[i, 3]
            b = which[i, 4]
            ready = _cross(up[a], up[(a + 1) % 3], low[b], low[(b + 1) % 3], n) > PARALLEL_SIN * PARALLEL_SIN
        for turn in range(2):
            if not ready:
                face = low if (kind == VERTEX_FACE) == (turn == 0) else up
                _cross(face[0], face[1], face[0], face[2], n)
                ready = n[0] != 0.0 or n[1] != 0.0 or n[2] != 0.0
        x = found[i, 1]
        y = found[i, 2]
        r = math.sqrt(x * x + y * y)
        ax = y / max(r, 1e-300)
        ay = -x / max(r, 1e-300)
        if not ready:  # neither has a direction: that of closing is all that is left
            n[0] = ax
            n[1] = ay
            n[2] = 0.0
        size = math.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
        if n[0] * ax + n[1] * ay < 0.0:
            size = -size
        angle = found[i, 0] - closed
        c = math.cos(angle)
        s = math.sin(angle)
        out[i, 1] = c * x + s * y
        out[i, 2] = c * y - s * x
        out[i, 3] = found[i, 3]
        for k in range(3):
            out[i, 4 + k] = n[k] / size
        out[i, 7] = angle * r
        out[i, 0] = out[i, 7] * (out[i, 4] * ax + out[i, 5] * ay)
