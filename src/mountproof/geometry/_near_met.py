"""Kernels that tell which corners and edges of near faces meet, and when: each of them once (docs/theory/settling.md)."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._descent import _bound
from mountproof.geometry._features import (
    _edge_against_edge,
    _normal,
    _point_against_edge,
    _vertex_against_face,
)
from mountproof.geometry._kernel import kernel
from mountproof.geometry._near_blocks import Faces, Placed, _ringed
from mountproof.geometry._sites import _allowed
from mountproof.geometry._two_faces import (
    EDGE_EDGE,
    FACE_VERTEX,
    VERTEX_FACE,
    _edges_may_meet,
    _kept_apart,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]


class OnePair(NamedTuple):
    """Scratch for one pair of faces: three numbers, its touch, the earliest of all, rings of both."""

    scratch: Floats
    touch: Floats
    first: Floats
    ring: Floats
    low_ring: Floats


@kernel
def _met(
    up_faces: Faces,
    there: Placed,
    near: Ints,
    count: int,
    tol: float,
    reach: float,
    slack: float,
    within: float,
    first_found: bool,
    ends: bool,
    touches: Floats,
    which: Longs,
    one: OnePair,
) -> int:
    """Each corner and edge of these pairs of faces that meets the other within an arc of closing.

    ``first_found``: of the earliest of all that are found; ``ends``: two edges also where they meet at an end of one. Each
    is asked of the face that owns it. Writes as many as there is room for, as ``_sites._pairs_within`` writes them, and
    returns how many there are.
    """
    q_tol = 2.0 * reach * tol
    first = one.first
    first[0] = 0.0
    met = 0
    # arrays by themselves, as in ``_due``
    up_numbers, low_numbers, up_owned, low_owned = (
        up_faces.numbers,
        there.faces.numbers,
        up_faces.owned,
        there.faces.owned,
    )
    up_corners, up_polar, up_rings, up_ringed = (
        up_faces.corners,
        up_faces.polar,
        up_faces.rings,
        up_faces.ringed,
    )
    stamp, low_corners, low_polar, low_rings, low_ringed = (
        there.stamp, there.faces.corners, there.faces.polar, there.faces.rings, there.faces.ringed
    )  # fmt: skip
    normal, touch, ring, low_ring = one.scratch, one.touch, one.ring, one.low_ring
    for pair in range(count):
        i = near[pair, 0]
        j = near[pair, 1]
        mine = up_owned[i]
        other = low_owned[j]
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
        limit = _allowed(max(ring[0], low_ring[0]), first[0], within) + slack
        if bound == np.inf or bound > limit:
            continue
        limit = min(np.nextafter(limit, np.inf), 4.0)
        up = up_corners[i]
        low = low_corners[j]
        if _kept_apart(up, low, bound - slack, limit, tol):
            continue
        size2 = -1.0
        for b in range(3):
            if not other >> b & 1 or _outside(low_polar[j, b], ring, q_tol, tol):
                continue
            if ring[4] - low_polar[j, b, 2] > limit:
                continue
            if size2 < 0.0:
                size2 = _normal(up, normal)
            if size2 > 0.0:
                got = _vertex_against_face(low[b], up, normal, size2, 1.0, tol, limit, touch)
                if got < limit and _counts(got, touch, first, within, slack, first_found):
                    met = _noted(touch, up_numbers[i], low_numbers[j], FACE_VERTEX, 0, b, met, touches, which)
        size2 = -1.0
        for a in range(3):
            if not mine >> a & 1 or _outside(up_polar[i, a], low_ring, q_tol, tol):
                continue
            if up_polar[i, a, 2] - low_ring[5] > limit:
                continue
            if size2 < 0.0:
                size2 = _normal(low, normal)
            if size2 > 0.0:
                got = _vertex_against_face(up[a], low, normal, size2, -1.0, tol, limit, touch)
                if got < limit and _counts(got, touch, first, within, slack, first_found):
                    met = _noted(touch, up_numbers[i], low_numbers[j], VERTEX_FACE, a, 0, met, touches, which)
        for a in range(3):
            if not mine >> (3 + a) & 1:
                continue
            p = up[a]
            p1 = up[(a + 1) % 3]
            for b in range(3):
                if not other >> (3 + b) & 1 or not _edges_may_meet(
                    up_polar[i], a, low_polar[j], b, q_tol, tol, limit
                ):
                    continue
                q0 = low[b]
                q1 = low[(b + 1) % 3]
                got = _edge_against_edge(p, p1, q0, q1, tol, limit, touch)
                if abs(p1[2] - p[2]) <= tol and abs(q1[2] - q0[2]) <= tol and abs(p[2] - q0[2]) <= 4.0 * tol:
                    # level edges: each is asked once, so that both of its ends have to take their turn
                    got = _point_against_edge(q1, p, p1, tol, True, got, touch)
                    got = _point_against_edge(p1, q0, q1, tol, False, got, touch)
                if (
                    got < limit
                    and not (
                        not ends
                        and _at_end(p, p1, q0, q1, touch, 16.0 * tol)
                        and _leans(up, normal)
                        and _leans(low, normal)
                    )
                    and _counts(got, touch, first, within, slack, first_found)
                ):
                    met = _noted(touch, up_numbers[i], low_numbers[j], EDGE_EDGE, a, b, met, touches, which)
    return met


@kernel
def _outside(corner: Floats, ring: Floats, q_tol: float, tol: float) -> bool:
    """Whether a corner (r^2, z, phi) misses the box around a face in (r^2, z)."""
    return bool(
        corner[0] < ring[0] - q_tol
        or corner[0] > ring[1] + q_tol
        or corner[1] < ring[2] - tol
        or corner[1] > ring[3] + tol
    )


@kernel
def _at_end(p: Floats, p1: Floats, q: Floats, q1: Floats, touch: Floats, wide: float) -> bool:
    """Whether two edges touch at an end of one of them: there its corner meets the faces beside the other edge as well."""
    z = touch[3]
    r = math.sqrt(touch[1] * touch[1] + touch[2] * touch[2])
    for end in (p, p1, q, q1):
        if abs(end[2] - z) <= wide and abs(math.sqrt(end[0] * end[0] + end[1] * end[1]) - r) <= wide:
            return True
    return False


@kernel
def _leans(face: Floats, normal: Floats) -> bool:
    """Whether a face meets corners that turn about the axis: one that has no plane, or is square to the axis, has edges only."""
    _normal(face, normal)
    return bool(normal[0] != 0.0 or normal[1] != 0.0)


@kernel
def _counts(got: float, touch: Floats, first: Floats, within: float, slack: float, first_found: bool) -> bool:
    """Whether a contact lies within an arc of the earliest, which it may be itself."""
    if got > _allowed(touch[1] * touch[1] + touch[2] * touch[2], first[0], within) + slack:
        return False
    if first_found:
        first[0] = min(first[0], got)
    return True


@kernel
def _noted(
    touch: Floats, i: int, j: int, kind: int, a: int, b: int, met: int, touches: Floats, which: Longs
) -> int:
    """Write a contact where there is room, and count it."""
    if met < touches.shape[0]:
        for k in range(4):
            touches[met, k] = touch[k]
        which[met, 0] = i
        which[met, 1] = j
        which[met, 2] = kind
        which[met, 3] = a
        which[met, 4] = b
    return met + 1
