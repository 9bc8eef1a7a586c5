"""Kernels for blocks of faces of two arches: what a pose makes of them, and bounds on how far they lie apart."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._two_faces import _quarter_side2

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


class Blocks(NamedTuple):
    """Faces in an order that keeps neighbours in space together: corners (m, 3, 3) at rest, numbers (m,), and a heap of boxes
    (2 row, 6) over four faces each (``_nearest``)."""

    corners: Floats
    ids: Ints
    boxes: Floats
    row: int


class Faces(NamedTuple):
    """Faces of one arch at a pose, made when they are first met there.

    ``corners`` (m, 3, 3); ``boxes`` (m, 6) in x, y, z; ``polar`` (m, 3, 3) and ``rings`` (m, 6): (r^2, z, phi) of the corners
    and the box around them as in ``_tree``; ``boxed``, ``ringed`` (m,): the stamp of the pose that they were made for.
    """

    corners: Floats
    boxes: Floats
    polar: Floats
    rings: Floats
    boxed: Ints
    ringed: Ints


class Placed(NamedTuple):
    """The lower at a pose: its faces, its blocks' boxes (2 row, 6), the stamp that each was ``made`` for, and the stamp."""

    pose: Floats
    faces: Faces
    boxes: Floats
    made: Ints
    stamp: int


@njit(cache=True, nogil=True, error_model="numpy")
def _box_gap2(a: Floats, i: int, b: Floats, j: int) -> float:
    gap2 = 0.0
    for k in range(3):
        d = max(a[i, k] - b[j, k + 3], b[j, k] - a[i, k + 3])
        if d > 0.0:
            gap2 += d * d
    return gap2


@njit(cache=True, nogil=True, error_model="numpy")
def _swept_gap2(a: Floats, i: int, b: Floats, c: Floats, j: int) -> float:
    """As ``_box_gap2`` for the box around two places of one block."""
    gap2 = 0.0
    for k in range(3):
        d = max(a[i, k] - max(b[j, k + 3], c[j, k + 3]), min(b[j, k], c[j, k]) - a[i, k + 3])
        if d > 0.0:
            gap2 += d * d
    return gap2


@njit(cache=True, nogil=True, error_model="numpy")
def _slab(corners: Floats, first: int, last: int, out: Floats, row: int) -> None:
    """The slab across the mean normal of some faces that holds them: normal (3), from, to, and that it has been made."""
    x = y = z = 0.0
    for i in range(first, last):
        ux = corners[i, 1, 0] - corners[i, 0, 0]
        uy = corners[i, 1, 1] - corners[i, 0, 1]
        uz = corners[i, 1, 2] - corners[i, 0, 2]
        vx = corners[i, 2, 0] - corners[i, 0, 0]
        vy = corners[i, 2, 1] - corners[i, 0, 1]
        vz = corners[i, 2, 2] - corners[i, 0, 2]
        x += uy * vz - uz * vy
        y += uz * vx - ux * vz
        z += ux * vy - uy * vx
    size = math.sqrt(x * x + y * y + z * z)
    if size > 0.0:
        x, y, z = x / size, y / size, z / size
    low = np.inf
    high = -np.inf
    for i in range(first, last):
        for k in range(3):
            h = x * corners[i, k, 0] + y * corners[i, k, 1] + z * corners[i, k, 2]
            low = min(low, h)
            high = max(high, h)
    out[row, 0] = x
    out[row, 1] = y
    out[row, 2] = z
    out[row, 3] = low
    out[row, 4] = high
    out[row, 5] = 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def _slab_gap(slabs: Floats, row: int, corners: Floats, first: int, last: int) -> float:
    """How far some faces lie above a slab, or below it (negative); nothing when they reach into it."""
    x, y, z = slabs[row, 0], slabs[row, 1], slabs[row, 2]
    low = np.inf
    high = -np.inf
    for i in range(first, last):
        for k in range(3):
            h = x * corners[i, k, 0] + y * corners[i, k, 1] + z * corners[i, k, 2]
            low = h if h < low else low
            high = h if h > high else high
    return float(max(low - slabs[row, 4], 0.0) + min(high - slabs[row, 3], 0.0))


