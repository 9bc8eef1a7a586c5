"""Kernels that keep, from pose to pose of the lower, which pairs of blocks of faces may meet (docs/theory/settling.md).

A pair of blocks of the two arches' trees is kept with the way at which it is due: at some pose they were at least so far
apart, and a place of the lower that has gone less far since cannot touch. Only pairs that are due are looked at again: their
distance is bounded anew, or they give way to pairs of smaller blocks. Ways are counted for each of the lower's larger blocks.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._descent import _bound
from mountproof.geometry._near_blocks import (
    Blocks,
    Faces,
    Placed,
    _box_gap2,
    _boxed,
    _brick_gap2,
    _carried_brick,
    _carried_face,
    _heights,
    _ringed,
    _slab_gap,
    _swept_brick_gap2,
    _swept_gap2,
)
from mountproof.geometry._nearest import LEAF_FACES
from mountproof.geometry._sites import _allowed
from mountproof.geometry._two_faces import _kept_apart, _near_pair

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

#: Ways are counted for the blocks of the tree's first levels, less than so many.
WAYS = 128


class Pairs(NamedTuple):
    """The pairs that are kept: blocks of the upper and the lower, the larger block whose way counts, and the way when due."""

    upper: Ints
    lower: Ints
    way: Ints
    due_mm: Floats


@njit(cache=True, nogil=True, error_model="numpy")
def _went(boxes: Floats, here: Floats, there: Floats, out: Floats) -> None:
    """How far any place of each larger block lies apart between two poses: most at a corner, the way being convex."""
    m = there - here
    for b in range(1, min(WAYS, boxes.shape[0])):
        most = 0.0
        if boxes[b, 0] <= boxes[b, 3]:
            for k in range(8):
                x = boxes[b, 0] if k & 1 else boxes[b, 3]
                y = boxes[b, 1] if k & 2 else boxes[b, 4]
                z = boxes[b, 2] if k & 4 else boxes[b, 5]
                u = m[0, 0] * x + m[0, 1] * y + m[0, 2] * z + m[0, 3]
                v = m[1, 0] * x + m[1, 1] * y + m[1, 2] * z + m[1, 3]
                w = m[2, 0] * x + m[2, 1] * y + m[2, 2] * z + m[2, 3]
                most = max(most, u * u + v * v + w * w)
        out[b] = math.sqrt(most)


@njit(cache=True, nogil=True, error_model="numpy")
def _due(
    up: Blocks,
    low: Blocks,
    up_faces: Faces,
    here: Placed,
    there: Placed,
    pairs: Pairs,
    size: int,
    gone: Floats,
    went: Floats,
    within: float,
    near: Longs,
) -> tuple[int, int]:
    """Look again at every pair that is due on the way from one pose to another, and ``within`` (mm) beyond it.

    Nothing overlaps ``here``. ``gone``, ``went`` (mm, for each larger block): the way to here, and from here to there.
    Writes the places of the pairs of faces that may touch on that way (``near``); returns how many pairs of blocks there are,
    -1 when there is no room for them, and how many pairs of faces, -1 when there is no room for those.
    """
    count = 0
    stack = np.zeros((128, 3), np.int32)  # a depth of at most 31 in each tree, one waits at each
    scratch = np.zeros(2)
    within2 = within * within
    # arrays by themselves: taking them out of their tuples each time costs more than what is done with them
    up_boxes, low_boxes, up_row, low_row = up.boxes, low.boxes, up.row, low.row
    up_bricks, low_bricks = up.bricks, low.bricks
    up_count, low_count = up.ids.shape[0], low.ids.shape[0]
    rest = low.corners
    up_corners, up_face_boxes, up_boxed = up_faces.corners, up_faces.boxes, up_faces.boxed
    here_pose, here_bricks, here_made, here_stamp = here.pose, here.bricks, here.made, here.stamp
    here_corners, here_face_boxes, here_boxed = here.faces.corners, here.faces.boxes, here.faces.boxed
    there_pose, there_bricks, there_made, there_stamp = there.pose, there.bricks, there.made, there.stamp
    there_corners, there_face_boxes, there_boxed = there.faces.corners, there.faces.boxes, there.faces.boxed
    kept_upper, kept_lower, kept_way, kept_due = pairs.upper, pairs.lower, pairs.way, pairs.due_mm
    until = gone + went + within
    end = size
    for k in range(end):
        if kept_due[k] > until[kept_way[k]]:
            continue
        place = k  # the first of what comes of a pair takes its place
        stack[0, 0] = kept_upper[k]
        stack[0, 1] = kept_lower[k]
        stack[0, 2] = kept_way[k]
        waiting = 1
        while waiting > 0:
            waiting -= 1
            a = stack[waiting, 0]
            b = stack[waiting, 1]
            way = stack[waiting, 2]
            far = went[way] + within
            far2 = far * far
            if here_made[b] != here_stamp:
                here_made[b] = here_stamp
                _carried_brick(low_bricks, b, here_pose, here_bricks)
            least2 = _brick_gap2(up_bricks, a, low_bricks, here_bricks, b)
            split = False
            if least2 <= far2:
                if there_made[b] != there_stamp:
                    there_made[b] = there_stamp
                    _carried_brick(low_bricks, b, there_pose, there_bricks)
                split = _swept_brick_gap2(up_bricks, a, low_bricks, here_bricks, there_bricks, b) <= within2
            if split and (a < up_row or b < low_row):
                split_b = a >= up_row or (
                    b < low_row
                    and low_bricks[b, 13] + low_bricks[b, 14] > up_bricks[a, 13] + up_bricks[a, 14]
                )
                for d in range(2):
                    i = a if split_b else 2 * a + d
                    j = 2 * b + d if split_b else b
                    # the last row has empty places
                    if up_boxes[i, 0] <= up_boxes[i, 3] and low_boxes[j, 0] <= low_boxes[j, 3]:
                        stack[waiting, 0] = i
                        stack[waiting, 1] = j
                        stack[waiting, 2] = j if j < WAYS else way
                        waiting += 1
                continue
            if split:
                i0 = (a - up_row) * LEAF_FACES
                i1 = min(i0 + LEAF_FACES, up_count)
                j0 = (b - low_row) * LEAF_FACES
                j1 = min(j0 + LEAF_FACES, low_count)
                for j in range(j0, j1):
                    if here_boxed[j] != here_stamp:
                        here_boxed[j] = here_stamp
                        _carried_face(rest, j, here_pose, here_corners)
                        _boxed(here_corners, j, here_face_boxes)
                    if there_boxed[j] != there_stamp:
                        there_boxed[j] = there_stamp
                        _carried_face(rest, j, there_pose, there_corners)
                        _boxed(there_corners, j, there_face_boxes)
                # heights over what stands change evenly from one pose to the other
                gap = _slab_gap(up_bricks, a, here_corners, j0, j1)
                if abs(gap) > within:
                    least2 = max(least2, gap * gap)
                    later = _slab_gap(up_bricks, a, there_corners, j0, j1)
                    split = abs(later) <= within or (gap > 0.0) != (later > 0.0)
            if split:
                # no array is made longer here: one that changes within the loop is counted at every turn of it
                if count + LEAF_FACES * LEAF_FACES > near.shape[0]:
                    return size, -1
                least2 = np.inf
                for j in range(j0, j1):
                    for i in range(i0, i1):
                        if up_boxed[i] == 0:
                            up_boxed[i] = 1
                            _boxed(up_corners, i, up_face_boxes)
                        gap2 = _box_gap2(up_face_boxes, i, here_face_boxes, j)
                        may = (
                            gap2 <= far2
                            and _swept_gap2(up_face_boxes, i, here_face_boxes, there_face_boxes, j) <= within2
                        )
                        if gap2 >= least2 and not may:
                            continue
                        _heights(up_corners, i, here_corners, j, scratch)
                        low_h = scratch[0]
                        high_h = scratch[1]
                        gap = max(low_h, -high_h)
                        if gap > 0.0:
                            gap2 = max(gap2, gap * gap)
                        least2 = min(least2, gap2)
                        if not may or gap > far:
                            continue
                        _heights(up_corners, i, there_corners, j, scratch)
                        if min(low_h, scratch[0]) > within or max(high_h, scratch[1]) < -within:
                            continue
                        near[count, 0] = i
                        near[count, 1] = j
                        count += 1
            if place < 0:
                if size == kept_due.shape[0]:
                    return -1, count
                place = size
                size += 1
            kept_upper[place] = a
            kept_lower[place] = b
            kept_way[place] = way
            kept_due[place] = gone[way] + math.sqrt(least2)
            place = -1
    return size, count


@njit(cache=True, nogil=True, error_model="numpy")
def _met(
    up: Blocks,
    low: Blocks,
    up_faces: Faces,
    there: Placed,
    near: Longs,
    count: int,
    tol: float,
    reach: float,
    slack: float,
    closed: float,
    within: float,
    first_found: bool,
    touches: Floats,
    which: Longs,
) -> int:
    """Each of these pairs of faces that meets within an arc beyond a closure, as ``_sites._pairs_within`` tells it.

    Writes as many as there is room for, and returns how many there are.
    """
    q_tol = 2.0 * reach * tol
    scratch = np.zeros(3)
    touch = np.zeros(4)
    feature = np.zeros(3, dtype=np.int64)
    met = 0
    # arrays by themselves, as in ``_due``
    up_ids, low_ids = up.ids, low.ids
    up_corners, up_polar, up_rings, up_ringed = (
        up_faces.corners,
        up_faces.polar,
        up_faces.rings,
        up_faces.ringed,
    )
    stamp, low_corners, low_polar, low_rings, low_ringed = (
        there.stamp, there.faces.corners, there.faces.polar, there.faces.rings, there.faces.ringed
    )  # fmt: skip
    ring, low_ring, a3, b3 = np.zeros(6), np.zeros(6), np.zeros((3, 3)), np.zeros((3, 3))
    for pair in range(count):
        i = near[pair, 0]
        j = near[pair, 1]
        if low_ringed[j] != stamp:
            low_ringed[j] = stamp
            _ringed(low_corners, j, low_polar, low_rings)
        if up_ringed[i] == 0:
            up_ringed[i] = 1
            _ringed(up_corners, i, up_polar, up_rings)
        for k in range(6):
            ring[k] = up_rings[i, k]
            low_ring[k] = low_rings[j, k]
        bound = _bound(ring, low_ring, q_tol, tol)
        # no place of the pair lies nearer to the axis, so none may count at a larger angle
        limit = _allowed(max(ring[0], low_ring[0]), closed, within) + slack
        if bound == np.inf or bound > limit:
            continue
        limit = min(np.nextafter(limit, np.inf), 4.0)
        for k in range(3):
            for c in range(3):
                a3[k, c] = up_corners[i, k, c]
                b3[k, c] = low_corners[j, k, c]
        if _kept_apart(a3, b3, bound - slack, limit, tol):
            continue
        got = _near_pair(
            a3, up_polar[i], ring, b3, low_polar[j], low_ring,
            q_tol, tol, slack, limit, touch, feature, scratch,
        )  # fmt: skip
        if got >= limit:
            continue
        if got > _allowed(touch[1] * touch[1] + touch[2] * touch[2], closed, within) + slack:
            continue
        if first_found:
            closed = min(closed, got)
        if met < touches.shape[0]:
            for k in range(4):
                touches[met, k] = touch[k]
            which[met, 0] = up_ids[i]
            which[met, 1] = low_ids[j]
            for k in range(3):
                which[met, 2 + k] = feature[k]
        met += 1
    return met
