"""Kernels that keep, from pose to pose of the lower, which pairs of blocks of faces may meet (docs/theory/settling.md).

A pair of blocks of the two arches' trees is kept with the way at which it is due: at some pose they were at least so far
apart, and a place of the lower that has gone less far since cannot touch. Only pairs that are due are looked at again: their
distance is bounded anew, or they give way to pairs of smaller blocks. Ways are counted for each of the lower's larger blocks.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel
from mountproof.geometry._near_blocks import (
    Blocks,
    Faces,
    Placed,
    Rows,
    _box_gap2,
    _boxed,
    _brick_gap2,
    _carried_brick,
    _carried_face,
    _heights,
    _row,
    _slab_gap,
    _swept_brick_gap2,
    _swept_gap2,
)
from mountproof.geometry._nearest import LEAF_FACES

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Ways are counted for the blocks of the tree's first levels, less than so many.
WAYS = 128


class Pairs(NamedTuple):
    """The pairs that are kept: blocks of the upper and the lower, the larger block whose way counts, and the way when due."""

    upper: Ints
    lower: Ints
    way: Ints
    due_mm: Floats


@kernel
def _went(boxes: Floats, here: Floats, there: Floats, out: Floats) -> None:
    """How far any place of each larger block lies apart between two poses: most at a corner, the way being convex."""
    for b in range(1, min(WAYS, boxes.shape[0])):
        most = 0.0
        if boxes[b, 0] <= boxes[b, 3]:
            for k in range(8):
                x = boxes[b, 0] if k & 1 else boxes[b, 3]
                y = boxes[b, 1] if k & 2 else boxes[b, 4]
                z = boxes[b, 2] if k & 4 else boxes[b, 5]
                far2 = 0.0
                for c in range(3):
                    d = (
                        (there[c, 0] - here[c, 0]) * x
                        + (there[c, 1] - here[c, 1]) * y
                        + (there[c, 2] - here[c, 2]) * z
                        + (there[c, 3] - here[c, 3])
                    )
                    far2 += d * d
                most = max(most, far2)
        out[b] = math.sqrt(most)


@kernel
def _due(
    up: Blocks,
    low: Blocks,
    up_faces: Faces,
    up_leaves: Rows,
    here: Placed,
    there: Placed,
    pairs: Pairs,
    size: int,
    gone: Floats,
    went: Floats,
    until: Floats,
    within: float,
    near: Ints,
    stack: Ints,
    scratch: Floats,
) -> tuple[int, int]:
    """Look again at every pair that is due on the way from one pose to another, and ``within`` (mm) beyond it.

    Nothing overlaps ``here``. ``gone``, ``went`` (mm, for each larger block): the way to here, and from here to there.
    Writes the rows of the pairs of faces that may touch on that way (``near``); returns how many pairs of blocks there are,
    -1 when there is no room for them, and how many pairs of faces, -1 when there is no room for those. ``until``,
    ``stack``, ``scratch``: room to work in.
    """
    count = 0
    within2 = within * within
    # arrays by themselves: taking them out of their tuples each time costs more than what is done with them
    up_boxes, low_boxes, up_row, low_row = up.boxes, low.boxes, up.row, low.row
    up_bricks, low_bricks = up.bricks, low.bricks
    up_ids, low_ids, up_numbers, low_numbers = up.ids, low.ids, up_faces.numbers, there.faces.numbers
    up_owned, low_owned, up_has, low_has = up.owned, low.owned, up_faces.owned, there.faces.owned
    up_count, low_count = up_ids.shape[0], low_ids.shape[0]
    up_rest, rest = up.corners, low.corners
    up_after, up_met = up_leaves.after, up_leaves.met
    low_after, low_met = here.leaves.after, here.leaves.met
    node_after, node_met = here.nodes.after, here.nodes.met
    up_corners, up_face_boxes, up_boxed = up_faces.corners, up_faces.boxes, up_faces.boxed
    here_pose, here_bricks, here_made, here_stamp = here.pose, here.bricks, here.made, here.stamp
    here_corners, here_face_boxes, here_boxed = here.faces.corners, here.faces.boxes, here.faces.boxed
    there_pose, there_bricks, there_made, there_stamp = there.pose, there.bricks, there.made, there.stamp
    there_corners, there_face_boxes, there_boxed = there.faces.corners, there.faces.boxes, there.faces.boxed
    kept_upper, kept_lower, kept_way, kept_due = pairs.upper, pairs.lower, pairs.way, pairs.due_mm
    nodes, low_leaves, standing_leaves = here_made.shape[0], here_boxed.shape[0], up_boxed.shape[0]
    for k in range(WAYS):
        until[k] = gone[k] + went[k] + within
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
            if node_met[0] == nodes or low_met[0] == low_leaves or up_met[0] == standing_leaves:
                return -1, count
            row = _row(node_after, node_met, b)
            if here_made[row] != here_stamp:
                here_made[row] = here_stamp
                _carried_brick(low_bricks, b, here_pose, here_bricks, row)
            least2 = _brick_gap2(up_bricks, a, low_bricks, b, here_bricks, row)
            split = False
            if least2 <= far2:
                if there_made[row] != there_stamp:
                    there_made[row] = there_stamp
                    _carried_brick(low_bricks, b, there_pose, there_bricks, row)
                split = (
                    _swept_brick_gap2(up_bricks, a, low_bricks, b, here_bricks, there_bricks, row) <= within2
                )
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
                # places of the faces, and their rows
                first = (a - up_row) * LEAF_FACES
                some = min(LEAF_FACES, up_count - first)
                leaf = _row(up_after, up_met, a - up_row)
                i0 = leaf * LEAF_FACES
                i1 = i0 + some
                if up_boxed[leaf] == 0:
                    up_boxed[leaf] = 1
                    for k in range(some):
                        for c in range(3):
                            for x in range(3):
                                up_corners[i0 + k, c, x] = up_rest[first + k, c, x]
                        _boxed(up_corners, i0 + k, up_face_boxes)
                        up_numbers[i0 + k] = up_ids[first + k]
                        up_has[i0 + k] = up_owned[first + k]
                first = (b - low_row) * LEAF_FACES
                some = min(LEAF_FACES, low_count - first)
                leaf = _row(low_after, low_met, b - low_row)
                j0 = leaf * LEAF_FACES
                j1 = j0 + some
                if here_boxed[leaf] != here_stamp:
                    here_boxed[leaf] = here_stamp
                    for k in range(some):
                        _carried_face(rest, first + k, here_pose, here_corners, j0 + k)
                        _boxed(here_corners, j0 + k, here_face_boxes)
                if there_boxed[leaf] != there_stamp:
                    there_boxed[leaf] = there_stamp
                    for k in range(some):
                        _carried_face(rest, first + k, there_pose, there_corners, j0 + k)
                        _boxed(there_corners, j0 + k, there_face_boxes)
                        low_numbers[j0 + k] = low_ids[first + k]
                        low_has[j0 + k] = low_owned[first + k]
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