@njit(cache=True, nogil=True, error_model="numpy")
def _heights(tri: Floats, i: int, other: Floats, j: int, out: Floats) -> None:
    """Least and largest height of one face over the plane of another; nothing where that has no direction."""
    ux = tri[i, 1, 0] - tri[i, 0, 0]
    uy = tri[i, 1, 1] - tri[i, 0, 1]
    uz = tri[i, 1, 2] - tri[i, 0, 2]
    vx = tri[i, 2, 0] - tri[i, 0, 0]
    vy = tri[i, 2, 1] - tri[i, 0, 1]
    vz = tri[i, 2, 2] - tri[i, 0, 2]
    nx = uy * vz - uz * vy
    ny = uz * vx - ux * vz
    nz = ux * vy - uy * vx
    low = np.inf
    high = -np.inf
    for k in range(3):
        h = (
            nx * (other[j, k, 0] - tri[i, 0, 0])
            + ny * (other[j, k, 1] - tri[i, 0, 1])
            + nz * (other[j, k, 2] - tri[i, 0, 2])
        )
        low = h if h < low else low
        high = h if h > high else high
    size2 = nx * nx + ny * ny + nz * nz
    # a face without area has no plane: heights of nothing keep nothing apart
    size = 1.0 / math.sqrt(size2) if size2 > 0.0 else 0.0
    out[0] = low * size
    out[1] = high * size


@njit(cache=True, nogil=True, error_model="numpy")
def _carried_box(boxes: Floats, node: int, pose: Floats, out: Floats) -> None:
    """The box around a box that is carried by a pose."""
    for k in range(3):
        middle = pose[k, 3]
        half = 0.0
        for c in range(3):
            middle += pose[k, c] * 0.5 * (boxes[node, c + 3] + boxes[node, c])
            half += abs(pose[k, c]) * 0.5 * (boxes[node, c + 3] - boxes[node, c])
        out[node, k] = middle - half
        out[node, k + 3] = middle + half


@njit(cache=True, nogil=True, error_model="numpy")
def _carried_face(rest: Floats, f: int, pose: Floats, corners: Floats) -> None:
    for k in range(3):
        x = rest[f, k, 0]
        y = rest[f, k, 1]
        z = rest[f, k, 2]
        for c in range(3):
            corners[f, k, c] = pose[c, 0] * x + pose[c, 1] * y + pose[c, 2] * z + pose[c, 3]


@njit(cache=True, nogil=True, error_model="numpy")
def _boxed(p: Floats, f: int, boxes: Floats) -> None:
    for c in range(3):
        boxes[f, c] = min(p[f, 0, c], min(p[f, 1, c], p[f, 2, c]))
        boxes[f, c + 3] = max(p[f, 0, c], max(p[f, 1, c], p[f, 2, c]))


@njit(cache=True, nogil=True, error_model="numpy")
def _ringed(p: Floats, f: int, polar: Floats, rings: Floats) -> None:
    for k in range(3):
        x = p[f, k, 0]
        y = p[f, k, 1]
        polar[f, k, 0] = x * x + y * y
        polar[f, k, 1] = p[f, k, 2]
        polar[f, k, 2] = math.atan(y / x) if x > 0.0 else math.atan2(y, x)
    for c in range(3):
        rings[f, 2 * c] = min(polar[f, 0, c], min(polar[f, 1, c], polar[f, 2, c]))
        rings[f, 2 * c + 1] = max(polar[f, 0, c], max(polar[f, 1, c], polar[f, 2, c]))
    rings[f, 0] -= _quarter_side2(rings[f, 0], rings[f, 1], rings[f, 5] - rings[f, 4])
