"""Kernels that list what may touch first at some motion of a bunch, and bound it at each (docs/theory/draws.md)."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._leaf_pairs import _edge_sides, _triangle_sides
from mountproof.geometry._pair_bounds import Carried, Frame, _passes, _slopes_of_gap
from mountproof.geometry._pair_features import _gathered, _names
from mountproof.geometry._pair_nearest import (
    Room,
    _carried_once,
    _fresh_lid,
    _held,
    _larger_upper,
    _middle_of,
)
from mountproof.geometry._parts import Part
from mountproof.geometry._two_faces import FACE_VERTEX, VERTEX_FACE

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True, error_model="numpy")
def _tell_sides(
    up: Part,
    low: Part,
    kept: Carried,
    kind: int,
    i: int,
    j: int,
    at: Floats,
    cr: float,
    cz: float,
    reach: float,
    sides: Floats,
    row: int,
) -> None:
    """Write when two features overlap in (r, z), as ``_overlaps`` reads it."""
    r = math.sqrt(at[0] * at[0] + at[1] * at[1])
    sides[row, 0] = at[0] / r
    sides[row, 1] = at[1] / r
    sides[row, 2] = at[0] - cr
    sides[row, 3] = at[1]
    sides[row, 4] = at[2] - cz
    sides[row, 6] = reach
    if kind == FACE_VERTEX:
        sides[row, 5] = up.bulges[i]
        _triangle_sides(kept.corners[j, 0], kept.corners[j, 1], up.polar, up.faces[i], 1.0, sides, row)
    elif kind == VERTEX_FACE:
        sides[row, 5] = kept.slopes[j, 3]
        _triangle_sides(up.polar[i, 0], up.polar[i, 1], kept.corners, low.faces[j], -1.0, sides, row)
    else:
        a = up.edges[i, 0]
        b = up.edges[i, 1]
        c = low.edges[j, 0]
        d = low.edges[j, 1]
        sides[row, 5] = max(
            min(up.polar[a, 0], up.polar[b, 0]) - up.spans[i, 0],
            min(kept.corners[c, 0], kept.corners[d, 0]) - kept.spans[j, 0],
        )
        _edge_sides(up.polar, a, b, kept.corners, c, d, sides, row)


@njit(cache=True, nogil=True, error_model="numpy")
def _listed(
    up: Part,
    low: Part,
    frame: Frame,
    n: Floats,
    about: Floats,
    near: Floats,
    star: Floats,
    level: float,
    cap: float,
    lift: float,
    leaf_stamp: int,
    lid_stamp: int,
    room: Room,
    far: Floats,
) -> int:
    """List what may touch below the yardstick and below ``cap`` at any motion of a bunch; -1 when there is too much.

    ``level``: the yardstick at the central motion; ``lift``: star . m of the central motion. ``far``: longest lever, least rho.
    """
    kept = room.kept
    features = room.features
    rows = room.rows
    what = room.what
    up_nodes = up.nodes
    up_lids = up.lids
    low_nodes = low.nodes
    low_lids = low.lids
    low_balls = low.balls
    lids = kept.lids
    fresh = kept.lid_stamp
    at = np.zeros(3)
    j5 = np.zeros(5)
    stack = np.zeros((256, 2), dtype=np.int32)
    size = 1
    listed = 0
    most = rows.shape[1]
    far[0] = 0.0
    far[1] = np.inf
    cr = n[0, 0] * frame.rc + n[0, 2] * frame.zc + n[0, 3]
    cz = n[2, 0] * frame.rc + n[2, 2] * frame.zc + n[2, 3]
    _fresh_lid(low_lids, low_balls, 0, frame, about, star, lids, fresh, lid_stamp)
    if not _passes(up_lids, 0, lids, 0, level - lift, cap):
        return 0
    while size > 0:
        size -= 1
        a = stack[size, 0]
        b = stack[size, 1]
        child_a = up_nodes[a, 0]
        child_b = low_nodes[b, 0]
        room.counts[2] += 1
        if child_a > 0 or child_b > 0:
            upper = child_b == 0 or (child_a > 0 and _larger_upper(up_lids, a, lids, b))
            for k in range(2):
                i = child_a + k if upper else a
                j = b if upper else child_b + k
                _fresh_lid(low_lids, low_balls, j, frame, about, star, lids, fresh, lid_stamp)
                if _passes(up_lids, i, lids, j, level - lift, cap):
                    stack[size, 0] = i
                    stack[size, 1] = j
                    size += 1
            continue
        leaf_b = _carried_once(low, b, n, frame, about, near, kept, leaf_stamp)
        rho = kept.leaves[leaf_b, 2]
        if not rho > 0.0:
            return -1
        lever = kept.leaves[leaf_b, 3]
        eta = near[12] + (near[10] + near[11]) * lever
        turn = near[10] + 1.4143 * eta / rho
        bent = near[11] * lever + 0.7072 * eta * eta / rho
        for kind in range(3):
            held = _held(
                up,
                low,
                kept,
                kind,
                up_nodes[a, 1],
                leaf_b,
                rho,
                kept.leaves[leaf_b, 0],
                kept.leaves[leaf_b, 1],
                features,
            )
            room.counts[3] += held
            for f in range(held):
                i = int(features[f, 1])
                j = int(features[f, 2])
                beta = features[f, 3]
                gamma = features[f, 4]
                steep = math.sqrt(1.0 / (rho * rho) + beta * beta + gamma * gamma)
                rest = features[f, 0] - steep * (features[f, 5] * turn + bent)
                _middle_of(kept, kind, j, at)
                _slopes_of_gap(at[0], at[1], at[2], cr, cz, beta, gamma, j5)
                by_itself = 0.0
                against = 0.0
                for k in range(5):
                    by_itself += j5[k] * near[k] + abs(j5[k]) * near[5 + k]
                    against += (j5[k] + star[k]) * near[k] + abs(j5[k] + star[k]) * near[5 + k]
                if rest - against > level or rest - by_itself > cap:
                    continue
                if listed == most:
                    return -1
                rows[0, listed] = features[f, 0]
                for k in range(5):
                    rows[1 + k, listed] = -j5[k]
                rows[6, listed] = steep * features[f, 5]
                rows[7, listed] = steep
                what[listed, 0] = kind
                what[listed, 1] = i
                what[listed, 2] = j
                what[listed, 3], what[listed, 4] = _names(up, low, kind, i, j)
                _gathered(up, low, kind, i, j, room.points, listed)
                _tell_sides(up, low, kept, kind, i, j, at, cr, cz, features[f, 5], room.sides, listed)
                listed += 1
                far[0] = max(far[0], lever)
                far[1] = min(far[1], rho)
    return listed


@njit(cache=True, nogil=True, error_model="numpy")
def _bounded(rows: Floats, listed: int, m: Floats, turn: float, bent: float, out: Floats) -> None:
    """Lower bounds on the gaps of a list at one motion."""
    m0 = m[0]
    m1 = m[1]
    m2 = m[2]
    m3 = m[3]
    m4 = m[4]
    for i in range(listed):
        out[i] = (
            rows[0, i]
            + rows[1, i] * m0
            + rows[2, i] * m1
            + rows[3, i] * m2
            + rows[4, i] * m3
            + rows[5, i] * m4
            - rows[6, i] * turn
            - rows[7, i] * bent
        )


@njit(cache=True, nogil=True, error_model="numpy")
def _off_centre(told: Floats, centre: Floats, near: Floats, order: Ints, first: int, last: int) -> None:
    """``near``: the bunch told from its central motion (see ``_spread``)."""
    for k in range(10, 13):
        near[k] = 0.0
    for q in range(first, last):
        row = told[order[q]]
        w2 = 0.0
        for k in range(2, 5):
            w2 += (row[k] - centre[k]) * (row[k] - centre[k])
        x = row[0] - centre[0]
        z = row[1] - centre[1]
        w = math.sqrt(w2)
        near[10] = max(near[10], w)
        near[11] = max(near[11], _rest(w, row[7], centre))
        near[12] = max(near[12], math.sqrt(x * x + z * z))


@njit(cache=True, nogil=True, error_model="numpy")
def _rest(w: float, s: float, centre: Floats) -> float:
    """Bound on what a turn from the central motion leaves beside w x (docs/theory/draws.md)."""
    both = s + centre[7]
    return float(both + (w + both) * (centre[6] + centre[7]))
