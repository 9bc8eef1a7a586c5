"""Bounds on the gap of patches, corners, edges and faces of one pair of parts under small motions (docs/theory/draws.md).

Gaps here are free of closing: theta of the motion (``_small_motions``) has been added to them. ``about``: bounds
over a bunch of motions as ``_spread`` writes them. ``star``: five slopes of a gap taken as the yardstick; a lid's cost
is told against it as well, because neighbouring faces rise and fall together and only the difference must be bounded.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._parts import _bend

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Columns of a carried lid: r from, to; z from, to; alpha, beta, gamma; extreme phi; cost of the sloping lid against
#: the yardstick and by itself; the same of the level lid.
LID = 12


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


class Carried(NamedTuple):
    """What is worked out of the lower part for one motion or bunch, when first asked for; stamps tell what is fresh.

    ``lids`` (n, LID). At the central motion: ``corners`` (v, 6): r, z, phi, x, y, z; ``slopes`` (f, 8): alpha, beta,
    gamma, bulge, middle, reach from there; ``spans`` (e, 8): r from, to; z from, to; length; middle. ``leaves`` (l, 4):
    loose in r and z, rho, longest lever.
    """

    lids: Floats
    lid_stamp: Ints
    corners: Floats
    corner_stamp: Ints
    slopes: Floats
    spans: Floats
    leaves: Floats
    leaf_stamp: Ints


@njit(cache=True, nogil=True, error_model="numpy")
def _cost(
    j0: float, j1: float, j2: float, j3: float, j4: float, about: Floats, star: Floats, sign: float
) -> float:
    """Largest rise of j . m (less that of the yardstick where ``sign`` is 1) over a bunch."""
    a0 = j0 + sign * star[0]
    a1 = j1 + sign * star[1]
    a2 = j2 + sign * star[2]
    a3 = j3 + sign * star[3]
    a4 = j4 + sign * star[4]
    return float(
        a0 * about[0]
        + a1 * about[1]
        + a2 * about[2]
        + a3 * about[3]
        + a4 * about[4]
        + abs(a0) * about[5]
        + abs(a1) * about[6]
        + abs(a2) * about[7]
        + abs(a3) * about[8]
        + abs(a4) * about[9]
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _carried_lid(
    lids: Floats, balls: Floats, node: int, frame: Frame, about: Floats, star: Floats, out: Floats
) -> None:
    """Carry a lower lid through a bunch of motions; written into row ``node`` of ``out``."""
    y0 = balls[node, 0] - frame.rc
    y1 = balls[node, 1]
    y2 = balls[node, 2] - frame.zc
    rad = balls[node, 3]
    c = balls[node, 4]
    s = balls[node, 5]
    r = balls[node, 6]
    lever = math.sqrt(y0 * y0 + y1 * y1 + y2 * y2) + rad
    eta = about[12] + (about[10] + about[11]) * lever
    rho = r - rad - eta
    if not rho > 0.0:  # too near the axis for any bound: never thrown away
        for k in range(4, 8):
            out[node, k] = 0.0
        for k in range(8, 12):
            out[node, k] = np.inf
        out[node, 0] = -np.inf
        out[node, 1] = np.inf
        out[node, 2] = -np.inf
        out[node, 3] = np.inf
        return
    turn = about[10] * rad + about[11] * lever
    j2 = -y2 * s
    j3 = y2 * c
    j4 = y0 * s - y1 * c
    shift = c * about[0] + j2 * about[2] + j3 * about[3] + j4 * about[4]
    half = abs(c) * about[5] + abs(j2) * about[7] + abs(j3) * about[8] + abs(j4) * about[9]
    half += turn + (eta * rad + 0.5 * eta * eta) / rho + frame.wide
    out[node, 0] = lids[node, 0] + shift - half
    out[node, 1] = lids[node, 1] + shift + half
    shift = about[1] + y1 * about[2] - y0 * about[3]
    half = about[6] + abs(y1) * about[7] + abs(y0) * about[8] + turn + frame.wide
    out[node, 2] = lids[node, 2] + shift - half
    out[node, 3] = lids[node, 3] + shift + half
    beta = lids[node, 6]
    gamma = lids[node, 7]
    out[node, 4] = lids[node, 5]
    out[node, 5] = beta
    out[node, 6] = gamma
    out[node, 7] = lids[node, 4]
    bent = rad * eta + 0.5 * eta * eta
    g0 = -s / r
    g1 = c / r
    rest = turn / rho + bent / (rho * rho)
    j2 = -y2 * g1
    j3 = y2 * g0
    j4 = y0 * g1 - y1 * g0
    out[node, 10] = _cost(g0, 0.0, j2, j3, j4, about, star, 1.0) + rest
    out[node, 11] = _cost(g0, 0.0, j2, j3, j4, about, star, 0.0) + rest
    if beta == 0.0 and gamma == 0.0:
        out[node, 8] = out[node, 10]
        out[node, 9] = out[node, 11]
        return
    g0 -= beta * c
    g1 -= beta * s
    g2 = -gamma
    rest = math.sqrt(1.0 / (rho * rho) + beta * beta + gamma * gamma) * turn + _bend(rho, beta) * bent
    j2 = y1 * g2 - y2 * g1
    j3 = y2 * g0 - y0 * g2
    j4 = y0 * g1 - y1 * g0
    out[node, 8] = _cost(g0, g2, j2, j3, j4, about, star, 1.0) + rest
    out[node, 9] = _cost(g0, g2, j2, j3, j4, about, star, 0.0) + rest


@njit(cache=True, nogil=True, error_model="numpy")
def _passes(lids: Floats, a: int, low: Floats, b: int, level: float, cap: float) -> bool:
    """Whether a pair of patches may touch at or below the yardstick (``level``) and at or below ``cap``."""
    r0 = max(lids[a, 0], low[b, 0])
    r1 = min(lids[a, 1], low[b, 1])
    z0 = max(lids[a, 2], low[b, 2])
    z1 = min(lids[a, 3], low[b, 3])
    if r0 > r1 or z0 > z1:
        return False
    flat = lids[a, 4] - low[b, 7]
    if flat > level + low[b, 10] or flat > cap + low[b, 11]:
        return False
    bb = lids[a, 6] - low[b, 5]
    gg = lids[a, 7] - low[b, 6]
    least = lids[a, 5] - low[b, 4] + min(bb * r0, bb * r1) + min(gg * z0, gg * z1)
    return not (least > level + low[b, 8] or least > cap + low[b, 9])


@njit(cache=True, nogil=True, error_model="numpy")
def _least(lids: Floats, a: int, low: Floats, b: int) -> float:
    """Lower bound on the gap of a pair of patches by itself; infinite when they do not meet in (r, z)."""
    r0 = max(lids[a, 0], low[b, 0])
    r1 = min(lids[a, 1], low[b, 1])
    z0 = max(lids[a, 2], low[b, 2])
    z1 = min(lids[a, 3], low[b, 3])
    if r0 > r1 or z0 > z1:
        return np.inf
    bb = lids[a, 6] - low[b, 5]
    gg = lids[a, 7] - low[b, 6]
    least = lids[a, 5] - low[b, 4] + min(bb * r0, bb * r1) + min(gg * z0, gg * z1)
    return float(max(least - low[b, 9], lids[a, 4] - low[b, 7] - low[b, 11]))


@njit(cache=True, nogil=True, error_model="numpy")
def _slopes_of_gap(
    x: float, y: float, z: float, cr: float, cz: float, beta: float, gamma: float, j: Floats
) -> None:
    """Change of phi - beta r - gamma z of the lower's place (x, y, z) with the five numbers of a motion about (cr, 0, cz)."""
    rr = x * x + y * y
    r = math.sqrt(rr)
    g0 = -y / rr - beta * x / r
    g1 = x / rr - beta * y / r
    g2 = -gamma
    y0 = x - cr
    y2 = z - cz
    j[0] = g0
    j[1] = g2
    j[2] = y * g2 - y2 * g1
    j[3] = y2 * g0 - y0 * g2
    j[4] = y0 * g1 - y * g0
