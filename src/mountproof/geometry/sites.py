"""Contact sites: the connected places that meet within a thickness, and the two gaps of each, named apart.

Foil of thickness t is held where the gap is at most t. The gap *along closure* is the arc that is left,
r times the angle; the gap *along the normal* is the distance between the surfaces, smaller on an
incline: 0.10 mm along the normal of a 35 degree incline are 0.12 mm along closure.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _sites
from mountproof.geometry._features import _triangle_pair
from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.contact import Contact, told
from mountproof.geometry.patches import patches
from mountproof.geometry.surface import Surface


class Site(NamedTuple):
    """One connected patch of the closing map within a thickness.

    ``contact``: its exact first contact (``closing_rad`` from the given pose). ``gap_mm``: arc left there after the closure
    asked for (negative: overlap). ``cells`` (k, 2): cells of the map; ``area_mm2``: their area in (r, z). ``unknown``: a
    border or hole of a scan touches the patch, so it may be larger, or meet earlier, than is seen.
    """

    contact: Contact
    gap_mm: float
    cells: NDArray[np.int32]
    area_mm2: float
    unknown: bool


class UnknownPlace(NamedTuple):
    """A connected place of which the map cannot say "no contact".

    ``cells`` (k, 2); ``area_mm2`` in (r, z); ``rim_gap_rad``: least gap known in it or right beside it (NaN: none): where it is
    near first contact, what the scan does not show could have met first.
    """

    cells: NDArray[np.int32]
    area_mm2: float
    rim_gap_rad: float


class CellContacts(NamedTuple):
    """What meets in each cell of a closing map, up to a threshold; made once, asked for any smaller one.

    ``gap_mm`` (nr, nz): the least gap known in the cell, along closure: of the first contacts of all pairs of faces
    that lie in it and of its centre; infinite where that is more than ``within_mm``. ``exact`` (nr, nz): whether a pair of
    faces gave it. ``found`` (nr, nz, 4), ``which`` (nr, nz, 5): that contact, for ``told``. ``upper_face``, ``lower_face``
    (nr, nz) int32: the faces that come closest, -1 for none.
    """

    closed_rad: float
    within_mm: float
    gap_mm: NDArray[np.float64]
    exact: NDArray[np.bool_]
    found: NDArray[np.float64]
    which: NDArray[np.int64]
    upper_face: NDArray[np.int32]
    lower_face: NDArray[np.int32]


def cell_contacts(
    upper: Surface, lower: Surface, chart: ClosingMap, *, closed_rad: float = 0.0, within_mm: float = 0.0
) -> CellContacts:
    """Return what meets in each cell after closing by ``closed_rad``, within ``within_mm`` along closure.

    ``chart``: the closing map of the same two surfaces. Raises ValueError for a threshold that is not finite or negative.
    """
    if not (math.isfinite(closed_rad) and math.isfinite(within_mm) and within_mm >= 0.0):
        raise ValueError(f"finite closure and thickness of at least 0 wanted, got {closed_rad}, {within_mm}")
    shape = chart.gap_rad.shape
    best = np.full(shape, np.inf)
    found = np.zeros((*shape, 4))
    which = np.full((*shape, 5), -1, dtype=np.int64)
    if chart.gap_rad.size:
        frame = np.array([chart.r0_mm, chart.z0_mm, chart.cell_mm])
        _sites._pairs_within(
            upper.tree, lower.tree, *upper.tolerances(lower), closed_rad, within_mm, frame, best, found, which
        )
    centre = chart.gap_mm(closed_rad)
    centre = np.where(np.isfinite(centre) & (centre <= within_mm), centre, np.inf)
    exact = np.isfinite(best)
    arc = np.full(shape, np.inf)
    arc[exact] = (best[exact] - closed_rad) * np.hypot(found[exact, 1], found[exact, 2])
    faces = [
        np.where(exact, which[..., k], of_centre).astype(np.int32)
        for k, of_centre in enumerate((chart.upper_face, chart.lower_face))
    ]
    return CellContacts(
        closed_rad, within_mm, np.minimum(arc, centre), exact, found, which, faces[0], faces[1]
    )


def sites_of(
    upper: Surface,
    lower: Surface,
    chart: ClosingMap,
    cells: CellContacts,
    *,
    within_mm: float | None = None,
    key: NDArray[np.int32] | None = None,
    leave_out: NDArray[np.bool_] | None = None,
) -> tuple[Site, ...]:
    """Return the sites in ``cells`` that lie within ``within_mm`` (all of them by default), earliest first.

    ``key`` (nr, nz) int32: only cells of one key hang together, and those of key 0 are left out; ``leave_out`` (nr, nz):
    cells that do not count. Raises ValueError for a threshold above that of ``cells``.
    """
    limit = cells.within_mm if within_mm is None else within_mm
    if limit > cells.within_mm:
        raise ValueError(f"these cells were asked for gaps up to {cells.within_mm} mm, not {limit}")
    marked = cells.gap_mm <= limit
    if key is not None:
        marked &= key != 0
    if leave_out is not None:
        marked &= ~leave_out
    of_cell, count = patches(marked, np.zeros(marked.shape, np.int32) if key is None else key)
    places = np.argwhere(marked).astype(np.int32)
    number = of_cell[marked]
    by_patch = np.argsort(number, kind="stable")
    ends = np.cumsum(np.bincount(number, minlength=count))
    near = _widened(chart.unknown)
    tol, _, _ = upper.tolerances(lower)
    sites = []
    for k in range(count):
        patch = places[by_patch[ends[k - 1] if k else 0 : ends[k]]]
        i, j = patch.T
        angle = np.where(cells.exact[i, j], cells.found[i, j, 0], np.inf)
        first = int(np.argmin(angle))
        at = (i[first], j[first])
        if cells.exact[at]:
            contact = told(upper, lower, cells.found[at], cells.which[at])
        else:
            contact = _of_centre(upper, lower, chart, patch, tol)
        r = math.hypot(float(contact.point_mm[0]), float(contact.point_mm[1]))
        sites.append(Site(contact, r * (contact.closing_rad - cells.closed_rad), patch,
                          len(patch) * chart.cell_mm**2, bool(near[i, j].any())))  # fmt: skip
    return tuple(
        sorted(sites, key=lambda s: (s.contact.closing_rad, s.contact.upper_face, s.contact.lower_face))
    )


def contact_sites(
    upper: Surface, lower: Surface, chart: ClosingMap, *, closed_rad: float = 0.0, within_mm: float = 0.0
) -> tuple[Site, ...]:
    """Return all sites that, after closing by ``closed_rad``, lie within ``within_mm`` along closure, earliest first.

    ``chart``: the closing map of the same two surfaces. A cell belongs to a site when the gap at its centre is within, or
    when the first contact of some pair of faces lies in it and is: so no site is lost between the
    centres, and each site's contact is exact. Raises ValueError for a threshold that is not finite or negative.
    """
    return sites_of(
        upper, lower, chart, cell_contacts(upper, lower, chart, closed_rad=closed_rad, within_mm=within_mm)
    )


def unknown_places(chart: ClosingMap) -> tuple[UnknownPlace, ...]:
    """Return the connected unknown places of a closing map, those with the least gap at their rim first."""
    label, count = patches(chart.unknown, np.zeros(chart.unknown.shape, dtype=np.int32))
    places = []
    for k in range(count):
        inside = label == k
        cells = np.argwhere(inside).astype(np.int32)
        gaps = chart.gap_rad[_widened(inside)]
        gaps = gaps[np.isfinite(gaps)]
        rim = float(gaps.min()) if len(gaps) else math.nan
        places.append(UnknownPlace(cells, len(cells) * chart.cell_mm**2, rim))
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


def _of_centre(
    upper: Surface, lower: Surface, chart: ClosingMap, patch: NDArray[np.int32], tol: float
) -> Contact:
    """Exact contact of the face pair at the patch's lowest centre; it lies in a cell of another patch."""
    i, j = patch.T
    k = int(np.nanargmin(chart.gap_rad[i, j]))
    a, b = int(chart.upper_face[i[k], j[k]]), int(chart.lower_face[i[k], j[k]])
    touch, feature = np.zeros(4), np.zeros(3, dtype=np.int64)
    _triangle_pair(
        upper.vertices_mm[upper.faces[a]], lower.vertices_mm[lower.faces[b]], tol, 4.0, touch, feature
    )
    return told(upper, lower, touch, np.array([a, b, *feature]))


def _widened(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Cells and their eight neighbours."""
    wide = cells.copy()
    wide[1:] |= cells[:-1]
    wide[:-1] |= cells[1:]
    tall = wide.copy()
    tall[:, 1:] |= wide[:, :-1]
    tall[:, :-1] |= wide[:, 1:]
    return tall
