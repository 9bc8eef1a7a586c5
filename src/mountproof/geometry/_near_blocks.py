"""Kernels for blocks of faces of two arches: what a pose makes of them, and bounds on how far they lie apart."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._features import _normal
from mountproof.geometry._kernel import kernel
from mountproof.geometry._nearest import LEAF_FACES
from mountproof.geometry._two_faces import _quarter_side2

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Blocks of more faces are too round for a brick to lean with them.
_MOST_FACES = 256


class Blocks(NamedTuple):
    """Faces in an order that keeps neighbours in space together: corners (m, 3, 3) at rest, numbers (m,), and a heap of boxes
    (2 row, 6) over four faces each (``_nearest``), with the brick (2 row, 15) of each: its three directions, the mean
    normal of its faces first, its middle and half its size along each. ``owned`` (m,): which corners and edges are a
    face's to ask, so that each is asked once (``_owned``)."""

    corners: Floats
    ids: Ints
    boxes: Floats
    bricks: Floats
    owned: Ints
    row: int


class Rows(NamedTuple):
    """Which of many things have been met, each with a row of its own in the order of meeting: one more than the row, nothing for
    what has not been met (n,), and how many have. What is kept by rows lies close together, however many there are."""

    after: Ints
    met: Ints


class Faces(NamedTuple):
    """Faces of one arch at a pose, four rows for each leaf that has been met, made for a pose when they are met there.

    ``corners`` (m, 3, 3); ``boxes`` (m, 6) in x, y, z; ``polar`` (m, 3, 3) and ``rings`` (m, 6): (r^2, z, phi) of the corners
    and the box around them as in ``_tree``; ``numbers`` (m,) of the faces, and what of them is ``owned`` (m,);
    ``boxed`` for each leaf, ``ringed`` for each face: the stamp of the pose that they were made for.
    """

    corners: Floats
    boxes: Floats
    polar: Floats
    rings: Floats
    numbers: Ints
    owned: Ints
    boxed: Ints
    ringed: Ints


class Placed(NamedTuple):
    """The lower at a pose: its faces, its blocks' bricks (n, 12), the stamp that each was ``made`` for, and the stamp.

    Rows of faces and bricks are those of ``leaves`` and ``nodes``.
    """

    pose: Floats
    faces: Faces
    bricks: Floats
    made: Ints
    leaves: Rows
    nodes: Rows
    stamp: int


@kernel
def _row(after: Ints, met: Ints, k: int) -> int:
    """The row of a thing, given out when it is first met."""
    if after[k] == 0:
        met[0] += 1
        after[k] = met[0]
    return int(after[k] - 1)


@kernel
def _box_gap2(a: Floats, i: int, b: Floats, j: int) -> float:
    gap2 = 0.0
    for k in range(3):
        d = max(a[i, k] - b[j, k + 3], b[j, k] - a[i, k + 3])
        if d > 0.0:
            gap2 += d * d
    return gap2


@kernel
def _swept_gap2(a: Floats, i: int, b: Floats, c: Floats, j: int) -> float:
    """As ``_box_gap2`` for the box around two places of one block."""
    gap2 = 0.0
    for k in range(3):
        d = max(a[i, k] - max(b[j, k + 3], c[j, k + 3]), min(b[j, k], c[j, k]) - a[i, k + 3])
        if d > 0.0:
            gap2 += d * d
    return gap2


@kernel
def _slab_gap(bricks: Floats, node: int, corners: Floats, first: int, last: int) -> float:
    """How far some faces lie above a brick along its normal, or below it (negative); nothing when they reach into it."""
    x, y, z = bricks[node, 0], bricks[node, 1], bricks[node, 2]
    middle = x * bricks[node, 9] + y * bricks[node, 10] + z * bricks[node, 11]
    low = np.inf
    high = -np.inf
    for i in range(first, last):
        for k in range(3):
            h = x * corners[i, k, 0] + y * corners[i, k, 1] + z * corners[i, k, 2]
            low = h if h < low else low
            high = h if h > high else high
    half = bricks[node, 12]
    return float(max(low - middle - half, 0.0) + min(high - middle + half, 0.0))


@kernel
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


