"""Which part of the scan of a record lies on a cast, how it is laid there, and how far it stands off everywhere."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.geometry.nearest import Mesh, nearest, ready
from mountproof.geometry.poses import Array, checked, inverse, moved_cov, transform
from mountproof.geometry.registration import Registered, register_surface

ArchName = Literal["upper", "lower"]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]

#: Fewer points than this show no imprint.
LEAST_POINTS = 60
#: From the start on, in turn: how near a point of the record must lie, mm, and how well it must face the cast.
_TURNS = ((2.0, 0.3), (1.0, 0.5), (0.5, 0.6))
_NEAR_TURNS = ((0.5, 0.6), (0.25, 0.6))
#: A tip is this much of a tooth, mm; so many points of tips are enough to begin, and so far off they may be.
_TIP_MM, _TIPS, _TIP_FAR_MM = 0.8, 3000, 3.0
#: Wax stands free where it is this many SDs and this far off; beside that, a rim of this width is left out, mm.
_FREE_SD, _FREE_MM, _RIM_MM = 5.0, 0.005, 0.45
#: Where more than this share of a record would lie inside a cast by more than this (mm), it does not lie there; from a
#: start where so much more would, it is not sought.
_MOST_THROUGH, _THROUGH_MM, _NOT_NEAR = 0.10, 0.15, 0.45
#: The finer of the two is asked for nearest points: corners lie on what was scanned, faces cut across it.
_COARSER = 1.2
#: Residuals hang together over about a tooth: what wax, stone and scanners do to one cusp they do to the next.
PATCH_MM = 8.0
#: For the map of distances: how far is looked, and how well the surfaces must face each other.
MAP_MM, _MAP_FACING = 2.0, 0.2


class Cast(NamedTuple):
    """A cast as placed in the frame of the upper jaw.

    ``vertices_mm`` (n, 3), ``faces`` (m, 3), ``teeth`` (m,) ISO 3950, 0 none; ``vertex_teeth`` (n,); ``normals`` (n, 3)
    outwards; ``area_mm2`` (n,) of the surface around each vertex; ``mesh`` to be asked for nearest points.
    """

    arch: ArchName
    vertices_mm: Array
    faces: Ints
    teeth: Ints
    vertex_teeth: Ints
    normals: Array
    area_mm2: Array
    mesh: Mesh

    @property
    def bite(self) -> Array:
        """Return (3,) the direction in which the teeth of this cast point."""
        return np.array([0.0, -1.0 if self.arch == "upper" else 1.0, 0.0])


class RecordSurface(NamedTuple):
    """The scan of a record in its own coordinates, mm: ``vertices_mm`` (n, 3), ``faces`` (m, 3), ``normals`` (n, 3).

    ``sense``: -1 where it shows the record itself, whose surface looks at the casts; 1 where it shows the casts.
    """

    vertices_mm: Array
    faces: Ints
    normals: Array
    sense: float


class Laid(NamedTuple):
    """A record laid on one cast.

    ``pose`` (4, 4) cast from record; ``cov6`` (6, 6), rotation first, of a small motion in front of it; ``at_mm`` (k, 3)
    the points that took part, in the frame of the upper jaw, and ``gap_mm`` (k,) how far the record stands off there
    (NaN without a partner); ``found``: the registration itself, of vertices ``rows`` of the record onto the cast, or,
    where the cast is the coarser of the two (``of_cast``), of vertices of the cast onto the record.
    """

    pose: Array
    cov6: Array
    at_mm: Array
    gap_mm: Array
    found: Registered
    rows: NDArray[np.intp]
    of_cast: bool


def cast_of(arch: ArchName, vertices_mm: ArrayLike, faces: ArrayLike, teeth: ArrayLike) -> Cast:
    """Make a cast ready. ``teeth`` (m,): tooth of each face, ISO 3950, 0 none. ValueError for arrays that do not fit."""
    v = checked(vertices_mm, (3,), "vertices_mm").reshape(-1, 3)
    f = np.ascontiguousarray(faces, dtype=np.int32)
    labels = np.ascontiguousarray(teeth, dtype=np.int32)
    mesh = ready(v, f)
    if labels.shape != (len(f),):
        raise ValueError("teeth: one number for each face")
    normals, area = _normals(v, f)
    of_vertex = np.zeros(len(v), np.int32)
    named = labels > 0
    of_vertex[f[named].ravel()] = np.repeat(labels[named], 3)
    return Cast(arch, v, f, labels, of_vertex, normals, area, mesh)


def record_of(vertices_mm: ArrayLike, faces: ArrayLike, joined: bool) -> RecordSurface:
    """Make the scan of a record ready: ``vertices_mm`` (n, 3), ``faces`` (m, 3).

    ``joined``: it shows the casts joined by the record, not the record.
    """
    v = checked(vertices_mm, (3,), "vertices_mm").reshape(-1, 3)
    f = np.ascontiguousarray(faces, dtype=np.int32)
    return RecordSurface(v, f, _normals(v, f)[0], 1.0 if joined else -1.0)


def facing(record: RecordSurface, cast: Cast, pose: Array, most_mm: float, least: float) -> Flags:
    """Return (n,) which vertices of the record lie within ``most_mm`` of the cast and face it as they ought to.

    ``pose`` (4, 4) cast from record; ``least``: cosine between the normals, one of them turned where the record looks
    at the cast.
    """
    found = nearest(transform(pose, record.vertices_mm), cast.mesh, most_mm)
    turned = record.normals @ pose[:3, :3].T
    along = record.sense * np.einsum("ij,ij->i", turned, cast.mesh.normals[found.row])
    out: Flags = (found.row >= 0) & ~found.on_border & (along > least)
    return out


def lay(record: RecordSurface, cast: Cast, start: Array) -> Laid | None:
    """Lay a record on a cast from a ``start`` (4, 4) cast from record; None where too little of it lies there.

    The tips of the teeth go first: they lie in the wax wherever there is an imprint, while much of the wax lies on
    nothing. Then what is taken of the record narrows from turn to turn, and at the end the rim of each imprint is left
    out, where wax that bends away lies so near that it would pull.
    """
    poses = [start] if record.sense > 0.0 else [_by_tips(record, cast, start), start]
    laid = None
    for pose in poses:
        if record.sense < 0.0 and _through(record, cast, pose) > _NOT_NEAR:
            continue
        laid = _nearer(record, cast, pose)
        if laid is not None and record.sense < 0.0 and _through(record, cast, laid.pose) > _MOST_THROUGH:
            laid = None
        if laid is not None:
            break
    if laid is None:
        return None
    pose = laid.pose
    free_mm = _FREE_SD * laid.found.sd_mm + _FREE_MM
    on_teeth = cast.faces[cast.teeth > 0] if cast.teeth.any() else cast.faces
    if _edge(cast.vertices_mm, on_teeth) > _COARSER * _edge(record.vertices_mm, record.faces):
        gap = gaps(record, cast, pose).gap_mm
        near = np.abs(gap) < _NEAR_TURNS[-1][0]
        beside = _beside(cast.vertices_mm, cast.faces, ~(np.abs(gap) <= free_mm))
        last = _laid(record, cast, pose, np.flatnonzero(near & ~beside), _NEAR_TURNS[-1][0], of_cast=True)
    else:
        off = np.full(len(record.vertices_mm), np.inf)
        off[laid.rows] = np.abs(laid.gap_mm)
        beside = _beside(record.vertices_mm, record.faces, ~(off <= free_mm))
        last = _laid(record, cast, pose, laid.rows[~beside[laid.rows]], _NEAR_TURNS[-1][0])
    return laid if last is None else last


def _nearer(record: RecordSurface, cast: Cast, pose: Array) -> Laid | None:
    """Lay a record in turns, from turn to turn with less of what lies beside the cast."""
    laid = None
    for most, least in _TURNS if record.sense > 0.0 else _NEAR_TURNS:
        rows = np.flatnonzero(facing(record, cast, pose, most, least))
        laid = _laid(record, cast, pose, rows, most)
        if laid is None:
            return None
        pose = laid.pose
    return laid


def _through(record: RecordSurface, cast: Cast, pose: Array) -> float:
    """Return which share of what faces a cast would lie inside it: wax cannot, but for a crumb or pressed gum."""
    at = transform(pose, record.vertices_mm)
    found = nearest(at, cast.mesh, MAP_MM)
    normal = cast.mesh.normals[found.row]
    ok = (found.row >= 0) & ~found.on_border
    ok &= record.sense * np.einsum("ij,ij->i", record.normals @ pose[:3, :3].T, normal) > 0.3
    off = np.einsum("ij,ij->i", at - found.place_mm, normal)[ok]
    return float(np.mean(off < -_THROUGH_MM)) if len(off) else 1.0


def part_of(laid: Laid, record: RecordSurface, cast: Cast, keep: Flags) -> Laid | None:
    """Lay only some (k,) of the points that took part, from where all of them lie; None where they are too few."""
    return _laid(record, cast, laid.pose, laid.rows[keep], _NEAR_TURNS[-1][0], of_cast=laid.of_cast)


def _laid(
    record: RecordSurface,
    cast: Cast,
    pose: Array,
    rows: NDArray[np.intp],
    most_mm: float,
    *,
    of_cast: bool = False,
) -> Laid | None:
    """Lay ``rows`` of the record on the cast, or, ``of_cast``, rows of the cast on what of the record faces it.

    A small motion in front of (record from cast) is its opposite, carried along, in front of (cast from record).
    """
    if len(rows) < LEAST_POINTS:
        return None
    try:
        if not of_cast:
            found = register_surface(
                record.vertices_mm[rows], cast.mesh, pose, most_mm=most_mm, patch_mm=PATCH_MM
            )
            at = transform(found.pose, record.vertices_mm[rows])
            return Laid(found.pose, found.cov6, at, found.residual_mm, found, rows, False)
        faces = record.faces[facing(record, cast, pose, MAP_MM, 0.0)[record.faces].all(axis=1)]
        mesh = ready(record.vertices_mm, faces)
        found = register_surface(
            cast.vertices_mm[rows], mesh, inverse(pose), most_mm=most_mm, patch_mm=PATCH_MM
        )
        back = inverse(found.pose)
        gap = -record.sense * found.residual_mm
        return Laid(back, moved_cov(found.cov6, back), cast.vertices_mm[rows], gap, found, rows, True)
    except ValueError:
        return None


def _edge(v: Array, f: Ints) -> float:
    return float(np.median(np.linalg.norm(v[f[:, 0]] - v[f[:, 1]], axis=1)))


def _by_tips(record: RecordSurface, cast: Cast, start: Array) -> Array:
    """Return a better start (4, 4): the tips of the teeth laid on the side of the record that looks at them."""
    h = cast.vertices_mm @ cast.bite
    tip = np.full(int(cast.vertex_teeth.max()) + 1, -np.inf)
    np.maximum.at(tip, cast.vertex_teeth, h)
    high = (cast.vertex_teeth > 0) & (h > tip[cast.vertex_teeth] - _TIP_MM)
    tips = np.flatnonzero(high & (cast.normals @ cast.bite > 0.3))
    corner = record.vertices_mm[record.faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    along = normal @ (start[:3, :3].T @ (record.sense * cast.bite))
    looks = along > 0.2 * np.linalg.norm(normal, axis=1)
    if len(tips) < LEAST_POINTS or not looks.any():
        return start
    some = tips[np.unique(np.linspace(0, len(tips) - 1, min(len(tips), _TIPS)).astype(np.intp))]
    try:
        found = register_surface(
            cast.vertices_mm[some],
            ready(record.vertices_mm, record.faces[looks]),
            inverse(start),
            most_mm=_TIP_FAR_MM,
        )
    except ValueError:
        return start
    return inverse(found.pose)


def _beside(v: Array, f: Ints, free: Flags) -> Flags:
    """Return (n,) the vertices within about ``_RIM_MM`` of a free one, along the edges."""
    e = f[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    out = free
    for _ in range(max(1, round(_RIM_MM / max(_edge(v, f), 1e-6)))):
        wider = out.copy()
        wider[e[out[e[:, 0]], 1]] = True
        wider[e[out[e[:, 1]], 0]] = True
        out = wider
    return out


class Gaps(NamedTuple):
    """How far a record stands off at every vertex of a cast, mm.

    ``gap_mm`` (n,): above zero there is a gap; below, the record as it was scanned reaches into the cast; NaN where it
    shows nothing. For a scan of joined casts: how far that scan lies outside the cast. ``ends`` (n,): where the surface
    of the record just ends. ``cut_mm`` (n,): how far a face of the record there cuts across a bend of what was scanned.
    ``place_mm`` (n, 3): the nearest point of the record, in the frame of the cast. ``edge_mm``: how long its edges are.
    """

    gap_mm: Array
    ends: Flags
    cut_mm: Array
    place_mm: Array
    edge_mm: float


def gaps(record: RecordSurface, cast: Cast, pose: Array) -> Gaps:
    """Return how far a record stands off a cast; ``pose`` (4, 4) cast from record."""
    gap, ends = np.full(len(cast.vertices_mm), np.nan), np.zeros(len(cast.vertices_mm), np.bool_)
    cut, place = np.zeros(len(gap)), np.full((len(gap), 3), np.nan)
    kept = facing(record, cast, pose, MAP_MM, 0.0)
    faces = record.faces[kept[record.faces].all(axis=1)]
    if not len(faces):
        return Gaps(gap, ends, cut, place, _edge(record.vertices_mm, record.faces))
    moved = transform(pose, record.vertices_mm)
    used = moved[np.unique(faces)]
    lo, hi = used.min(axis=0) - MAP_MM, used.max(axis=0) + MAP_MM
    rows = np.flatnonzero(((cast.vertices_mm > lo) & (cast.vertices_mm < hi)).all(axis=1))
    mesh = ready(moved, faces)
    found = nearest(cast.vertices_mm[rows], mesh, MAP_MM)
    normal = mesh.normals[found.row]
    seen = (found.row >= 0) & (record.sense * np.einsum("ij,ij->i", normal, cast.normals[rows]) > _MAP_FACING)
    off = -record.sense * np.einsum("ij,ij->i", cast.vertices_mm[rows] - found.place_mm, normal)
    whole = seen & ~found.on_border
    gap[rows[whole]] = off[whole]
    ends[rows[seen & found.on_border]] = True
    place[rows[seen]] = found.place_mm[seen]
    partner = faces[mesh.order[found.row[whole]]]
    cut[rows[whole]] = _bend(record.vertices_mm, record.normals, record.faces)[partner].max(axis=1)
    return Gaps(gap, ends, cut, place, _edge(record.vertices_mm, record.faces))


def _bend(v: Array, n: Array, f: Ints) -> Array:
    """Return (n,) how far the most bent edge at each vertex cuts across: curvature times length squared over eight."""
    e = f[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    off = np.abs(np.einsum("ij,ij->i", n[e[:, 1]] - n[e[:, 0]], v[e[:, 1]] - v[e[:, 0]])) / 8.0
    out = np.zeros(len(v))
    np.maximum.at(out, e.ravel(), np.repeat(off, 2))
    return out


def _normals(v: Array, f: Ints) -> tuple[Array, Array]:
    """Return unit normals (n, 3) of vertices, weighted by area, zero where nothing is, and the area (n,) around each."""
    corner = v[f]
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    flat = f.ravel()
    out = np.stack([np.bincount(flat, np.repeat(cross[:, k], 3), len(v)) for k in range(3)], axis=1)
    size = np.linalg.norm(out, axis=1)
    area = np.bincount(flat, np.repeat(np.linalg.norm(cross, axis=1) / 6.0, 3), len(v))
    return out / np.where(size > 0.0, size, 1.0)[:, None], area.astype(np.float64)
