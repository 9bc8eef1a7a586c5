"""Part of question 7 for scans: the space at every tooth across, and both occlusal views of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.bench_inputs import pin_input
from mountproof.answers.change_space import (
    FAR_MM,
    Asked,
    chart_of,
    height_rows,
    looked_at,
    places,
    tell_space,
    tell_wanted,
    touching,
    wanted_mm,
)
from mountproof.answers.change_stands import Heights
from mountproof.answers.change_swept import Pair, Swept
from mountproof.answers.foils import written
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import SpaceChart
from mountproof.answers.progress import Progress
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Arch, Case
from mountproof.geometry.apart import opening_apart, parts_apart
from mountproof.geometry.carry import Carried, exact
from mountproof.geometry.nearest import along_curve, nearest, ready
from mountproof.geometry.poses import Array, transform
from mountproof.geometry.poses import closed as closing_pose
from mountproof.occlusion.residual_view import residual_view
from mountproof.occlusion.view import OcclusalView
from mountproof.said import joined, say
from mountproof.teeth import along_arch_key, is_tooth

#: Upper limits of the bands of space, mm.
SPACE_EDGES_MM: Final = (0.5, 1.0, 1.5, 2.0, 3.0)


@dataclass(frozen=True)
class SpaceViews:
    """Both occlusal views with the lower open by ``opening_rad`` from first contact, coloured by the space across."""

    closed: Closed
    opening_rad: float
    band_edges_mm: tuple[float, ...] = SPACE_EDGES_MM

    @cached_property
    def views(self) -> tuple[OcclusalView, OcclusalView]:
        """Upper and lower view; space from every place to the nearest of the other arch, unknown where a scan ends."""
        up, low, first = self.closed.arches[Arch.UPPER], self.closed.arches[Arch.LOWER], self.closed.first
        assert first is not None
        open_ = transform(
            closing_pose(first.closing_rad - self.opening_rad) @ self.closed.pose, low.vertices_mm
        )
        apart_up, apart_low = (
            _space(one, other, opposite)
            for one, other, opposite in (
                (up.vertices_mm, open_, low.faces),
                (open_, up.vertices_mm, up.faces),
            )
        )
        held = transform(self.closed.pose, low.vertices_mm)
        none = np.zeros((0, 3))
        return (
            residual_view("upper", up.vertices_mm, up.faces, up.teeth, apart_up, band_edges_mm=self.band_edges_mm, sites_mm=none),
            residual_view("lower", held, low.faces, low.teeth, apart_low, band_edges_mm=self.band_edges_mm, sites_mm=none),
        )  # fmt: skip


def _space(points_mm: Array, other_mm: Array, other_faces: NDArray[np.int32]) -> Array:
    """Return how far every vertex of an arch (n) lies from the other arch, mm; NaN where the other scan ends there."""
    order = along_curve(np.ascontiguousarray(points_mm))
    got = nearest(points_mm[order], ready(other_mm, other_faces), FAR_MM)
    there = got.row >= 0
    value = np.where(there, got.distance_mm, FAR_MM)
    value[there & got.on_border] = np.nan
    out = np.full(len(points_mm), np.nan)
    out[order] = value
    return out


def scan_space(
    case: Case, ledger: Ledger, closed: Closed, heights: Heights, found: Swept, progress: Progress
) -> SpaceChart | None:
    """Tell table, wanted pin reading and the space tooth by tooth; return the chart, None where none is asked for."""
    evidence = closed.evidence
    if case.instrument is None or evidence is None:
        return None
    pin = pin_input(case.instrument, case.caliper, Ledger(ledger.key))
    at = places(case, ledger)
    otherwise = heights.carried_pin(exact(heights.first.closing_rad)) if heights.by_mip else None
    start = touching(case, pin, ledger, otherwise)
    ledger.tables.append(height_rows(pin, start, at))
    wanted = wanted_mm(case)
    if not wanted and case.space.pin_reads is None:
        return None
    up, low = closed.arches[Arch.UPPER], closed.arches[Arch.LOWER]
    first = heights.first.closing_rad
    touch = transform(closing_pose(first) @ closed.pose, low.vertices_mm)
    rows = np.flatnonzero(up.teeth), np.flatnonzero(low.teeth)
    up_faces, low_faces = up.faces[rows[0]], low.faces[rows[1]]
    up_teeth, low_teeth = up.teeth[rows[0]], low.teeth[rows[1]]
    there = {int(t) for t in np.unique(np.concatenate([up_teeth, low_teeth])) if is_tooth(int(t))}
    asked, absent = [], [t for t in wanted if t not in there]
    for n, tooth in enumerate(t for t in wanted if t in there):
        progress(0.7 + 0.2 * n / len(wanted), say("looking for the space that is wanted"))
        apart = opening_apart(
            up.vertices_mm,
            up_faces if tooth not in up_teeth else up_faces[up_teeth == tooth],
            touch,
            low_faces if tooth not in low_teeth else low_faces[low_teeth == tooth],
            wanted[tooth],
        )
        doubt = _doubt(found.pairs, tooth)
        asked.append(Asked(tooth, wanted[tooth], exact(apart.opening_rad) + doubt))
    if absent:
        ledger.need(
            say("a scan that shows these teeth: {teeth}", teeth=joined(", ", (written(case, t) for t in absent))),
            say("a thickness is wanted there"),
            "scans",
        )  # fmt: skip
    looked = looked_at(case, pin, start, tell_wanted(case, pin, start, asked, ledger))
    if looked is None:
        return None
    by, turned = looked
    parted = parts_apart(
        up.vertices_mm, up_faces, up_teeth, touch, low_faces, low_teeth, turned.value, FAR_MM
    )
    radius = {
        p: r for pair in found.pairs for p, r in ((pair.upper, pair.radius_mm), (pair.lower, pair.radius_mm))
    }
    gaps: dict[int, Carried | None] = {}
    for tooth in sorted(there, key=along_arch_key):
        mm = {**parted[0], **parted[1]}.get(tooth)
        off = (turned - turned.value + _doubt(found.pairs, tooth)).times(
            radius.get(tooth, _mean(found.pairs))
        )
        gaps[tooth] = None if mm is None else off + mm
    chart = chart_of(case, pin, start, by, gaps, True, SpaceViews(closed, turned.value))
    tell_space(case, chart, ledger)
    return chart


def _doubt(pairs: Sequence[Pair], tooth: int) -> Carried:
    """What record and placement leave open of an opening at a tooth (rad, 0 with its doubt): as where its pair meets first."""
    own = next((p for p in pairs if tooth in (p.upper, p.lower)), None)
    if own is None:
        own = max(pairs, key=lambda p: p.meets.u)
    # against first contact, which is what the opening is counted from
    off = own.meets - pairs[0].meets
    return off - off.value


def _mean(pairs: Sequence[Pair]) -> float:
    return float(np.mean([p.radius_mm for p in pairs]))
