"""Kernels that cut one part (tooth) of an arch into patches and bound them in (r, z, phi).

A patch is a node of a binary tree over the part's faces. Every point of a patch of the upper obeys
phi >= alpha + beta r + gamma z, of the lower phi <= the same: a sloping lid instead of a level one, so that a patch
of a steep wall is bounded as sharply as one of a flat. Derivation: docs/theory/draws.md.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._halving import _longest, _select
from mountproof.geometry._kernel import kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Faces in one leaf.
LEAF_FACES = 4

#: Slopes of a lid, in mm of arc per mm, beyond which it is laid level: a wall in line with the motion has none.
STEEPEST = 8.0

#: Patches of more faces get a level lid: they are too curved for another.
_SLOPING_FACES = 512


class Part(NamedTuple):
    """One part of an arch, its faces in the order of the tree, its corners and edges numbered for itself.

    ``points`` (v, 3): corners as the closed forms read them (upper: at its pose; lower: at rest). ``turned`` (v, 3): the
    lower's at its nominal pose in the part's own frame. ``polar`` (v, 3): (r, z, phi) at the nominal pose.
    ``faces`` (f, 3), ``edges`` (e, 2): places in ``points``; ``ids`` (f,): numbers of the faces in the arch.
    ``vertex_face``, ``edge_face``: place of the face of lowest number that has this corner or edge. ``face_starts``,
    ``vertex_starts``, ``edge_starts``: what each leaf owns. ``nodes`` (n, 2): first child (0: none) and number of the
    leaf. ``lids`` (n, 8): r from, to; z from, to; extreme phi; alpha, beta, gamma. ``balls`` (n, 7): centre in the own
    frame, radius, cosine and sine of its phi there, its r. ``slopes`` (f, 3): alpha, beta, gamma of each face of the
    upper; ``bulges`` (f,): how far it bends towards the axis in (r, z). ``spans`` (e, 6): r from, to; z from, to; lowest
    phi; length. ``face_leans`` (f, 5), ``vertex_leans`` (v, 5), ``edge_leans`` (e, 5), ``leans`` (n, 5): see ``_leans``.
    """

    points: Floats
    turned: Floats
    polar: Floats
    faces: Ints
    ids: Ints
    edges: Ints
    vertex_face: Ints
    edge_face: Ints
    face_starts: Ints
    vertex_starts: Ints
    edge_starts: Ints
    nodes: Ints
    lids: Floats
    balls: Floats
    slopes: Floats
    bulges: Floats
    spans: Floats
    face_leans: Floats
    vertex_leans: Floats
    edge_leans: Floats
    leans: Floats


@njit(cache=True, nogil=True, error_model="numpy")
def _halves(centres: Floats, order: Ints, ranges: Ints, nodes: Ints) -> tuple[int, int]:
    """Halve the faces across their longest side until at most ``LEAF_FACES`` are left; return numbers of nodes and leaves.

    ``centres`` (3, m). Children lie behind their parent; leaves are numbered along the order of the faces.
    """
    m = order.shape[0]
    ranges[0, 0] = 0
    ranges[0, 1] = m
    count = 1
    i = 0
    while i < count:
        first = ranges[i, 0]
        last = ranges[i, 1]
        if last - first > LEAF_FACES:
            middle = (first + last) >> 1
            _select(centres[_longest(centres, order, first, last)], order, first, last, middle)
            nodes[i, 0] = count
            ranges[count, 0] = first
            ranges[count, 1] = middle
            ranges[count + 1, 0] = middle
            ranges[count + 1, 1] = last
            count += 2
        i += 1
    leaf_at = np.zeros(m + 1, dtype=np.int32)
    for i in range(count):
        if nodes[i, 0] == 0:
            leaf_at[ranges[i, 0]] = 1
    leaves = 0
    for j in range(m):
        if leaf_at[j] == 1:
            leaf_at[j] = leaves
            leaves += 1
    for i in range(count):
        nodes[i, 1] = leaf_at[ranges[i, 0]] if nodes[i, 0] == 0 else -1
    return count, leaves


@njit(cache=True, nogil=True, error_model="numpy")
def _numbered(given: Ints, ids: Ints, mark: Ints, faces: Ints, used: Ints, lowest: Ints) -> int:
    """Number the corners by their first use; ``used``: which they were, ``lowest``: their face of lowest number.

    ``mark``: -1 for every vertex of the arch, left so again.
    """
    count = 0
    for i in range(given.shape[0]):
        for k in range(3):
            v = given[i, k]
            if mark[v] < 0:
                mark[v] = count
                used[count] = v
                lowest[count] = i
                count += 1
            a = mark[v]
            faces[i, k] = a
            if ids[i] < ids[lowest[a]]:
                lowest[a] = i
    for j in range(count):
        mark[used[j]] = -1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _all_edges(
    faces: Ints,
    ids: Ints,
    used: Ints,
    face_starts: Ints,
    edges: Ints,
    lowest: Ints,
    sides: Ints,
    starts: Ints,
    owned: Ints,
) -> int:
    """Every edge once, from the corner of lower number in the arch to the other, in the order of the leaves that own it.

    ``sides`` (e, 3): its first and its last face, and how many there are.
    ``owned``: first corner that each leaf owns (corners are numbered by their first use, so leaf by leaf).
    """
    heads = np.full(used.shape[0], -1, dtype=np.int32)
    following = np.zeros(edges.shape[0], dtype=np.int32)
    count = 0
    corners = 0
    for leaf in range(face_starts.shape[0] - 1):
        starts[leaf] = count
        owned[leaf] = corners
        for i in range(face_starts[leaf], face_starts[leaf + 1]):
            for k in range(3):
                a = faces[i, k]
                b = faces[i, (k + 1) % 3]
                corners = max(corners, a + 1)
                if used[a] > used[b]:
                    a, b = b, a
                e = heads[a]
                while e >= 0 and edges[e, 1] != b:
                    e = following[e]
                if e < 0:
                    e = count
                    edges[e, 0] = a
                    edges[e, 1] = b
                    lowest[e] = i
                    sides[e, 0] = i
                    sides[e, 2] = 0
                    following[e] = heads[a]
                    heads[a] = e
                    count += 1
                elif ids[i] < ids[lowest[e]]:
                    lowest[e] = i
                sides[e, 1] = i
                sides[e, 2] += 1
    starts[face_starts.shape[0] - 1] = count
    owned[face_starts.shape[0] - 1] = corners
    return count


@kernel
def _side2(points: Floats, a: int, b: int) -> float:
    x = points[a, 0] - points[b, 0]
    y = points[a, 1] - points[b, 1]
    z = points[a, 2] - points[b, 2]
    return float(x * x + y * y + z * z)


@kernel
def _bend(rho: float, beta: float) -> float:
    """Bound on the second derivative of phi - beta r - gamma z along any unit direction, no nearer to the axis than ``rho``."""
    return 1.0 / (rho * rho) + abs(beta) / rho


@njit(cache=True, nogil=True, error_model="numpy")
def _plane(polar: Floats, a: int, b: int, c: int, out: Floats) -> bool:
    """Slopes (beta, gamma) of phi over (r, z) through three rows of (r, z, phi, ...); False when too steep."""
    r1 = polar[b, 0] - polar[a, 0]
    z1 = polar[b, 1] - polar[a, 1]
    p1 = polar[b, 2] - polar[a, 2]
    r2 = polar[c, 0] - polar[a, 0]
    z2 = polar[c, 1] - polar[a, 1]
    p2 = polar[c, 2] - polar[a, 2]
    det = r1 * z2 - r2 * z1
    if det == 0.0:
        return False
    out[0] = (p1 * z2 - p2 * z1) / det
    out[1] = (r1 * p2 - r2 * p1) / det
    steep = STEEPEST / max(polar[a, 0], max(polar[b, 0], polar[c, 0]))
    return bool(abs(out[0]) <= steep and abs(out[1]) <= steep)


@njit(cache=True, nogil=True, error_model="numpy")
def _least_r(polar: Floats, faces: Ints, i: int, longest2: float) -> float:
    """No point of a face is nearer to the axis."""
    r = min(polar[faces[i, 0], 0], min(polar[faces[i, 1], 0], polar[faces[i, 2], 0]))
    return math.sqrt(max(r * r - 0.25 * longest2, 0.0))


@njit(cache=True, nogil=True, error_model="numpy")
def _face_slopes(points: Floats, polar: Floats, faces: Ints, slopes: Floats, bulges: Floats) -> None:
    """The lid of each face of the upper: no point of it lies below alpha + beta r + gamma z."""
    got = np.zeros(2)
    for i in range(faces.shape[0]):
        a = faces[i, 0]
        b = faces[i, 1]
        c = faces[i, 2]
        longest2 = max(_side2(points, a, b), max(_side2(points, b, c), _side2(points, c, a)))
        rho = _least_r(polar, faces, i, longest2)
        if not _plane(polar, a, b, c, got):
            got[0] = 0.0
            got[1] = 0.0
        alpha = np.inf
        for k in range(3):
            p = polar[faces[i, k]]
            alpha = min(alpha, p[2] - got[0] * p[0] - got[1] * p[1])
        # phi alone has its extremes at corners
        sag = longest2 / 6.0 * _bend(rho, got[0]) if got[0] != 0.0 or got[1] != 0.0 else 0.0
        slopes[i, 0] = alpha - sag if sag < np.inf else -np.inf
        slopes[i, 1] = got[0]
        slopes[i, 2] = got[1]
        bulges[i] = longest2 / (6.0 * rho) if rho > 0.0 else np.inf


@njit(cache=True, nogil=True, error_model="numpy")
def _edge_spans(points: Floats, polar: Floats, edges: Ints, spans: Floats) -> None:
    """Range of each edge in r and z, lowest phi, length."""
    for e in range(edges.shape[0]):
        p = polar[edges[e, 0]]
        q = polar[edges[e, 1]]
        long2 = _side2(points, edges[e, 0], edges[e, 1])
        r = min(p[0], q[0])
        spans[e, 0] = math.sqrt(max(r * r - 0.25 * long2, 0.0))
        spans[e, 1] = max(p[0], q[0])
        spans[e, 2] = min(p[1], q[1])
        spans[e, 3] = max(p[1], q[1])
        spans[e, 4] = min(p[2], q[2])
        spans[e, 5] = math.sqrt(long2)


@njit(cache=True, nogil=True, error_model="numpy")
def _fitted(polar: Floats, faces: Ints, first: int, last: int, out: Floats) -> bool:
    """Slopes of phi over (r, z) by least squares over the corners of some faces; False when too steep."""
    n = 3.0 * (last - first)
    r0 = z0 = p0 = 0.0
    for i in range(first, last):
        for k in range(3):
            v = faces[i, k]
            r0 += polar[v, 0]
            z0 += polar[v, 1]
            p0 += polar[v, 2]
    r0 /= n
    z0 /= n
    p0 /= n
    rr = rz = zz = rp = zp = 0.0
    for i in range(first, last):
        for k in range(3):
            v = faces[i, k]
            r = polar[v, 0] - r0
            z = polar[v, 1] - z0
            p = polar[v, 2] - p0
            rr += r * r
            rz += r * z
            zz += z * z
            rp += r * p
            zp += z * p
    det = rr * zz - rz * rz
    if not det > 0.0:
        return False
    out[0] = (rp * zz - zp * rz) / det
    out[1] = (rr * zp - rz * rp) / det
    return bool(abs(out[0]) * r0 <= STEEPEST and abs(out[1]) * r0 <= STEEPEST)


@njit(cache=True, nogil=True, error_model="numpy")
def _lids(part: Part, ranges: Ints, sign: float) -> None:
    """Fill ``lids`` and ``balls`` of every node. ``sign``: +1 for the upper (bounded from below), -1 for the lower."""
    got = np.zeros(2)
    for node in range(part.nodes.shape[0]):
        first = ranges[node, 0]
        last = ranges[node, 1]
        lid = part.lids[node]
        ball = part.balls[node]
        sloping = last - first <= _SLOPING_FACES and _fitted(part.polar, part.faces, first, last, got)
        if not sloping:
            got[0] = 0.0
            got[1] = 0.0
        lid[0] = np.inf
        lid[1] = -np.inf
        lid[2] = np.inf
        lid[3] = -np.inf
        extreme = np.inf
        alpha = np.inf
        x0 = y0 = z0 = np.inf
        x1 = y1 = z1 = -np.inf
        for i in range(first, last):
            a = part.faces[i, 0]
            b = part.faces[i, 1]
            c = part.faces[i, 2]
            longest2 = max(
                _side2(part.turned, a, b), max(_side2(part.turned, b, c), _side2(part.turned, c, a))
            )
            rho = _least_r(part.polar, part.faces, i, longest2)
            lid[0] = min(lid[0], rho)
            least = np.inf
            for k in range(3):
                v = part.faces[i, k]
                p = part.polar[v]
                lid[1] = max(lid[1], p[0])
                lid[2] = min(lid[2], p[1])
                lid[3] = max(lid[3], p[1])
                extreme = min(extreme, sign * p[2])
                least = min(least, sign * (p[2] - got[0] * p[0] - got[1] * p[1]))
                x0 = min(x0, part.turned[v, 0])
                x1 = max(x1, part.turned[v, 0])
                y0 = min(y0, part.turned[v, 1])
                y1 = max(y1, part.turned[v, 1])
                z0 = min(z0, part.turned[v, 2])
                z1 = max(z1, part.turned[v, 2])
            sag = longest2 / 6.0 * _bend(rho, got[0]) if sloping else 0.0
            alpha = min(alpha, least - sag if sag < np.inf else -np.inf)
        lid[4] = sign * extreme
        lid[5] = sign * alpha
        lid[6] = got[0]
        lid[7] = got[1]
        ball[0] = 0.5 * (x0 + x1)
        ball[1] = 0.5 * (y0 + y1)
        ball[2] = 0.5 * (z0 + z1)
        far2 = 0.0
        for i in range(first, last):
            for k in range(3):
                v = part.faces[i, k]
                x = part.turned[v, 0] - ball[0]
                y = part.turned[v, 1] - ball[1]
                z = part.turned[v, 2] - ball[2]
                far2 = max(far2, x * x + y * y + z * z)
        ball[3] = math.sqrt(far2)
        r = math.sqrt(ball[0] * ball[0] + ball[1] * ball[1])
        ball[4] = ball[0] / r if r > 0.0 else 1.0
        ball[5] = ball[1] / r if r > 0.0 else 0.0
        ball[6] = r
