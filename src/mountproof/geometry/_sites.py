"""Kernels for contact sites: every face pair that meets within a threshold, and distances nearby."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._descent import Tree, _bound, _corners, _face_box
from mountproof.geometry._tree import LEAF_FACES
from mountproof.geometry._two_faces import _kept_apart, _near_pair

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True, error_model="numpy")
def _allowed(q: float, closed: float, within: float) -> float:
    """Largest gap that counts at this r^2: the closure, and a length of arc beyond it."""
    return closed + within / math.sqrt(q) if q > 0.0 else np.inf


@njit(cache=True, nogil=True, error_model="numpy")
def _face_polar(polar: Floats, faces: Ints, i: int, out: Floats) -> None:
    """(r^2, z, phi) of the corners of one face."""
    for k in range(3):
        v = faces[i, k]
        out[k, 0] = polar[v, 0]
        out[k, 1] = polar[v, 1]
        out[k, 2] = math.atan(polar[v, 2])


@njit(cache=True, nogil=True, error_model="numpy")
def _pairs_within(
    up: Tree,
    low: Tree,
    tol: float,
    reach: float,
    slack: float,
    closed: float,
    within: float,
    upper_labels: Ints,
    lower_labels: Ints,
) -> tuple[Floats, NDArray[np.int64]]:
    """Each pair of labelled faces that meets within an arc beyond a closure: where (n, 4), what (n, 5), as ``_first`` writes.

    ``..._labels``: one number per face, 0 for a face that does not count. What is found may lie beyond ``within`` by the
    rounding of the bound, never the other way about.
    """
    q_tol = 2.0 * reach * tol
    room = 4096
    stack = np.zeros((room, 2), dtype=np.int32)
    stack[0, 0] = 1
    stack[0, 1] = 1
    size = 1
    # boxes and corners of the upper's faces, made when a leaf is first met and kept until the search ends
    slots = np.full(up.leaf_row, -1, dtype=np.int32)
    used = 0
    kept_boxes = np.zeros((64, LEAF_FACES, 6))
    kept_polar = np.zeros((64, LEAF_FACES, 3, 3))
    # and of the lower's, without corners
    low_slots = np.full(low.leaf_row, -1, dtype=np.int32)
    low_used = 0
    low_boxes = np.zeros((64, LEAF_FACES, 6))
    a3 = np.zeros((3, 3))
    b3 = np.zeros((3, 3))
    b_polar = np.zeros((3, 3))
    scratch = np.zeros(3)
    touch = np.zeros(4)
    feature = np.zeros(3, dtype=np.int64)
    touches = np.zeros((256, 4))
    which = np.zeros((256, 5), dtype=np.int64)
    met = 0
    while size > 0:
        size -= 1
        a = stack[size, 0]
        b = stack[size, 1]
        bound = _bound(up.boxes[a], low.boxes[b], q_tol, tol)
        least_q = max(up.boxes[a, 0], low.boxes[b, 0])
        if bound == np.inf or bound > _allowed(least_q, closed, within) + slack:
            continue
        a_leaf = a >= up.leaf_row
        b_leaf = b >= low.leaf_row
        if not (a_leaf and b_leaf):
            if size + 4 > room:
                room *= 2
                more = np.zeros((room, 2), dtype=np.int32)
                more[:size] = stack[:size]
                stack = more
            a_from, a_to = (a, a + 1) if a_leaf else (2 * a, 2 * a + 2)
            b_from, b_to = (b, b + 1) if b_leaf else (2 * b, 2 * b + 2)
            for i in range(a_from, a_to):
                for j in range(b_from, b_to):
                    stack[size, 0] = i
                    stack[size, 1] = j
                    size += 1
            continue
        leaf = a - up.leaf_row
        first = up.starts[leaf]
        last = up.starts[leaf + 1]
        slot = slots[leaf]
        leaf = b - low.leaf_row
        if low_slots[leaf] < 0:
            if low_used == low_boxes.shape[0]:
                more_boxes = np.zeros((2 * low_used, LEAF_FACES, 6))
                more_boxes[:low_used] = low_boxes
                low_boxes = more_boxes
            for j in range(low.starts[leaf], low.starts[leaf + 1]):
                _face_box(low.polar, low.faces, j, low_boxes[low_used, j - low.starts[leaf]])
            low_slots[leaf] = low_used
            low_used += 1
        boxes = low_boxes[low_slots[leaf]]
        for j in range(low.starts[leaf], low.starts[leaf + 1]):
            y = low.ids[j]
            if lower_labels[y] == 0:
                continue
            box = boxes[j - low.starts[leaf]]
            bound = _bound(up.boxes[a], box, q_tol, tol)
            least_q = max(up.boxes[a, 0], box[0])
            if bound == np.inf or bound > _allowed(least_q, closed, within) + slack:
                continue
            if slot < 0:
                if used == kept_boxes.shape[0]:
                    more_boxes = np.zeros((2 * used, LEAF_FACES, 6))
                    more_polar = np.zeros((2 * used, LEAF_FACES, 3, 3))
                    more_boxes[:used] = kept_boxes
                    more_polar[:used] = kept_polar
                    kept_boxes = more_boxes
                    kept_polar = more_polar
                slot = used
                slots[a - up.leaf_row] = slot
                used += 1
                for i in range(first, last):
                    _face_box(up.polar, up.faces, i, kept_boxes[slot, i - first])
                    _face_polar(up.polar, up.faces, i, kept_polar[slot, i - first])
            upper_boxes = kept_boxes[slot]
            cornered = False
            for i in range(first, last):
                x = up.ids[i]
                if upper_labels[x] == 0:
                    continue
                bound = _bound(upper_boxes[i - first], box, q_tol, tol)
                least_q = max(upper_boxes[i - first, 0], box[0])
                # no place of the pair lies nearer to the axis, so none may count at a larger angle
                limit = _allowed(least_q, closed, within) + slack
                if bound == np.inf or bound > limit:
                    continue
                limit = min(np.nextafter(limit, np.inf), 4.0)
                if not cornered:
                    cornered = True
                    _corners(low.vertices, low.faces, j, b3)
                    _face_polar(low.polar, low.faces, j, b_polar)
                _corners(up.vertices, up.faces, i, a3)
                if _kept_apart(a3, b3, bound - slack, limit, tol):
                    continue
                got = _near_pair(
                    a3,
                    kept_polar[slot, i - first],
                    upper_boxes[i - first],
                    b3,
                    b_polar,
                    box,
                    q_tol,
                    tol,
                    slack,
                    limit,
                    touch,
                    feature,
                    scratch,
                )
                if got >= limit:
                    continue
                q = touch[1] * touch[1] + touch[2] * touch[2]
                if got > _allowed(q, closed, within) + slack:
                    continue
                if met == touches.shape[0]:
                    more_touches = np.zeros((2 * met, 4))
                    more_which = np.zeros((2 * met, 5), dtype=np.int64)
                    more_touches[:met] = touches
                    more_which[:met] = which
                    touches = more_touches
                    which = more_which
                touches[met] = touch
                which[met, 0] = x
                which[met, 1] = y
                which[met, 2:] = feature
                met += 1
    return touches[:met], which[:met]


@njit(cache=True, nogil=True, error_model="numpy")
def _faces_near(tree: Tree, centre: Floats, radius: float, out: Ints) -> int:
    """Write the tree places of the faces with a corner box that comes within ``radius`` of ``centre``."""
    r = math.sqrt(centre[0] * centre[0] + centre[1] * centre[1])
    phi = math.atan2(centre[1], centre[0])
    spread = math.asin(radius / r) if radius < r else math.pi
    q_low = max(r - radius, 0.0) ** 2
    q_high = (r + radius) ** 2
    count = 0
    for leaf in range(tree.starts.shape[0] - 1):
        box = tree.boxes[tree.leaf_row + leaf]
        apart = (
            box[0] > q_high
            or box[1] < q_low
            or box[2] > centre[2] + radius
            or box[3] < centre[2] - radius
            or box[4] > phi + spread
            or box[5] < phi - spread
        )
        if apart:
            continue
        for i in range(tree.starts[leaf], tree.starts[leaf + 1]):
            near2 = 0.0
            for k in range(3):
                p = tree.vertices[tree.faces[i, 0], k]
                q = tree.vertices[tree.faces[i, 1], k]
                s = tree.vertices[tree.faces[i, 2], k]
                gap = max(min(p, min(q, s)) - centre[k], centre[k] - max(p, max(q, s)), 0.0)
                near2 += gap * gap
            if near2 <= radius * radius:
                out[count] = i
                count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _box_apart2(a: Floats, b: Floats) -> float:
    total = 0.0
    for k in range(3):
        a_low = min(a[0, k], min(a[1, k], a[2, k]))
        a_high = max(a[0, k], max(a[1, k], a[2, k]))
        b_low = min(b[0, k], min(b[1, k], b[2, k]))
        b_high = max(b[0, k], max(b[1, k], b[2, k]))
        gap = max(a_low - b_high, max(b_low - a_high, 0.0))
        total += gap * gap
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _segments_apart2(p: Floats, p1: Floats, q: Floats, q1: Floats) -> float:
    """Squared distance of two segments: the inner minimum where there is one, else the ends."""
    uu = 0.0
    uv = 0.0
    vv = 0.0
    ud = 0.0
    vd = 0.0
    for k in range(3):
        u = p1[k] - p[k]
        v = q1[k] - q[k]
        d = p[k] - q[k]
        uu += u * u
        uv += u * v
        vv += v * v
        ud += u * d
        vd += v * d
    det = uu * vv - uv * uv
    s = 0.0
    if det > 0.0:
        s = min(max((uv * vd - vv * ud) / det, 0.0), 1.0)
    w = 0.0
    if vv > 0.0:
        w = (uv * s + vd) / vv
    if w < 0.0 or w > 1.0:
        w = min(max(w, 0.0), 1.0)
    if uu > 0.0:
        s = min(max((uv * w - ud) / uu, 0.0), 1.0)
    total = 0.0
    for k in range(3):
        miss = p[k] + s * (p1[k] - p[k]) - q[k] - w * (q1[k] - q[k])
        total += miss * miss
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _above_face2(p: Floats, tri: Floats) -> float:
    """Squared distance of a point from a triangle's plane when its foot lies inside, else infinite."""
    ux = tri[1, 0] - tri[0, 0]
    uy = tri[1, 1] - tri[0, 1]
    uz = tri[1, 2] - tri[0, 2]
    vx = tri[2, 0] - tri[0, 0]
    vy = tri[2, 1] - tri[0, 1]
    vz = tri[2, 2] - tri[0, 2]
    nx = uy * vz - uz * vy
    ny = uz * vx - ux * vz
    nz = ux * vy - uy * vx
    nn = nx * nx + ny * ny + nz * nz
    if nn == 0.0:
        return np.inf
    dx = p[0] - tri[0, 0]
    dy = p[1] - tri[0, 1]
    dz = p[2] - tri[0, 2]
    s = (nx * (dy * vz - dz * vy) + ny * (dz * vx - dx * vz) + nz * (dx * vy - dy * vx)) / nn
    w = (nx * (uy * dz - uz * dy) + ny * (uz * dx - ux * dz) + nz * (ux * dy - uy * dx)) / nn
    if s < 0.0 or w < 0.0 or s + w > 1.0:
        return np.inf
    height = nx * dx + ny * dy + nz * dz
    return float(height * height / nn)


@njit(cache=True, nogil=True, error_model="numpy")
def _least_distance(
    up: Tree, low: Tree, uppers: Ints, lowers: Ints, cos: float, sin: float, at_most: float
) -> float:
    """Least distance between two sets of faces, the lower's turned about z; ``at_most`` when none is nearer."""
    best = at_most * at_most
    a = np.zeros((3, 3))
    b = np.zeros((3, 3))
    for j in range(lowers.shape[0]):
        _corners(low.vertices, low.faces, lowers[j], b)
        for k in range(3):
            x = b[k, 0]
            y = b[k, 1]
            b[k, 0] = cos * x - sin * y
            b[k, 1] = sin * x + cos * y
        for i in range(uppers.shape[0]):
            _corners(up.vertices, up.faces, uppers[i], a)
            if _box_apart2(a, b) >= best:
                continue
            for k in range(3):
                best = min(best, min(_above_face2(a[k], b), _above_face2(b[k], a)))
                for m in range(3):
                    best = min(best, _segments_apart2(a[k], a[(k + 1) % 3], b[m], b[(m + 1) % 3]))
    return math.sqrt(best)
