"""First contact of one pair of parts for many small motions of the lower (docs/theory/draws.md).

Motions come in bunches that are alike. Pairs of patches are taken up best bounds first, once for a bunch, and every motion of it
has a bound of its own and a best contact of its own: a pair of patches is left out when no motion needs it.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._bunch_lanes import _filled, _patch_gaps
from mountproof.geometry._descent import _pop, _push
from mountproof.geometry._leaf_pairs import Room, _touching
from mountproof.geometry._leans import MOST_TILT_RAD, _lean_apart
from mountproof.geometry._pair_bounds import TILT, Frame, _carried_lid, _least
from mountproof.geometry._parts import Part
from mountproof.geometry._small_motions import _spread

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True, error_model="numpy")
def _larger_upper(lids: Floats, a: int, low: Floats, b: int) -> bool:
    return bool(
        lids[a, 1] - lids[a, 0] + lids[a, 3] - lids[a, 2] > low[b, 1] - low[b, 0] + low[b, 3] - low[b, 2]
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _bunches(
    up: Part,
    low: Part,
    frame: Frame,
    motions: Floats,
    poses: Floats,
    told: Floats,
    order: Ints,
    starts: Ints,
    count: int,
    limit_rad: Floats,
    coarse_mm: float,
    room: Room,
    closing: Floats,
    which: Ints,
) -> None:
    """First contact of one pair of parts at every motion in ``order``, as far as it is no later than ``limit_rad`` (n,).

    ``closing`` (n,): inf where there is none that early. ``which`` (n, 5): kind, places of the two features, lowest
    numbers of the faces that hold them. ``coarse_mm`` above 0: ``closing`` gets a lower bound only, from patches of that radius.
    """
    up_nodes = up.nodes
    up_lids = up.lids
    up_balls = up.balls
    up_leans = up.leans
    low_nodes = low.nodes
    low_lids = low.lids
    low_balls = low.balls
    low_leans = low.leans
    lids = room.lids
    fresh = room.lid_stamp
    lanes = room.lanes
    cut = room.cut
    gaps = room.gaps
    found = room.found
    best = room.best
    about = np.zeros(13)
    n = np.zeros((3, 4))
    space = 1024
    keys = np.zeros(space)
    places = np.zeros(space, dtype=np.int32)
    pairs = np.zeros((space, 2), dtype=np.int32)
    for bunch in range(count):
        first = starts[bunch]
        last = starts[bunch + 1]
        _spread(told, order, first, last, about)
        cap = -np.inf
        for q in range(first, last):
            k = order[q]
            found[q - first] = min(limit_rad[k], 4.0)
            best[q - first, 0] = -1
            cut[q - first] = found[q - first] + told[k, 5] + frame.slack
            cap = max(cap, cut[q - first])
        room.stamp[0] += 1
        stamp = room.stamp[0]
        fresh[0] = stamp
        _carried_lid(low_lids, low_balls, 0, frame.rc, frame.zc, frame.wide, about, lids)
        if _least(up_lids, 0, lids, 0) <= cap:
            used = _filled(told, motions, frame, order, first, last, n, lanes)
            for lane in range(last - first, used):
                cut[lane] = -np.inf
            taken = 1
            pairs[0, 0] = 0
            pairs[0, 1] = 0
            size = _push(keys, places, 0, -np.inf, 0)
            while size > 0:
                size = _pop(keys, places, size)
                place = places[size]
                a = pairs[place, 0]
                b = pairs[place, 1]
                child_a = up_nodes[a, 0]
                child_b = low_nodes[b, 0]
                room.counts[0] += 1
                ends = child_a == 0 and child_b == 0
                if coarse_mm > 0.0:
                    ends = (child_a == 0 or up_balls[a, 3] <= coarse_mm) and (
                        child_b == 0 or low_balls[b, 3] <= coarse_mm
                    )
                if ends:
                    if _patch_gaps(up_lids, a, lids, b, low_lids, frame.wide, lanes, cut, used, gaps) > 0.0:
                        continue
                    if coarse_mm > 0.0:
                        for lane in range(last - first):
                            if gaps[lane] <= 0.0:
                                cut[lane] += gaps[lane]
                                best[lane, 0] = 0
                    else:
                        room.counts[1] += 1
                        _touching(
                            up, low, frame, poses, told, order, first, last, used, up_nodes[a, 1], low_nodes[b, 1],
                            b, about, lids[b, TILT], room,
                        )  # fmt: skip
                    cap = -np.inf
                    for lane in range(last - first):
                        cap = max(cap, cut[lane])
                    continue
                if taken + 2 > space:
                    space *= 2
                    more_keys = np.zeros(space)
                    more_places = np.zeros(space, dtype=np.int32)
                    more_pairs = np.zeros((space, 2), dtype=np.int32)
                    more_keys[:size] = keys[:size]
                    more_places[:size] = places[:size]
                    more_pairs[:taken] = pairs[:taken]
                    keys = more_keys
                    places = more_places
                    pairs = more_pairs
                upper = child_b == 0 or (child_a > 0 and _larger_upper(up_lids, a, lids, b))
                if coarse_mm > 0.0:
                    if upper and up_balls[a, 3] <= coarse_mm:
                        upper = False
                    elif not upper and low_balls[b, 3] <= coarse_mm:
                        upper = True
                for c in range(2):
                    i = child_a + c if upper else a
                    j = b if upper else child_b + c
                    if fresh[j] != stamp:
                        fresh[j] = stamp
                        _carried_lid(low_lids, low_balls, j, frame.rc, frame.zc, frame.wide, about, lids)
                    if not _least(up_lids, i, lids, j) <= cap:
                        continue
                    if lids[j, TILT] <= MOST_TILT_RAD and _lean_apart(up_leans, i, low_leans, j, lids[j, TILT]):
                        continue
                    room.counts[2] += 1
                    key = _patch_gaps(up_lids, i, lids, j, low_lids, frame.wide, lanes, cut, used, gaps)
                    if key <= 0.0:
                        # the place that was taken up is free again
                        at_place = place if c == 0 else taken
                        if c == 1:
                            taken += 1
                        pairs[at_place, 0] = i
                        pairs[at_place, 1] = j
                        size = _push(keys, places, size, key, at_place)
        for q in range(first, last):
            k = order[q]
            lane = q - first
            closing[k] = np.inf
            if best[lane, 0] >= 0:
                if coarse_mm > 0.0:
                    closing[k] = cut[lane] - told[k, 5] - 2.0 * frame.slack
                else:
                    closing[k] = found[lane]
                    for c in range(5):
                        which[k, c] = best[lane, c]
