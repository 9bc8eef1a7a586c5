"""From the closing map to what a dentist reads, at any closure (what is told: site_table.py)."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.contact import PairContact
from mountproof.geometry.surface import Surface
from mountproof.occlusion.incline import ToothFrame, facing, tooth_frames
from mountproof.occlusion.patches import patches, spread_labels
from mountproof.occlusion.site_table import FOILS_UM as FOILS_UM
from mountproof.occlusion.site_table import Pair as Pair
from mountproof.occlusion.site_table import Site as Site
from mountproof.occlusion.site_table import Sited as Sited
from mountproof.occlusion.site_table import SiteTable as SiteTable
from mountproof.occlusion.site_table import State as State
from mountproof.occlusion.site_table import Tooth as Tooth

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
    gap = np.where(sited.closing.unknown, np.nan, sited.closing.gap_mm(closed_rad))
    cell_mm2 = sited.closing.cell_mm**2
    pairs = tuple(_pair_at(sited, p, closed_rad) for p in sited.pairs)
    sites: list[Site] = []
    for foil in foils:
        sites.extend(_sites_under(sited, gap, foil, cell_mm2, pairs))
    unknown_cells = sited.closing.unknown
    upper_exact = _smallest(pairs, lambda p: p.upper_tooth)
    lower_exact = _smallest(pairs, lambda p: p.lower_tooth)
    teeth = [
        *_tooth_rows(sited.upper_tooth, gap, unknown_cells, foils, cell_mm2, upper_exact),
        *_tooth_rows(sited.lower_tooth, gap, unknown_cells, foils, cell_mm2, lower_exact),
    ]
    unknown = float(np.count_nonzero(unknown_cells)) * cell_mm2
    return SiteTable(closed_rad, foils, pairs, tuple(teeth), tuple(sites), unknown)


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


def _smallest(pairs: Sequence[Pair], tooth_of: Callable[[Pair], int]) -> dict[int, float]:
    """Smallest exact gap along closure of each tooth, mm, over the pairs that no scan border makes doubtful."""
    found: dict[int, float] = {}
    for p in pairs:
        if p.known:
            t = tooth_of(p)
            found[t] = min(found.get(t, np.inf), p.remaining_along_closure_mm)
    return found


def _sites_under(
    sited: Sited, gap: F64, foil_um: float, cell_mm2: float, pairs: Sequence[Pair]
) -> list[Site]:
    upper_tooth, lower_tooth = sited.upper_tooth, sited.lower_tooth
    mask = (gap <= foil_um / 1000.0) & (upper_tooth > 0) & (lower_tooth > 0)
    of_cell, count = patches(mask, upper_tooth * 100 + lower_tooth)
    at = np.flatnonzero(of_cell.ravel() >= 0)
    patch, gaps = of_cell.ravel()[at], gap.ravel()[at]
    # The cell of smallest gap of each patch: sort by patch, then gap, then place.
    order = np.lexsort((at, gaps, patch))
    first = order[np.searchsorted(patch[order], np.arange(count))]
    area = np.bincount(patch, minlength=count) * cell_mm2
    rim = _beside(sited.closing.unknown)
    touched = np.bincount(patch, rim.ravel()[at].astype(np.float64), count) > 0
    found = []
    for k in range(count):
        i, j = np.unravel_index(at[first[k]], gap.shape)
        found.append(_site(sited, int(i), int(j), gap, foil_um, float(area[k]), bool(touched[k])))
    for p in pairs:
        if p.known and p.remaining_along_closure_mm <= foil_um / 1000.0:
            _lay_exact(found, p, sited, of_cell, foil_um)
    found.sort(
        key=lambda s: (s.gap_along_closure_mm, s.upper_tooth, s.lower_tooth, float(s.upper_point_mm[0]))
    )
    return [s._replace(number=n + 1) for n, s in enumerate(found)]


def _lay_exact(found: list[Site], p: Pair, sited: Sited, of_cell: I32, foil_um: float) -> None:
    """Give the patch at an exact contact that contact's gap and place; where it is smaller than a cell, add it."""
    i, j = _cell_at(sited.closing, p.upper_point_mm)
    near = of_cell[max(i - 1, 0) : max(i + 2, 0), max(j - 1, 0) : max(j + 2, 0)]
    exact = Site(
        0,
        foil_um,
        p.upper_tooth,
        p.lower_tooth,
        p.remaining_along_closure_mm,
        p.remaining_along_normal_mm,
        0.0,
        p.upper_point_mm,
        p.lower_point_mm,
        p.upper_facing,
        p.lower_facing,
        False,
    )
    for k in np.unique(near[near >= 0]):
        old = found[int(k)]
        if (old.upper_tooth, old.lower_tooth) == (p.upper_tooth, p.lower_tooth):
            found[int(k)] = exact._replace(area_mm2=old.area_mm2, open_edge=old.open_edge)
            return
    found.append(exact)


