"""Closed forms of first contact between the features of two triangles (docs/theory/first-contact.md).

A triangle is three rows of (x, y, z) in the hinge frame, x > 0. A touch is written into ``touch``, four
numbers: closing angle (rad), then the point of the upper (mm). Each kernel returns the smaller of the angle
it was given and the one it finds; ties keep what was there.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@kernel
def _over(a: float, b: float) -> float:
    """a / b, and NaN (a root that is not there, refused by every comparison) where b is nothing."""
    return a / b if b != 0.0 else math.nan


@kernel
def _gap(ux: float, uy: float, lx: float, ly: float) -> float:
    """Angle by which (lx, ly) must turn about z, counter-clockwise, to lie on the ray of (ux, uy)."""
    return math.atan2(lx * uy - ly * ux, lx * ux + ly * uy)


@kernel
def _inside(tri: Floats, n: Floats, nn: float, px: float, py: float, pz: float, tol: float) -> bool:
    """Whether a point of the triangle's plane is no farther than ``tol`` outside any edge, nor outside its box.

    The box matters at the tip of a needle, where a point far beyond the tip is near both edges.
    """
    size = math.sqrt(nn)
    if not (
        px >= min(tri[0, 0], min(tri[1, 0], tri[2, 0])) - tol
        and px <= max(tri[0, 0], max(tri[1, 0], tri[2, 0])) + tol
        and py >= min(tri[0, 1], min(tri[1, 1], tri[2, 1])) - tol
        and py <= max(tri[0, 1], max(tri[1, 1], tri[2, 1])) + tol
        and pz >= min(tri[0, 2], min(tri[1, 2], tri[2, 2])) - tol
        and pz <= max(tri[0, 2], max(tri[1, 2], tri[2, 2])) + tol
    ):
        return False
    for i in range(3):
        j = i + 1 if i < 2 else 0
        ex = tri[j, 0] - tri[i, 0]
        ey = tri[j, 1] - tri[i, 1]
        ez = tri[j, 2] - tri[i, 2]
        ax = px - tri[i, 0]
        ay = py - tri[i, 1]
        az = pz - tri[i, 2]
        side = (
            n[0] * (ey * az - ez * ay) + n[1] * (ez * ax - ex * az) + n[2] * (ex * ay - ey * ax)
        )  # |n| |e| times the distance inside this edge
        if not side >= -tol * size * math.sqrt(ex * ex + ey * ey + ez * ez):
            return False
    return True


@kernel
def _normal(tri: Floats, n: Floats) -> float:
    """Write the cross product of two edges into ``n``; return its squared length."""
    ux = tri[1, 0] - tri[0, 0]
    uy = tri[1, 1] - tri[0, 1]
    uz = tri[1, 2] - tri[0, 2]
    vx = tri[2, 0] - tri[0, 0]
    vy = tri[2, 1] - tri[0, 1]
    vz = tri[2, 2] - tri[0, 2]
    n[0] = uy * vz - uz * vy
    n[1] = uz * vx - ux * vz
    n[2] = ux * vy - uy * vx
    return float(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])


@njit(cache=True, nogil=True, error_model="numpy")
def _face_normal(vertices: Floats, faces: Ints, f: int) -> tuple[float, float, float]:
    """Cross product of two edges of a face of a mesh."""
    a = faces[f, 0]
    b = faces[f, 1]
    c = faces[f, 2]
    ux = vertices[b, 0] - vertices[a, 0]
    uy = vertices[b, 1] - vertices[a, 1]
    uz = vertices[b, 2] - vertices[a, 2]
    vx = vertices[c, 0] - vertices[a, 0]
    vy = vertices[c, 1] - vertices[a, 1]
    vz = vertices[c, 2] - vertices[a, 2]
    return uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx


@kernel
def _vertex_against_face(
    vertex: Floats, tri: Floats, n: Floats, nn: float, sign: float, tol: float, best: float, touch: Floats
) -> float:
    """Turn a vertex about z until it lies in the face.

    The circle of the vertex stays at its z and r, so in the face's plane it meets one line,
    n0 x + n1 y = c, at the two points at distance r from the axis. ``sign`` +1: the vertex is the lower's
    (closing turns it onto the face); -1: the vertex is the upper's (closing brings the face to it).
    """
    ab = n[0] * n[0] + n[1] * n[1]
    if ab == 0.0:  # no plane, or a plane square to the axis: its edges carry every contact
        return best
    # Coordinates relative to the face's first corner keep the plane's offset small, hence exact.
    x0 = tri[0, 0]
    y0 = tri[0, 1]
    c = n[0] * x0 + n[1] * y0 - n[2] * (vertex[2] - tri[0, 2])
    root = math.sqrt(ab)
    distance = c / root
    rr = vertex[0] * vertex[0] + vertex[1] * vertex[1]
    r = math.sqrt(rr)
    half2 = (r - distance) * (r + distance)
    if half2 < 0.0:
        if half2 < -2.0 * r * tol:  # farther than tol from reaching the plane
            return best
        half2 = 0.0
    half = math.sqrt(half2)
    ax = n[0] / root
    ay = n[1] / root
    for k in range(2):
        h = half if k == 0 else -half
        px = distance * ax - h * ay
        py = distance * ay + h * ax
        if px <= 0.0:
            continue
        gap = sign * _gap(px, py, vertex[0], vertex[1])
        if gap < best and _inside(tri, n, nn, px, py, vertex[2], tol):
            best = gap
            touch[0] = gap
            if sign > 0.0:
                touch[1] = px
                touch[2] = py
            else:
                touch[1] = vertex[0]
                touch[2] = vertex[1]
            touch[3] = vertex[2]
    return best


@kernel
def _keep(ux: float, uy: float, uz: float, lx: float, ly: float, best: float, touch: Floats) -> float:
    gap = _gap(ux, uy, lx, ly)
    if gap < best:
        best = gap
        touch[0] = gap
        touch[1] = ux
        touch[2] = uy
        touch[3] = uz
    return best


@kernel
def _point_against_edge(
    point: Floats, p: Floats, p1: Floats, tol: float, upper_edge: bool, best: float, touch: Floats
) -> float:
    """Turn a point about z onto an edge that lies (within ``tol``) in the point's own plane of z."""
    ux = p1[0] - p[0]
    uy = p1[1] - p[1]
    a = ux * ux + uy * uy
    r = math.sqrt(point[0] * point[0] + point[1] * point[1])
    rp = math.sqrt(p[0] * p[0] + p[1] * p[1])
    b = p[0] * ux + p[1] * uy
    c = (rp - r) * (rp + r)
    lost = b * b - a * c
    if a == 0.0 or lost < -2.0 * r * tol * a:
        return best
    wide = tol / math.sqrt(a)
    lost = math.sqrt(max(lost, 0.0))
    q = -(b + lost) if b >= 0.0 else -(b - lost)
    for k in range(2):
        s = q / a if k == 0 else _over(c, q)
        if s >= -wide and s <= 1.0 + wide:
            ex = p[0] + s * ux
            ey = p[1] + s * uy
            if upper_edge:
                best = _keep(ex, ey, point[2], point[0], point[1], best, touch)
            else:
                best = _keep(point[0], point[1], point[2], ex, ey, best, touch)
    return best


