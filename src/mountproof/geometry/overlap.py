"""The volume in which two triangle meshes overlap, in closed form.

The overlap is a polyhedron. Its volume needs no faces put together: every corner P, with every edge (unit vector T away from
P) and every face at that edge (N in the face, across T, into it; B out of the body), adds

    (P.T) (P.N) (P.B) / 6        to the volume, and      (P.T) (P.N) / 2        to the area of the face.

Corners are the vertices of one mesh inside the other, and the places where an edge of one pierces a face of the other.
Formula: Franklin, "Polygon properties calculated from the vertex neighborhoods", Proc. 3rd ACM Symp. Computational Geometry
(1987) 110-118 (from memory); derived again in docs/theory/change.md.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._crossings import crossings

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: The faces of the overlap close when their areas, as vectors, sum up to no more than this part of all area.
CLOSES: float = 1e-6


class Overlap(NamedTuple):
    """``volume_mm3`` of the overlap; ``a_mm2``, ``b_mm2``: how much of either surface lies inside the other.

    ``open_part``: how far the overlap's surface is from being closed, as a part of its area: 0 for closed bodies, not for
    one whose border lies in the overlap; above ``CLOSES`` the volume means nothing.
    """

    volume_mm3: float
    a_mm2: float
    b_mm2: float
    open_part: float

    @property
    def closed(self) -> bool:
        """Whether the overlap has a whole surface."""
        return self.open_part <= CLOSES


class _Mesh(NamedTuple):
    """A mesh with unit normals (f, 3), its edges (e, 2) and the faces (e, 2) on either side, -1 for none."""

    vertices: Floats
    faces: Ints
    normals: Floats
    edges: Ints
    sides: Ints


class _Hits(NamedTuple):
    """Where edges of one mesh pierce faces of the other: (h,) each."""

    edge: Ints
    face: Ints
    part: Floats


def overlap(a_vertices: Floats, a_faces: Ints, b_vertices: Floats, b_faces: Ints) -> Overlap:
    """Return volume and areas of what two meshes share, exact but for rounding.

    ``a_vertices`` (n, 3) mm with ``a_faces`` (f, 3), and the same of b, in one frame; faces wind so that their normals point
    out of the body. Meshes may be open where they do not overlap. ValueError where an edge has more than two faces. Surfaces in
    general position are taken for granted: where a vertex lies exactly on the other surface ``closed`` may be false.
    """
    if not len(a_faces) or not len(b_faces):
        return Overlap(0.0, 0.0, 0.0, 0.0)
    middle = np.asarray(b_vertices, np.float64)[np.unique(b_faces)].mean(axis=0)
    a, b = _mesh(a_vertices - middle, a_faces), _mesh(b_vertices - middle, b_faces)
    through = (_hits(a, b), _hits(b, a))
    near = np.concatenate([_places(mine, hits) for mine, hits in zip((a, b), through, strict=True)])
    if len(near):  # sums of cubes lose the fewest digits about the middle of what they sum
        a, b = (m._replace(vertices=m.vertices - near.mean(axis=0)) for m in (a, b))
    volume, areas, vectors = 0.0, [0.0, 0.0], np.zeros(3)
    for k, (mine, other, hits) in enumerate(((a, b, through[0]), (b, a, through[1]))):
        inside = _inside(mine, other, hits)
        for flags, owner in ((_corner_flags(mine, inside), k), *_hit_flags(mine, other, hits, k)):
            v, area, vector = _summed(*flags)
            volume += v
            areas[owner] += area
            vectors += vector
    whole = areas[0] + areas[1]
    away = float(np.linalg.norm(vectors)) / whole if whole > 0.0 else 0.0
    return Overlap(volume, areas[0], areas[1], away)


def _mesh(vertices: Floats, faces: Ints) -> _Mesh:
    faces = np.ascontiguousarray(faces, dtype=np.int32)
    corners = vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    faces, normals = faces[size > 0.0], normals[size > 0.0] / size[size > 0.0, None]
    ends = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    edges, back, counts = np.unique(ends, axis=0, return_inverse=True, return_counts=True)
    if counts.max(initial=0) > 2:
        raise ValueError("an edge has more than two faces: no body ends there")
    sides = np.full((len(edges), 2), -1, dtype=np.int32)
    face = np.tile(np.arange(len(faces), dtype=np.int32), 3)
    order = np.argsort(back.ravel(), kind="stable")
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    sides[:, 0] = face[order[first]]
    twice = counts == 2
    sides[twice, 1] = face[order[first[twice] + 1]]
    return _Mesh(np.ascontiguousarray(vertices), faces, normals, edges.astype(np.int32), sides)


def _hits(mine: _Mesh, other: _Mesh) -> _Hits:
    low, high = (of(other.vertices[other.faces].reshape(-1, 3), axis=0) for of in (np.min, np.max))
    ends = mine.vertices[mine.edges]
    near = np.flatnonzero(((ends.min(axis=1) <= high) & (ends.max(axis=1) >= low)).all(axis=1))
    room = 64
    while True:
        edge, face, part = np.zeros(room, np.int32), np.zeros(room, np.int32), np.zeros(room)
        found = crossings(
            mine.vertices, mine.edges[near], other.vertices, other.faces, other.normals, edge, face, part
        )
        if found <= room:
            return _Hits(near[edge[:found]].astype(np.int32), face[:found], part[:found])
        room = found


def _places(mine: _Mesh, hits: _Hits) -> Floats:
    p, q = (mine.vertices[mine.edges[hits.edge, k]] for k in (0, 1))
    made: Floats = p + hits.part[:, None] * (q - p)
    return made


def _inside(mine: _Mesh, other: _Mesh, hits: _Hits) -> NDArray[np.bool_]:
    """Tell which vertices lie inside the other: known beside every crossing, and carried along edges that cross nothing."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    n = len(mine.vertices)
    free = np.ones(len(mine.edges), dtype=np.bool_)
    free[hits.edge] = False
    p, q = mine.edges[free].T
    _, group = connected_components(coo_matrix((np.ones(len(p)), (p, q)), shape=(n, n)), directed=False)
    votes = np.zeros(int(group.max(initial=-1)) + 1)
    along = mine.vertices[mine.edges[hits.edge, 1]] - mine.vertices[mine.edges[hits.edge, 0]]
    enters = np.einsum("ij,ij->i", along, other.normals[hits.face]) < 0.0
    order = np.lexsort((hits.part, hits.edge))
    firsts = order[np.unique(hits.edge[order], return_index=True)[1]]
    backwards = order[::-1]
    lasts = backwards[np.unique(hits.edge[backwards], return_index=True)[1]]
    np.add.at(votes, group[mine.edges[hits.edge[firsts], 0]], np.where(enters[firsts], -1.0, 1.0))
    np.add.at(votes, group[mine.edges[hits.edge[lasts], 1]], np.where(enters[lasts], 1.0, -1.0))
    within: NDArray[np.bool_] = votes > 0.0
    used = np.unique(group[np.unique(mine.faces)])
    untouched = used[votes[used] == 0.0]
    if len(untouched) and (other.sides >= 0).all():
        for one in untouched.tolist():
            within[one] = _winding(other, mine.vertices[np.flatnonzero(group == one)[0]]) > 0.5
    return within[group]


