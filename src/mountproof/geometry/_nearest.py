"""Kernels for the nearest point on a triangle mesh: boxes over sorted faces, one query after the other.

Boxes lie in a binary heap: node 1 is the root, 2 k and 2 k + 1 are the halves of node k, leaves fill the last row in
order; a missing leaf is an empty box (from > to). Distances to boxes never exceed the distance to what is inside, so
nothing nearer is passed over; ties go to the face of the lowest number, whatever the order of the search.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Faces in one leaf.
LEAF_FACES = 4
#: Bits of the sorting grid along each axis: cells of a tenth of a millimetre on an arch.
_BITS = 10
_DEPTH = 64
#: Squared sine below which two sides of a face lie in one line: the foot inside such a face would be all rounding.
_LINE = 1e-14


@njit(cache=True, nogil=True)
def _spread(k: int) -> int:
    """Put two zeros between the ten low bits of ``k``."""
    k = (k | (k << 16)) & 0x030000FF
    k = (k | (k << 8)) & 0x0300F00F
    k = (k | (k << 4)) & 0x030C30C3
    return (k | (k << 2)) & 0x09249249


@njit(cache=True, nogil=True)
def point_codes(points: Floats, out: NDArray[np.uint32]) -> None:
    """Write the place of each point along a curve that keeps neighbours together."""
    low = np.full(3, np.inf)
    high = np.full(3, -np.inf)
    for i in range(points.shape[0]):
        for k in range(3):
            low[k] = min(low[k], points[i, k])
            high[k] = max(high[k], points[i, k])
    widest = max(high[0] - low[0], high[1] - low[1], high[2] - low[2])
    scale = ((1 << _BITS) - 1) / widest if widest > 0.0 else 0.0
    for i in range(points.shape[0]):
        code = 0
        for k in range(3):
            code |= _spread(int((points[i, k] - low[k]) * scale)) << k
        out[i] = code


@njit(cache=True, nogil=True)
def sort_by(codes: NDArray[np.uint32], order: Ints, spare: Ints) -> None:
    """Write the points in rising order of their codes, equal ones as they stand (two passes of a counting sort)."""
    n = codes.shape[0]
    for i in range(n):
        spare[i] = i
    for shift in (0, 15):
        count = np.zeros((1 << 15) + 1, np.int64)
        for i in range(n):
            count[((codes[i] >> shift) & 0x7FFF) + 1] += 1
        for k in range(1, count.shape[0]):
            count[k] += count[k - 1]
        source, goal = (spare, order) if shift == 0 else (order, spare)
        for i in range(n):
            key = (codes[source[i]] >> shift) & 0x7FFF
            goal[count[key]] = source[i]
            count[key] += 1
    for i in range(n):
        order[i] = spare[i]


@njit(cache=True, nogil=True)
def boxes_of(vertices: Floats, faces: Ints, order: Ints, row: int, corners: Floats, boxes: Floats) -> None:
    """Write the corners of the sorted faces (m, 3, 3) and the boxes (2 row, 6), from and to along each axis in turn."""
    n = order.shape[0]
    for k in range(2 * row):
        for c in range(3):
            boxes[k, c] = np.inf
            boxes[k, 3 + c] = -np.inf
    for i in range(n):
        node = row + i // LEAF_FACES
        for j in range(3):
            v = faces[order[i], j]
            for c in range(3):
                x = vertices[v, c]
                corners[i, j, c] = x
                boxes[node, c] = min(boxes[node, c], x)
                boxes[node, 3 + c] = max(boxes[node, 3 + c], x)
    for node in range(row - 1, 0, -1):
        for c in range(3):
            boxes[node, c] = min(boxes[2 * node, c], boxes[2 * node + 1, c])
            boxes[node, 3 + c] = max(boxes[2 * node, 3 + c], boxes[2 * node + 1, 3 + c])


@njit(cache=True, nogil=True, inline="always")
def _to_box2(boxes: Floats, node: int, x: float, y: float, z: float) -> float:
    dx = max(boxes[node, 0] - x, 0.0, x - boxes[node, 3])
    dy = max(boxes[node, 1] - y, 0.0, y - boxes[node, 4])
    dz = max(boxes[node, 2] - z, 0.0, z - boxes[node, 5])
    far2: float = dx * dx + dy * dy + dz * dz
    return far2


@njit(cache=True, nogil=True)
def _on_edges(corners: Floats, f: int, x: float, y: float, z: float) -> tuple[float, float, float, int]:
    """As ``_on_face``, for a face whose corners lie in a line."""
    best, bs, bt, bon = np.inf, 0.0, 0.0, 4
    for k in range(3):
        a, b = k, (k + 1) % 3
        ex, ey, ez = (
            corners[f, b, 0] - corners[f, a, 0],
            corners[f, b, 1] - corners[f, a, 1],
            corners[f, b, 2] - corners[f, a, 2],
        )
        px, py, pz = x - corners[f, a, 0], y - corners[f, a, 1], z - corners[f, a, 2]
        size = ex * ex + ey * ey + ez * ez
        t = min(1.0, max(0.0, (px * ex + py * ey + pz * ez) / size)) if size > 0.0 else 0.0
        qx, qy, qz = px - t * ex, py - t * ey, pz - t * ez
        q = qx * qx + qy * qy + qz * qz
        if q < best:
            best = q
            share = np.zeros(3)
            share[a], share[b] = 1.0 - t, t
            bs, bt = share[1], share[2]
            bon = 4 + a if t == 0.0 else 4 + b if t == 1.0 else 1 + k
    return bs, bt, best, bon


@njit(cache=True, nogil=True)
def _on_face(corners: Floats, f: int, x: float, y: float, z: float) -> tuple[float, float, float, int]:
    """Return the nearest point of a face as weights (v, w) of its second and third corner, its squared distance and what
    it lies on: 0 inside, 1 2 3 the edge from that corner on, 4 5 6 a corner.

    By regions of the plane; the nearest of the three edges where the corners lie in a line. Source: C. Ericson,
    Real-Time Collision Detection (2005), 5.1.5 (from memory).
    """
    ax, ay, az = corners[f, 0, 0], corners[f, 0, 1], corners[f, 0, 2]
    ux, uy, uz = corners[f, 1, 0] - ax, corners[f, 1, 1] - ay, corners[f, 1, 2] - az
    vx, vy, vz = corners[f, 2, 0] - ax, corners[f, 2, 1] - ay, corners[f, 2, 2] - az
    px, py, pz = x - ax, y - ay, z - az
    d1 = ux * px + uy * py + uz * pz
    d2 = vx * px + vy * py + vz * pz
    uu = ux * ux + uy * uy + uz * uz
    uv = ux * vx + uy * vy + uz * vz
    vv = vx * vx + vy * vy + vz * vz
    if uu * vv - uv * uv <= _LINE * uu * vv:
        return _on_edges(corners, f, x, y, z)
    d3, d4 = d1 - uu, d2 - uv
    d5, d6 = d1 - uv, d2 - vv
    vc = d1 * d4 - d3 * d2
    vb = d5 * d2 - d1 * d6
    va = d3 * d6 - d5 * d4
    if d1 <= 0.0 and d2 <= 0.0:
        s, t, on = 0.0, 0.0, 4
    elif d3 >= 0.0 and d4 <= d3:
        s, t, on = 1.0, 0.0, 5
    elif vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        s, t, on = d1 / uu, 0.0, 1
    elif d6 >= 0.0 and d5 <= d6:
        s, t, on = 0.0, 1.0, 6
    elif vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        s, t, on = 0.0, d2 / vv, 3
    elif va <= 0.0 and d4 >= d3 and d5 >= d6:
        t = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        s, on = 1.0 - t, 2
    else:
        whole = va + vb + vc
        s, t, on = vb / whole, vc / whole, 0
    qx, qy, qz = px - s * ux - t * vx, py - s * uy - t * vy, pz - s * uz - t * vz
    return s, t, qx * qx + qy * qy + qz * qz, on


@njit(cache=True, nogil=True)
def nearest(
    points: Floats,
    corners: Floats,
    boxes: Floats,
    order: Ints,
    row: int,
    most2: float,
    hint: Ints,
    place: Floats,
    face: Ints,
    on: NDArray[np.int8],
    d2: Floats,
) -> None:
    """Write for each point the nearest point of the mesh: ``place`` (n, 3), ``face`` (its place in ``order``), ``on``, ``d2``.

    ``hint`` (n,) is a sorted face to begin with (-1: that of the point before); what lies farther than the root of
    ``most2`` is not looked for: face -1.
    """
    stack = np.zeros(_DEPTH, np.int32)
    far = np.zeros(_DEPTH)
    m = order.shape[0]
    who = -1
    for i in range(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        guess = hint[i] if 0 <= hint[i] < m else who
        best, who, bs, bt, bon = most2, -1, 0.0, 0.0, 0
        if guess >= 0:
            s, t, q, o = _on_face(corners, guess, x, y, z)
            if q <= best:
                best, who, bs, bt, bon = q, guess, s, t, o
        top = 0
        stack[0], far[0] = 1, _to_box2(boxes, 1, x, y, z)
        top = 1
        while top > 0:
            top -= 1
            node, bound = stack[top], far[top]
            while bound <= best:
                if node >= row:
                    first = (node - row) * LEAF_FACES
                    for f in range(first, min(first + LEAF_FACES, m)):
                        s, t, q, o = _on_face(corners, f, x, y, z)
                        if q < best or (q == best and (who < 0 or order[f] < order[who])):
                            best, who, bs, bt, bon = q, f, s, t, o
                    break
                a, b = 2 * node, 2 * node + 1
                da, db = _to_box2(boxes, a, x, y, z), _to_box2(boxes, b, x, y, z)
                if db < da:
                    a, b, da, db = b, a, db, da
                if db <= best:
                    stack[top], far[top] = b, db
                    top += 1
                node, bound = a, da
        face[i], d2[i], on[i] = who, best, bon
        if who >= 0:
            for c in range(3):
                p = corners[who, 0, c]
                place[i, c] = p + bs * (corners[who, 1, c] - p) + bt * (corners[who, 2, c] - p)


@njit(cache=True, nogil=True)
def normals_of(corners: Floats, out: Floats) -> None:
    """Write the unit normal of each face, zero where it has no area."""
    for f in range(corners.shape[0]):
        ux, uy, uz = (
            corners[f, 1, 0] - corners[f, 0, 0],
            corners[f, 1, 1] - corners[f, 0, 1],
            corners[f, 1, 2] - corners[f, 0, 2],
        )
        vx, vy, vz = (
            corners[f, 2, 0] - corners[f, 0, 0],
            corners[f, 2, 1] - corners[f, 0, 1],
            corners[f, 2, 2] - corners[f, 0, 2],
        )
        x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        size = np.sqrt(x * x + y * y + z * z)
        if size > 0.0:
            out[f, 0], out[f, 1], out[f, 2] = x / size, y / size, z / size


@njit(cache=True, nogil=True)
def borders_of(
    faces: Ints, vertices: int, order: Ints, edge_open: NDArray[np.bool_], corner_open: NDArray[np.bool_]
) -> None:
    """Write which edges have no second face, and which corners are ends of such an edge.

    Half-edges lie in lists by their lower vertex; what is met once is a border.
    """
    m = faces.shape[0]
    start = np.zeros(vertices + 1, np.int64)
    for f in range(m):
        for k in range(3):
            start[min(faces[f, k], faces[f, (k + 1) % 3]) + 1] += 1
    for v in range(vertices):
        start[v + 1] += start[v]
    fill = start[:-1].copy()
    far = np.zeros(3 * m, np.int32)
    for f in range(m):
        for k in range(3):
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            far[fill[min(a, b)]] = max(a, b)
            fill[min(a, b)] += 1
    ends = np.zeros(vertices, np.bool_)
    for i in range(m):
        f = order[i]
        for k in range(3):
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            low, high, met = min(a, b), max(a, b), 0
            for at in range(start[low], start[low + 1]):
                if far[at] == high:
                    met += 1
            if met == 1:
                edge_open[i, k] = True
                ends[a] = True
                ends[b] = True
    for i in range(m):
        for k in range(3):
            corner_open[i, k] = ends[faces[order[i], k]]


@njit(cache=True, nogil=True)
def at_border(
    row: Ints,
    on: NDArray[np.int8],
    edge_open: NDArray[np.bool_],
    corner_open: NDArray[np.bool_],
    out: NDArray[np.bool_],
) -> None:
    """Write whether each nearest point lies on a border (``on`` as ``_on_face`` tells it)."""
    for i in range(row.shape[0]):
        f = row[i]
        if f >= 0 and on[i] > 0:
            out[i] = edge_open[f, on[i] - 1] if on[i] <= 3 else corner_open[f, on[i] - 4]


@njit(cache=True, nogil=True)
def signed_of(
    points: Floats, place: Floats, row: Ints, border: NDArray[np.bool_], normals: Floats, out: Floats
) -> int:
    """Write the signed distance of each point along the normal at its nearest point, NaN where it has no partner.

    Returns how many have one.
    """
    count = 0
    for i in range(points.shape[0]):
        f = row[i]
        out[i] = np.nan
        if f >= 0 and not border[i]:
            x, y, z = normals[f, 0], normals[f, 1], normals[f, 2]
            if x != 0.0 or y != 0.0 or z != 0.0:
                out[i] = (
                    (points[i, 0] - place[i, 0]) * x
                    + (points[i, 1] - place[i, 1]) * y
                    + (points[i, 2] - place[i, 2]) * z
                )
                count += 1
    return count


@njit(cache=True, nogil=True)
def information_of(
    points: Floats,
    row: Ints,
    normals: Floats,
    signed: Floats,
    middle: Floats,
    lever: float,
    reach: float,
    information: Floats,
    push: Floats,
) -> None:
    """Add up the weighted information (6, 6) and its right-hand side (6,) for motions about ``middle``.

    Rotations are counted as movement at ``lever``; the weight falls from one to nothing at a distance of ``reach``.
    """
    j = np.zeros(6)
    for i in range(points.shape[0]):
        r = signed[i]
        if not abs(r) < reach:
            continue
        share = r / reach
        w = (1.0 - share * share) ** 2
        f = row[i]
        ax, ay, az = points[i, 0] - middle[0], points[i, 1] - middle[1], points[i, 2] - middle[2]
        nx, ny, nz = normals[f, 0], normals[f, 1], normals[f, 2]
        j[0], j[1], j[2] = (
            (ay * nz - az * ny) / lever,
            (az * nx - ax * nz) / lever,
            (ax * ny - ay * nx) / lever,
        )
        j[3], j[4], j[5] = nx, ny, nz
        for a in range(6):
            push[a] += w * r * j[a]
            for b in range(a, 6):
                information[a, b] += w * j[a] * j[b]
    for a in range(6):
        for b in range(a):
            information[a, b] = information[b, a]
