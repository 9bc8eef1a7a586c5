"""First contact of one pair of parts for many small motions of the lower (docs/theory/draws.md).

Motions come in bunches that are alike. Pairs of patches are taken up once for a bunch, the best of what a pair was split into
first, and every motion of it has a bound of its own and a best contact of its own: a pair of patches is left out when no motion
needs it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._bunch_lanes import LANES, _carried_patch, _filled, _patch_gaps, _used
from mountproof.geometry._kernel import kernel
from mountproof.geometry._leaf_pairs import Room, _touching
from mountproof.geometry._leans import MOST_TILT_RAD, _lean_apart
from mountproof.geometry._pair_bounds import TILT, Frame, _carried_lid, _least
from mountproof.geometry._parts import Part

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Singles = NDArray[np.float32]


#: What is asked of a motion: the exact first contact, or whether patches allow one at all.
EXACT = 0
WHETHER = 1


#: Pairs of patches that may wait: three for each time that one of two trees is gone down, and neither is deeper than 31.
WAITING = 192


@kernel
def _put(keys: NDArray[np.int64], pairs: Ints, base: int, size: int, key: int, a: int, b: int) -> int:
    """Let a pair of patches wait among those from ``base`` on, the largest key last; return how many wait."""
    i = size
    while i > base and keys[i - 1] > key:
        keys[i] = keys[i - 1]
        pairs[i, 0] = pairs[i - 1, 0]
        pairs[i, 1] = pairs[i - 1, 1]
        i -= 1
    keys[i] = key
    pairs[i, 0] = a
    pairs[i, 1] = b
    return size + 1


@kernel
def _width(lids: Floats, a: int) -> float:
    return float(lids[a, 1] - lids[a, 0] + lids[a, 3] - lids[a, 2])


@kernel
def _bunches(
    up: Part,
    low: Part,
    frame: Frame,
    motions: Floats,
    poses: Floats,
    told: Floats,
    order: Ints,
    starts: Ints,
    bunches: Singles,
    thetas: Floats,
    abouts: Floats,
    limit_rad: Floats,
    asked: int,
    coarse_mm: float,
    room: Room,
    closing: Floats,
    which: Ints,
) -> None:
    """First contact of one pair of parts at every motion in ``order``, as far as it is no later than ``limit_rad`` (n,).

    ``closing`` (n,): inf where there is none that early. ``which`` (n, 5): kind, places of the two features, lowest
    numbers of the faces that hold them. ``asked``: ``WHETHER``: ``closing`` gets something finite where patches of radius
    ``coarse_mm`` allow a contact that early. ``starts``, ``bunches``, ``thetas``, ``abouts``: see ``Bunched``.
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
    patch = room.patch
    cut = room.cut
    gaps = room.patch_gaps
    bits = room.patch_bits
    left = room.patch_cut
    found = room.found
    best = room.best
    n = room.carried
    keys = room.keys
    pairs = room.pairs
    finest = coarse_mm if asked != EXACT else -1.0
    for bunch in range(abouts.shape[0]):
        first = starts[bunch]
        last = starts[bunch + 1]
        about = abouts[bunch]
        for q in range(first, last):
            k = order[q]
            found[q - first] = min(limit_rad[k], 4.0)
            best[q - first, 0] = -1
            cut[q - first] = found[q - first] + thetas[bunch, q - first] + frame.slack
        for lane in range(last - first, LANES):
            cut[lane] = -np.inf
        cap = _used(cut, left)
        room.stamp[0] += 1
        stamp = room.stamp[0]
        fresh[0] = stamp
        _carried_lid(low_lids, low_balls, 0, frame.rc, frame.zc, frame.wide, about, lids)
        size = 0
        used = 0
        if _least(up_lids, 0, lids, 0) <= cap:
            if asked == EXACT:
                used = _filled(motions, frame, order, first, last, n, lanes)
            size = _put(keys, pairs, 0, 0, 0, 0, 0)
        while size > 0 and cap > -np.inf:
            size -= 1
            base = size
            a = pairs[base, 0]
            b = pairs[base, 1]
            room.counts[0] += 1
            split_a = up_nodes[a, 0] > 0 and up_balls[a, 3] > finest
            split_b = low_nodes[b, 0] > 0 and low_balls[b, 3] > finest
            if not split_a and not split_b:
                _carried_patch(lids, b, bunches, bunch, left, patch)
                if _patch_gaps(up_lids, a, lids, b, frame, patch, gaps, bits) == 0:
                    continue
                room.counts[1] += 1
                if asked == EXACT:
                    _touching(
                        up, low, frame, poses, told, order, first, last, used, up_nodes[a, 1], low_nodes[b, 1],
                        b, about, lids[b, TILT], room,
                    )  # fmt: skip
                else:
                    for lane in range(last - first):
                        if gaps[lane] <= 0.0:
                            best[lane, 0] = 0
                            cut[lane] = -np.inf
                cap = _used(cut, left)
                continue
            if split_a and split_b:
                # both at once, unless one is much the larger
                split_b = _width(up_lids, a) < 2.0 * _width(lids, b)
                split_a = not split_b or _width(lids, b) < 2.0 * _width(up_lids, a)
            for d in range(2 if split_b else 1):
                j = low_nodes[b, 0] + d if split_b else b
                if fresh[j] != stamp:
                    fresh[j] = stamp
                    _carried_lid(low_lids, low_balls, j, frame.rc, frame.zc, frame.wide, about, lids)
                tilt = lids[j, TILT]
                ready = False
                for c in range(2 if split_a else 1):
                    i = up_nodes[a, 0] + c if split_a else a
                    if not _least(up_lids, i, lids, j) <= cap:
                        continue
                    if tilt <= MOST_TILT_RAD and _lean_apart(up_leans, i, low_leans, j, tilt):
                        continue
                    if not ready:
                        ready = True
                        _carried_patch(lids, j, bunches, bunch, left, patch)
                    room.counts[2] += 1
                    key = _patch_gaps(up_lids, i, lids, j, frame, patch, gaps, bits)
                    if key > 0:
                        size = _put(keys, pairs, base, size, key, i, j)
        for q in range(first, last):
            k = order[q]
            lane = q - first
            closing[k] = np.inf
            if best[lane, 0] < 0:
                continue
            if asked == EXACT:
                closing[k] = found[lane]
                for c in range(5):
                    which[k, c] = best[lane, c]
            else:
                closing[k] = 0.0