def _winding(body: _Mesh, place: Floats) -> float:
    """Return how often a closed body surrounds a place (Van Oosterom & Strackee 1983, solid angle of a triangle)."""
    a, b, c = (body.vertices[body.faces[:, k]] - place for k in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
    top = np.einsum("ij,ij->i", a, np.cross(b, c))
    dots = [np.einsum("ij,ij->i", x, y) for x, y in ((a, b), (b, c), (c, a))]
    below = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
    return float(np.arctan2(top, below).sum() / (2.0 * np.pi))


def _unit(v: Floats) -> Floats:
    made: Floats = v / np.linalg.norm(v, axis=1)[:, None]
    return made


def _corner_flags(mine: _Mesh, inside: NDArray[np.bool_]) -> tuple[Floats, Floats, Floats, Floats]:
    """Corners that are vertices of one mesh: two flags for each face around them."""
    face, corner = np.nonzero(inside[mine.faces])
    here, ahead, behind = (mine.vertices[mine.faces[face, (corner + k) % 3]] for k in range(3))
    out = mine.normals[face]
    t1, t2 = _unit(ahead - here), _unit(behind - here)
    across = (np.cross(out, t1), np.cross(t2, out))
    return (
        np.concatenate([here, here]), np.concatenate([t1, t2]), np.concatenate(across), np.concatenate([out, out])
    )  # fmt: skip


def _hit_flags(
    mine: _Mesh, other: _Mesh, hits: _Hits, k: int
) -> list[tuple[tuple[Floats, Floats, Floats, Floats], int]]:
    """Corners where an edge pierces a face: along the edge inwards, and along the seam of each face beside it."""
    made = []
    for side in (0, 1):
        beside = mine.sides[hits.edge, side]
        some = beside >= 0
        at = _places(mine, hits)[some]
        own, its = mine.normals[beside[some]], other.normals[hits.face[some]]
        p, q = (mine.vertices[mine.edges[hits.edge[some], c]] for c in (0, 1))
        third = mine.vertices[mine.faces[beside[some]]].sum(axis=1) - p - q
        along = _unit(q - p)
        along = np.where((np.einsum("ij,ij->i", along, its) > 0.0)[:, None], -along, along)
        into = np.cross(own, along)
        into = np.where((np.einsum("ij,ij->i", into, third - p) < 0.0)[:, None], -into, into)
        seam = _unit(np.cross(own, its))
        seam = np.where((np.einsum("ij,ij->i", seam, into) < 0.0)[:, None], -seam, seam)
        in_own, in_its = np.cross(own, seam), np.cross(its, seam)
        in_own = np.where((np.einsum("ij,ij->i", in_own, its) > 0.0)[:, None], -in_own, in_own)
        in_its = np.where((np.einsum("ij,ij->i", in_its, own) > 0.0)[:, None], -in_its, in_its)
        made += [((at, along, into, own), k), ((at, seam, in_own, own), k), ((at, seam, in_its, its), 1 - k)]
    return made


def _summed(at: Floats, along: Floats, into: Floats, out: Floats) -> tuple[float, float, Floats]:
    """Return volume, area, and area as a vector, that some flags add."""
    flat = np.einsum("ij,ij->i", at, along) * np.einsum("ij,ij->i", at, into) / 2.0
    return (
        float((flat * np.einsum("ij,ij->i", at, out)).sum() / 3.0),
        float(flat.sum()),
        (flat[:, None] * out).sum(axis=0),
    )
