"""Best-first search for the pair of faces that touches first.

The lower's tree is descended in the order of a bound: the lowest phi of the upper over the cells of (r^2, z) that a
box of the lower meets, less the box's highest phi. Only a leaf that comes up is held against the upper's tree.
The search ends when the next bound is above the best exact angle.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel
from mountproof.geometry._tree import LEAF_FACES, _carried, _floor_scale, _lowest
from mountproof.geometry._two_faces import _kept_apart, _near_pair, _quarter_side2

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
    floor: Floats
    floor_side: int


class Carried(NamedTuple):
    """What the search reads of the lower: its rest, and the pose that carries it; nothing is made anew for a pose."""

    vertices: Floats
    faces: Ints
    ids: Ints
    starts: Ints
    limits: Floats
    leaf_row: int
    pose: Floats


@kernel
def _push(keys: Floats, nodes: Ints, size: int, key: float, node: int) -> int:
    i = size
    while i > 0:
        parent = (i - 1) >> 1
        if keys[parent] <= key:
            break
        keys[i] = keys[parent]
        nodes[i] = nodes[parent]
        i = parent
    keys[i] = key
    nodes[i] = node
    return size + 1


@kernel
def _pop(keys: Floats, nodes: Ints, size: int) -> int:
    """Move the least entry to the end (index ``size - 1``); return the new size."""
    size -= 1
    key = keys[size]
    node = nodes[size]
    keys[size] = keys[0]
    nodes[size] = nodes[0]
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
        nodes[i] = nodes[child]
        i = child
    if size > 0:
        keys[i] = key
        nodes[i] = node
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
    box[0] = q0 - _quarter_side2(q0, q1, t1 - t0)
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
def _corner(x: float, y: float, z: float, k: int, out: Floats) -> None:
    out[k, 0] = x
    out[k, 1] = y
    out[k, 2] = z
    out[3 + k, 0] = x * x + y * y
    out[3 + k, 1] = z
    out[3 + k, 2] = math.atan(y / x) if x > 0.0 else math.atan2(y, x)


@njit(cache=True, nogil=True, error_model="numpy")
def _finish(faces: Floats, boxes: Floats, count: int, whole: Floats) -> None:
    """Boxes of the faces of one leaf from their corners' (r^2, z, phi), and the box around all of them."""
    for k in range(0, 6, 2):
        whole[k] = np.inf
        whole[k + 1] = -np.inf
    for i in range(count):
        p = faces[i]
        box = boxes[i]
        for k in range(3):
            box[2 * k] = min(p[3, k], min(p[4, k], p[5, k]))
            box[2 * k + 1] = max(p[3, k], max(p[4, k], p[5, k]))
        box[0] -= _quarter_side2(box[0], box[1], box[5] - box[4])
        for k in range(0, 6, 2):
            whole[k] = min(whole[k], box[k])
            whole[k + 1] = max(whole[k + 1], box[k + 1])


@njit(cache=True, nogil=True, error_model="numpy")
def _lower_leaf(low: Carried, leaf: int, faces: Floats, boxes: Floats, whole: Floats) -> None:
    first = low.starts[leaf]
    count = low.starts[leaf + 1] - first
    m = low.pose
    for i in range(count):
        for k in range(3):
            v = low.faces[first + i, k]
            a = low.vertices[v, 0]
            b = low.vertices[v, 1]
            c = low.vertices[v, 2]
            _corner(
                m[0, 0] * a + m[0, 1] * b + m[0, 2] * c + m[0, 3],
                m[1, 0] * a + m[1, 1] * b + m[1, 2] * c + m[1, 3],
                m[2, 0] * a + m[2, 1] * b + m[2, 2] * c + m[2, 3],
                k,
                faces[i],
            )
    _finish(faces, boxes, count, whole)


