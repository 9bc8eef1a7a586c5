"""What is wrong with an imprint and where: bubbles, teeth without one, what holds the record off, holes, wax on gum."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.nearest import nearest
from mountproof.geometry.poses import Array, inverse, transform
from mountproof.records.imprint import Cast, Flags, Gaps

#: A bubble, or what holds a record off, is named from so much off the tooth around it, over so large an area.
SPOT_MM, SPOT_MM2 = 0.12, 0.5
#: Wax on gum is named from this area on: crumbs at a margin are smaller.
GUM_MM2 = 1.5
#: A tooth that stands off all over by more than this left no imprint.
NO_IMPRINT_MM = 0.30
#: A hole is where cusps met if the other cast lies within this of the tooth there, else the scan has a hole.
MET_MM = 0.25
#: A surface that is steeper than this against the bite bears nothing.
_LEVEL = 0.3
#: Gum lies at least this far below what bears on the tooth beside it, mm.
_GUM_BELOW_MM = 0.5
#: A place is looked at all round within this, mm, in eight directions: something must bear in so many of them, and of what
#: bears there this share lower than the tooth stands at the place, so that wax that ended short of it is not meant.
_ROUND_MM, _ROUND, _LOWER = 3.0, 6, 0.3
#: Faces this share of their edges deep lie in a sharp edge that no corner fell on.
_SHARP = 0.2
#: The tips of a tooth are this much of it, mm.
_TIPS_MM = 0.5
#: Of one tooth no more places than this are held against each other.
_MANY = 400

Kind = Literal["void", "bare", "rides", "gum", "perforated", "hole"]


class Spot(NamedTuple):
    """Something at one place: ``tooth`` there (or the nearest), where (3,), how far off (mm) and how large (mm2)."""

    kind: Kind
    tooth: int
    at_mm: tuple[float, float, float]
    off_mm: float
    area_mm2: float


def find_spots(
    cast: Cast, off: Gaps, bears: Flags, bears_mm: float, other: Cast, other_from: Array
) -> tuple[Spot, ...]:
    """Name what is wrong with the imprint of a cast; ``bears`` (n,) where the record bears, to ``bears_mm``.

    ``other``: the other cast, whose frame the relation ``other_from`` (4, 4) takes to this one's. In a bubble the wax lies
    beyond what bears around it; wax that did not reach a fissure lies on the near side of that, and is no bubble.
    """
    level = cast.normals @ cast.bite > _LEVEL
    from_mm = max(SPOT_MM, 2.0 * bears_mm)
    gap = off.gap_mm
    h = cast.vertices_mm @ cast.bite
    teeth = [int(t) for t in np.unique(cast.vertex_teeth) if t > 0]
    rows = {t: (cast.vertex_teeth == t) & level for t in teeth}
    bearing = {t: _area(cast, bears & rows[t]) >= SPOT_MM2 for t in teeth}
    rims = {t: float(np.median(h[bears & rows[t]])) for t in teeth if bearing[t]}
    out: list[Spot] = []
    for t in teeth:
        here = rows[t]
        if bearing[t]:
            _note(out, "void", cast, _enclosed(cast, here & (gap > from_mm), bears, off.place_mm), t, gap)
            _note(
                out, "rides", cast, here & (gap < -from_mm - 2.0 * off.cut_mm - _SHARP * off.edge_mm), t, gap
            )
            hole = _enclosed(cast, here & off.ends, bears, cast.vertices_mm)
            if _area(cast, hole) >= SPOT_MM2:
                far = nearest(transform(inverse(other_from), cast.vertices_mm[hole]), other.mesh, 2.0)
                near = float(np.min(far.distance_mm, initial=2.0, where=far.row >= 0))
                _note(out, "perforated" if near < MET_MM else "hole", cast, hole, t, near)
        if rims and not any(s.tooth == t for s in out):
            _no_imprint(out, cast, here, t, gap, rims, h)
    _gum(out, cast, gap, rims, bears_mm, level)
    return tuple(out)


def _no_imprint(
    out: list[Spot], cast: Cast, here: Flags, tooth: int, gap: Array, rims: dict[int, float], h: Array
) -> None:
    """Name a tooth whose tips nothing bears on though they stand as high as what bears on its neighbours."""
    seen = here & np.isfinite(gap)
    others = [t for t in rims if t != tooth]
    if not seen.any() or not others:
        return
    where = middle_of(cast, seen)
    apart = {t: float(np.linalg.norm(middle_of(cast, cast.vertex_teeth == t) - where)) for t in others}
    near = sorted(apart, key=lambda t: apart[t])[:2]
    high = seen & (h > max(float(np.mean([rims[t] for t in near])), float(h[here].max()) - _TIPS_MM))
    if apart[near[0]] < 15.0 and high.any() and float(np.median(gap[high])) > NO_IMPRINT_MM:
        _note(out, "bare", cast, high, tooth, float(np.median(gap[high])))


def _enclosed(cast: Cast, rows: Flags, bears: Flags, wax_mm: Array) -> Flags:
    """Return those (n,) of the places with what bears all around, lower as well, and wax (n, 3) beyond the plane through that."""
    out = np.zeros(len(rows), np.bool_)
    asked = np.flatnonzero(rows)
    if not len(asked):
        return out
    v = cast.vertices_mm
    lo, hi = v[asked].min(axis=0) - _ROUND_MM, v[asked].max(axis=0) + _ROUND_MM
    around = np.flatnonzero(bears & ((v > lo) & (v < hi)).all(axis=1))
    if len(around) < 3:
        return out
    some, stops = _thin(asked), _thin(around)
    d = v[stops][None, :, [0, 2]] - wax_mm[some][:, None, [0, 2]]
    near = np.hypot(d[..., 0], d[..., 1]) < _ROUND_MM
    sector = np.floor((np.arctan2(d[..., 1], d[..., 0]) / (2.0 * np.pi) + 0.5) * 8.0).astype(int) % 8
    full = np.stack([(near & (sector == k)).any(axis=1) for k in range(8)]).sum(axis=0)
    level = np.concatenate([np.ones((*d.shape[:2], 1)), d], axis=2) * near[..., None]
    height = (v[stops] @ cast.bite)[None, :] * near
    # A little is added so that what bears in one line only still has an answer.
    normal = np.einsum("nki,nkj->nij", level, level) + 1e-3 * np.eye(3)
    plane = np.linalg.solve(normal, np.einsum("nki,nk->ni", level, height)[..., None])[:, 0, 0]
    beyond = wax_mm[some] @ cast.bite - plane
    own = v[some] @ cast.bite
    lower = (near & (height < own[:, None])).sum(axis=1) >= _LOWER * np.maximum(near.sum(axis=1), 1)
    good = some[(full >= _ROUND) & (beyond > SPOT_MM) & lower]
    if len(good) == 0:
        return out
    if len(some) == len(asked):
        out[good] = True
        return out
    # The places that were not asked go with the nearest that was.
    order = np.argmin(((v[asked][:, None] - v[some][None]) ** 2).sum(axis=2), axis=1)
    out[asked[np.isin(some, good)[order]]] = True
    return out


def _thin(rows: NDArray[np.intp]) -> NDArray[np.intp]:
    return rows[np.unique(np.linspace(0, len(rows) - 1, min(len(rows), _MANY)).astype(np.intp))]


def _gum(
    out: list[Spot], cast: Cast, gap: Array, rims: dict[int, float], bears_mm: float, level: Flags
) -> None:
    """Name wax that bears on what is no tooth, by the tooth that lies nearest."""
    rows = np.flatnonzero((cast.vertex_teeth == 0) & (gap <= bears_mm) & level)
    if not len(rows) or not rims:
        return
    teeth = np.array(sorted(rims))
    middles = np.array([middle_of(cast, cast.vertex_teeth == t) for t in teeth])[:, [0, 2]]
    apart = np.linalg.norm(cast.vertices_mm[rows][:, None, [0, 2]] - middles[None], axis=2)
    which = np.argmin(apart, axis=1)
    rim = np.array([rims[int(t)] for t in teeth])[which]
    below = cast.vertices_mm[rows] @ cast.bite < rim - _GUM_BELOW_MM
    for k in np.unique(which[below]):
        here = np.zeros(len(gap), np.bool_)
        here[rows[below & (which == k)]] = True
        _note(out, "gum", cast, here, int(teeth[k]), float(np.median(gap[here])), GUM_MM2)


def _note(
    out: list[Spot],
    kind: Kind,
    cast: Cast,
    rows: Flags,
    tooth: int,
    off: Array | float,
    least: float = SPOT_MM2,
) -> None:
    area = _area(cast, rows)
    if area >= least and rows.any():
        far = off if isinstance(off, float) else float(off[rows][np.argmax(np.abs(off[rows]))])
        out.append(Spot(kind, tooth, three(middle_of(cast, rows)), far, area))


def _area(cast: Cast, rows: Flags) -> float:
    return float(cast.area_mm2[rows].sum())


def middle_of(cast: Cast, rows: Flags) -> Array:
    """Return (3,) the middle of the surface around the vertices ``rows`` (n,)."""
    out: Array = np.average(cast.vertices_mm[rows], axis=0, weights=cast.area_mm2[rows] + 1e-12)
    return out


def three(at: Array) -> tuple[float, float, float]:
    """Return a place (3,) as three numbers."""
    return float(at[0]), float(at[1]), float(at[2])