def _cell_at(closing: ClosingMap, point_mm: F64) -> tuple[int, int]:
    i = int(np.floor((_radius(point_mm) - closing.r0_mm) / closing.cell_mm))
    return i, int(np.floor((float(point_mm[2]) - closing.z0_mm) / closing.cell_mm))


def _beside(unknown: Flags) -> Flags:
    """Cells that are unknown or touch one that is."""
    padded = np.pad(unknown, 1)
    out = np.zeros_like(unknown)
    for u in range(3):
        for v in range(3):
            out |= padded[u : u + unknown.shape[0], v : v + unknown.shape[1]]
    return out


def _site(sited: Sited, i: int, j: int, gap: F64, foil_um: float, area_mm2: float, open_edge: bool) -> Site:
    m = sited.closing
    r, z = float(m.r_mm[i]), float(m.z_mm[j])
    up_phi, low_phi = float(m.upper_phi[i, j]), float(m.lower_phi[i, j])
    upper_point = np.array([r * np.cos(up_phi), r * np.sin(up_phi), z])
    lower_point = np.array([r * np.cos(low_phi), r * np.sin(low_phi), z])
    up_normal = _normal(sited.upper, int(m.upper_face[i, j]), upper_point)
    low_normal = _normal(sited.lower, int(m.lower_face[i, j]), lower_point)
    # Both inclines are laid together (the lower closed); their common normal is what the foil would see.
    common = up_normal - _turned(low_normal, up_phi - low_phi)
    length = float(np.linalg.norm(common))
    way = np.array([-np.sin(up_phi), np.cos(up_phi), 0.0])
    rise = abs(float(common @ way)) / length if length > 0.0 else 1.0
    upper_tooth, lower_tooth = int(sited.upper_tooth[i, j]), int(sited.lower_tooth[i, j])
    g = float(gap[i, j])
    return Site(
        0,
        foil_um,
        upper_tooth,
        lower_tooth,
        g,
        g * rise,
        area_mm2,
        upper_point,
        lower_point,
        _facing_of(sited.upper_frames, upper_tooth, up_normal),
        _facing_of(sited.lower_frames, lower_tooth, low_normal),
        open_edge,
    )


def _normal(surface: Surface, face: int, point: F64) -> F64:
    """Unit normal of a face, turned towards the other arch (against closing for the upper, along it for the lower)."""
    a, b, c = surface.vertices_mm[surface.faces[face]]
    normal = np.cross(b - a, c - a)
    size = float(np.linalg.norm(normal))
    way = np.array([-point[1], point[0], 0.0])
    if size == 0.0:
        normal, size = way, float(np.linalg.norm(way))
    unit: F64 = normal / size
    towards = 1.0 if surface.arch == "lower" else -1.0
    return unit if float(unit @ way) * towards >= 0.0 else -unit


def _tooth_rows(
    number_of: I32,
    gap: F64,
    unknown: Flags,
    foils: tuple[float, ...],
    cell_mm2: float,
    exact_mm: dict[int, float],
) -> list[Tooth]:
    known = np.isfinite(gap)
    rows = []
    for number in np.unique(number_of[number_of > 0]):
        here = number_of == number
        values = gap[here & known]
        hidden = int(np.count_nonzero(here & unknown))
        # The exact contact can be closer than the centre of any cell.
        smallest = min(exact_mm.get(int(number), np.inf), float(values.min()) if values.size else np.inf)
        below = [int(np.count_nonzero(values <= t / 1000.0)) for t in foils]
        state: list[State] = [
            "holds" if smallest <= t / 1000.0 else "unknown" if hidden else "free" for t in foils
        ]
        rows.append(
            Tooth(
                int(number),
                smallest if np.isfinite(smallest) else float("nan"),
                tuple(n * cell_mm2 for n in below),
                tuple(state),
                int(np.count_nonzero(here & (known | unknown))) * cell_mm2,
                hidden * cell_mm2,
            )
        )
    return rows
