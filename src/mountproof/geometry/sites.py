"""Contact sites: the connected places that meet within a thickness, and the two gaps of each, named apart.

Foil of thickness t is held where the gap is at most t. The gap *along closure* is the arc that is left,
r times the angle; the gap *along the normal* is the distance between the surfaces, smaller on an
incline: 0.10 mm along the normal of a 35 degree incline are 0.12 mm along closure.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _sites
from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.contact import Contact, told
from mountproof.geometry.patches import patches
from mountproof.geometry.surface import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]


#: Kind of a contact at the centre of a cell, inside a face of either surface; the others are ``contact.KINDS``.
FACE_FACE: Final = "face-face"


class Site(NamedTuple):
    """One connected patch of the closing map within a thickness.

    ``contact``: its exact first contact (``closing_rad`` from the given pose). ``gap_mm``: arc left there after the closure
    asked for (negative: overlap). ``cells`` (k, 2): cells of the map; ``area_mm2``: in (r, z), of those whose centre lies within
    (0 for a site between the centres). ``unknown``: a border or hole of a scan touches the patch, so it may be
    larger, or meet earlier, than is seen.
    """

    contact: Contact
    gap_mm: float
    cells: Ints
    area_mm2: float
    unknown: bool


class UnknownPlace(NamedTuple):
    """A connected place of which the map cannot say "no contact".

    ``cells`` (k, 2); ``area_mm2`` in (r, z); ``rim_gap_rad``: least gap known in it or right beside it (NaN: none): where it is
    near first contact, what the scan does not show could have met first.
    """

    cells: Ints
    area_mm2: float
    rim_gap_rad: float


class Meetings(NamedTuple):
    """Everything that meets within one thickness; the sites under any smaller one are read off it.

    ``closed_rad``, ``within_mm``: as asked. One row for the first contact of each pair of faces, and one for each cell whose
    centre lies within: ``gap_mm`` (n,) arc left; ``cells`` (n, 2) the cell it lies in; ``centre`` (n,) whether it is a
    centre; ``labels`` (n, 2) upper's and lower's; ``touches`` (n, 4), ``which`` (n, 5) for ``told``.
    """

    closed_rad: float
    within_mm: float
    gap_mm: Floats
    cells: Ints
    centre: Flags
    labels: Ints
    touches: Floats
    which: NDArray[np.int64]


def meetings(
    upper: Surface,
    lower: Surface,
    chart: ClosingMap,
    *,
    closed_rad: float = 0.0,
    within_mm: float = 0.0,
    upper_labels: Ints | None = None,
    lower_labels: Ints | None = None,
    known_only: bool = False,
) -> Meetings:
    """Return what meets within ``within_mm`` along closure once the lower has closed by ``closed_rad``.

    ``chart``: the closing map of the same two surfaces. ``upper_labels`` (m,), ``lower_labels`` (m',): one number per face, 0 for
    faces that do not count; all count alike by default. ``known_only``: leave out centres of unknown cells, and
    contacts in or beside one: there a border of a scan may be what meets. Raises ValueError for a thickness that
    is not finite or negative, or labels that do not match the faces.
    """
    if not (math.isfinite(closed_rad) and math.isfinite(within_mm) and within_mm >= 0.0):
        raise ValueError(f"finite closure and thickness of at least 0 wanted, got {closed_rad}, {within_mm}")
    on_upper, on_lower = _labels(upper, upper_labels), _labels(lower, lower_labels)
    if not chart.gap_rad.size:
        nothing = np.zeros((0, 2), np.int32)
        return Meetings(closed_rad, within_mm, np.zeros(0), nothing, np.zeros(0, np.bool_), nothing,
                        np.zeros((0, 4)), np.zeros((0, 5), np.int64))  # fmt: skip
    touches, which = _sites._pairs_within(
        upper.tree, lower.tree, *upper.tolerances(lower), closed_rad, within_mm, on_upper, on_lower
    )
    r = np.hypot(touches[:, 1], touches[:, 2])
    cells = np.stack([(r - chart.r0_mm) / chart.cell_mm, (touches[:, 3] - chart.z0_mm) / chart.cell_mm], 1)
    cells = np.clip(np.floor(cells), 0, np.array(chart.gap_rad.shape) - 1).astype(np.int32)
    arc = (touches[:, 0] - closed_rad) * r
    keep = arc <= within_mm
    gap = chart.gap_mm(closed_rad)
    within = gap <= within_mm
    if known_only:
        keep &= ~_widened(chart.unknown)[cells[:, 0], cells[:, 1]]
        within &= ~chart.unknown
    i, j = np.nonzero(within)
    a, b = chart.upper_face[i, j].astype(np.int64), chart.lower_face[i, j].astype(np.int64)
    labelled = (on_upper[a] != 0) & (on_lower[b] != 0)
    i, j, a, b = i[labelled], j[labelled], a[labelled], b[labelled]
    phi = chart.upper_phi[i, j]
    at = chart.r_mm[i]
    centres = np.stack([chart.gap_rad[i, j], at * np.cos(phi), at * np.sin(phi), chart.z_mm[j]], 1)
    faces = np.stack([a, b, *np.zeros((3, len(a)), np.int64)], 1)
    which = np.concatenate([which[keep], faces])
    return Meetings(
        closed_rad,
        within_mm,
        np.concatenate([arc[keep], gap[i, j]]),
        np.concatenate([cells[keep], np.stack([i, j], 1).astype(np.int32)]),
        np.arange(len(which)) >= np.count_nonzero(keep),
        np.stack([on_upper[which[:, 0]], on_lower[which[:, 1]]], 1),
        np.concatenate([touches[keep], centres]),
        which,
    )


def sites_of(
    upper: Surface, lower: Surface, chart: ClosingMap, met: Meetings, within_mm: float | None = None
) -> tuple[Site, ...]:
    """Return the sites that lie within ``within_mm`` (by default all that is in ``met``), earliest first.

    A site is a patch of cells, side by side or corner to corner, in which the same two labels meet. Raises ValueError
    for a thickness above that of ``met``.
    """
    limit = met.within_mm if within_mm is None else within_mm
    if limit > met.within_mm:
        raise ValueError(f"what meets up to {met.within_mm} mm is known, not up to {limit}")
    rows = np.flatnonzero(met.gap_mm <= limit)
    if not len(rows):
        return ()
    # Earliest first, contacts of faces before centres; so the first row of a patch is its contact.
    order = (met.which[rows, 1], met.which[rows, 0], met.touches[rows, 0], met.centre[rows])
    rows = rows[np.lexsort(order)]
    beside = _widened(chart.unknown)
    sites = []
    _, pair = np.unique(met.labels[rows], axis=0, return_inverse=True)
    for here in _grouped(rows, pair.reshape(-1)):
        cells = met.cells[here]
        cells = cells - cells.min(axis=0)
        mask = np.zeros(cells.max(axis=0) + 1, dtype=np.bool_)
        mask[cells[:, 0], cells[:, 1]] = True
        label, _ = patches(mask)
        for patch in _grouped(here, label[cells[:, 0], cells[:, 1]]):
            k = patch[0]
            contact = (_inside_faces if met.centre[k] else told)(upper, lower, met.touches[k], met.which[k])
            covered = np.unique(met.cells[patch], axis=0)
            area = float(np.count_nonzero(met.centre[patch])) * chart.cell_mm**2
            unknown = bool(beside[covered[:, 0], covered[:, 1]].any())
            sites.append(Site(contact, float(met.gap_mm[k]), covered, area, unknown))
    return tuple(
        sorted(sites, key=lambda s: (s.contact.closing_rad, s.contact.upper_face, s.contact.lower_face))
    )


def contact_sites(
    upper: Surface,
    lower: Surface,
    chart: ClosingMap,
    *,
    closed_rad: float = 0.0,
    within_mm: float = 0.0,
    upper_labels: Ints | None = None,
    lower_labels: Ints | None = None,
) -> tuple[Site, ...]:
    """Return all sites that, after closing by ``closed_rad``, lie within ``within_mm`` along closure, earliest first.

    ``chart``: the closing map of the same two surfaces. A cell belongs to a site when the gap at its centre is within, or
    when the first contact of some pair of faces lies in it and is: so no site is lost between the
    centres, and each site's contact is exact. ``upper_labels`` (m,), ``lower_labels`` (m',): a number per face (its tooth), 0
    for faces that do not count; no site spans two pairs of them. Raises ValueError as ``meetings``.
    """
    met = meetings(upper, lower, chart, closed_rad=closed_rad, within_mm=within_mm,
                   upper_labels=upper_labels, lower_labels=lower_labels)  # fmt: skip
    return sites_of(upper, lower, chart, met)


def unknown_places(chart: ClosingMap, among: Flags | None = None) -> tuple[UnknownPlace, ...]:
    """Return the connected unknown places of a closing map, those with the least gap at their rim first.

    ``among`` (nr, nz): only unknown cells that are among these; the rim is still all that is right beside them.
    """
    unknown = chart.unknown if among is None else chart.unknown & among
    label, _ = patches(unknown)
    cells = np.argwhere(unknown).astype(np.int32)
    padded = np.pad(chart.gap_rad, 1, constant_values=np.nan)
    places = []
    for here in _grouped(np.arange(len(cells)), label[unknown]):
        place = cells[here]
        rim = np.concatenate([padded[place[:, 0] + u, place[:, 1] + v] for u in range(3) for v in range(3)])
        least = float(np.fmin.reduce(rim))
        places.append(UnknownPlace(place, len(place) * chart.cell_mm**2, least))
    return tuple(sorted(places, key=lambda p: (math.isnan(p.rim_gap_rad), p.rim_gap_rad, -p.area_mm2)))


def gap_along_closure_mm(contact: Contact, closed_rad: float = 0.0) -> float:
    """Arc that is left at a contact after closing by ``closed_rad``, mm; negative: overlap."""
    return math.hypot(float(contact.point_mm[0]), float(contact.point_mm[1])) * (
        contact.closing_rad - closed_rad
    )


def gap_along_normal_mm(
    upper: Surface, lower: Surface, contact: Contact, *, closed_rad: float = 0.0, radius_mm: float = 0.5
) -> float:
    """Distance between the two surfaces near a contact after closing by ``closed_rad``, mm.

    Exact least distance of all faces that come within ``radius_mm`` of the contact's two places (or of the arc left
    between them, if that is longer). Where they already overlap it is negative: the arc of overlap times
    the cosine between contact normal and closing, which is the depth along the normal to first order.
    """
    left = gap_along_closure_mm(contact, closed_rad)
    if left <= 0.0:
        return left * contact.rise
    c, s = math.cos(closed_rad - contact.closing_rad), math.sin(closed_rad - contact.closing_rad)
    x, y, z = (float(v) for v in contact.point_mm)
    lower_now = np.array([c * x - s * y, s * x + c * y, z])  # where the lower's place is at that closure
    c, s = math.cos(-contact.closing_rad), math.sin(-contact.closing_rad)
    lower_given = np.array([c * x - s * y, s * x + c * y, z])
    radius = max(radius_mm, 1.5 * left)
    straight = float(np.linalg.norm(contact.point_mm - lower_now))
    uppers = np.zeros(len(upper.tree_faces), dtype=np.int32)
    lowers = np.zeros(len(lower.tree_faces), dtype=np.int32)
    n = _sites._faces_near(upper.tree, contact.point_mm, radius, uppers)
    m = _sites._faces_near(lower.tree, lower_given, radius, lowers)
    return float(_sites._least_distance(upper.tree, lower.tree, uppers[:n], lowers[:m], math.cos(closed_rad),
                                        math.sin(closed_rad), straight))  # fmt: skip


def _labels(surface: Surface, labels: Ints | None) -> Ints:
    """One label per face, as the kernel reads them; 1 for every face when none are given."""
    if labels is None:
        return np.ones(len(surface.faces), dtype=np.int32)
    if np.shape(labels) != (len(surface.faces),):
        raise ValueError(f"one label per face wanted ({len(surface.faces)}), got {np.shape(labels)}")
    return np.ascontiguousarray(labels, dtype=np.int32)


def _grouped(rows: NDArray[np.intp], number: NDArray[np.integer]) -> list[NDArray[np.intp]]:
    """Cut ``rows`` into those of one number each, numbers ascending, the order within kept."""
    by_number = np.argsort(number, kind="stable")
    cuts = np.flatnonzero(np.diff(number[by_number])) + 1
    return np.split(rows[by_number], cuts) if len(rows) else []


def _inside_faces(upper: Surface, lower: Surface, touch: Floats, which: NDArray[np.int64]) -> Contact:
    """Contact where an arc passes through the inside of both faces: its normal lies midway between theirs."""
    on_lower, on_upper = (told(upper, lower, touch, np.array([*which[:2], kind, 0, 0])) for kind in (0, 1))
    normal = on_lower.normal + on_upper.normal
    size = float(np.linalg.norm(normal))
    return on_upper._replace(kind=FACE_FACE, normal=normal / size if size > 0.0 else on_upper.normal)


def _widened(cells: Flags) -> Flags:
    """Cells and their eight neighbours."""
    wide = cells.copy()
    wide[1:] |= cells[:-1]
    wide[:-1] |= cells[1:]
    tall = wide.copy()
    tall[:, 1:] |= wide[:, :-1]
    tall[:, :-1] |= wide[:, 1:]
    return tall
