"""Best-first search down two trees of boxes for the pair of faces that touches first."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._features import _triangle_pair
from mountproof.geometry._tree import LEAF_FACES, _quarter_side2

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


class Tree(NamedTuple):
    """What the search reads of one arch."""

    vertices: Floats
    polar: Floats
    faces: Ints
    ids: Ints
    starts: Ints
    boxes: Floats
    leaf_row: int


@njit(cache=True, nogil=True, error_model="numpy")
def _push(keys: Floats, pairs: Ints, size: int, key: float, a: int, b: int) -> int:
    i = size
    while i > 0:
        parent = (i - 1) >> 1
        if keys[parent] <= key:
            break
        keys[i] = keys[parent]
        pairs[i, 0] = pairs[parent, 0]
        pairs[i, 1] = pairs[parent, 1]
        i = parent
    keys[i] = key
    pairs[i, 0] = a
    pairs[i, 1] = b
    return size + 1


@njit(cache=True, nogil=True, error_model="numpy")
def _pop(keys: Floats, pairs: Ints, size: int) -> int:
    """Move the least entry to the end (index ``size - 1``); return the new size."""
    size -= 1
    key = keys[size]
    a = pairs[size, 0]
    b = pairs[size, 1]
    keys[size] = keys[0]
    pairs[size, 0] = pairs[0, 0]
    pairs[size, 1] = pairs[0, 1]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= size:
            break
        if child + 1 < size and keys[child + 1] < keys[child]:
            child += 1
        if keys[child] >= key:
            break
        keys[i] = keys[child]
        pairs[i, 0] = pairs[child, 0]
        pairs[i, 1] = pairs[child, 1]
        i = child
    if size > 0:
        keys[i] = key
        pairs[i, 0] = a
        pairs[i, 1] = b
    return size


@njit(cache=True, nogil=True, error_model="numpy")
def _bound(a: Floats, b: Floats, q_tol: float, z_tol: float) -> float:
    """Least gap of an upper box over a lower box; infinite when they do not meet in (r^2, z)."""
    if a[0] > b[1] + q_tol or b[0] > a[1] + q_tol or a[2] > b[3] + z_tol or b[2] > a[3] + z_tol:
        return np.inf
    return float(a[4] - b[5])


@njit(cache=True, nogil=True, error_model="numpy")
def _face_box(polar: Floats, faces: Ints, i: int, box: Floats) -> None:
    """The box of one face; columns 4 and 5 are angles."""
    a = faces[i, 0]
    b = faces[i, 1]
    c = faces[i, 2]
    q0 = min(polar[a, 0], min(polar[b, 0], polar[c, 0]))
    q1 = max(polar[a, 0], max(polar[b, 0], polar[c, 0]))
    t0 = min(polar[a, 2], min(polar[b, 2], polar[c, 2]))
    t1 = max(polar[a, 2], max(polar[b, 2], polar[c, 2]))
    box[0] = q0 - _quarter_side2(q0, q1, t0, t1)
    box[1] = q1
    box[2] = min(polar[a, 1], min(polar[b, 1], polar[c, 1]))
    box[3] = max(polar[a, 1], max(polar[b, 1], polar[c, 1]))
    box[4] = math.atan(t0)
    box[5] = math.atan(t1)


@njit(cache=True, nogil=True, error_model="numpy")
def _corners(vertices: Floats, faces: Ints, i: int, out: Floats) -> None:
    for k in range(3):
        v = faces[i, k]
        out[k, 0] = vertices[v, 0]
        out[k, 1] = vertices[v, 1]
        out[k, 2] = vertices[v, 2]


@njit(cache=True, nogil=True, error_model="numpy")
def _first(
    up: Tree,
    low: Tree,
    tol: float,
    reach: float,
    slack: float,
    within: float,
    found: Floats,
    which: NDArray[np.int64],
) -> int:
    """Search for the least closing angle <= ``within``.

    ``found``: angle, point of the upper. ``which``: upper face, lower face, kind, upper part, lower part (parts:
    which corner or edge). Returns the number of face pairs solved; ``which[0]`` is -1 when nothing touches.
    Ties go to the lowest face numbers, so the order of the visit does not show.
    """
    q_tol = 2.0 * reach * tol
    best = min(within, 4.0)  # no gap is above pi; finite, so that boxes that do not meet stay out
    which[0] = -1
    solved = 0
    room = 4096
    keys = np.zeros(room)
    pairs = np.zeros((room, 2), dtype=np.int32)
    size = 0
    start = _bound(up.boxes[1], low.boxes[1], q_tol, tol)
    if start <= best + slack:
        size = _push(keys, pairs, size, start, 1, 1)
    upper_boxes = np.zeros((LEAF_FACES, 6))
    lower_box = np.zeros(6)
    a3 = np.zeros((3, 3))
    b3 = np.zeros((3, 3))
    touch = np.zeros(4)
    feature = np.zeros(3, dtype=np.int64)
    while size > 0:
        if keys[0] > best + slack:
            break
        size = _pop(keys, pairs, size)
        a = pairs[size, 0]
        b = pairs[size, 1]
        a_leaf = a >= up.leaf_row
        b_leaf = b >= low.leaf_row
        if not (a_leaf and b_leaf):
            if size + 4 > room:
                room *= 2
                more_keys = np.zeros(room)
                more_pairs = np.zeros((room, 2), dtype=np.int32)
                more_keys[:size] = keys[:size]
                more_pairs[:size] = pairs[:size]
                keys = more_keys
                pairs = more_pairs
            a_from, a_to = (a, a + 1) if a_leaf else (2 * a, 2 * a + 2)
            b_from, b_to = (b, b + 1) if b_leaf else (2 * b, 2 * b + 2)
            for i in range(a_from, a_to):
                for j in range(b_from, b_to):
                    bound = _bound(up.boxes[i], low.boxes[j], q_tol, tol)
                    if bound <= best + slack:
                        size = _push(keys, pairs, size, bound, i, j)
            continue
        box = low.boxes[b]
        leaf = a - up.leaf_row
        first = up.starts[leaf]
        count = 0
        last = up.starts[leaf + 1]
        for i in range(first, last):
            _face_box(up.polar, up.faces, i, upper_boxes[i - first])
            if _bound(upper_boxes[i - first], box, q_tol, tol) <= best + slack:
                count += 1
            else:
                upper_boxes[i - first, 0] = np.inf
        if count == 0:
            continue
        leaf = b - low.leaf_row
        for j in range(low.starts[leaf], low.starts[leaf + 1]):
            _face_box(low.polar, low.faces, j, lower_box)
            if _bound(up.boxes[a], lower_box, q_tol, tol) > best + slack:
                continue
            _corners(low.vertices, low.faces, j, b3)
            for i in range(first, last):
                if _bound(upper_boxes[i - first], lower_box, q_tol, tol) > best + slack:
                    continue
                _corners(up.vertices, up.faces, i, a3)
                solved += 1
                limit = np.nextafter(best, np.inf)
                got = _triangle_pair(a3, b3, tol, limit, touch, feature)
                if got >= limit:
                    continue
                if got == best and which[0] >= 0:
                    later = up.ids[i] > which[0] or (up.ids[i] == which[0] and low.ids[j] > which[1])
                    if later:
                        continue
                best = got
                found[0] = got
                found[1] = touch[1]
                found[2] = touch[2]
                found[3] = touch[3]
                which[0] = up.ids[i]
                which[1] = low.ids[j]
                which[2] = feature[0]
                which[3] = feature[1]
                which[4] = feature[2]
    return solved
