"""Kernels that send arcs about the hinge (r and z fixed, phi free) through the faces of one arch."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._features import _inside, _normal, _over
from mountproof.geometry._two_faces import _quarter_side2

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: A quotient of two sums is rounded a handful of times, a unit of 2^-53 each: this covers them a thousandfold.
_ROUNDED = 2.0**-40


@njit(cache=True, nogil=True, error_model="numpy")
def _row_of_face(
    ax: float,
    ay: float,
    bx: float,
    by: float,
    i: int,
    row: int,
    r0: float,
    cell: float,
    tol: float,
    lowest: bool,
    slope: Floats,
    face: Ints,
) -> None:
    """Enter the segment a-b (one plane of z through a face) into row ``row`` of the map."""
    dx = bx - ax
    dy = by - ay
    a = dx * dx + dy * dy
    b = ax * dx + ay * dy
    qa = ax * ax + ay * ay
    qb = bx * bx + by * by
    r_high = math.sqrt(max(qa, qb))
    q_low = min(qa, qb)
    if b < 0.0 and b > -a:  # the point nearest the axis lies between the ends
        q_low = max(qa - b * b / a, 0.0)
    first = max(math.ceil((math.sqrt(q_low) - tol - r0) / cell - 0.5), 0)
    last = min(math.floor((r_high + tol - r0) / cell - 0.5), slope.shape[0] - 1)
    if first > last:
        return
    wide = tol / math.sqrt(a) if a > 0.0 else 0.0
    # y / x runs one way along a straight line in front of the axis, so between its ends, the tolerance included, it
    # stays between theirs: a cell that knows better is not asked.
    t0 = (ay - wide * dy) / (ax - wide * dx)
    t1 = (by + wide * dy) / (bx + wide * dx)
    best = min(t0, t1) if lowest else max(t0, t1)
    best -= _ROUNDED * abs(best) if lowest else -_ROUNDED * abs(best)
    for column in range(first, last + 1):
        old = slope[column, row]
        if (lowest and best > old) or (not lowest and best < old):
            continue
        r = r0 + (column + 0.5) * cell
        c = qa - r * r
        lost = b * b - a * c
        if lost < 0.0:
            if lost < -2.0 * r * tol * a:
                continue
            lost = 0.0
        lost = math.sqrt(lost)
        root = -(b + lost) if b >= 0.0 else -(b - lost)
        for k in range(2):
            s = _over(root, a) if k == 0 else _over(c, root)
            if s >= -wide and s <= 1.0 + wide:
                t = (ay + s * dy) / (ax + s * dx)
                if (lowest and t < old) or (not lowest and t > old) or (t == old and i < face[column, row]):
                    slope[column, row] = t
                    face[column, row] = i
                    old = t


@njit(cache=True, nogil=True, error_model="numpy")
def _hidden(box: Floats, r0: float, z0: float, cell: float, tol: float, lowest: bool, slope: Floats) -> bool:
    """Whether every cell whose centre a leaf may cover already holds a face in front of all of that leaf."""
    front = math.tan(box[4]) if lowest else math.tan(box[5])
    front -= _ROUNDED * abs(front) if lowest else -_ROUNDED * abs(front)
    first = max(math.floor((math.sqrt(max(box[0], 0.0)) - tol - r0) / cell - 0.5), 0)
    last = min(math.ceil((math.sqrt(box[1]) + tol - r0) / cell - 0.5), slope.shape[0] - 1)
    low = max(math.floor((box[2] - tol - z0) / cell - 0.5), 0)
    high = min(math.ceil((box[3] + tol - z0) / cell - 0.5), slope.shape[1] - 1)
    for column in range(first, last + 1):
        for row in range(low, high + 1):
            old = slope[column, row]
            if (lowest and front <= old) or (not lowest and front >= old):
                return False
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def _front(
    vertices: Floats,
    faces: Ints,
    ids: Ints,
    starts: Ints,
    boxes: Floats,
    leaf_row: int,
    order: Ints,
    r0: float,
    z0: float,
    cell: float,
    tol: float,
    lowest: bool,
    slope: Floats,
    face: Ints,
) -> None:
    """Lowest (or highest) y / x over the faces on the arc through each cell's centre, and the face.

    ``slope`` comes filled with +inf (lowest) or -inf, ``face`` with -1. ``order``: the leaves, those in front first, so
    that most of what they hide is passed over whole. Each face is cut by the planes of z of the rows
    it spans, each cut by the circles of r of the columns it spans.
    """
    rows = slope.shape[1]
    for leaf in order:
        if _hidden(boxes[leaf_row + leaf], r0, z0, cell, tol, lowest, slope):
            continue
        for i in range(starts[leaf], starts[leaf + 1]):
            a = faces[i, 0]
            b = faces[i, 1]
            c = faces[i, 2]
            # corners in the order of z
            if vertices[a, 2] > vertices[b, 2]:
                a, b = b, a
            if vertices[b, 2] > vertices[c, 2]:
                b, c = c, b
                if vertices[a, 2] > vertices[b, 2]:
                    a, b = b, a
            za = vertices[a, 2]
            zc = vertices[c, 2]
            first = max(math.ceil((za - tol - z0) / cell - 0.5), 0)
            last = min(math.floor((zc + tol - z0) / cell - 0.5), rows - 1)
            if first > last:
                continue
            ax = vertices[a, 0]
            ay = vertices[a, 1]
            bx = vertices[b, 0]
            by = vertices[b, 1]
            cx = vertices[c, 0]
            cy = vertices[c, 1]
            number = ids[i]
            if zc - za <= tol:  # in the plane of its row: its sides are the first and the last to be met
                for row in range(first, last + 1):
                    _row_of_face(ax, ay, bx, by, number, row, r0, cell, tol, lowest, slope, face)
                    _row_of_face(bx, by, cx, cy, number, row, r0, cell, tol, lowest, slope, face)
                    _row_of_face(cx, cy, ax, ay, number, row, r0, cell, tol, lowest, slope, face)
                continue
            zb = vertices[b, 2]
            for row in range(first, last + 1):
                z = z0 + (row + 0.5) * cell
                w = min(max((z - za) / (zc - za), 0.0), 1.0)
                px = ax + w * (cx - ax)
                py = ay + w * (cy - ay)
                if z < zb:
                    w = max((z - za) / (zb - za), 0.0)
                    qx = ax + w * (bx - ax)
                    qy = ay + w * (by - ay)
                elif zc > zb:
                    w = min((z - zb) / (zc - zb), 1.0)
                    qx = bx + w * (cx - bx)
                    qy = by + w * (cy - by)
                else:
                    qx = bx
                    qy = by
                _row_of_face(px, py, qx, qy, number, row, r0, cell, tol, lowest, slope, face)


@njit(cache=True, nogil=True, error_model="numpy")
def _binned(
    polar: Floats, q_from: float, z_from: float, q_cell: float, z_cell: float, columns: int, rows: int
) -> tuple[Ints, Ints]:
    """Counting sort of points by cell of (r^2, z): first place of each cell, and the points in order."""
    n = polar.shape[0]
    starts = np.zeros(columns * rows + 1, dtype=np.int32)
    order = np.zeros(n, dtype=np.int32)
    for i in range(n):
        starts[_cell(polar[i, 0], polar[i, 1], q_from, z_from, q_cell, z_cell, columns, rows) + 1] += 1
    for k in range(columns * rows):
        starts[k + 1] += starts[k]
    fill = starts.copy()
    for i in range(n):
        k = _cell(polar[i, 0], polar[i, 1], q_from, z_from, q_cell, z_cell, columns, rows)
        order[fill[k]] = i
        fill[k] += 1
    return starts, order


@njit(cache=True, nogil=True, error_model="numpy")
def _cell(
    q: float, z: float, q_from: float, z_from: float, q_cell: float, z_cell: float, columns: int, rows: int
) -> int:
    u = min(max(int((q - q_from) / q_cell), 0), columns - 1)
    v = min(max(int((z - z_from) / z_cell), 0), rows - 1)
    return u * rows + v


@njit(cache=True, nogil=True, error_model="numpy")
def _points_on_faces(
    polar: Floats,
    starts: Ints,
    order: Ints,
    grid: Floats,
    columns: int,
    rows: int,
    vertices: Floats,
    face_polar: Floats,
    faces: Ints,
    tol: float,
    lowest: bool,
    slope: Floats,
) -> None:
    """Lowest (or highest) y / x over the faces on the arc through each point.

    ``grid``: q_from, z_from, q_cell, z_cell of the cells that hold the points. ``slope`` comes filled with +inf
    (lowest) or -inf.
    """
    q_from = grid[0]
    z_from = grid[1]
    q_cell = grid[2]
    z_cell = grid[3]
    tri = np.zeros((3, 3))
    n = np.zeros(3)
    for i in range(faces.shape[0]):
        a = faces[i, 0]
        b = faces[i, 1]
        c = faces[i, 2]
        q_high = max(face_polar[a, 0], max(face_polar[b, 0], face_polar[c, 0]))
        q_tol = 2.0 * tol * math.sqrt(q_high) + tol * tol
        q_high += q_tol
        t_low = min(face_polar[a, 2], min(face_polar[b, 2], face_polar[c, 2]))
        t_high = max(face_polar[a, 2], max(face_polar[b, 2], face_polar[c, 2]))
        q_low = min(face_polar[a, 0], min(face_polar[b, 0], face_polar[c, 0]))
        q_low -= _quarter_side2(q_low, q_high, t_high - t_low) + q_tol
        z_low = min(face_polar[a, 1], min(face_polar[b, 1], face_polar[c, 1])) - tol
        z_high = max(face_polar[a, 1], max(face_polar[b, 1], face_polar[c, 1])) + tol
        u0 = max(math.floor((q_low - q_from) / q_cell), 0)
        u1 = min(math.floor((q_high - q_from) / q_cell), columns - 1)
        v0 = max(math.floor((z_low - z_from) / z_cell), 0)
        v1 = min(math.floor((z_high - z_from) / z_cell), rows - 1)
        if u0 > u1 or v0 > v1:
            continue
        nn = -1.0
        ab = 0.0
        for u in range(u0, u1 + 1):
            for at in range(starts[u * rows + v0], starts[u * rows + v1 + 1]):
                k = order[at]
                q = polar[k, 0]
                z = polar[k, 1]
                if q < q_low or q > q_high or z < z_low or z > z_high:
                    continue
                if nn < 0.0:
                    for j in range(3):
                        v = faces[i, j]
                        tri[j, 0] = vertices[v, 0]
                        tri[j, 1] = vertices[v, 1]
                        tri[j, 2] = vertices[v, 2]
                    nn = _normal(tri, n)
                    ab = n[0] * n[0] + n[1] * n[1]
                if nn == 0.0 or ab == 0.0:
                    break
                root = math.sqrt(ab)
                distance = (n[0] * tri[0, 0] + n[1] * tri[0, 1] - n[2] * (z - tri[0, 2])) / root
                r = math.sqrt(q)
                half2 = (r - distance) * (r + distance)
                if half2 < 0.0:
                    if half2 < -2.0 * r * tol:
                        continue
                    half2 = 0.0
                half = math.sqrt(half2)
                for side in range(2):
                    h = half if side == 0 else -half
                    px = (distance * n[0] - h * n[1]) / root
                    py = (distance * n[1] + h * n[0]) / root
                    if px <= 0.0:
                        continue
                    t = py / px
                    nearer = t < slope[k] if lowest else t > slope[k]
                    if nearer and _inside(tri, n, nn, px, py, z, tol):
                        slope[k] = t
