"""Kernels that search the first contact of a pair of parts at one small motion, best bounds first (docs/theory/draws.md)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._descent import _pop, _push
from mountproof.geometry._leaf_pairs import (
    _carry_leaf,
    _corners_above_faces,
    _corners_under_faces,
    _edges_and_edges,
)
from mountproof.geometry._pair_bounds import Carried, Frame, _carried_lid, _least, _slopes_of_gap
from mountproof.geometry._pair_features import Corners, _gathered, _names, _take
from mountproof.geometry._parts import Part
from mountproof.geometry._two_faces import FACE_VERTEX, VERTEX_FACE

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


class Room(NamedTuple):
    """Scratch of one search.

    ``rows`` (8, k): bound at the central motion, its five slopes, slope times size, slope of what is listed;
    ``what`` (k, 5): kind, places of the two features, lowest numbers of the faces that hold them; ``points`` (k + 1, 12):
    four corners, the upper's as they stand, the lower's at rest (the last row is scratch). ``sides`` (k, 20): when they
    overlap in (r, z). ``features``: what two leaves hold. ``found``: closing, point of the contact. ``best``: as a row of
    ``what``. ``counts``: what was done, for whoever measures.
    """

    kept: Carried
    rows: Floats
    what: Ints
    points: Floats
    sides: Floats
    bounds: Floats
    features: Floats
    corners: Corners
    found: Floats
    touch: Floats
    best: Ints
    counts: NDArray[np.int64]


@njit(cache=True, nogil=True, error_model="numpy")
def _carried_once(
    low: Part, node: int, n: Floats, frame: Frame, about: Floats, near: Floats, kept: Carried, stamp: int
) -> int:
    """Carry a leaf where that is not done yet; return its number."""
    leaf = low.nodes[node, 1]
    if kept.leaf_stamp[leaf] != stamp:
        kept.leaf_stamp[leaf] = stamp
        _carry_leaf(
            low.turned,
            low.faces,
            low.face_starts[leaf],
            low.face_starts[leaf + 1],
            low.edges,
            low.edge_starts[leaf],
            low.edge_starts[leaf + 1],
            leaf,
            low.balls,
            node,
            n,
            frame,
            about,
            near,
            kept.corners,
            kept.corner_stamp,
            kept.slopes,
            kept.spans,
            kept.leaves,
            stamp,
        )
    return int(leaf)


@njit(cache=True, nogil=True, error_model="numpy")
def _held(
    up: Part,
    low: Part,
    kept: Carried,
    kind: int,
    a: int,
    b: int,
    rho: float,
    dr: float,
    dz: float,
    out: Floats,
) -> int:
    """Features of a kind of two leaves that overlap in (r, z) when the lower's are loose by a box."""
    if kind == FACE_VERTEX:
        return _corners_under_faces(
            up.faces,
            up.polar,
            up.slopes,
            up.bulges,
            up.face_starts[a],
            up.face_starts[a + 1],
            kept.corners,
            low.vertex_starts[b],
            low.vertex_starts[b + 1],
            dr,
            dz,
            out,
        )
    if kind == VERTEX_FACE:
        return _corners_above_faces(
            up.polar,
            up.vertex_starts[a],
            up.vertex_starts[a + 1],
            low.faces,
            kept.corners,
            kept.slopes,
            low.face_starts[b],
            low.face_starts[b + 1],
            dr,
            dz,
            out,
        )
    return _edges_and_edges(
        up.edges,
        up.polar,
        up.spans,
        up.edge_face,
        up.slopes,
        up.edge_starts[a],
        up.edge_starts[a + 1],
        low.edges,
        kept.corners,
        kept.spans,
        low.edge_starts[b],
        low.edge_starts[b + 1],
        rho,
        dr,
        dz,
        out,
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _middle_of(kept: Carried, kind: int, j: int, at: Floats) -> None:
    """Middle of a feature of the lower at the central motion."""
    for k in range(3):
        if kind == FACE_VERTEX:
            at[k] = kept.corners[j, 3 + k]
        elif kind == VERTEX_FACE:
            at[k] = kept.slopes[j, 4 + k]
        else:
            at[k] = kept.spans[j, 5 + k]


@njit(cache=True, nogil=True, error_model="numpy")
def _larger_upper(lids: Floats, a: int, low: Floats, b: int) -> bool:
    return bool(
        lids[a, 1] - lids[a, 0] + lids[a, 3] - lids[a, 2] > low[b, 1] - low[b, 0] + low[b, 3] - low[b, 2]
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _fresh_lid(
    lids: Floats,
    balls: Floats,
    node: int,
    frame: Frame,
    about: Floats,
    star: Floats,
    out: Floats,
    fresh: Ints,
    stamp: int,
) -> None:
    if fresh[node] != stamp:
        fresh[node] = stamp
        _carried_lid(lids, balls, node, frame, about, star, out)


@njit(cache=True, nogil=True, error_model="numpy")
def _nearest(
    up: Part,
    low: Part,
    frame: Frame,
    poses: Floats,
    k_pose: int,
    theta: float,
    n: Floats,
    single: Floats,
    about: Floats,
    near: Floats,
    leaf_stamp: int,
    lid_stamp: int,
    room: Room,
    star: Floats,
) -> None:
    """Search the first contact of one motion that is no later than ``room.found[0]``, best bounds first.

    ``room.found[0]``, ``room.best``: what is known already (``best[0]`` < 0: only that nothing later counts).
    ``single``: as ``about``, for this motion alone; ``about``, ``near``: of the bunch it is the central motion of. ``star``:
    gets the slopes of the gap that was found.
    """
    kept = room.kept
    features = room.features
    found = room.found
    best = room.best
    what = room.what
    points = room.points
    scratch = what.shape[0] - 1
    corners = room.corners
    touch = room.touch
    up_nodes = up.nodes
    up_lids = up.lids
    low_nodes = low.nodes
    low_lids = low.lids
    low_balls = low.balls
    lids = kept.lids
    fresh = kept.lid_stamp
    none = np.zeros(5)
    at = np.zeros(3)
    space = 256
    keys = np.zeros(space)
    places = np.zeros(space, dtype=np.int32)
    pairs = np.zeros((space, 2), dtype=np.int32)
    used = 1
    solved = 0
    size = _push(keys, places, 0, -np.inf, 0)
    cr = n[0, 0] * frame.rc + n[0, 2] * frame.zc + n[0, 3]
    cz = n[2, 0] * frame.rc + n[2, 2] * frame.zc + n[2, 3]
    while size > 0 and keys[0] <= found[0] + theta + frame.slack:
        size = _pop(keys, places, size)
        place = places[size]
        a = pairs[place, 0]
        b = pairs[place, 1]
        room.counts[1] += 1
        child_a = up_nodes[a, 0]
        child_b = low_nodes[b, 0]
        if child_a == 0 and child_b == 0:
            leaf_b = _carried_once(low, b, n, frame, about, near, kept, leaf_stamp)
            rho = kept.leaves[leaf_b, 2]
            loose = frame.wide if rho > 0.0 else np.inf
            for kind in range(3):
                held = _held(up, low, kept, kind, up_nodes[a, 1], leaf_b, rho, loose, loose, features)
                for f in range(held):
                    if not features[f, 0] <= found[0] + theta + frame.slack:
                        continue
                    i = int(features[f, 1])
                    j = int(features[f, 2])
                    _gathered(up, low, kind, i, j, points, scratch)
                    what[scratch, 0] = kind
                    what[scratch, 1] = i
                    what[scratch, 2] = j
                    what[scratch, 3], what[scratch, 4] = _names(up, low, kind, i, j)
                    _take(points, what, scratch, poses, k_pose, frame.tol, corners, found, touch, best)
                    solved += 1
                    if best[0] == kind and best[1] == i and best[2] == j:
                        _middle_of(kept, kind, j, at)
                        _slopes_of_gap(at[0], at[1], at[2], cr, cz, features[f, 3], features[f, 4], star)
            continue
        if used + 2 > space:
            space *= 2
            more_keys = np.zeros(space)
            more_places = np.zeros(space, dtype=np.int32)
            more_pairs = np.zeros((space, 2), dtype=np.int32)
            more_keys[:size] = keys[:size]
            more_places[:size] = places[:size]
            more_pairs[:used] = pairs[:used]
            keys = more_keys
            places = more_places
            pairs = more_pairs
        _fresh_lid(low_lids, low_balls, b, frame, single, none, lids, fresh, lid_stamp)
        upper = child_b == 0 or (child_a > 0 and _larger_upper(up_lids, a, lids, b))
        for k in range(2):
            i = child_a + k if upper else a
            j = b if upper else child_b + k
            _fresh_lid(low_lids, low_balls, j, frame, single, none, lids, fresh, lid_stamp)
            bound = _least(up_lids, i, lids, j)
            if bound <= found[0] + theta + frame.slack:
                # the place that was taken up is free again
                at_place = place if k == 0 else used
                if k == 1:
                    used += 1
                pairs[at_place, 0] = i
                pairs[at_place, 1] = j
                size = _push(keys, places, size, bound, at_place)
    for k in range(5):
        star[k] = -star[k]
    room.counts[0] += solved
