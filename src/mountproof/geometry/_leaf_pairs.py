"""Kernels for two leaves at a bunch of motions: which of their corners, edges and faces touch first (docs/theory/draws.md).

What two features may do is told three times, each time closer: whether they overlap in (r, z) at any motion of the bunch, then a
bound on their gap at every motion (``_bunch_lanes``), then the closed form at each motion whose bound asks for it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._bunch_lanes import (
    _carried_corner,
    _corner_above_face,
    _corner_under_face,
    _edge_and_edge,
)
from mountproof.geometry._kernel import kernel
from mountproof.geometry._leans import MOST_TILT_RAD, _lean_apart
from mountproof.geometry._overlaps import _beside, _crossing
from mountproof.geometry._pair_bounds import Frame
from mountproof.geometry._pair_features import Corners, _before, _gathered, _names, _solved
from mountproof.geometry._parts import LEAF_FACES, Part, _side2
from mountproof.geometry._two_faces import EDGE_EDGE, FACE_VERTEX, VERTEX_FACE

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Singles = NDArray[np.float32]


class Room(NamedTuple):
    """Scratch of one search.

    ``lanes``, ``cut``, ``gaps``: as in ``_bunch_lanes``, and those of patches. ``lids`` (n, LID): carried lids, fresh where
    ``lid_stamp`` is ``stamp``. ``places`` (v,): row of a corner in ``r``, ``z``, ``phi`` (rows, lanes) and ``boxes``, its range
    of r and z, fresh where ``corner_stamp`` is that of ``corners_stamp``: stamp, its bunch, rows in use. ``found``, ``best``: of
    each lane. ``what``, ``points``: two features and their corners. ``keys``, ``pairs``: patches (n, 2) that wait, and how
    near they are. ``carried``: a motion without its closing. ``counts``: what was done, for whoever measures.
    """

    lanes: Floats
    cut: Floats
    gaps: Floats
    patch: Singles
    patch_cut: Singles
    patch_gaps: Singles
    patch_bits: NDArray[np.uint32]
    lids: Floats
    lid_stamp: Ints
    stamp: Ints
    places: Ints
    corner_stamp: Ints
    corners_stamp: Ints
    r: Floats
    z: Floats
    phi: Floats
    boxes: Floats
    found: Floats
    best: Ints
    what: Ints
    points: Floats
    touch: Floats
    keys: NDArray[np.int64]
    pairs: Ints
    carried: Floats
    corners: Corners
    counts: NDArray[np.int64]


@kernel
def _tried(
    up: Part,
    low: Part,
    kind: int,
    i: int,
    j: int,
    poses: Floats,
    told: Floats,
    order: Ints,
    first: int,
    last: int,
    tol: float,
    slack: float,
    room: Room,
) -> None:
    """Closed form of two features at every motion whose bound asks for it; an earlier contact lowers what it may use."""
    gaps = room.gaps
    cut = room.cut
    found = room.found
    best = room.best
    what = room.what
    points = room.points
    touch = room.touch
    face = room.corners.face
    normal = room.corners.normal
    p = room.corners.p
    p1 = room.corners.p1
    q = room.corners.q
    q1 = room.corners.q1
    _gathered(up, low, kind, i, j, points, 0)
    what[0, 0] = kind
    what[0, 1] = i
    what[0, 2] = j
    what[0, 3], what[0, 4] = _names(up, low, kind, i, j)
    for lane in range(last - first):
        if not gaps[lane] <= 0.0:
            continue
        k = order[first + lane]
        room.counts[4] += 1
        before = found[lane]
        got = _solved(
            points,
            0,
            kind,
            poses,
            k,
            tol,
            np.nextafter(before, np.inf),
            face,
            normal,
            p,
            p1,
            q,
            q1,
            touch,
        )
        if got > before or (got == before and best[lane, 0] >= 0 and not _before(what, 0, best[lane])):
            continue
        found[lane] = got
        cut[lane] = got + told[k, 5] + slack
        for c in range(5):
            best[lane, c] = what[0, c]


@kernel
def _row_of(
    v: int,
    turned: Floats,
    polar: Floats,
    lanes: Floats,
    used: int,
    bunch: int,
    largest: float,
    state: Ints,
    places: Ints,
    corner_stamp: Ints,
    r: Floats,
    z: Floats,
    phi: Floats,
    boxes: Floats,
) -> int:
    """Row of a corner, carried through the bunch where that is not done yet."""
    if corner_stamp[v] != state[0]:
        corner_stamp[v] = state[0]
        places[v] = state[2]
        state[2] += 1
        _carried_corner(turned, polar, v, lanes, used, bunch, largest, places[v], r, z, phi, boxes)
    return int(places[v])


@kernel
def _touching(
    up: Part,
    low: Part,
    frame: Frame,
    poses: Floats,
    told: Floats,
    order: Ints,
    first: int,
    last: int,
    used: int,
    a: int,
    b: int,
    node: int,
    about: Floats,
    tilt: float,
    room: Room,
) -> None:
    """Every two features that leaf ``a`` of the upper and leaf ``b`` of the lower, ``node`` of its tree, own.

    ``tilt``: largest turn of the lower's.
    """
    faces = up.faces
    polar = up.polar
    slopes = up.slopes
    bulges = up.bulges
    edges = up.edges
    spans = up.spans
    edge_face = up.edge_face
    face_starts = up.face_starts
    vertex_starts = up.vertex_starts
    edge_starts = up.edge_starts
    up_face_leans = up.face_leans
    up_vertex_leans = up.vertex_leans
    up_edge_leans = up.edge_leans
    low_face_leans = low.face_leans
    low_vertex_leans = low.vertex_leans
    low_edge_leans = low.edge_leans
    leaning = tilt <= MOST_TILT_RAD
    low_faces = low.faces
    low_edges = low.edges
    low_face_starts = low.face_starts
    low_vertex_starts = low.vertex_starts
    low_edge_starts = low.edge_starts
    turned = low.turned
    low_polar = low.polar
    balls = low.balls
    places = room.places
    corner_stamp = room.corner_stamp
    state = room.corners_stamp
    r = room.r
    z = room.z
    phi = room.phi
    boxes = room.boxes
    cut = room.cut
    gaps = room.gaps
    lanes = room.lanes
    wide = frame.wide
    y0 = balls[node, 0] - frame.rc
    y1 = balls[node, 1]
    y2 = balls[node, 2] - frame.zc
    lever = math.sqrt(y0 * y0 + y1 * y1 + y2 * y2) + balls[node, 3]
    eta = about[12] + (about[10] + about[11]) * lever
    rho = max(balls[node, 6] - balls[node, 3] - eta, 0.0)
    # rows of corners are given out anew for every bunch, and when they run out
    if state[1] != room.stamp[0] or state[2] + 3 * LEAF_FACES > r.shape[0]:
        state[0] += 1
        state[1] = room.stamp[0]
        state[2] = 0
    largest = eta / rho
    bunch = last - first
    for j in range(low_vertex_starts[b], low_vertex_starts[b + 1]):
        if low_vertex_leans[j, 0] > low_vertex_leans[j, 1]:
            continue
        at = -1
        mid_r = mid_z = loose_r = loose_z = 0.0
        for i in range(face_starts[a], face_starts[a + 1]):
            if leaning and _lean_apart(up_face_leans, i, low_vertex_leans, j, tilt):
                continue
            if at < 0:
                at = _row_of(
                    j,
                    turned,
                    low_polar,
                    lanes,
                    used,
                    bunch,
                    largest,
                    state,
                    places,
                    corner_stamp,
                    r,
                    z,
                    phi,
                    boxes,
                )
                mid_r = 0.5 * (boxes[at, 0] + boxes[at, 1])
                mid_z = 0.5 * (boxes[at, 2] + boxes[at, 3])
                loose_r = 0.5 * (boxes[at, 1] - boxes[at, 0]) + wide
                loose_z = 0.5 * (boxes[at, 3] - boxes[at, 2]) + wide
            f0 = faces[i, 0]
            f1 = faces[i, 1]
            f2 = faces[i, 2]
            if _beside(mid_r, mid_z, polar, f0, f1, f2, bulges[i], loose_r, loose_z):
                continue
            room.counts[3] += 1
            if _corner_under_face(
                    polar, f0, f1, f2, bulges[i], wide, slopes[i, 0], slopes[i, 1], slopes[i, 2],
                    at, r, z, phi, cut, used, gaps,
            ):  # fmt: skip
                _tried(
                    up, low, FACE_VERTEX, i, j, poses, told, order, first, last, frame.tol, frame.slack, room
                )
    for j in range(low_face_starts[b], low_face_starts[b + 1]):
        f0 = f1 = f2 = -1
        r_from = r_to = z_from = z_to = longest2 = 0.0
        for i in range(vertex_starts[a], vertex_starts[a + 1]):
            ur = polar[i, 0]
            uz = polar[i, 1]
            if leaning and _lean_apart(up_vertex_leans, i, low_face_leans, j, tilt):
                continue
            if f0 < 0:
                f0 = _row_of(
                    low_faces[j, 0],
                    turned,
                    low_polar,
                    lanes,
                    used,
                    bunch,
                    largest,
                    state,
                    places,
                    corner_stamp,
                    r,
                    z,
                    phi,
                    boxes,
                )
                f1 = _row_of(
                    low_faces[j, 1],
                    turned,
                    low_polar,
                    lanes,
                    used,
                    bunch,
                    largest,
                    state,
                    places,
                    corner_stamp,
                    r,
                    z,
                    phi,
                    boxes,
                )
                f2 = _row_of(
                    low_faces[j, 2],
                    turned,
                    low_polar,
                    lanes,
                    used,
                    bunch,
                    largest,
                    state,
                    places,
                    corner_stamp,
                    r,
                    z,
                    phi,
                    boxes,
                )
                r_from = min(boxes[f0, 0], min(boxes[f1, 0], boxes[f2, 0])) - wide
                r_to = max(boxes[f0, 1], max(boxes[f1, 1], boxes[f2, 1])) + wide
                z_from = min(boxes[f0, 2], min(boxes[f1, 2], boxes[f2, 2])) - wide
                z_to = max(boxes[f0, 3], max(boxes[f1, 3], boxes[f2, 3])) + wide
                longest2 = max(
                    _side2(turned, low_faces[j, 0], low_faces[j, 1]),
                    max(_side2(turned, low_faces[j, 1], low_faces[j, 2]), _side2(turned, low_faces[j, 2], low_faces[j, 0])),
                )  # fmt: skip
                r_from -= longest2 / (6.0 * rho)
            if ur < r_from or ur > r_to or uz < z_from or uz > z_to:
                continue
            room.counts[3] += 1
            if _corner_above_face(
                ur, uz, polar[i, 2], f0, f1, f2, longest2, rho, wide, r, z, phi, cut, used, gaps
            ):
                _tried(
                    up, low, VERTEX_FACE, i, j, poses, told, order, first, last, frame.tol, frame.slack, room
                )
    for j in range(low_edge_starts[b], low_edge_starts[b + 1]):
        if low_edge_leans[j, 0] > low_edge_leans[j, 1]:
            continue
        c = d = -1
        long2 = bulge = 0.0
        for i in range(edge_starts[a], edge_starts[a + 1]):
            if leaning and _lean_apart(up_edge_leans, i, low_edge_leans, j, tilt):
                continue
            if c < 0:
                c = _row_of(
                    low_edges[j, 0],
                    turned,
                    low_polar,
                    lanes,
                    used,
                    bunch,
                    largest,
                    state,
                    places,
                    corner_stamp,
                    r,
                    z,
                    phi,
                    boxes,
                )
                d = _row_of(
                    low_edges[j, 1],
                    turned,
                    low_polar,
                    lanes,
                    used,
                    bunch,
                    largest,
                    state,
                    places,
                    corner_stamp,
                    r,
                    z,
                    phi,
                    boxes,
                )
                long2 = _side2(turned, low_edges[j, 0], low_edges[j, 1])
                bulge = long2 / (6.0 * rho)
            e0 = edges[i, 0]
            e1 = edges[i, 1]
            if not _crossing(polar, spans, i, e0, e1, boxes, c, d, bulge, wide):
                continue
            room.counts[3] += 1
            if _edge_and_edge(
                    polar, e0, e1, min(polar[e0, 0], polar[e1, 0]) - spans[i, 0], spans[i, 5] * spans[i, 5],
                    spans[i, 0], slopes[edge_face[i], 1], slopes[edge_face[i], 2],
                    c, d, long2, rho, wide, r, z, phi, cut, used, gaps,
            ):  # fmt: skip
                _tried(
                    up, low, EDGE_EDGE, i, j, poses, told, order, first, last, frame.tol, frame.slack, room
                )
