"""Bounds on the gap of patches, corners, edges and faces of one pair of parts under small motions (docs/theory/draws.md).

Gaps here are free of closing: theta of the motion (``_small_motions``) has been added to them. ``about``: bounds
over a bunch of motions as ``_spread`` writes them.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel
from mountproof.geometry._parts import _bend

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Columns of a carried lid: r from, to; z from, to; alpha, beta, gamma; extreme phi; cost of the sloping lid and of the
#: level one; largest turn. Then what one motion needs, r and z told from the part's middle: slopes of r with d_r, w_r, w_phi,
#: w_z, and places y and x; slopes of the lid's gap with the five numbers; r from, to and z from, to at no motion, what turning,
#: bending and rounding take with them; what turning and bending cost; largest r and z.
LID = 29
TILT = 10
SHIFT_R = 11
GAP_D_R = 17
STILL = 22
BENT = 26
LARGEST = 27

#: Room for rounding in lanes, which hold single precision: sixteen roundings of all that is summed.
_SINGLE = 1e-6


class Frame(NamedTuple):
    """A lower part's own frame (see ``_small_motions``) and what the search must leave room for."""

    rc: float
    zc: float
    cos: float
    sin: float
    phi: float
    tol: float
    wide: float
    slack: float


@kernel
def _cost(j0: float, j1: float, j2: float, j3: float, j4: float, about: Floats) -> float:
    """Largest rise of j . m over a bunch."""
    return float(
        j0 * about[0]
        + j1 * about[1]
        + j2 * about[2]
        + j3 * about[3]
        + j4 * about[4]
        + abs(j0) * about[5]
        + abs(j1) * about[6]
        + abs(j2) * about[7]
        + abs(j3) * about[8]
        + abs(j4) * about[9]
    )


@kernel
def _largest_rise(j0: float, j1: float, j2: float, j3: float, j4: float, about: Floats) -> float:
    """No |j . m| of a bunch is larger, nor the sum of what it is made of."""
    return float(
        abs(j0) * (abs(about[0]) + about[5])
        + abs(j1) * (abs(about[1]) + about[6])
        + abs(j2) * (abs(about[2]) + about[7])
        + abs(j3) * (abs(about[3]) + about[8])
        + abs(j4) * (abs(about[4]) + about[9])
    )


@kernel
def _carried_lid(
    lids: Floats, balls: Floats, node: int, rc: float, zc: float, wide: float, about: Floats, out: Floats
) -> None:
    """Carry a lower lid through a bunch of motions; written into row ``node`` of ``out``."""
    y0 = balls[node, 0] - rc
    y1 = balls[node, 1]
    y2 = balls[node, 2] - zc
    rad = balls[node, 3]
    c = balls[node, 4]
    s = balls[node, 5]
    r = balls[node, 6]
    lever = math.sqrt(y0 * y0 + y1 * y1 + y2 * y2) + rad
    eta = about[12] + (about[10] + about[11]) * lever
    rho = r - rad - eta
    if not rho > 0.0:  # too near the axis for any bound: never thrown away
        for k in range(4, LID):
            out[node, k] = 0.0
        for k in (0, 2, STILL, STILL + 2):
            out[node, k] = -np.inf
            out[node, k + 1] = np.inf
        for k in (8, 9, TILT, BENT):
            out[node, k] = np.inf
        return
    turn = about[10] * rad + about[11] * lever
    bent = rad * eta + 0.5 * eta * eta
    # of the part itself, and of the direction of closing where it comes to lie; a sine is not much less than its angle
    out[node, TILT] = 1.02 * (about[10] + about[11] + eta / rho)
    j2 = -y2 * s
    j3 = y2 * c
    j4 = y0 * s - y1 * c
    shift = c * about[0] + j2 * about[2] + j3 * about[3] + j4 * about[4]
    half = abs(c) * about[5] + abs(j2) * about[7] + abs(j3) * about[8] + abs(j4) * about[9]
    still = turn + bent / rho + wide
    out[node, 0] = lids[node, 0] + shift - (half + still)
    out[node, 1] = lids[node, 1] + shift + (half + still)
    out[node, SHIFT_R] = c
    out[node, SHIFT_R + 1] = j2
    out[node, SHIFT_R + 2] = j3
    out[node, SHIFT_R + 3] = j4
    out[node, SHIFT_R + 4] = y1
    out[node, SHIFT_R + 5] = y0
    least = lids[node, 0] - rc - still
    most = lids[node, 1] - rc + still
    largest_r = max(abs(least), abs(most)) + _largest_rise(c, 0.0, j2, j3, j4, about)
    out[node, STILL] = least - _SINGLE * largest_r
    out[node, STILL + 1] = most + _SINGLE * largest_r
    shift = about[1] + y1 * about[2] - y0 * about[3]
    half = about[6] + abs(y1) * about[7] + abs(y0) * about[8]
    still = turn + wide
    out[node, 2] = lids[node, 2] + shift - (half + still)
    out[node, 3] = lids[node, 3] + shift + (half + still)
    least = lids[node, 2] - zc - still
    most = lids[node, 3] - zc + still
    largest_z = max(abs(least), abs(most)) + _largest_rise(0.0, 1.0, y1, y0, 0.0, about)
    out[node, STILL + 2] = least - _SINGLE * largest_z
    out[node, STILL + 3] = most + _SINGLE * largest_z
    beta = lids[node, 6]
    gamma = lids[node, 7]
    out[node, 4] = lids[node, 5]
    out[node, 5] = beta
    out[node, 6] = gamma
    out[node, 7] = lids[node, 4]
    g0 = -s / r
    g1 = c / r
    j2 = -y2 * g1
    j3 = y2 * g0
    j4 = y0 * g1 - y1 * g0
    out[node, 9] = _cost(g0, 0.0, j2, j3, j4, about) + turn / rho + bent / (rho * rho)
    g0 -= beta * c
    g1 -= beta * s
    g2 = -gamma
    bend = math.sqrt(1.0 / (rho * rho) + beta * beta + gamma * gamma) * turn + _bend(rho, beta) * bent
    j2 = y1 * g2 - y2 * g1
    j3 = y2 * g0 - y0 * g2
    j4 = y0 * g1 - y1 * g0
    out[node, 8] = _cost(g0, g2, j2, j3, j4, about) + bend
    out[node, GAP_D_R] = g0
    out[node, GAP_D_R + 1] = g2
    out[node, GAP_D_R + 2] = j2
    out[node, GAP_D_R + 3] = j3
    out[node, GAP_D_R + 4] = j4
    out[node, BENT] = bend + _SINGLE * _largest_rise(g0, g2, j2, j3, j4, about)
    out[node, LARGEST] = largest_r
    out[node, LARGEST + 1] = largest_z


@kernel
def _least(lids: Floats, a: int, low: Floats, b: int) -> float:
    """Lower bound on the gap of a pair of patches over a bunch; infinite when they never meet in (r, z)."""
    r0 = max(lids[a, 0], low[b, 0])
    r1 = min(lids[a, 1], low[b, 1])
    z0 = max(lids[a, 2], low[b, 2])
    z1 = min(lids[a, 3], low[b, 3])
    if r0 > r1 or z0 > z1:
        return np.inf
    bb = lids[a, 6] - low[b, 5]
    gg = lids[a, 7] - low[b, 6]
    least = lids[a, 5] - low[b, 4] + min(bb * r0, bb * r1) + min(gg * z0, gg * z1)
    return float(max(least - low[b, 8], lids[a, 4] - low[b, 7] - low[b, 9]))
