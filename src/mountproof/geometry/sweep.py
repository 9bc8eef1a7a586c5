"""What overlaps and what stays open as two arches close about the hinge, part by part, at many closing angles at once.

In (r, z, phi) closing is a shift in phi: at the closing angle t the arches overlap wherever the gap is below t, by the arc
r (t - gap). One closing map therefore tells every angle. Derivation and what the numbers are good for:
docs/theory/change.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _arcs
from mountproof.geometry._sweep import (
    AREA,
    DEPTH,
    LOWER,
    NORMAL,
    QUANTITIES,
    UPPER,
    VOLUME,
    Bodies,
    _least,
    _leaves_of_tiles,
    _overlaps,
    _space,
)
from mountproof.geometry.closing import ClosingMap, closing_map
from mountproof.geometry.contact import PairContact
from mountproof.geometry.patches import spread_labels
from mountproof.geometry.sites import unknown_places
from mountproof.geometry.surface import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]

#: Cells are cut in three, so that the middles of the wide ones are among those of the narrow ones.
_CUT: Final = 3
#: Wide cells along the side of a tile that is mapped more finely.
_TILE: Final = 12
#: Cells are cut no more often than this.
_MOST_CUTS: Final = 3
#: A surface may stand in a hole above its rim by this part of the hole's width: a roof of 45 degrees. Our choice.
_ROOF: Final = 0.5


class Sweep(NamedTuple):
    """Overlap of p pairs of parts at k closing angles.

    ``angles_rad`` (k,) rising. ``upper_labels``, ``lower_labels`` (p,): the parts of each pair. ``least_rad`` (p,): closing at
    which the pair first meets. ``depth_mm`` (p, k): deepest overlap along closure; ``normal_mm``: across the surfaces, to first
    order.
    ``area_mm2``: overlapping area seen along closure; ``upper_mm2``, ``lower_mm2``: of the surfaces themselves.
    ``volume_mm3``: of the overlap; ``volume_error_mm3``: what cells of this width may make of it. ``patch_mm2`` (p,):
    area that lies within the band of ``sweep`` of the place that meets first; ``fill_mm3`` (p, k): the space over that area until
    the pair meets. ``unknown_rad`` (p,): from this closing angle on a hole of a scan may hide more than is told
    (+inf: no hole there).
    """

    angles_rad: Floats
    upper_labels: Ints
    lower_labels: Ints
    least_rad: Floats
    depth_mm: Floats
    normal_mm: Floats
    area_mm2: Floats
    upper_mm2: Floats
    lower_mm2: Floats
    volume_mm3: Floats
    volume_error_mm3: Floats
    patch_mm2: Floats
    fill_mm3: Floats
    unknown_rad: Floats
    gap_mm: Floats


class PartSweep(NamedTuple):
    """The same of n parts of one arch, all their opponents together; see ``Sweep``. ``gap_mm`` (n, k): arc to the nearest."""

    angles_rad: Floats
    labels: Ints
    least_rad: Floats
    depth_mm: Floats
    normal_mm: Floats
    area_mm2: Floats
    true_mm2: Floats
    volume_mm3: Floats
    volume_error_mm3: Floats
    gap_mm: Floats
    fill_mm3: Floats
    unknown_rad: Floats


class _Arch(NamedTuple):
    surface: Surface
    labels: Ints
    part: Ints


def sweep(
    upper: Surface,
    lower: Surface,
    upper_labels: NDArray[np.integer],
    lower_labels: NDArray[np.integer],
    angles_rad: Sequence[float] | Floats,
    *,
    chart: ClosingMap | None = None,
    firsts: Sequence[PairContact] = (),
    within: float = 0.002,
    band_mm: float = 0.1,
) -> Sweep:
    """Return depth, area and volume of the overlap of each pair of parts, and the gap that is left, at every angle.

    ``upper_labels`` (m,), ``lower_labels`` (m',): one number per face, 0 for what is no part (its pairs are told too).
    ``angles_rad`` (k,): rising closings from the given pose. ``chart``: the closing map of the same two surfaces, made here
    when it is not given. ``firsts``: exact first contacts by pair, where they are known. Cells are cut in three until the volumes
    at the last angle are known to ``within`` (a part of the whole). ``band_mm``: how far above its first place a patch may lie
    that is filled to reach contact. ValueError when labels do not match faces or angles do not rise.
    """
    angles = np.ascontiguousarray(angles_rad, dtype=np.float64)
    if (
        angles.ndim != 1
        or not len(angles)
        or not (np.isfinite(angles).all() and (np.diff(angles) > 0.0).all())
    ):
        raise ValueError("finite closing angles that rise are wanted")
    up, low = _arch(upper, upper_labels), _arch(lower, lower_labels)
    chart = closing_map(upper, lower) if chart is None else chart
    shape = (len(up.labels), len(low.labels))
    least = np.full(shape, np.inf)
    _least(chart.gap_rad, chart.upper_face, chart.lower_face, chart.unknown, up.part, low.part, least)
    space = np.zeros((*shape, 3))
    _space(chart.gap_rad, chart.upper_face, chart.lower_face, chart.unknown, up.part, low.part, least,
           chart.r0_mm, chart.cell_mm, band_mm, space)  # fmt: skip
    sums, error = _refined(up, low, chart, angles, within)
    radius = np.divide(space[..., 1], space[..., 0], out=np.zeros(shape), where=space[..., 0] > 0.0)
    for first in firsts:
        u = int(np.searchsorted(up.labels, first.upper_label))
        w = int(np.searchsorted(low.labels, first.lower_label))
        r = math.hypot(float(first.contact.point_mm[0]), float(first.contact.point_mm[1]))
        least[u, w], radius[u, w] = first.contact.closing_rad, r
        deep = np.maximum(r * (angles - first.contact.closing_rad), 0.0)
        sums[u, w, :, DEPTH] = np.maximum(sums[u, w, :, DEPTH], deep)
        sums[u, w, :, NORMAL] = np.maximum(sums[u, w, :, NORMAL], deep * first.contact.rise)
    unknown = _unknown(up, low, chart, shape)
    fill = np.maximum(space[..., 2, None] - space[..., 1, None] * angles, 0.0)
    us, ws = np.nonzero(np.isfinite(least) | (unknown < np.inf))
    found = sums[us, ws]
    gap = np.maximum(radius[us, ws, None] * (least[us, ws, None] - angles), 0.0)
    fill = np.where(gap > 0.0, fill[us, ws], 0.0)
    nothing = ~np.isfinite(least[us, ws])
    gap[nothing], fill[nothing] = np.nan, np.nan
    return Sweep(
        angles, up.labels[us], low.labels[ws], np.where(nothing, np.nan, least[us, ws]), found[..., DEPTH], found[..., NORMAL],
        found[..., AREA], found[..., UPPER], found[..., LOWER], found[..., VOLUME], error[us, ws], space[us, ws, 0],
        fill, unknown[us, ws], gap,
    )  # fmt: skip


def by_part(found: Sweep, arch: Literal["upper", "lower"]) -> PartSweep:
    """Return a sweep for each part of one arch: depths are the greatest, areas and volumes the sums over its opponents.

    Parts numbered 0 are left out, as opponents too they count: what is no tooth can be in the way.
    """
    mine = found.upper_labels if arch == "upper" else found.lower_labels
    true = found.upper_mm2 if arch == "upper" else found.lower_mm2
    labels = np.unique(mine[mine != 0])
    rows = [np.flatnonzero(mine == label) for label in labels]
    k = len(found.angles_rad)

    def gathered(of: np.ufunc, values: Floats) -> Floats:
        made: Floats = np.array([of.reduce(values[r], axis=0) for r in rows]).reshape(
            len(rows), *values.shape[1:]
        )
        return made

    near = [r[np.argmin(np.where(np.isnan(found.least_rad[r]), np.inf, found.least_rad[r]))] for r in rows]
    fill = found.fill_mm3[near].reshape(len(rows), k)
    return PartSweep(
        found.angles_rad, labels, gathered(np.fmin, found.least_rad), gathered(np.maximum, found.depth_mm),
        gathered(np.maximum, found.normal_mm), gathered(np.add, found.area_mm2), gathered(np.add, true),
        gathered(np.add, found.volume_mm3), gathered(np.add, found.volume_error_mm3),
        gathered(np.fmin, found.gap_mm), fill, gathered(np.minimum, found.unknown_rad),
    )  # fmt: skip


def _arch(surface: Surface, labels: NDArray[np.integer]) -> _Arch:
    given = np.asarray(labels)
    if given.shape != (len(surface.faces),):
        raise ValueError(f"one label per face wanted ({len(surface.faces)}), got {given.shape}")
    least = int(given.min())
    there = np.bincount(given - least) > 0
    part = (np.cumsum(there, dtype=np.int32) - 1)[given - least]
    return _Arch(
        surface, (np.flatnonzero(there) + least).astype(np.int32), np.ascontiguousarray(part, dtype=np.int32)
    )


def _refined(
    up: _Arch, low: _Arch, chart: ClosingMap, angles: Floats, within: float
) -> tuple[Floats, Floats]:
    """Return the sums of finer and finer cells, and how far off the volumes may be.

    The midpoint rule errs by the square of the cell's width: from one cut to the next by a factor of nine, so an
    eighth of what the last cut changed is added, and told as the error.
    """
    shape = (len(up.labels), len(low.labels), len(angles), QUANTITIES)
    with np.errstate(invalid="ignore"):
        deep = (chart.gap_rad < angles[-1] + chart.cell_mm / max(chart.r0_mm, 1.0)) & ~chart.unknown
    wide = np.zeros(shape)
    change = np.zeros(shape[:3])
    tiles = _tiles(deep)
    if not len(tiles):
        return wide, change
    for i, j in tiles:
        here = (slice(i, i + _TILE), slice(j, j + _TILE))
        _overlaps(np.tan(chart.upper_phi[here]), chart.upper_face[here], np.tan(chart.lower_phi[here]), chart.lower_face[here],
                  chart.unknown[here], 1, chart.r0_mm + i * chart.cell_mm, chart.cell_mm, _bodies(up, low),
                  angles, wide)  # fmt: skip
    leaves = [_leaves_by_tile(arch.surface, chart, tiles) for arch in (up, low)]
    for cut in range(1, _MOST_CUTS + 1):
        sums = np.zeros(shape)
        for n, (i, j) in enumerate(tiles):
            _one_tile(up, low, chart, (int(i), int(j)), _CUT**cut, (leaves[0][n], leaves[1][n]), angles, sums)
        change = (sums[..., VOLUME] - wide[..., VOLUME]) / 8.0
        if np.abs(change[..., -1]).sum() <= within * sums[..., -1, VOLUME].sum():
            break
        wide = sums
    sums[..., VOLUME] = np.maximum(sums[..., VOLUME] + change, 0.0)
    return sums, np.abs(change)


def _bodies(up: _Arch, low: _Arch) -> Bodies:
    a, b = up.surface, low.surface
    return Bodies(a.vertices_mm, a.faces, b.vertices_mm, b.faces, up.part, low.part)


def _tiles(deep: Flags) -> NDArray[np.intp]:
    """Return the first cells (n, 2) of the tiles in which, or right beside which, something overlaps."""
    near = deep.copy()
    near[1:] |= deep[:-1]
    near[:-1] |= deep[1:]
    across = near.copy()
    near[:, 1:] |= across[:, :-1]
    near[:, :-1] |= across[:, 1:]
    columns, rows = (-(-n // _TILE) for n in deep.shape)
    padded = np.zeros((columns * _TILE, rows * _TILE), dtype=np.bool_)
    padded[: deep.shape[0], : deep.shape[1]] = near
    return np.argwhere(padded.reshape(columns, _TILE, rows, _TILE).any(axis=(1, 3))) * _TILE


def _leaves_by_tile(arch: Surface, chart: ClosingMap, tiles: NDArray[np.intp]) -> list[Ints]:
    """Return for each tile the leaves that may lie over it, those in front first."""
    order = np.arange(arch.leaves, dtype=np.int32)
    slots = np.full([-(-n // _TILE) for n in chart.gap_rad.shape], -1, dtype=np.int32)
    slots[tiles[:, 0] // _TILE, tiles[:, 1] // _TILE] = np.arange(len(tiles))
    starts = np.zeros(len(tiles) + 1, dtype=np.int32)
    place = (arch.boxes, arch.leaf_row, order, chart.r0_mm, chart.z0_mm, chart.cell_mm * _TILE, slots)
    _leaves_of_tiles(*place, starts, np.zeros(0, dtype=np.int32))
    found = np.zeros(max(int(starts[-1]), 1), dtype=np.int32)
    _leaves_of_tiles(*place, starts, found)
    boxes = arch.boxes[arch.leaf_row : arch.leaf_row + arch.leaves]
    front = boxes[:, 4] if arch.arch == "upper" else -boxes[:, 5]
    over = [found[a:b] for a, b in pairwise(starts)]
    return [leaves[np.argsort(front[leaves], kind="stable")] for leaves in over]


def _one_tile(
    up: _Arch, low: _Arch, chart: ClosingMap, first: tuple[int, int], cuts: int, leaves: tuple[Ints, Ints],
    angles: Floats, sums: Floats,
) -> None:  # fmt: skip
    """Map one tile in cells ``cuts`` times narrower than the map's and add what overlaps."""
    i, j = first
    columns, rows = min(_TILE, chart.gap_rad.shape[0] - i), min(_TILE, chart.gap_rad.shape[1] - j)
    r0, z0, cell = chart.r0_mm + i * chart.cell_mm, chart.z0_mm + j * chart.cell_mm, chart.cell_mm / cuts
    tol = up.surface.tolerances(low.surface)[0]
    above, below = (
        _front(arch.surface, (r0, z0, cell), (columns * cuts, rows * cuts), order, tol)
        for arch, order in zip((up, low), leaves, strict=True)
    )
    hidden = np.ascontiguousarray(chart.unknown[i : i + columns, j : j + rows])
    _overlaps(*above, *below, hidden, cuts, r0, cell, _bodies(up, low), angles, sums)


def _front(
    arch: Surface, frame: tuple[float, float, float], shape: tuple[int, int], order: Ints, tol: float
) -> tuple[Floats, Ints]:
    """Return slope (y / x) and face of the front of one arch over a tile whose first corner and cell are ``frame``."""
    lowest = arch.arch == "upper"
    slope = np.full(shape, np.inf if lowest else -np.inf)
    face = np.full(shape, -1, dtype=np.int32)
    _arcs._front(arch.vertices_mm, arch.tree_faces, arch.face_ids, arch.leaf_starts, arch.boxes, arch.leaf_row,
                 order, *frame, tol, lowest, slope, face)  # fmt: skip
    return slope, face


def _unknown(up: _Arch, low: _Arch, chart: ClosingMap, shape: tuple[int, int]) -> Floats:
    """Return the closing angle from which on a hole may hide an overlap of each pair; +inf where there is no hole."""
    unknown = np.full(shape, np.inf)
    if not chart.unknown.any():
        return unknown
    # Parts are numbered from 1 here, so that 0 stays "nothing": the nearest part is carried into a hole.
    above = spread_labels(
        np.where(chart.upper_face >= 0, up.part[chart.upper_face] + 1, 0).astype(np.int32), chart.unknown
    )
    under = spread_labels(
        np.where(chart.lower_face >= 0, low.part[chart.lower_face] + 1, 0).astype(np.int32), chart.unknown
    )
    for place in unknown_places(chart, (above > 0) & (under > 0)):
        i, j = place.cells.T
        width = chart.cell_mm * float(max(np.ptp(i), np.ptp(j)) + 1)
        radius = float(np.mean(chart.r_mm[i]))
        start = -math.inf if math.isnan(place.rim_gap_rad) else place.rim_gap_rad - _ROOF * width / radius
        np.minimum.at(unknown, (above[i, j] - 1, under[i, j] - 1), start)
    return unknown