@kernel
def _owned(faces: Ints, first: Ints, next_edge: Ints, seen: Ints, out: Ints) -> None:
    """Give every corner and every edge to the first face that has it: bit c is corner c, bit 3 + c the edge from c to the next.

    ``first`` (n,), ``seen`` (n,): nothing for each vertex; ``next_edge`` (3 m,): room. Edges hang in a chain on the lower of
    their two vertices.
    """
    for f in range(faces.shape[0]):
        mine = 0
        for c in range(3):
            v = faces[f, c]
            if seen[v] == 0:
                seen[v] = 1
                mine |= 1 << c
            w = faces[f, (c + 1) % 3]
            low = min(v, w)
            high = max(v, w)
            edge = first[low]
            while edge > 0:
                g = (edge - 1) // 3
                k = (edge - 1) % 3
                if max(faces[g, k], faces[g, (k + 1) % 3]) == high:
                    break
                edge = next_edge[edge - 1]
            if edge == 0:
                mine |= 8 << c
                next_edge[3 * f + c] = first[low]
                first[low] = 3 * f + c + 1
        out[f] = mine


@kernel
def _bricks(corners: Floats, boxes: Floats, row: int, out: Floats) -> None:
    """Write the brick of each block: the mean normal of its faces, two directions across it, middle and halves.

    Blocks of more than ``_MOST_FACES`` get their box as it is: no one direction fits them.
    """
    faces = corners.shape[0]
    for node in range(2 * row - 1, 0, -1):
        if boxes[node, 0] > boxes[node, 3]:
            continue
        leaf = node
        leaves = 1
        while leaf < row:
            leaf *= 2
            leaves *= 2
        first = (leaf - row) * LEAF_FACES
        last = min(first + leaves * LEAF_FACES, faces)
        x = y = z = 0.0
        if last - first <= _MOST_FACES:
            for i in range(first, last):
                _normal(corners[i], out[node])
                x += out[node, 0]
                y += out[node, 1]
                z += out[node, 2]
        size = math.sqrt(x * x + y * y + z * z)
        if not size > 0.0:
            for k in range(3):
                for c in range(3):
                    out[node, 3 * k + c] = 1.0 if k == c else 0.0
                out[node, 9 + k] = 0.5 * (boxes[node, k] + boxes[node, k + 3])
                out[node, 12 + k] = 0.5 * (boxes[node, k + 3] - boxes[node, k])
            continue
        x, y, z = x / size, y / size, z / size
        # along: as near to the axis that the normal leans from most as is across it
        if abs(x) <= abs(y) and abs(x) <= abs(z):
            tx, ty, tz = 1.0 - x * x, -x * y, -x * z
        elif abs(y) <= abs(z):
            tx, ty, tz = -y * x, 1.0 - y * y, -y * z
        else:
            tx, ty, tz = -z * x, -z * y, 1.0 - z * z
        size = math.sqrt(tx * tx + ty * ty + tz * tz)
        tx, ty, tz = tx / size, ty / size, tz / size
        sx, sy, sz = y * tz - z * ty, z * tx - x * tz, x * ty - y * tx
        low0 = low1 = low2 = np.inf
        high0 = high1 = high2 = -np.inf
        for i in range(first, last):
            for k in range(3):
                px = corners[i, k, 0]
                py = corners[i, k, 1]
                pz = corners[i, k, 2]
                h = x * px + y * py + z * pz
                low0 = h if h < low0 else low0
                high0 = h if h > high0 else high0
                h = tx * px + ty * py + tz * pz
                low1 = h if h < low1 else low1
                high1 = h if h > high1 else high1
                h = sx * px + sy * py + sz * pz
                low2 = h if h < low2 else low2
                high2 = h if h > high2 else high2
        m0 = 0.5 * (low0 + high0)
        m1 = 0.5 * (low1 + high1)
        m2 = 0.5 * (low2 + high2)
        out[node, 0], out[node, 1], out[node, 2] = x, y, z
        out[node, 3], out[node, 4], out[node, 5] = tx, ty, tz
        out[node, 6], out[node, 7], out[node, 8] = sx, sy, sz
        out[node, 9] = m0 * x + m1 * tx + m2 * sx
        out[node, 10] = m0 * y + m1 * ty + m2 * sy
        out[node, 11] = m0 * z + m1 * tz + m2 * sz
        out[node, 12] = 0.5 * (high0 - low0)
        out[node, 13] = 0.5 * (high1 - low1)
        out[node, 14] = 0.5 * (high2 - low2)


