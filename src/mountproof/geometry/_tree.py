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

from mountproof.geometry._two_faces import _quarter_side2

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Faces in one leaf: small enough that a pair of leaves costs microseconds, large enough that the tree is short.
LEAF_FACES = 16

_LEVELS = 12

#: Keeps a range of nothing from dividing by it.
_TINY = float(np.finfo(np.float64).tiny)


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
            q0 -= _quarter_side2(q0, q1, t1 - t0)
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
def _limits(
    vertices: Floats, sorted_faces: Ints, starts: Ints, leaves: int, row: int, limits: Floats
) -> None:
    """Fill a heap of boxes in x, y, z: centre (three numbers), half size (three); an empty place has size -1.

    Such a box can be carried along by a pose without looking at its faces again.
    """
    for leaf in range(row):
        k = row + leaf
        if leaf >= leaves:
            limits[k, 3] = -1.0
            continue
        x0 = y0 = z0 = np.inf
        x1 = y1 = z1 = -np.inf
        for i in range(starts[leaf], starts[leaf + 1]):
            for j in range(3):
                v = sorted_faces[i, j]
                x = vertices[v, 0]
                y = vertices[v, 1]
                z = vertices[v, 2]
                x0 = min(x0, x)
                x1 = max(x1, x)
                y0 = min(y0, y)
                y1 = max(y1, y)
                z0 = min(z0, z)
                z1 = max(z1, z)
        limits[k, 0] = 0.5 * (x0 + x1)
        limits[k, 1] = 0.5 * (y0 + y1)
        limits[k, 2] = 0.5 * (z0 + z1)
        limits[k, 3] = 0.5 * (x1 - x0)
        limits[k, 4] = 0.5 * (y1 - y0)
        limits[k, 5] = 0.5 * (z1 - z0)
    for k in range(row - 1, 0, -1):
        a = limits[2 * k]
        b = limits[2 * k + 1]
        if b[3] < 0.0:
            limits[k] = a
            continue
        for j in range(3):
            low = min(a[j] - a[j + 3], b[j] - b[j + 3])
            high = max(a[j] + a[j + 3], b[j] + b[j + 3])
            limits[k, j] = 0.5 * (low + high)
            limits[k, j + 3] = 0.5 * (high - low)


@njit(cache=True, nogil=True)
def _carried(limit: Floats, pose: Floats, tol: float, box: Floats) -> None:
    """Write the box of (r^2, z, phi) around a box in x, y, z carried by ``pose`` (widened by ``tol``, mm).

    Nobody asks how low the lower reaches: its least phi is left at -inf.
    """
    if limit[3] < 0.0:
        box[0] = np.inf
        box[1] = -np.inf
        box[2] = np.inf
        box[3] = -np.inf
        box[4] = np.inf
        box[5] = -np.inf
        return
    cx, cy, cz = limit[0], limit[1], limit[2]
    hx, hy, hz = limit[3], limit[4], limit[5]
    x = pose[0, 0] * cx + pose[0, 1] * cy + pose[0, 2] * cz + pose[0, 3]
    y = pose[1, 0] * cx + pose[1, 1] * cy + pose[1, 2] * cz + pose[1, 3]
    z = pose[2, 0] * cx + pose[2, 1] * cy + pose[2, 2] * cz + pose[2, 3]
    dx = abs(pose[0, 0]) * hx + abs(pose[0, 1]) * hy + abs(pose[0, 2]) * hz + tol
    dy = abs(pose[1, 0]) * hx + abs(pose[1, 1]) * hy + abs(pose[1, 2]) * hz + tol
    dz = abs(pose[2, 0]) * hx + abs(pose[2, 1]) * hy + abs(pose[2, 2]) * hz + tol
    x0 = max(x - dx, 0.0)
    x1 = x + dx
    y0 = y - dy
    y1 = y + dy
    near_y = 0.0 if y0 <= 0.0 <= y1 else min(abs(y0), abs(y1))
    far_y = max(abs(y0), abs(y1))
    box[0] = x0 * x0 + near_y * near_y
    box[1] = x1 * x1 + far_y * far_y
    box[2] = z - dz
    box[3] = z + dz
    box[4] = -np.inf
    box[5] = math.atan2(y1, x0 if y1 > 0.0 else x1)


@njit(cache=True, nogil=True)
def _floor_scale(root: Floats, side: int, scale: Floats) -> None:
    """Cells of level 0 per unit of r^2 and of z."""
    scale[0] = side / max(root[1] - root[0], _TINY)
    scale[1] = side / max(root[3] - root[2], _TINY)


@njit(cache=True, nogil=True)
def _floor(boxes: Floats, row: int, leaves: int, side: int, floor: Floats) -> None:
    """Fill a pyramid of the lowest phi over cells of (r^2, z): from each leaf's box into every cell it touches.

    Level 0 has ``side`` x ``side`` cells (a power of two) over the root's box; each next level halves the side and keeps
    the least of four; ``floor`` holds the levels one behind the other, filled with +inf.
    """
    q_from = boxes[1, 0]
    z_from = boxes[1, 2]
    scale = np.zeros(2)
    _floor_scale(boxes[1], side, scale)
    for leaf in range(leaves):
        box = boxes[row + leaf]
        i0 = min(int((box[0] - q_from) * scale[0]), side - 1)
        i1 = min(int((box[1] - q_from) * scale[0]), side - 1)
        j0 = min(int((box[2] - z_from) * scale[1]), side - 1)
        j1 = min(int((box[3] - z_from) * scale[1]), side - 1)
        for i in range(i0, i1 + 1):
            for j in range(j0, j1 + 1):
                k = i * side + j
                if box[4] < floor[k]:
                    floor[k] = box[4]
    below = 0
    while side > 1:
        half = side >> 1
        at = below + side * side
        for i in range(half):
            for j in range(half):
                k = below + 2 * i * side + 2 * j
                floor[at + i * half + j] = min(
                    min(floor[k], floor[k + 1]), min(floor[k + side], floor[k + side + 1])
                )
        below = at
        side = half


@njit(cache=True, nogil=True)
def _lowest(
    floor: Floats, side: int, root: Floats, scale: Floats, box: Floats, q_tol: float, z_tol: float
) -> float:
    """A lower bound on phi of all faces of the pyramid's arch that ``box`` meets in (r^2, z); infinite: it meets none."""
    if (
        box[0] > root[1] + q_tol
        or box[1] < root[0] - q_tol
        or box[2] > root[3] + z_tol
        or box[3] < root[2] - z_tol
        or box[0] > box[1]
    ):
        return np.inf
    # A cell's border is computed with the same expression for leaf and box, and the tolerance is added outwards,
    # so a box never misses a cell that a leaf within the tolerance was entered into.
    i0 = min(max(int((box[0] - q_tol - root[0]) * scale[0]), 0), side - 1)
    i1 = min(max(int((box[1] + q_tol - root[0]) * scale[0]), 0), side - 1)
    j0 = min(max(int((box[2] - z_tol - root[2]) * scale[1]), 0), side - 1)
    j1 = min(max(int((box[3] + z_tol - root[2]) * scale[1]), 0), side - 1)
    at = 0
    while i1 - i0 > 2 or j1 - j0 > 2:
        at += side * side
        side >>= 1
        i0 >>= 1
        i1 >>= 1
        j0 >>= 1
        j1 >>= 1
    least = np.inf
    for i in range(i0, i1 + 1):
        for j in range(j0, j1 + 1):
            phi = floor[at + i * side + j]
            if phi < least:
                least = phi
    return least
