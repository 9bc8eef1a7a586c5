"""How the triangles of a surface hang together: borders, holes, pieces, doubled and flat faces.

Everything is counted, nothing is repaired. Faces that name one vertex twice have no three edges; they are
reported as flat and left out of the edges, so that their neighbours still meet. All passes are counting
sorts or single sweeps: the work grows with the number of triangles for any mesh, a hostile one included.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int32]
Flags = npt.NDArray[np.bool_]

Severity = Literal["stop", "ask", "note"]

#: What a half-edge meets instead of exactly one opposite half-edge.
BORDER, NOT_MANIFOLD, TURNED_OVER, FLAT = -1, -2, -3, -4

#: A border belongs to the outside of an open surface when it spans at least this share of the surface's own
#: box diagonal (the rim of an open arch scan spans nearly all of it); a shorter one is a hole in it.
OUTER_BORDER_SHARE = 0.5

#: Twice the area of a triangle is evaluated with an error of a few roundings of the product of two edges;
#: an area below that many roundings is not known to differ from nothing.
_FLAT_ROUNDINGS = 8 * float(np.finfo(np.float64).eps)


class Finding(NamedTuple):
    """Something odd about a scan: ``code``, ``what`` in one sentence with its numbers, the step to take.

    ``severity`` is ``stop`` (no answer can be built on it), ``ask`` (a person must say) or ``note``.
    """

    code: str
    what: str
    todo: str
    severity: Severity


class Components(NamedTuple):
    """Pieces of a surface: faces joined by common vertices, numbered in the order of their first face.

    ``of_face`` (m,) int32 the piece of each face; ``n_faces`` (k,) int64 faces of each piece.
    """

    of_face: Ints
    n_faces: npt.NDArray[np.int64]


class Loops(NamedTuple):
    """Border loops, in the order of their first face.

    ``vertex`` all vertices of all loops in walking order, loop i being ``vertex[start[i]:start[i + 1]]``;
    ``n_edges`` (k,); ``length_mm`` (k,); ``centroid_mm`` (k, 3), weighted by edge length; ``size_mm`` (k,) box
    diagonal; ``component`` (k,) piece it belongs to; ``closed`` (k,) false where the walk ended at an edge
    with three or more faces; ``hole`` (k,) true for a gap inside a surface, false for its outer border.
    """

    start: npt.NDArray[np.int64]
    vertex: Ints
    n_edges: npt.NDArray[np.int64]
    length_mm: Floats
    centroid_mm: Floats
    size_mm: Floats
    component: Ints
    closed: Flags
    hole: Flags


class Topology(NamedTuple):
    """Everything :func:`inspect` found. Edges are (k, 2) vertex pairs, faces are indices into ``faces``.

    ``components`` and per piece ``area_mm2``, ``size_mm`` (box diagonal), ``volume_mm3`` (signed; open pieces
    capped by a fan to the middle of each border loop; negative when the surface faces inwards) and
    ``watertight``; ``border`` edges; ``loops``; ``not_manifold`` edges with three or more faces;
    ``turned_over`` edges whose two faces run the same way; ``flat`` faces without area; ``duplicate`` faces
    that repeat an earlier one; ``n_unused`` vertices without a face.
    """

    components: Components
    area_mm2: Floats
    size_mm: Floats
    volume_mm3: Floats
    watertight: Flags
    border: Ints
    loops: Loops
    not_manifold: Ints
    turned_over: Ints
    flat: npt.NDArray[np.int64]
    duplicate: npt.NDArray[np.int64]
    n_unused: int


def border_edges(faces: npt.NDArray[Any]) -> Ints:
    """Find the edges that belong to one face only.

    ``faces`` (m, 3) vertex indices. Returns (k, 2) int32 directed as in their face, in the order of the faces.
    Raises ValueError for a wrong shape, TypeError for anything but integers.
    """
    checked, n_vertices = _checked_faces(faces, None)
    return _edges_of(checked, np.flatnonzero(_twins(checked, n_vertices) == BORDER))


def components(faces: npt.NDArray[Any], n_vertices: int) -> Components:
    """Split a surface into pieces that share no vertex.

    ``faces`` (m, 3) vertex indices below ``n_vertices``. Raises ValueError or TypeError as
    :func:`border_edges`.
    """
    checked, n = _checked_faces(faces, n_vertices)
    of_face, count = _pieces(checked, n)
    return Components(of_face, np.bincount(of_face, minlength=count).astype(np.int64))


def opposite_half_edges(faces: npt.NDArray[Any], n_vertices: int) -> Ints:
    """Find what lies across each edge of each face.

    ``faces`` (m, 3) vertex indices below ``n_vertices``; half-edge ``3 f + k`` runs from corner k of face f to
    its next corner. Returns (3 m,) int32: the half-edge that runs the other way, or ``BORDER``,
    ``NOT_MANIFOLD``, ``TURNED_OVER``, ``FLAT``. Raises ValueError or TypeError as :func:`border_edges`.
    """
    checked, n = _checked_faces(faces, n_vertices)
    twins: Ints = _twins(checked, n)
    return twins


def inspect(vertices_mm: Floats, faces: npt.NDArray[Any]) -> Topology:
    """Count everything about how a surface hangs together.

    ``vertices_mm`` (n, 3) finite, mm; ``faces`` (m, 3) indices into them. The volume of a piece is the sum of
    the signed tetrahedra of its faces and caps (divergence theorem). Raises ValueError or TypeError for wrong
    shapes, types, indices out of range, or coordinates that are not finite.
    """
    v = np.ascontiguousarray(vertices_mm, dtype=np.float64)
    if v.ndim != 2 or v.shape[1] != 3:
        raise ValueError(f"vertices must be (n, 3), got {v.shape}")
    if not np.isfinite(v).all():
        raise ValueError("coordinates must be finite")
    f, n_vertices = _checked_faces(faces, v.shape[0])
    twin = _twins(f, n_vertices)
    pieces = components(f, n_vertices)
    k = pieces.n_faces.size
    area, volume, low, high, flat, used = _measure(v, f, pieces.of_face, k)
    size = np.linalg.norm(np.maximum(high - low, 0.0), axis=1)
    loops, cap = _loops(v, f, twin, pieces.of_face, size, low)
    np.add.at(volume, loops.component, cap)
    half_edge_piece = np.repeat(pieces.of_face, 3)
    open_edge = (twin == BORDER) | (twin == NOT_MANIFOLD)
    watertight = np.bincount(half_edge_piece[open_edge], minlength=k) == 0
    return Topology(
        pieces,
        area,
        size,
        volume,
        watertight,
        _edges_of(f, np.flatnonzero(twin == BORDER)),
        loops,
        _each_edge_once(f, np.flatnonzero(twin == NOT_MANIFOLD)),
        _each_edge_once(f, np.flatnonzero(twin == TURNED_OVER)),
        np.flatnonzero(flat),
        np.flatnonzero(_repeats(f, n_vertices)),
        int(n_vertices - np.count_nonzero(used)),
    )


def _checked_faces(faces: npt.NDArray[Any], n_vertices: int | None) -> tuple[Ints, int]:
    f = np.asarray(faces)
    if f.ndim != 2 or f.shape[1] != 3:
        raise ValueError(f"faces must be (m, 3), got {f.shape}")
    if not np.issubdtype(f.dtype, np.integer):
        raise TypeError(f"faces must be integers, got {f.dtype}")
    top = int(f.max(initial=-1))
    n = top + 1 if n_vertices is None else n_vertices
    if int(f.min(initial=0)) < 0 or top >= n:
        raise ValueError(f"faces name vertices outside 0 to {n - 1}")
    return np.ascontiguousarray(f, dtype=np.int32), n


def _edges_of(faces: Ints, half_edges: npt.NDArray[np.int64]) -> Ints:
    face, corner = np.divmod(half_edges, 3)
    return np.stack([faces[face, corner], faces[face, (corner + 1) % 3]], axis=1)


def _each_edge_once(faces: Ints, half_edges: npt.NDArray[np.int64]) -> Ints:
    return np.unique(np.sort(_edges_of(faces, half_edges), axis=1), axis=0).reshape(-1, 2)


def _loops(
    v: Floats, f: Ints, twin: Ints, of_face: Ints, piece_size_mm: Floats, piece_low_mm: Floats
) -> tuple[Loops, Floats]:
    """Measure each border loop; with it the volume under its cap, for the piece it belongs to."""
    walked, start, closed = _walk_borders(f, twin)
    # An unfinished walk ends at a vertex no edge leaves from: that vertex is left out of ``vertex``.
    edge = _edges_of(f, walked.astype(np.int64))
    a, b = v[edge[:, 0]], v[edge[:, 1]]
    length = np.linalg.norm(b - a, axis=1)
    n_edges = np.diff(start)
    loop_of = np.repeat(np.arange(n_edges.size), n_edges)
    k = n_edges.size
    total: Floats = np.bincount(loop_of, length, k).astype(np.float64)
    weighted = np.stack([np.bincount(loop_of, length * (a + b)[:, i] / 2, k) for i in range(3)], axis=1)
    plain = np.stack([np.bincount(loop_of, a[:, i], k) for i in range(3)], axis=1)
    centroid = np.where(
        total[:, None] > 0,
        weighted / np.where(total > 0, total, 1.0)[:, None],
        plain / np.maximum(n_edges, 1)[:, None],
    )
    low = np.full((k, 3), np.inf)
    high = np.full((k, 3), -np.inf)
    for points in (a, b):
        np.minimum.at(low, loop_of, points)
        np.maximum.at(high, loop_of, points)
    size = np.linalg.norm(high - low, axis=1)
    component = of_face[walked[start[:-1]] // 3] if k else np.zeros(0, np.int32)
    origin = piece_low_mm[component]
    cap = np.einsum(
        "ij,ij->i", np.cross(b - origin[loop_of], a - origin[loop_of]), (centroid - origin)[loop_of]
    )
    longest = np.full(piece_size_mm.size, -1.0)
    np.maximum.at(longest, component, total)
    # Of two equally long borders the first is the outer one.
    first_longest = np.full(piece_size_mm.size, k)
    is_longest = np.flatnonzero(total == longest[component])
    np.minimum.at(first_longest, component[is_longest], is_longest)
    outer = (np.arange(k) == first_longest[component]) & (
        size >= OUTER_BORDER_SHARE * piece_size_mm[component]
    )
    found = Loops(start, edge[:, 0].copy(), n_edges, total, centroid, size, component, closed, ~outer)
    return found, np.bincount(loop_of, cap, k) / 6.0


@njit(cache=True, nogil=True)
def _by_key(key, order, n_keys):  # type: ignore[no-untyped-def]
    """Stable counting sort of ``order`` by ``key[order]``."""
    start = np.zeros(n_keys + 1, np.int64)
    for i in order:
        start[key[i] + 1] += 1
    for k in range(n_keys):
        start[k + 1] += start[k]
    out = np.zeros_like(order)
    for i in order:
        k = key[i]
        out[start[k]] = i
        start[k] += 1
    return out


@njit(cache=True, nogil=True)
def _twins(faces, n_vertices):  # type: ignore[no-untyped-def]
    """Opposite half-edge of each half-edge ``3 * face + corner``, or why there is none."""
    m = faces.shape[0]
    twin = np.full(3 * m, FLAT, np.int32)
    low = np.zeros(3 * m, np.int32)
    high = np.zeros(3 * m, np.int32)
    n = 0
    order = np.zeros(3 * m, np.int32)
    for f in range(m):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        if a == b or b == c or c == a:
            continue
        for k in range(3):
            p = faces[f, k]
            q = faces[f, (k + 1) % 3]
            h = 3 * f + k
            low[h] = min(p, q)
            high[h] = max(p, q)
            order[n] = h
            n += 1
    order = _by_key(low, _by_key(high, order[:n], n_vertices), n_vertices)
    i = 0
    while i < n:
        h = order[i]
        j = i + 1
        while j < n and low[order[j]] == low[h] and high[order[j]] == high[h]:
            j += 1
        if j - i == 1:
            twin[h] = BORDER
        elif j - i == 2:
            g = order[i + 1]
            if faces[h // 3, h % 3] == faces[g // 3, g % 3]:
                twin[h] = TURNED_OVER
                twin[g] = TURNED_OVER
            else:
                twin[h] = g
                twin[g] = h
        else:
            for k in range(i, j):
                twin[order[k]] = NOT_MANIFOLD
        i = j
    return twin


@njit(cache=True, nogil=True)
def _root(parent, i):  # type: ignore[no-untyped-def]
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit(cache=True, nogil=True)
def _pieces(faces, n_vertices):  # type: ignore[no-untyped-def]
    """Piece of each face by union of its vertices, numbered by first appearance."""
    parent = np.arange(n_vertices).astype(np.int32)
    m = faces.shape[0]
    for f in range(m):
        a = _root(parent, faces[f, 0])
        for k in range(1, 3):
            b = _root(parent, faces[f, k])
            # The smaller index is always the root: the result does not depend on the order of the faces.
            if a < b:
                parent[b] = a
            else:
                parent[a] = b
                a = b
    number = np.full(n_vertices, -1, np.int32)
    of_face = np.zeros(m, np.int32)
    count = 0
    for f in range(m):
        r = _root(parent, faces[f, 0])
        if number[r] < 0:
            number[r] = count
            count += 1
        of_face[f] = number[r]
    return of_face, count


@njit(cache=True, nogil=True)
def _measure(v, faces, of_face, n_pieces):  # type: ignore[no-untyped-def]
    """Area, signed volume about the lowest corner of its box, and box of each piece; flat faces; used vertices."""
    m = faces.shape[0]
    area = np.zeros(n_pieces)
    volume = np.zeros(n_pieces)
    low = np.full((n_pieces, 3), np.inf)
    high = np.full((n_pieces, 3), -np.inf)
    flat = np.zeros(m, np.bool_)
    used = np.zeros(v.shape[0], np.bool_)
    for f in range(m):
        p = of_face[f]
        for k in range(3):
            i = faces[f, k]
            used[i] = True
            for d in range(3):
                low[p, d] = min(low[p, d], v[i, d])
                high[p, d] = max(high[p, d], v[i, d])
    for f in range(m):
        p = of_face[f]
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = v[b, 0] - v[a, 0], v[b, 1] - v[a, 1], v[b, 2] - v[a, 2]
        wx, wy, wz = v[c, 0] - v[a, 0], v[c, 1] - v[a, 1], v[c, 2] - v[a, 2]
        nx, ny, nz = uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx
        twice = np.sqrt(nx * nx + ny * ny + nz * nz)
        scale = np.sqrt((ux * ux + uy * uy + uz * uz) * (wx * wx + wy * wy + wz * wz))
        flat[f] = twice <= _FLAT_ROUNDINGS * scale
        area[p] += 0.5 * twice
        volume[p] += (
            nx * (v[a, 0] - low[p, 0]) + ny * (v[a, 1] - low[p, 1]) + nz * (v[a, 2] - low[p, 2])
        ) / 6.0
    return area, volume, low, high, flat, used


@njit(cache=True, nogil=True)
def _repeats(faces, n_vertices):  # type: ignore[no-untyped-def]
    """Faces on the same three vertices as an earlier face, whichever way they turn."""
    m = faces.shape[0]
    key = np.zeros((3, m), np.int32)
    for f in range(m):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        key[0, f] = min(a, b, c)
        key[2, f] = max(a, b, c)
        # Both differences are exact, and the sum cannot overflow as a + b + c could.
        key[1, f] = (a - key[0, f]) + (b - key[2, f]) + c
    order = np.arange(m).astype(np.int32)
    for k in range(2, -1, -1):
        order = _by_key(key[k], order, n_vertices)
    repeat = np.zeros(m, np.bool_)
    for i in range(1, m):
        f, g = order[i], order[i - 1]
        repeat[f] = key[0, f] == key[0, g] and key[1, f] == key[1, g] and key[2, f] == key[2, g]
    return repeat


@njit(cache=True, nogil=True)
def _walk_borders(faces, twin):  # type: ignore[no-untyped-def]
    """Chain border half-edges, turning about each vertex through the faces of its own fan.

    So sheets that touch in one vertex keep two borders, and holes that touch in one vertex are one hole.
    The turn is injective and a border half-edge has no predecessor in it, so every turn ends, and all turns
    together visit a corner once.
    """
    m3 = twin.size
    follows = np.full(m3, -1, np.int32)
    has_before = np.zeros(m3, np.bool_)
    n = 0
    for h in range(m3):
        if twin[h] != BORDER:
            continue
        n += 1
        g = 3 * (h // 3) + (h % 3 + 1) % 3
        while twin[g] >= 0:
            g = twin[g]
            g = 3 * (g // 3) + (g % 3 + 1) % 3
        if twin[g] == BORDER:
            follows[h] = g
            has_before[g] = True
    walked = np.zeros(n, np.int32)
    start = np.zeros(n + 1, np.int64)
    closed = np.zeros(n, np.bool_)
    seen = np.zeros(m3, np.bool_)
    at = 0
    loops = 0
    # Unfinished chains first from their own beginning, then the loops that close.
    for closing in range(2):
        for h in range(m3):
            if twin[h] != BORDER or seen[h] or (closing == 0 and has_before[h]):
                continue
            g = h
            while g >= 0 and not seen[g]:
                seen[g] = True
                walked[at] = g
                at += 1
                g = follows[g]
            closed[loops] = g == h
            loops += 1
            start[loops] = at
    return walked, start[: loops + 1], closed[:loops]
