"""Kernels that sort the faces of one arch by (r^2, z) and bound them in boxes of (r^2, z, phi).

Box columns: r^2 from, to (mm2); z from, to (mm); phi from, to (rad). Boxes lie in a binary heap: node 1 is
the root, 2 k and 2 k + 1 are the halves of node k, leaves fill the last row in order; a missing leaf is an
empty box (from > to). With x > 0, phi = atan(y / x) grows with y / x, and over a flat triangle both
y / x and z have their extremes at corners (their level sets are straight lines). r^2 is convex, so only its
largest value must be at a corner; a triangle with x > 0 holds no point of the axis, so its nearest point lies
on an edge, at most half a side below its ends: least r^2 >= least corner r^2 - longest side^2 / 4.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Faces in one leaf: small enough that a pair of leaves costs microseconds, large enough that the tree is short.
LEAF_FACES = 32

_LEVELS = 12


@njit(cache=True, nogil=True)
def _polar(vertices: Floats, polar: Floats) -> tuple[float, float]:
    """Write (r^2, z, y / x) for each vertex; return the least x and the largest |p|^2 (NaN if any is NaN)."""
    least_x = np.inf
    reach2 = 0.0
    total = 0.0
    for i in range(vertices.shape[0]):
        x = vertices[i, 0]
        y = vertices[i, 1]
        z = vertices[i, 2]
        q = x * x + y * y
        polar[i, 0] = q
        polar[i, 1] = z
        polar[i, 2] = y / x if x > 0.0 else 0.0
        d2 = q + z * z
        total += d2
        if x < least_x:
            least_x = x
        if d2 > reach2:
            reach2 = d2
    if not math.isfinite(total):
        return math.nan, math.nan
    return least_x, reach2


@njit(cache=True, nogil=True)
def _turned(rest: Floats, pose: Floats, out: Floats) -> None:
    """Write ``pose`` (4x4) applied to every row of ``rest``."""
    for i in range(rest.shape[0]):
        x = rest[i, 0]
        y = rest[i, 1]
        z = rest[i, 2]
        out[i, 0] = pose[0, 0] * x + pose[0, 1] * y + pose[0, 2] * z + pose[0, 3]
        out[i, 1] = pose[1, 0] * x + pose[1, 1] * y + pose[1, 2] * z + pose[1, 3]
        out[i, 2] = pose[2, 0] * x + pose[2, 1] * y + pose[2, 2] * z + pose[2, 3]


@njit(cache=True, nogil=True)
def _spread_bits(k: int) -> int:
    """Put a zero between the ten low bits of ``k``."""
    k = (k | (k << 8)) & 0x00FF00FF
    k = (k | (k << 4)) & 0x0F0F0F0F
    k = (k | (k << 2)) & 0x33333333
    return (k | (k << 1)) & 0x55555555


@njit(cache=True, nogil=True)
def _mean_extent(polar: Floats, faces: Ints, step: int) -> tuple[float, float, float, float, float, float]:
    """Sample every ``step``-th face: mean extent in r^2 and z, and the range of both over what was seen."""
    dq = 0.0
    dz = 0.0
    n = 0
    q_from = np.inf
    q_to = -np.inf
    z_from = np.inf
    z_to = -np.inf
    for i in range(0, faces.shape[0], step):
        a = faces[i, 0]
        b = faces[i, 1]
        c = faces[i, 2]
        q0 = min(polar[a, 0], polar[b, 0], polar[c, 0])
        q1 = max(polar[a, 0], polar[b, 0], polar[c, 0])
        z0 = min(polar[a, 1], polar[b, 1], polar[c, 1])
        z1 = max(polar[a, 1], polar[b, 1], polar[c, 1])
        dq += q1 - q0
        dz += z1 - z0
        q_from = min(q_from, q0)
        q_to = max(q_to, q1)
        z_from = min(z_from, z0)
        z_to = max(z_to, z1)
        n += 1
    return dq / n, dz / n, q_from, q_to, z_from, z_to


@njit(cache=True, nogil=True)
def _sorted_faces(
    polar: Floats,
    faces: Ints,
    q_from: float,
    z_from: float,
    q_cell: float,
    z_cell: float,
    bits: int,
    order: Ints,
    sorted_faces: Ints,
    starts: Ints,
) -> int:
    """Counting sort of the faces by cell; small faces in fine cells, large ones in coarser grids behind them.

    Cells of one grid follow each other along a Z-curve, so that neighbours in the order are neighbours in
    (r^2, z). Writes the order, the faces in it and the first face of each leaf; returns the number of leaves,
    or -1 when a face names a vertex that is not there.
    """
    m = faces.shape[0]
    n = polar.shape[0]
    side = 1 << bits
    offsets = np.zeros(_LEVELS + 1, dtype=np.int64)
    for level in range(_LEVELS):
        left = max(bits - level, 0)
        offsets[level + 1] = offsets[level] + (1 << (2 * left))
    keys = np.zeros(m, dtype=np.int32)
    counts = np.zeros(offsets[_LEVELS] + 1, dtype=np.int32)
    q_scale = 1.0 / q_cell
    z_scale = 1.0 / z_cell
    for i in range(m):
        a = faces[i, 0]
        b = faces[i, 1]
        c = faces[i, 2]
        if min(a, b, c) < 0 or max(a, b, c) >= n:
            return -1
        qa, qb, qc = polar[a, 0], polar[b, 0], polar[c, 0]
        za, zb, zc = polar[a, 1], polar[b, 1], polar[c, 1]
        q0 = min(qa, min(qb, qc))
        q1 = max(qa, max(qb, qc))
        z0 = min(za, min(zb, zc))
        z1 = max(za, max(zb, zc))
        wide = max((q1 - q0) * q_scale, (z1 - z0) * z_scale) * 0.5
        level = 0
        while wide > 1.0 and level < _LEVELS - 1:
            wide *= 0.5
            level += 1
        u = min(max(int((0.5 * (q0 + q1) - q_from) * q_scale), 0), side - 1) >> level
        v = min(max(int((0.5 * (z0 + z1) - z_from) * z_scale), 0), side - 1) >> level
        key = offsets[level] + (_spread_bits(u) | (_spread_bits(v) << 1))
        keys[i] = key
        counts[key] += 1
    leaves = 0
    at = 0
    for k in range(counts.shape[0]):
        inside = counts[k]
        counts[k] = at
        first = at
        at += inside
        while first < at:
            starts[leaves] = first
            leaves += 1
            first += LEAF_FACES
    starts[leaves] = m
    for i in range(m):
        k = keys[i]
        j = counts[k]
        counts[k] = j + 1
        order[j] = i
        sorted_faces[j, 0] = faces[i, 0]
        sorted_faces[j, 1] = faces[i, 1]
        sorted_faces[j, 2] = faces[i, 2]
    return leaves


@njit(cache=True, nogil=True)
def _boxes(polar: Floats, sorted_faces: Ints, starts: Ints, leaves: int, row: int, boxes: Floats) -> None:
    """Fill the heap of boxes: ``row`` (a power of two, at least ``leaves``) leaf boxes and all above them."""
    for leaf in range(row):
        k = row + leaf
        if leaf >= leaves:
            boxes[k, 0] = np.inf
            boxes[k, 1] = -np.inf
            boxes[k, 2] = np.inf
            boxes[k, 3] = -np.inf
            boxes[k, 4] = np.inf
            boxes[k, 5] = -np.inf
            continue
        q_low = np.inf
        q_high = -np.inf
        z_low = np.inf
        z_high = -np.inf
        t_low = np.inf
        t_high = -np.inf
        for i in range(starts[leaf], starts[leaf + 1]):
            a = sorted_faces[i, 0]
            b = sorted_faces[i, 1]
            c = sorted_faces[i, 2]
            qa, qb, qc = polar[a, 0], polar[b, 0], polar[c, 0]
            za, zb, zc = polar[a, 1], polar[b, 1], polar[c, 1]
            ta, tb, tc = polar[a, 2], polar[b, 2], polar[c, 2]
            q0 = min(qa, min(qb, qc))
            q1 = max(qa, max(qb, qc))
            t0 = min(ta, min(tb, tc))
            t1 = max(ta, max(tb, tc))
            q0 -= _quarter_side2(q0, q1, t0, t1)
            q_low = min(q_low, q0)
            q_high = max(q_high, q1)
            z_low = min(z_low, min(za, min(zb, zc)))
            z_high = max(z_high, max(za, max(zb, zc)))
            t_low = min(t_low, t0)
            t_high = max(t_high, t1)
        boxes[k, 0] = q_low
        boxes[k, 1] = q_high
        boxes[k, 2] = z_low
        boxes[k, 3] = z_high
        boxes[k, 4] = math.atan(t_low)
        boxes[k, 5] = math.atan(t_high)
    for k in range(row - 1, 0, -1):
        for j in range(0, 6, 2):
            boxes[k, j] = min(boxes[2 * k, j], boxes[2 * k + 1, j])
            boxes[k, j + 1] = max(boxes[2 * k, j + 1], boxes[2 * k + 1, j + 1])


@njit(cache=True, nogil=True)
def _quarter_side2(q0: float, q1: float, t0: float, t1: float) -> float:
    """A bound on a quarter of the longest side squared, seen along the axis, from the ranges of r^2 and y / x.

    Between radii r0 <= r1 and angles b apart, a side squared is at most (r1 - r0)^2 + 2 r0 r1 (1 - cos b)
    <= (r1 - r0)^2 + r0 r1 b^2, with b <= t1 - t0 and (r1 - r0)^2 = (q1 - q0)^2 / (r1 + r0)^2
    <= (q1 - q0)^2 / q1.
    """
    b = t1 - t0
    d = q1 - q0
    return 0.25 * (d * d / q1 + q1 * b * b)