@njit(cache=True, nogil=True, error_model="numpy")
def _unfold(face: Floats, corners: Floats, polar: Floats) -> None:
    """Copy a face's corners and their (r^2, z, phi) out of their slot (so that one compiled kernel fits all)."""
    for i in range(3):
        for k in range(3):
            corners[i, k] = face[i, k]
            polar[i, k] = face[3 + i, k]


@njit(cache=True, nogil=True, error_model="numpy")
def _grown(boxes: Floats) -> Floats:
    more = np.zeros((2 * boxes.shape[0], LEAF_FACES, 6))
    more[: boxes.shape[0]] = boxes
    return more


@njit(cache=True, nogil=True, error_model="numpy")
def _roomier(keys: Floats, nodes: Ints, size: int) -> tuple[Floats, Ints]:
    more_keys = np.zeros(2 * keys.shape[0])
    more_nodes = np.zeros(2 * keys.shape[0], dtype=np.int32)
    more_keys[:size] = keys[:size]
    more_nodes[:size] = nodes[:size]
    return more_keys, more_nodes


@njit(cache=True, nogil=True, error_model="numpy")
def _first(
    up: Tree,
    low: Carried,
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
    Ties go to the lowest face numbers, so the order of the visit does not show. The boxes of an
    upper leaf's faces are made when it is first met, and kept in a slot until the search ends.
    """
    q_tol = 2.0 * reach * tol
    best = min(within, 4.0)  # no gap is above pi; finite, so that boxes that do not meet stay out
    limit = np.nextafter(best, np.inf)
    which[0] = -1
    solved = 0
    room = 1024
    keys = np.zeros(room)
    nodes = np.zeros(room, dtype=np.int32)
    up_slot = np.full(up.leaf_row, -1, dtype=np.int32)
    up_used = 0
    up_boxes = np.zeros((64, LEAF_FACES, 6))
    low_faces = np.zeros((LEAF_FACES, 6, 3))
    low_boxes = np.zeros((LEAF_FACES, 6))
    low_whole = np.zeros(6)
    live = np.zeros(LEAF_FACES, dtype=np.int32)
    box = np.zeros(6)
    touch = np.zeros(4)
    feature = np.zeros(3, dtype=np.int64)
    scratch = np.zeros(3)
    a3 = np.zeros((3, 3))
    b3 = np.zeros((3, 3))
    a_polar = np.zeros((3, 3))
    b_polar = np.zeros((3, 3))
    slot_leaf = np.zeros(up.leaf_row, dtype=np.int32)
    pair_room = 4 * LEAF_FACES * LEAF_FACES
    pair_keys = np.zeros(pair_room)
    pair_codes = np.zeros(pair_room, dtype=np.int32)
    stack = np.zeros(64, dtype=np.int32)  # a depth of at most 31, two for each
    root = up.boxes[1]
    scale = np.zeros(2)
    _floor_scale(root, up.floor_side, scale)
    size = _push(keys, nodes, 0, -np.inf, 1)
    while size > 0:
        if keys[0] > best + slack:
            break
        size = _pop(keys, nodes, size)
        b = nodes[size]
        if b < low.leaf_row:
            if size + 2 > room:
                room *= 2
                keys, nodes = _roomier(keys, nodes, size)
            for j in range(2 * b, 2 * b + 2):
                _carried(low.limits[j], low.pose, tol, box)
                bound = _lowest(up.floor, up.floor_side, root, scale, box, q_tol, tol) - box[5]
                if bound <= best + slack:
                    size = _push(keys, nodes, size, bound, j)
            continue
        leaf_b = b - low.leaf_row
        first_b = low.starts[leaf_b]
        count_b = low.starts[leaf_b + 1] - first_b
        _lower_leaf(low, leaf_b, low_faces, low_boxes, low_whole)
        bound = _lowest(up.floor, up.floor_side, root, scale, low_whole, q_tol, tol) - low_whole[5]
        if bound > best + slack:
            continue
        # Faces that cannot beat the best by themselves are left out, and the box is drawn in around the others.
        live_count = 0
        for k in range(0, 6, 2):
            low_whole[k] = np.inf
            low_whole[k + 1] = -np.inf
        for j in range(count_b):
            bound = _lowest(up.floor, up.floor_side, root, scale, low_boxes[j], q_tol, tol) - low_boxes[j, 5]
            if bound > best + slack:
                continue
            live[live_count] = j
            live_count += 1
            for k in range(0, 6, 2):
                low_whole[k] = min(low_whole[k], low_boxes[j, k])
                low_whole[k + 1] = max(low_whole[k + 1], low_boxes[j, k + 1])
        if live_count == 0:
            continue
        # Every pair of faces of this leaf and the upper that may beat the best, taken up in the order of their bounds.
        waiting_pairs = 0
        waiting = 1
        stack[0] = 1
        while waiting > 0:
            waiting -= 1
            a = stack[waiting]
            if _bound(up.boxes[a], low_whole, q_tol, tol) > best + slack:
                continue
            if a < up.leaf_row:
                stack[waiting] = 2 * a
                stack[waiting + 1] = 2 * a + 1
                waiting += 2
                continue
            leaf_a = a - up.leaf_row
            first_a = up.starts[leaf_a]
            count_a = up.starts[leaf_a + 1] - first_a
            if up_slot[leaf_a] < 0:
                if up_used == up_boxes.shape[0]:
                    up_boxes = _grown(up_boxes)
                for i in range(count_a):
                    _face_box(up.polar, up.faces, first_a + i, up_boxes[up_used, i])
                up_slot[leaf_a] = up_used
                slot_leaf[up_used] = leaf_a
                up_used += 1
            s = up_slot[leaf_a]
            if waiting_pairs + LEAF_FACES * LEAF_FACES > pair_room:
                pair_room *= 2
                pair_keys, pair_codes = _roomier(pair_keys, pair_codes, waiting_pairs)
            for i in range(count_a):
                if _bound(up_boxes[s, i], low_whole, q_tol, tol) > best + slack:
                    continue
                for k in range(live_count):
                    j = live[k]
                    bound = _bound(up_boxes[s, i], low_boxes[j], q_tol, tol)
                    if bound <= best + slack:
                        code = (s * LEAF_FACES + i) * LEAF_FACES + j
                        waiting_pairs = _push(pair_keys, pair_codes, waiting_pairs, bound, code)
        while waiting_pairs > 0 and pair_keys[0] <= best + slack:
            waiting_pairs = _pop(pair_keys, pair_codes, waiting_pairs)
            code = pair_codes[waiting_pairs]
            j = code % LEAF_FACES
            i = code // LEAF_FACES % LEAF_FACES
            s = code // (LEAF_FACES * LEAF_FACES)
            solved += 1
            face = up.starts[slot_leaf[s]] + i
            _corners(up.vertices, up.faces, face, a3)
            if _kept_apart(a3, low_faces[j], pair_keys[waiting_pairs] - slack, best + slack, tol):
                continue
            for k in range(3):
                v = up.faces[face, k]
                a_polar[k, 0] = up.polar[v, 0]
                a_polar[k, 1] = up.polar[v, 1]
                a_polar[k, 2] = math.atan(up.polar[v, 2])
            _unfold(low_faces[j], b3, b_polar)
            got = _near_pair(
                a3,
                a_polar,
                up_boxes[s, i],
                b3,
                b_polar,
                low_boxes[j],
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
            x = up.ids[face]
            y = low.ids[first_b + j]
            if got == best and which[0] >= 0 and (x > which[0] or (x == which[0] and y > which[1])):
                continue
            best = got
            limit = np.nextafter(best, np.inf)
            found[0] = got
            found[1] = touch[1]
            found[2] = touch[2]
            found[3] = touch[3]
            which[0] = x
            which[1] = y
            which[2] = feature[0]
            which[3] = feature[1]
            which[4] = feature[2]
    return solved
