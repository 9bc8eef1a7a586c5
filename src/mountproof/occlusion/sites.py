"""From the closing map to what a dentist reads, at any closure (what is told: site_table.py)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import sites as geometry
from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.contact import PairContact
from mountproof.geometry.patches import spread_labels
from mountproof.geometry.sites import meetings, sites_of
from mountproof.geometry.surface import Surface
from mountproof.occlusion.incline import ToothFrame, facing, tooth_frames
from mountproof.occlusion.site_table import FOILS_UM as FOILS_UM
from mountproof.occlusion.site_table import Pair as Pair
from mountproof.occlusion.site_table import Site as Site
from mountproof.occlusion.site_table import Sited as Sited
from mountproof.occlusion.site_table import SiteTable as SiteTable
from mountproof.occlusion.site_teeth import tooth_rows

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
Flags = NDArray[np.bool_]


def place_teeth(
    closing: ClosingMap,
    upper: Surface,
    lower: Surface,
    upper_teeth: I32,
    lower_teeth: I32,
    pairs: Sequence[PairContact] = (),
) -> Sited:
    """Put tooth numbers on the cells of a map.

    ``upper_teeth`` (m,), ``lower_teeth`` (m',) ISO 3950 per face, 0 for none; ``pairs`` exact first contacts by tooth
    pair. Where the map is unknown, the nearest tooth's number is carried into the hole. ValueError when numbers
    do not match faces.
    """
    if len(upper_teeth) != len(upper.faces) or len(lower_teeth) != len(lower.faces):
        raise ValueError("one tooth number per face is wanted")
    return Sited(
        closing,
        upper,
        lower,
        _on_cells(closing.upper_face, upper_teeth, closing.unknown),
        _on_cells(closing.lower_face, lower_teeth, closing.unknown),
        tooth_frames(upper.vertices_mm, upper.faces, upper_teeth, "upper"),
        tooth_frames(lower.vertices_mm, lower.faces, lower_teeth, "lower"),
        tuple(pairs),
        upper_teeth,
        lower_teeth,
    )


def _on_cells(face: I32, teeth: I32, unknown: Flags) -> I32:
    number = np.where(face >= 0, teeth[np.maximum(face, 0)], 0).astype(np.int32)
    return spread_labels(number, unknown & (number == 0))


def at_closure(sited: Sited, closed_rad: float = 0.0, foils_um: Sequence[float] = FOILS_UM) -> SiteTable:
    """Return pairs, teeth and sites when the lower is closed by ``closed_rad`` from the map's pose.

    ``foils_um`` thicknesses in micrometres, rising. ValueError when they do not rise.
    """
    foils = tuple(float(t) for t in foils_um)
    if list(foils) != sorted(set(foils)) or not foils:
        raise ValueError("thicknesses must rise")
    chart = sited.closing
    # What meets under the thickest foil holds all that meets under the others.
    met = meetings(
        sited.upper,
        sited.lower,
        chart,
        closed_rad=closed_rad,
        within_mm=foils[-1] / 1000.0,
        upper_labels=sited.upper_teeth,
        lower_labels=sited.lower_teeth,
        known_only=True,
    )
    pairs = tuple(_pair_at(sited, p, closed_rad) for p in sited.pairs)
    sites = [
        site
        for foil in foils
        for site in _numbered(
            [
                _told(sited, patch, closed_rad, foil)
                for patch in sites_of(sited.upper, sited.lower, chart, met, foil / 1000.0)
            ]
        )
    ]
    unknown = float(np.count_nonzero(chart.unknown)) * chart.cell_mm**2
    teeth = tooth_rows(sited, closed_rad, foils, pairs, sites)
    return SiteTable(closed_rad, foils, pairs, teeth, tuple(sites), unknown)


def ties(pairs: Sequence[Pair], band_mm: float) -> tuple[Pair, ...]:
    """Return every pair that may be the first: within ``band_mm`` of arc, at its own place, of the earliest one.

    Within the uncertainty there is no single first contact, only this list; earliest first.
    """
    if not pairs:
        return ()
    ordered = sorted(pairs, key=lambda p: (p.remaining_rad, p.upper_tooth, p.lower_tooth))
    first = ordered[0].remaining_rad
    return tuple(p for p in ordered if (p.remaining_rad - first) * _radius(p.upper_point_mm) <= band_mm)


def _radius(point_mm: F64) -> float:
    return float(np.hypot(point_mm[0], point_mm[1]))


def _turned(point_mm: F64, angle_rad: float) -> F64:
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return np.array([c * point_mm[0] - s * point_mm[1], s * point_mm[0] + c * point_mm[1], point_mm[2]])


def _facing_of(frames: dict[int, ToothFrame], tooth: int, normal: F64) -> str:
    return facing(frames[tooth], tooth, normal) if tooth in frames else ""


def _pair_at(sited: Sited, p: PairContact, closed_rad: float) -> Pair:
    contact = p.contact
    remaining = contact.closing_rad - closed_rad
    arc = remaining * _radius(contact.point_mm)
    # At the given pose the lower has not closed yet: its normal and its point are turned back.
    lower_normal = -_turned(contact.normal, -contact.closing_rad)
    return Pair(
        p.upper_label,
        p.lower_label,
        contact.closing_rad,
        remaining,
        arc,
        arc * contact.rise,
        contact.point_mm,
        _turned(contact.point_mm, -contact.closing_rad),
        _facing_of(sited.upper_frames, p.upper_label, contact.normal),
        _facing_of(sited.lower_frames, p.lower_label, lower_normal),
        float(np.degrees(np.arccos(min(contact.rise, 1.0)))),
        contact.kind,
        contact.upper_face,
        contact.lower_face,
        not _touches_unknown(sited.closing, contact.point_mm),
    )


def _touches_unknown(closing: ClosingMap, point_mm: F64) -> bool:
    i, j = _cell_at(closing, point_mm)
    around = closing.unknown[max(i - 1, 0) : max(i + 2, 0), max(j - 1, 0) : max(j + 2, 0)]
    return bool(around.any())


def _told(sited: Sited, patch: geometry.Site, closed_rad: float, foil_um: float) -> Site:
    """Put one exact site under a foil into a dentist's words, not numbered yet."""
    contact = patch.contact
    upper, lower = int(sited.upper_teeth[contact.upper_face]), int(sited.lower_teeth[contact.lower_face])
    at = _pair_at(sited, PairContact(upper, lower, contact), closed_rad)
    return Site(
        0,
        foil_um,
        upper,
        lower,
        patch.gap_mm,
        patch.gap_mm * contact.rise,
        patch.area_mm2,
        at.upper_point_mm,
        at.lower_point_mm,
        at.upper_facing,
        at.lower_facing,
        patch.unknown,
    )


def _numbered(sites: Sequence[Site]) -> list[Site]:
    """Number the sites under one foil, smallest gap first."""
    rising = sorted(
        sites,
        key=lambda s: (s.gap_along_closure_mm, s.upper_tooth, s.lower_tooth, float(s.upper_point_mm[0])),
    )
    return [s._replace(number=n + 1) for n, s in enumerate(rising)]


def _cell_at(closing: ClosingMap, point_mm: F64) -> tuple[int, int]:
    i = int(np.floor((_radius(point_mm) - closing.r0_mm) / closing.cell_mm))
    return i, int(np.floor((float(point_mm[2]) - closing.z0_mm) / closing.cell_mm))