@kernel
def _carried_brick(bricks: Floats, node: int, pose: Floats, out: Floats, row: int) -> None:
    """Directions and middle of a brick that is carried by a pose."""
    for k in range(3):
        for c in range(3):
            out[row, 3 * k + c] = (
                pose[c, 0] * bricks[node, 3 * k]
                + pose[c, 1] * bricks[node, 3 * k + 1]
                + pose[c, 2] * bricks[node, 3 * k + 2]
            )
    for c in range(3):
        out[row, 9 + c] = (
            pose[c, 0] * bricks[node, 9]
            + pose[c, 1] * bricks[node, 10]
            + pose[c, 2] * bricks[node, 11]
            + pose[c, 3]
        )


@kernel
def _brick_gap2(a: Floats, i: int, rest: Floats, node: int, b: Floats, j: int) -> float:
    """A bound on the squared distance of two bricks, the second carried: each seen along the directions of the other."""
    dx = b[j, 9] - a[i, 9]
    dy = b[j, 10] - a[i, 10]
    dz = b[j, 11] - a[i, 11]
    gap2 = 0.0
    r0 = r1 = r2 = 0.0
    for k in range(3):
        x = a[i, 3 * k]
        y = a[i, 3 * k + 1]
        z = a[i, 3 * k + 2]
        c0 = abs(x * b[j, 0] + y * b[j, 1] + z * b[j, 2])
        c1 = abs(x * b[j, 3] + y * b[j, 4] + z * b[j, 5])
        c2 = abs(x * b[j, 6] + y * b[j, 7] + z * b[j, 8])
        half = a[i, 12 + k]
        d = (
            abs(x * dx + y * dy + z * dz)
            - half
            - c0 * rest[node, 12]
            - c1 * rest[node, 13]
            - c2 * rest[node, 14]
        )
        if d > 0.0:
            gap2 += d * d
        r0 += c0 * half
        r1 += c1 * half
        r2 += c2 * half
    other2 = 0.0
    d = abs(b[j, 0] * dx + b[j, 1] * dy + b[j, 2] * dz) - rest[node, 12] - r0
    if d > 0.0:
        other2 += d * d
    d = abs(b[j, 3] * dx + b[j, 4] * dy + b[j, 5] * dz) - rest[node, 13] - r1
    if d > 0.0:
        other2 += d * d
    d = abs(b[j, 6] * dx + b[j, 7] * dy + b[j, 8] * dz) - rest[node, 14] - r2
    if d > 0.0:
        other2 += d * d
    return max(gap2, other2)


@kernel
def _swept_brick_gap2(a: Floats, i: int, rest: Floats, node: int, b: Floats, c: Floats, j: int) -> float:
    """As ``_brick_gap2``, along the first's directions, for all of the second's straight way from one pose to another."""
    gap2 = 0.0
    for k in range(3):
        x = a[i, 3 * k]
        y = a[i, 3 * k + 1]
        z = a[i, 3 * k + 2]
        middle = x * a[i, 9] + y * a[i, 10] + z * a[i, 11]
        here = x * b[j, 9] + y * b[j, 10] + z * b[j, 11] - middle
        there = x * c[j, 9] + y * c[j, 10] + z * c[j, 11] - middle
        here_half = there_half = 0.0
        for m in range(3):
            half = rest[node, 12 + m]
            here_half += abs(x * b[j, 3 * m] + y * b[j, 3 * m + 1] + z * b[j, 3 * m + 2]) * half
            there_half += abs(x * c[j, 3 * m] + y * c[j, 3 * m + 1] + z * c[j, 3 * m + 2]) * half
        d = (
            max(min(here - here_half, there - there_half), -max(here + here_half, there + there_half))
            - a[i, 12 + k]
        )
        if d > 0.0:
            gap2 += d * d
    return gap2


@kernel
def _carried_face(rest: Floats, f: int, pose: Floats, corners: Floats, row: int) -> None:
    for k in range(3):
        x = rest[f, k, 0]
        y = rest[f, k, 1]
        z = rest[f, k, 2]
        for c in range(3):
            corners[row, k, c] = pose[c, 0] * x + pose[c, 1] * y + pose[c, 2] * z + pose[c, 3]


@kernel
def _boxed(p: Floats, f: int, boxes: Floats) -> None:
    for c in range(3):
        boxes[f, c] = min(p[f, 0, c], min(p[f, 1, c], p[f, 2, c]))
        boxes[f, c + 3] = max(p[f, 0, c], max(p[f, 1, c], p[f, 2, c]))


@kernel
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
