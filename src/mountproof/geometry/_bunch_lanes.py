"""Kernels that bound gaps at every motion of a bunch side by side (docs/theory/draws.md).

A bunch holds at most ``LANES`` motions, one a lane; a row of lanes holds one number of each, so that the loops here run along
memory without a branch. What they write is a lower bound on the gap less what that motion may still use (``cut``): a lane
at or below nothing has to look closer. Lanes of patches hold single precision, rounded so that a bound stays one.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel
from mountproof.geometry._pair_bounds import (
    _SINGLE,
    BENT,
    GAP_D_R,
    LARGEST,
    SHIFT_R,
    STILL,
    Frame,
)
from mountproof.geometry._parts import STEEPEST
from mountproof.geometry._small_motions import _without_closing

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Singles = NDArray[np.float32]
Bits = NDArray[np.uint32]

#: Motions of one bunch.
LANES = 96

#: Rows of a motion without its closing (3 x 4).
ROWS = 12

#: Bits of a number at nothing; numbers below it have larger ones, the more the farther they are below.
_NOTHING = np.uint32(1 << 31)

#: Less than any gap, and still a number.
_LEAST = -1e30

#: Tangents of a turn up to this one are turned into angles by a series.
_SMALL = 0.03


@kernel
def _filled(
    motions: Floats, frame: Frame, order: Ints, first: int, last: int, n: Floats, lanes: Floats
) -> int:
    """Write the motions of a bunch without their closing; return how many lanes that makes, a multiple of four."""
    used = (last - first + 3) & ~3
    for lane in range(used):
        k = order[min(first + lane, last - 1)]
        _without_closing(motions[k], frame.cos, frame.sin, frame.rc, frame.zc, n)
        for i in range(3):
            for j in range(4):
                lanes[4 * i + j, lane] = n[i, j]
    return used


@kernel
def _used(cut: Floats, out: Singles) -> float:
    """Write what motions may still use as single numbers, none less than it was; return the most."""
    for k in range(LANES):
        x = cut[k] + _SINGLE * abs(cut[k])
        out[k] = np.float32(x if x > _LEAST else _LEAST)
    a = b = c = d = -np.inf
    for k in range(0, LANES, 4):
        a = cut[k] if cut[k] > a else a
        b = cut[k + 1] if cut[k + 1] > b else b
        c = cut[k + 2] if cut[k + 2] > c else c
        d = cut[k + 3] if cut[k + 3] > d else d
    return float(max(max(a, b), max(c, d)))


@kernel
def _looks_closer(x: Floats, used: int) -> bool:
    """Whether any of some lanes is at or below nothing: a count, which the processor makes of several lanes at once."""
    count = 0
    for k in range(used):
        count += 1 if x[k] <= 0.0 else 0
    return count > 0


@kernel
def _carried_patch(low: Floats, b: int, bunches: Singles, bunch: int, cut: Singles, at: Singles) -> None:
    """Write the shift of a lower patch in r and z, and its cost and ``cut``, at every motion into rows of ``at``.

    ``low``: the lower's lids as ``_carried_lid`` wrote them. ``bunches``: the five numbers of each motion, bunch by bunch.
    """
    r0 = np.float32(low[b, SHIFT_R])
    r2 = np.float32(low[b, SHIFT_R + 1])
    r3 = np.float32(low[b, SHIFT_R + 2])
    r4 = np.float32(low[b, SHIFT_R + 3])
    z2 = np.float32(low[b, SHIFT_R + 4])
    z3 = np.float32(-low[b, SHIFT_R + 5])
    g0 = np.float32(low[b, GAP_D_R])
    g1 = np.float32(low[b, GAP_D_R + 1])
    g2 = np.float32(low[b, GAP_D_R + 2])
    g3 = np.float32(low[b, GAP_D_R + 3])
    g4 = np.float32(low[b, GAP_D_R + 4])
    for k in range(LANES):
        m0 = bunches[bunch, 0, k]
        m1 = bunches[bunch, 1, k]
        m2 = bunches[bunch, 2, k]
        m3 = bunches[bunch, 3, k]
        m4 = bunches[bunch, 4, k]
        at[0, k] = r0 * m0 + r2 * m2 + r3 * m3 + r4 * m4
        at[1, k] = m1 + z2 * m2 + z3 * m3
        at[2, k] = cut[k] + (g0 * m0 + g1 * m1 + g2 * m2 + g3 * m3 + g4 * m4)


@kernel
def _nearer_end(
    slope: float, up_from: float, up_to: float, low_from: float, low_to: float
) -> tuple[np.float32, np.float32, np.float32]:
    """Where two ranges end on the side on which the lids are nearer (upper, lower), both times a sign, and the sign.

    That is the upper end where the lids come together, else the lower.
    """
    if slope < 0.0:
        return np.float32(up_to), np.float32(low_to), np.float32(1.0)
    return np.float32(-up_from), np.float32(-low_from), np.float32(-1.0)


@kernel
def _patch_gaps(
    lids: Floats, a: int, low: Floats, b: int, frame: Frame, at: Singles, out: Singles, bits: Bits
) -> int:
    """Gaps of two patches, the lower's as ``_carried_patch`` wrote it; ``bits`` are those of ``out``.

    Returns nothing where no lane is below nothing, else the more the farther the least is.
    """
    a0 = lids[a, 0] - frame.rc
    a1 = lids[a, 1] - frame.rc
    a2 = lids[a, 2] - frame.zc
    a3 = lids[a, 3] - frame.zc
    b0 = low[b, STILL]
    b1 = low[b, STILL + 1]
    b2 = low[b, STILL + 2]
    b3 = low[b, STILL + 3]
    beta = lids[a, 6] - low[b, 5]
    gamma = lids[a, 7] - low[b, 6]
    alpha = lids[a, 5] - low[b, 4] + beta * frame.rc + gamma * frame.zc
    alpha -= low[b, BENT] + 2.0 * _SINGLE * (
        abs(alpha) + abs(beta) * low[b, LARGEST] + abs(gamma) * low[b, LARGEST + 1]
    )
    middle = np.float32(alpha)
    r_from = np.float32(a0 - b1)
    r_to = np.float32(a1 - b0)
    z_from = np.float32(a2 - b3)
    z_to = np.float32(a3 - b2)
    r_up, r_low, r_sign = _nearer_end(beta, a0, a1, b0, b1)
    z_up, z_low, z_sign = _nearer_end(gamma, a2, a3, b2, b3)
    fall_r = np.float32(-abs(beta))
    fall_z = np.float32(-abs(gamma))
    never = np.float32(np.inf)
    for k in range(LANES):
        r = at[0, k]
        z = at[1, k]
        p = r_low + r_sign * r
        p = p if p < r_up else r_up
        q = z_low + z_sign * z
        q = q if q < z_up else z_up
        gap = middle + fall_r * p + fall_z * q - at[2, k]
        out[k] = gap if r >= r_from and r <= r_to and z >= z_from and z <= z_to else never
    least = np.uint32(0)
    for k in range(LANES):
        least = bits[k] if bits[k] > least else least
    return int(np.int64(least) - np.int64(_NOTHING)) if least > _NOTHING else 0


@kernel
def _carried_corner(
    turned: Floats,
    polar: Floats,
    v: int,
    lanes: Floats,
    used: int,
    bunch: int,
    largest: float,
    at: int,
    r: Floats,
    z: Floats,
    phi: Floats,
    box: Floats,
) -> None:
    """Write (r, z, phi) of one corner at every motion into row ``at``, and the range of r and z over them.

    ``largest``: no motion turns it farther about the axis, as a tangent. ``bunch``: lanes that are motions.
    """
    x0 = turned[v, 0]
    y0 = turned[v, 1]
    z0 = turned[v, 2]
    phi0 = polar[v, 2]
    for k in range(used):
        x = lanes[0, k] * x0 + lanes[1, k] * y0 + lanes[2, k] * z0 + lanes[3, k]
        y = lanes[4, k] * x0 + lanes[5, k] * y0 + lanes[6, k] * z0 + lanes[7, k]
        z[at, k] = lanes[8, k] * x0 + lanes[9, k] * y0 + lanes[10, k] * z0 + lanes[11, k]
        r[at, k] = math.sqrt(x * x + y * y)
        q = (x0 * y - y0 * x) / (x0 * x + y0 * y)
        q2 = q * q
        phi[at, k] = phi0 + q * (1.0 - q2 * (1.0 / 3.0 - q2 * (0.2 - q2 * (1.0 / 7.0 - q2 * (1.0 / 9.0)))))
    if not largest < _SMALL:
        for k in range(used):
            x = lanes[0, k] * x0 + lanes[1, k] * y0 + lanes[2, k] * z0 + lanes[3, k]
            y = lanes[4, k] * x0 + lanes[5, k] * y0 + lanes[6, k] * z0 + lanes[7, k]
            phi[at, k] = phi0 + math.atan2(x0 * y - y0 * x, x0 * x + y0 * y)
    r_from = z_from = np.inf
    r_to = z_to = -np.inf
    for k in range(bunch):
        r_from = min(r_from, r[at, k])
        r_to = max(r_to, r[at, k])
        z_from = min(z_from, z[at, k])
        z_to = max(z_to, z[at, k])
    box[at, 0] = r_from
    box[at, 1] = r_to
    box[at, 2] = z_from
    box[at, 3] = z_to


@kernel
def _corner_under_face(
    polar: Floats,
    a: int,
    b: int,
    c: int,
    bulge: float,
    wide: float,
    alpha: float,
    beta: float,
    gamma: float,
    v: int,
    r: Floats,
    z: Floats,
    phi: Floats,
    cut: Floats,
    used: int,
    out: Floats,
) -> bool:
    """Gaps of a corner of the lower under a face of the upper."""
    ar = polar[a, 0]
    az = polar[a, 1]
    br = polar[b, 0]
    bz = polar[b, 1]
    cr = polar[c, 0]
    cz = polar[c, 1]
    loose = wide + bulge
    sign = 1.0 if (br - ar) * (cz - az) - (cr - ar) * (bz - az) > 0.0 else -1.0
    n0r = -sign * (bz - az)
    n0z = sign * (br - ar)
    n1r = -sign * (cz - bz)
    n1z = sign * (cr - br)
    n2r = -sign * (az - cz)
    n2z = sign * (ar - cr)
    # no number where a face bends without bounds: then no border keeps a corner out
    o0 = abs(n0r) * loose + abs(n0z) * wide
    o1 = abs(n1r) * loose + abs(n1z) * wide
    o2 = abs(n2r) * loose + abs(n2z) * wide
    for k in range(used):
        x = r[v, k]
        y = z[v, k]
        s0 = n0r * (x - ar) + n0z * (y - az) + o0
        s1 = n1r * (x - br) + n1z * (y - bz) + o1
        s2 = n2r * (x - cr) + n2z * (y - cz) + o2
        s0 = s1 if s1 < s0 else s0
        s0 = s2 if s2 < s0 else s0
        out[k] = np.inf if s0 < 0.0 else alpha + beta * x + gamma * y - phi[v, k] - cut[k]
    return _looks_closer(out, used)


@kernel
def _corner_above_face(
    ur: float,
    uz: float,
    up: float,
    a: int,
    b: int,
    c: int,
    longest2: float,
    rho: float,
    wide: float,
    r: Floats,
    z: Floats,
    phi: Floats,
    cut: Floats,
    used: int,
    out: Floats,
) -> bool:
    """Gaps of a corner of the upper, (r, z, phi), above a face of the lower."""
    bulge = longest2 / (6.0 * rho)
    loose = wide + bulge
    steepest = STEEPEST * (1.0 / ur)
    for k in range(used):
        ar = r[a, k] - ur
        az = z[a, k] - uz
        ap = phi[a, k]
        br = r[b, k] - ur
        bz = z[b, k] - uz
        bp = phi[b, k]
        cr = r[c, k] - ur
        cz = z[c, k] - uz
        cp = phi[c, k]
        r1 = br - ar
        z1 = bz - az
        p1 = bp - ap
        r2 = cr - ar
        z2 = cz - az
        p2 = cp - ap
        det = r1 * z2 - r2 * z1
        sign = 1.0 if det > 0.0 else -1.0
        s0 = sign * (ar * bz - br * az) + abs(z1) * loose + abs(r1) * wide
        s1 = sign * (br * cz - cr * bz) + abs(cz - bz) * loose + abs(cr - br) * wide
        s2 = sign * (cr * az - ar * cz) + abs(z2) * loose + abs(r2) * wide
        s0 = s1 if s1 < s0 else s0
        s0 = s2 if s2 < s0 else s0
        over_det = 1.0 / det if det != 0.0 else np.nan
        beta = (p1 * z2 - p2 * z1) * over_det
        gamma = (r1 * p2 - r2 * p1) * over_det
        steep = abs(beta) if abs(beta) > abs(gamma) else abs(gamma)
        mild = steep <= steepest  # not where the face has no width in (r, z): no number is mild
        beta = beta if mild else 0.0
        gamma = gamma if mild else 0.0
        top = ap - beta * ar - gamma * az
        other = bp - beta * br - gamma * bz
        top = other if other > top else top
        other = cp - beta * cr - gamma * cz
        top = other if other > top else top
        sag = bulge * (1.0 / rho + abs(beta))
        out[k] = np.inf if s0 < 0.0 else up - top - sag - cut[k]
    return _looks_closer(out, used)


@kernel
def _edge_and_edge(
    polar: Floats,
    a: int,
    b: int,
    up_bulge: float,
    up_sag: float,
    up_rho: float,
    face_beta: float,
    face_gamma: float,
    c: int,
    d: int,
    long2: float,
    rho: float,
    wide: float,
    r: Floats,
    z: Floats,
    phi: Floats,
    cut: Floats,
    used: int,
    out: Floats,
) -> bool:
    """Gaps of two edges. ``up_sag``: square of the upper's length; ``face_beta``, ``face_gamma``: a lid where they run alike."""
    ar = polar[a, 0]
    az = polar[a, 1]
    ap = polar[a, 2]
    ur = polar[b, 0] - ar
    uz = polar[b, 1] - az
    up = polar[b, 2] - ap
    low_bulge = long2 / (6.0 * rho)
    loose = wide + (up_bulge if up_bulge > low_bulge else low_bulge)
    along = abs(uz) * loose + abs(ur) * wide
    steepest = STEEPEST / ar
    level = up_sag / (up_rho * up_rho) + long2 / (rho * rho)
    curved = up_sag / up_rho + long2 / rho
    for k in range(used):
        cr = r[c, k] - ar
        cz = z[c, k] - az
        cp = phi[c, k]
        vr = r[d, k] - r[c, k]
        vz = z[d, k] - z[c, k]
        vp = phi[d, k] - cp
        det = ur * vz - uz * vr
        s0 = ur * cz - uz * cr
        s1 = s0 + det
        low = s0 if s0 < s1 else s1
        high = s0 if s0 > s1 else s1
        over = low - along
        other = -high - along
        over = other if other > over else over
        across = abs(vz) * loose + abs(vr) * wide
        s0 = vz * cr - vr * cz
        s1 = s0 - det
        low = s0 if s0 < s1 else s1
        high = s0 if s0 > s1 else s1
        other = low - across
        over = other if other > over else over
        other = -high - across
        over = other if other > over else over
        over_det = 1.0 / det if det != 0.0 else np.nan
        beta = (up * vz - vp * uz) * over_det
        gamma = (ur * vp - vr * up) * over_det
        steep = abs(beta) if abs(beta) > abs(gamma) else abs(gamma)
        mild = steep <= steepest
        beta = beta if mild else face_beta
        gamma = gamma if mild else face_gamma
        end = up - beta * ur - gamma * uz
        above = ap + (end if end < 0.0 else 0.0)
        end = vp - beta * vr - gamma * vz
        below = cp - beta * cr - gamma * cz + (end if end > 0.0 else 0.0)
        sag = 0.125 * (level + abs(beta) * curved)
        out[k] = np.inf if over > 0.0 else above - below - sag - cut[k]
    return _looks_closer(out, used)
