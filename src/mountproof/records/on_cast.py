"""A scanned record on both casts: the relation it holds with its doubt, and tooth by tooth how it lies on each."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from mountproof.geometry.poses import Array, inverse, moved_cov, point_cov
from mountproof.records.held import (
    Halves,
    Loosest,
    Side,
    Stops,
    doubt_of,
    halves_of,
    loosest,
    one_side,
    stops_of,
)
from mountproof.records.imprint import ArchName, Cast, Flags, Gaps, Laid, RecordSurface, gaps, lay
from mountproof.records.imprint_spots import SPOT_MM, SPOT_MM2, Spot, find_spots, middle_of, three

#: The two casts, in the order in which a record is laid on them.
ARCHES: tuple[ArchName, ArchName] = ("upper", "lower")
#: It bears where it stands off by no more than this, or three SDs of its points, mm.
BEARS_MM = 0.05
#: A surface that is steeper than this against the bite bears nothing.
_LEVEL = 0.3
#: How far a record stands off a tooth is told from what lies within this of it, mm, at this share of that, and from
#: this many places on.
_TOOTH_MM, _NEAREST, _LEAST_SEEN = 1.0, 0.2, 8


class ToothFit(NamedTuple):
    """How a record lies on one tooth.

    ``at_mm`` (3,) its tips; ``bears_mm2``: area that bears; ``gap_mm``: how far the record stands off where it comes
    nearest over some area (NaN where it shows nothing of the tooth); ``u_mm``: SD of the tooth's height by how the record
    is held on this cast.
    """

    tooth: int
    at_mm: tuple[float, float, float]
    bears_mm2: float
    gap_mm: float
    u_mm: float


class ArchFit(NamedTuple):
    """A record on one cast. ``pose`` (4, 4) upper jaw's frame from record, ``cov6`` in front of it; ``gap_mm`` (n,)."""

    laid: Laid
    pose: Array
    cov6: Array
    gap_mm: Array
    bears: Flags
    teeth: tuple[ToothFit, ...]
    spots: tuple[Spot, ...]
    stops: Stops | None
    halves: Halves | None
    loosest: Loosest
    only: Side | None
    middle_z_mm: float


class OnCasts(NamedTuple):
    """A record on both casts.

    ``upper_from_lower`` (4, 4) moves the lower as placed; ``cov6`` in front of it, about the frame's origin.
    """

    upper: ArchFit
    lower: ArchFit
    upper_from_lower: Array
    cov6: Array


class Related(NamedTuple):
    """How a record lies on each cast, and the relation of the lower to the upper that follows, as in ``OnCasts``."""

    laid: dict[ArchName, Laid]
    cov6s: dict[ArchName, Array]
    upper_from_lower: Array
    cov6: Array


def relate(
    record: RecordSurface, casts: Mapping[ArchName, Cast], starts: Mapping[ArchName, Array]
) -> Related | ArchName:
    """Lay a record on both casts from ``starts`` (4, 4) cast from record; the name of a cast on which too little of it lies.

    The relation is the one laying behind the other. Both doubts count: that of the lower is carried by the relation.
    """
    with ThreadPoolExecutor(2) as pool:
        both = list(pool.map(lambda a: lay(record, casts[a], starts[a]), ARCHES))
    laid: dict[ArchName, Laid] = {}
    for arch, found in zip(ARCHES, both, strict=True):
        if found is None:
            return arch
        laid[arch] = found
    relation = laid["upper"].pose @ inverse(laid["lower"].pose)
    cov6s = {a: doubt_of(laid[a], record, casts[a]) for a in ARCHES}
    return Related(laid, cov6s, relation, cov6s["upper"] + moved_cov(cov6s["lower"], relation))


def fit_record(
    record: RecordSurface, casts: Mapping[ArchName, Cast], starts: Mapping[ArchName, Array]
) -> OnCasts | ArchName:
    """Lay a record on both casts from ``starts`` (4, 4) as ``relate`` does, and tell tooth by tooth how it lies on each."""
    found = relate(record, casts, starts)
    if isinstance(found, str):
        return found
    upper, lower, to_upper = casts["upper"], casts["lower"], found.upper_from_lower
    with ThreadPoolExecutor(2) as pool:
        fits = (
            pool.submit(_fit, record, upper, found.laid["upper"], found.cov6s["upper"], lower, to_upper),
            pool.submit(
                _fit, record, lower, found.laid["lower"], found.cov6s["lower"], upper, inverse(to_upper)
            ),
        )
    return OnCasts(fits[0].result(), fits[1].result(), to_upper, found.cov6)


def _fit(
    record: RecordSurface, cast: Cast, laid: Laid, cov: Array, other: Cast, other_from: Array
) -> ArchFit:
    off = gaps(record, cast, laid.pose)
    gap = off.gap_mm
    bears_mm = max(BEARS_MM, 3.0 * laid.found.sd_mm)
    level = cast.normals @ cast.bite > _LEVEL
    shows = record.sense < 0.0
    bears = np.abs(gap) <= bears_mm
    if shows:
        bears &= level
    named = cast.vertex_teeth > 0
    teeth = [int(t) for t in np.unique(cast.vertex_teeth) if t > 0]
    z = cast.vertices_mm[named, 2] if named.any() else laid.at_mm[:, 2]
    middle = 0.5 * float(z.min() + z.max())
    told = tuple(_tooth(cast, t, level | (not shows), off, bears, cov) for t in teeth)
    spots = find_spots(cast, off, bears, bears_mm, other, other_from) if shows else ()
    carried = [t for t in told if t.bears_mm2 >= SPOT_MM2]
    stops = None
    if carried and shows:
        places = [middle_of(cast, bears & (cast.vertex_teeth == t.tooth))[[0, 2]] for t in carried]
        stops = stops_of(np.array(places), np.array([[t.at_mm[0], t.at_mm[2]] for t in told]))
    return ArchFit(
        laid,
        laid.pose,
        cov,
        gap,
        bears,
        told,
        spots,
        stops,
        halves_of(laid, record, cast, middle),
        loosest(laid, cov),
        one_side(laid.at_mm, np.ones(len(laid.at_mm)), middle),
        middle,
    )


def _tooth(cast: Cast, tooth: int, level: Flags, off: Gaps, bears: Flags, cov6: Array) -> ToothFit:
    here = cast.vertex_teeth == tooth
    h = cast.vertices_mm[here] @ cast.bite
    at = cast.vertices_mm[here][h >= np.quantile(h, 0.9)].mean(axis=0)
    near = here & level & (np.abs(off.gap_mm) < _TOOTH_MM)
    # Where faces cut across an edge they lie in the cast by as much, without anything being wrong.
    seen = off.gap_mm[near]
    seen = np.where(seen < 0.0, np.minimum(seen + off.cut_mm[near], 0.0), seen)
    gap = np.nan
    if len(seen) >= _LEAST_SEEN:
        least = np.quantile(seen, _NEAREST)
        gap = float(np.median(seen[np.abs(seen - least) < SPOT_MM]))
    u = float(np.sqrt(cast.bite @ point_cov(cov6, at) @ cast.bite))
    return ToothFit(tooth, three(at), float(cast.area_mm2[bears & here].sum()), gap, u)