@kernel
def _edge_against_edge(
    p: Floats, p1: Floats, q: Floats, q1: Floats, tol: float, best: float, touch: Floats
) -> float:
    """Match z and r along an upper edge p + s u and a lower edge q + w v: one quadratic, two crossings.

    z is linear along both, so the flatter edge's parameter eliminates the steeper one's (ratio at most 1),
    and r^2, quadratic along both, leaves a s^2 + 2 b s + c = 0 for the flatter edge.
    """
    uz = p1[2] - p[2]
    vz = q1[2] - q[2]
    if abs(uz) <= tol and abs(vz) <= tol:
        # Both in a plane square to the axis: they meet first at an end of one of them. Each corner of a triangle
        # is the start of one edge; the end p1 has its turn as the start of the next.
        if abs(p[2] - q[2]) <= 4.0 * tol:
            best = _point_against_edge(q, p, p1, tol, True, best, touch)
            best = _point_against_edge(p, q, q1, tol, False, best, touch)
        return best
    if abs(vz) >= abs(uz):
        return _flat_and_steep(p, p1, q, q1, tol, True, best, touch)
    return _flat_and_steep(q, q1, p, p1, tol, False, best, touch)


@kernel
def _flat_and_steep(
    f: Floats, f1: Floats, g: Floats, g1: Floats, tol: float, flat_is_upper: bool, best: float, touch: Floats
) -> float:
    fx = f1[0] - f[0]
    fy = f1[1] - f[1]
    fz = f1[2] - f[2]
    gx = g1[0] - g[0]
    gy = g1[1] - g[1]
    gz = g1[2] - g[2]
    start = (f[2] - g[2]) / gz
    ratio = fz / gz
    # w = start + ratio s; the steep edge's point at s = 0 and its change with s:
    hx = g[0] + start * gx
    hy = g[1] + start * gy
    kx = ratio * gx
    ky = ratio * gy
    a = (fx - kx) * (fx + kx) + (fy - ky) * (fy + ky)
    b = f[0] * fx + f[1] * fy - hx * kx - hy * ky
    c = (f[0] - hx) * (f[0] + hx) + (f[1] - hy) * (f[1] + hy)
    reach = math.sqrt(f[0] * f[0] + f[1] * f[1]) + math.sqrt(f1[0] * f1[0] + f1[1] * f1[1])
    same = reach * tol  # two values of r^2 this close are one radius within tol
    flat_wide = tol / max(math.sqrt(fx * fx + fy * fy + fz * fz), tol)
    steep_wide = tol / max(math.sqrt(gx * gx + gy * gy + gz * gz), tol)
    if abs(a) + 2.0 * abs(b) + abs(c) <= same:
        # One curve in (r, z): the gap runs monotone along it, so an end of either edge comes first.
        for k in range(4):
            s = float(k) if k < 2 else _over(float(k - 2) - start, ratio)
            best = _pair(f, fx, fy, fz, hx, hy, kx, ky, start, ratio, s, flat_wide, steep_wide,
                         flat_is_upper, best, touch)  # fmt: skip
        return best
    lost = b * b - a * c
    if lost < 0.0:
        if lost < -same * abs(a):
            return best
        lost = 0.0
    lost = math.sqrt(lost)
    root = -(b + lost) if b >= 0.0 else -(b - lost)
    for k in range(2):
        s = _over(root, a) if k == 0 else _over(c, root)
        best = _pair(f, fx, fy, fz, hx, hy, kx, ky, start, ratio, s, flat_wide, steep_wide,
                     flat_is_upper, best, touch)  # fmt: skip
    return best


@kernel
def _pair(
    f: Floats,
    fx: float,
    fy: float,
    fz: float,
    hx: float,
    hy: float,
    kx: float,
    ky: float,
    start: float,
    ratio: float,
    s: float,
    flat_wide: float,
    steep_wide: float,
    flat_is_upper: bool,
    best: float,
    touch: Floats,
) -> float:
    """Keep the crossing at parameter ``s`` of the flat edge when it lies on both edges (NaN does not)."""
    w = start + ratio * s
    if s >= -flat_wide and s <= 1.0 + flat_wide and w >= -steep_wide and w <= 1.0 + steep_wide:
        ax = f[0] + s * fx
        ay = f[1] + s * fy
        bx = hx + s * kx
        by = hy + s * ky
        z = f[2] + s * fz
        if flat_is_upper:
            return _keep(ax, ay, z, bx, by, best, touch)
        return _keep(bx, by, z, ax, ay, best, touch)
    return best
