"""Kernels for two leaves: which of their corners, edges and faces overlap in (r, z), and a bound on the gap of each.

Every bound lays one sloping lid between the two features (docs/theory/draws.md). What is found is written in rows of ``FEATURE``
numbers: bound, place of the upper's and of the lower's feature, beta, gamma, reach of the lower's feature from its middle.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._pair_bounds import Frame
from mountproof.geometry._parts import STEEPEST, _bend, _plane

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Columns of what two features are told by.
FEATURE = 6


@njit(cache=True, nogil=True, error_model="numpy")
def _carry_leaf(
    turned: Floats,
    faces: Ints,
    i0: int,
    i1: int,
    edges: Ints,
    e0: int,
    e1: int,
    leaf: int,
    balls: Floats,
    node: int,
    n: Floats,
    frame: Frame,
    about: Floats,
    near: Floats,
    corners: Floats,
    corner_stamp: Ints,
    slopes: Floats,
    spans: Floats,
    leaves: Floats,
    stamp: int,
) -> None:
    """Corners, edges and faces of a lower leaf at the central motion ``n`` (3 x 4) of a bunch.

    ``near``: as ``about``, but told from the central motion.
    """
    y0 = balls[node, 0] - frame.rc
    y1 = balls[node, 1]
    y2 = balls[node, 2] - frame.zc
    lever = math.sqrt(y0 * y0 + y1 * y1 + y2 * y2) + balls[node, 3]
    rho = balls[node, 6] - balls[node, 3] - about[12] - (about[10] + about[11]) * lever
    eta = near[12] + (near[10] + near[11]) * lever
    loose = (near[10] + near[11]) * lever + frame.wide
    leaves[leaf, 0] = np.inf
    leaves[leaf, 1] = np.inf
    if rho > 0.0:
        leaves[leaf, 0] = abs(near[0]) + near[5] + loose + 0.5 * eta * eta / rho
        leaves[leaf, 1] = abs(near[1]) + near[6] + loose
    leaves[leaf, 2] = rho
    leaves[leaf, 3] = lever
    got = np.zeros(2)
    for i in range(i0, i1):
        a = faces[i, 0]
        b = faces[i, 1]
        c = faces[i, 2]
        for k in range(3):
            v = faces[i, k]
            if corner_stamp[v] != stamp:
                corner_stamp[v] = stamp
                x = n[0, 0] * turned[v, 0] + n[0, 1] * turned[v, 1] + n[0, 2] * turned[v, 2] + n[0, 3]
                y = n[1, 0] * turned[v, 0] + n[1, 1] * turned[v, 1] + n[1, 2] * turned[v, 2] + n[1, 3]
                z = n[2, 0] * turned[v, 0] + n[2, 1] * turned[v, 1] + n[2, 2] * turned[v, 2] + n[2, 3]
                corners[v, 0] = math.sqrt(x * x + y * y)
                corners[v, 1] = z
                corners[v, 2] = math.atan2(y, x) + frame.phi
                corners[v, 3] = x
                corners[v, 4] = y
                corners[v, 5] = z
        longest2 = max(_apart2(corners, a, b), max(_apart2(corners, b, c), _apart2(corners, c, a)))
        if not _plane(corners, a, b, c, got):
            got[0] = 0.0
            got[1] = 0.0
        beta = got[0]
        gamma = got[1]
        sag = np.inf
        slopes[i, 3] = np.inf
        if rho > 0.0:
            sag = longest2 / 6.0 * _bend(rho, beta)
            slopes[i, 3] = longest2 / (6.0 * rho)
        slopes[i, 0] = sag + max(
            corners[a, 2] - beta * corners[a, 0] - gamma * corners[a, 1],
            max(
                corners[b, 2] - beta * corners[b, 0] - gamma * corners[b, 1],
                corners[c, 2] - beta * corners[c, 0] - gamma * corners[c, 1],
            ),
        )
        slopes[i, 1] = beta
        slopes[i, 2] = gamma
        for k in range(3):
            slopes[i, 4 + k] = (corners[a, 3 + k] + corners[b, 3 + k] + corners[c, 3 + k]) / 3.0
        # no corner is farther from the middle than two thirds of a median, no median longer than the longest side
        slopes[i, 7] = math.sqrt(longest2) * (2.0 / 3.0)
    for e in range(e0, e1):
        a = edges[e, 0]
        b = edges[e, 1]
        long2 = _apart2(corners, a, b)
        spans[e, 0] = min(corners[a, 0], corners[b, 0]) - (long2 / (6.0 * rho) if rho > 0.0 else np.inf)
        spans[e, 1] = max(corners[a, 0], corners[b, 0])
        spans[e, 2] = min(corners[a, 1], corners[b, 1])
        spans[e, 3] = max(corners[a, 1], corners[b, 1])
        spans[e, 4] = math.sqrt(long2)
        for k in range(3):
            spans[e, 5 + k] = 0.5 * (corners[a, 3 + k] + corners[b, 3 + k])


@njit(cache=True, nogil=True, error_model="numpy")
def _apart2(corners: Floats, a: int, b: int) -> float:
    x = corners[a, 3] - corners[b, 3]
    y = corners[a, 4] - corners[b, 4]
    z = corners[a, 5] - corners[b, 5]
    return float(x * x + y * y + z * z)


@njit(cache=True, nogil=True, error_model="numpy")
def _beside(
    r: float, z: float, p: Floats, a: int, b: int, c: int, bulge: float, loose_r: float, loose_z: float
) -> bool:
    """Whether a place (r, z), loose by a box, misses a triangle in (r, z) whose inside bends by ``bulge`` towards the axis."""
    wide = loose_r + bulge
    ar = p[a, 0] - r
    br = p[b, 0] - r
    cr = p[c, 0] - r
    az = p[a, 1] - z
    bz = p[b, 1] - z
    cz = p[c, 1] - z
    if (
        min(ar, min(br, cr)) > wide
        or max(ar, max(br, cr)) < -loose_r
        or min(az, min(bz, cz)) > loose_z
        or max(az, max(bz, cz)) < -loose_z
    ):
        return True
    det = (br - ar) * (cz - az) - (cr - ar) * (bz - az)
    if det == 0.0 or not wide < np.inf:
        return False
    sign = 1.0 if det > 0.0 else -1.0
    # The side of each border on which the place lies: the cross product of its ends as seen from the place.
    return bool(
        sign * (ar * bz - br * az) < -(abs(bz - az) * wide + abs(br - ar) * loose_z)
        or sign * (br * cz - cr * bz) < -(abs(cz - bz) * wide + abs(cr - br) * loose_z)
        or sign * (cr * az - ar * cz) < -(abs(az - cz) * wide + abs(ar - cr) * loose_z)
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _noted(
    out: Floats, count: int, bound: float, i: int, j: int, beta: float, gamma: float, reach: float
) -> int:
    """Write two features as one row of ``FEATURE`` numbers; return how many rows there are now."""
    out[count, 0] = bound
    out[count, 1] = i
    out[count, 2] = j
    out[count, 3] = beta
    out[count, 4] = gamma
    out[count, 5] = reach
    return count + 1


@njit(cache=True, nogil=True, error_model="numpy")
def _corners_under_faces(
    faces: Ints,
    polar: Floats,
    slopes: Floats,
    bulges: Floats,
    i0: int,
    i1: int,
    corners: Floats,
    j0: int,
    j1: int,
    dr: float,
    dz: float,
    out: Floats,
) -> int:
    """Corners of the lower and faces of the upper."""
    count = 0
    for j in range(j0, j1):
        r = corners[j, 0]
        z = corners[j, 1]
        for i in range(i0, i1):
            if _beside(r, z, polar, faces[i, 0], faces[i, 1], faces[i, 2], bulges[i], dr, dz):
                continue
            bound = slopes[i, 0] - (corners[j, 2] - slopes[i, 1] * r - slopes[i, 2] * z)
            count = _noted(out, count, bound, i, j, slopes[i, 1], slopes[i, 2], 0.0)
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _corners_above_faces(
    polar: Floats,
    i0: int,
    i1: int,
    faces: Ints,
    corners: Floats,
    slopes: Floats,
    j0: int,
    j1: int,
    dr: float,
    dz: float,
    out: Floats,
) -> int:
    """Corners of the upper and faces of the lower."""
    count = 0
    for i in range(i0, i1):
        r = polar[i, 0]
        z = polar[i, 1]
        for j in range(j0, j1):
            if _beside(r, z, corners, faces[j, 0], faces[j, 1], faces[j, 2], slopes[j, 3], dr, dz):
                continue
            bound = polar[i, 2] - slopes[j, 1] * r - slopes[j, 2] * z - slopes[j, 0]
            count = _noted(out, count, bound, i, j, slopes[j, 1], slopes[j, 2], slopes[j, 7])
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _edges_and_edges(
    edges: Ints,
    polar: Floats,
    spans: Floats,
    edge_face: Ints,
    slopes: Floats,
    i0: int,
    i1: int,
    low_edges: Ints,
    corners: Floats,
    low_spans: Floats,
    j0: int,
    j1: int,
    rho: float,
    dr: float,
    dz: float,
    out: Floats,
) -> int:
    """Edges of both."""
    count = 0
    for i in range(i0, i1):
        a = edges[i, 0]
        b = edges[i, 1]
        ar = polar[a, 0]
        az = polar[a, 1]
        ur = polar[b, 0] - ar
        uz = polar[b, 1] - az
        a_bulge = min(ar, polar[b, 0]) - spans[i, 0]
        for j in range(j0, j1):
            if (
                spans[i, 0] > low_spans[j, 1] + dr
                or low_spans[j, 0] > spans[i, 1] + dr
                or spans[i, 2] > low_spans[j, 3] + dz
                or low_spans[j, 2] > spans[i, 3] + dz
            ):
                continue
            c = low_edges[j, 0]
            d = low_edges[j, 1]
            cr = corners[c, 0] - ar
            cz = corners[c, 1] - az
            vr = corners[d, 0] - corners[c, 0]
            vz = corners[d, 1] - corners[c, 1]
            # an edge bends towards the axis by no more than its span reaches below its ends
            loose = dr + max(a_bulge, min(corners[c, 0], corners[d, 0]) - low_spans[j, 0])
            wide = abs(uz) * loose + abs(ur) * dz
            s0 = ur * cz - uz * cr
            det = ur * vz - uz * vr
            s1 = s0 + det
            if min(s0, s1) > wide or max(s0, s1) < -wide:
                continue
            wide = abs(vz) * loose + abs(vr) * dz
            s0 = vz * cr - vr * cz
            s1 = s0 - vz * ur + vr * uz
            if min(s0, s1) > wide or max(s0, s1) < -wide:
                continue
            bound = -np.inf
            beta = 0.0
            gamma = 0.0
            if rho > 0.0 and spans[i, 0] > 0.0:
                # the lid that holds both edges; that of a face where they run too much alike
                up = polar[b, 2] - polar[a, 2]
                low = corners[d, 2] - corners[c, 2]
                beta = (up * vz - low * uz) / det
                gamma = (ur * low - vr * up) / det
                steep = STEEPEST / max(ar, corners[c, 0])
                if not (abs(beta) <= steep and abs(gamma) <= steep):
                    beta = slopes[edge_face[i], 1]
                    gamma = slopes[edge_face[i], 2]
                above = polar[a, 2] - beta * ar - gamma * az + min(0.0, up - beta * ur - gamma * uz)
                below = (
                    corners[c, 2]
                    - beta * corners[c, 0]
                    - gamma * corners[c, 1]
                    + max(0.0, low - beta * vr - gamma * vz)
                )
                sag = spans[i, 5] * spans[i, 5] * _bend(spans[i, 0], beta)
                sag += low_spans[j, 4] * low_spans[j, 4] * _bend(rho, beta)
                bound = above - below - sag / 8.0
            count = _noted(out, count, bound, i, j, beta, gamma, 0.5 * low_spans[j, 4])
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _side(sides: Floats, row: int, k: int, offset: float, nr: float, nz: float) -> None:
    """One condition that two features overlap in (r, z): offset + nr d_r + nz d_z is not above 0 by more than the looseness."""
    sides[row, 8 + 3 * k] = offset
    sides[row, 9 + 3 * k] = nr
    sides[row, 10 + 3 * k] = nz


@njit(cache=True, nogil=True, error_model="numpy")
def _triangle_sides(
    r: float, z: float, p: Floats, face: Ints, sign_of_motion: float, sides: Floats, row: int
) -> None:
    """A place inside a triangle: three conditions. ``sign_of_motion``: +1 when the place moves, -1 when the triangle does."""
    a = face[0]
    b = face[1]
    c = face[2]
    det = (p[b, 0] - p[a, 0]) * (p[c, 1] - p[a, 1]) - (p[c, 0] - p[a, 0]) * (p[b, 1] - p[a, 1])
    sign = 1.0 if det > 0.0 else -1.0
    v = a
    w = b
    for k in range(3):
        if k == 1:
            v = b
            w = c
        elif k == 2:
            v = c
            w = a
        dr = p[w, 0] - p[v, 0]
        dz = p[w, 1] - p[v, 1]
        inside = sign * (dr * (z - p[v, 1]) - dz * (r - p[v, 0]))
        if det == 0.0:
            _side(sides, row, k, -1.0, 0.0, 0.0)
        else:
            _side(sides, row, k, -inside, sign * dz * sign_of_motion, -sign * dr * sign_of_motion)
    _side(sides, row, 3, -1.0, 0.0, 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def _edge_sides(
    polar: Floats, a: int, b: int, corners: Floats, c: int, d: int, sides: Floats, row: int
) -> None:
    """Two edges that cross: the ends of each on different sides of the other, four conditions."""
    ur = polar[b, 0] - polar[a, 0]
    uz = polar[b, 1] - polar[a, 1]
    cr = corners[c, 0] - polar[a, 0]
    cz = corners[c, 1] - polar[a, 1]
    vr = corners[d, 0] - corners[c, 0]
    vz = corners[d, 1] - corners[c, 1]
    det = ur * vz - uz * vr
    sign = 1.0 if det > 0.0 else -1.0
    s = ur * cz - uz * cr
    _side(sides, row, 0, sign * s, -sign * uz, sign * ur)
    _side(sides, row, 1, -sign * (s + det), sign * uz, -sign * ur)
    # seen along the other: moving the lower by d moves the upper's ends by -d
    s = vz * cr - vr * cz
    _side(sides, row, 2, -sign * s, -sign * vz, sign * vr)
    _side(sides, row, 3, sign * (s - det), sign * vz, -sign * vr)


@njit(cache=True, nogil=True, error_model="numpy")
def _overlaps(sides: Floats, row: int, m: Floats, turn: float, loose: float) -> bool:
    """Whether two listed features overlap in (r, z) at a motion. ``loose``: what is not linear in it, mm."""
    c = sides[row, 0]
    s = sides[row, 1]
    y0 = sides[row, 2]
    y1 = sides[row, 3]
    y2 = sides[row, 4]
    dr = c * m[0] + y2 * (c * m[3] - s * m[2]) + (y0 * s - y1 * c) * m[4]
    dz = m[1] + y1 * m[2] - y0 * m[3]
    wide = loose + sides[row, 5] + sides[row, 6] * turn
    for k in range(4):
        nr = sides[row, 9 + 3 * k]
        nz = sides[row, 10 + 3 * k]
        if sides[row, 8 + 3 * k] + nr * dr + nz * dz > (abs(nr) + abs(nz)) * wide:
            return False
    return True
