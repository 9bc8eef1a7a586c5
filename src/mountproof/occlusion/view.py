"""Occlusal views as arrays: what a picture of both arches needs, computed here so that no surface computes.

Both views are true, none is mirrored: the upper is seen from below with its incisors at the top, the lower from
above with its incisors at the bottom. So the patient's right is on the left of both pictures, both share one
scale and one span across, and opposing sites stand at the same distance from the left edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry.closing import ClosingMap
from mountproof.occlusion.contours import contour_lines, line_length
from mountproof.occlusion.raster import draw
from mountproof.occlusion.shade import NO_SURFACE as NO_SURFACE
from mountproof.occlusion.shade import blurred, shaded
from mountproof.teeth import Arch, along_arch_key, is_tooth

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
U8 = NDArray[np.uint8]

#: What the band raster holds where no band is shown.
NO_BAND = 255
SCALE_BAR_MM = 10.0

_MARGIN_MM = 5.0
_BESIDE_MM = 2.5
#: A pixel belongs to the front surface of the map when it is no farther from it than this along the arc.
_SAME_SURFACE_MM = 0.5
_SHORTEST_LINE_MM = 0.6
_TALLEST = 3
_SHORTEST_OUTLINE_MM = 2.0


class Frame(NamedTuple):
    """How a view lies on the plan: picture ``u`` (right) = u_from_z - z; ``v`` (down) = v_from_x + v_sign * x, mm.

    ``rows``, ``columns`` pixels of ``pixel_mm``; pixel (r, c) has its centre at v = (r + 1/2) pixel_mm.
    """

    arch: Arch
    u_from_z_mm: float
    v_from_x_mm: float
    v_sign: float
    rows: int
    columns: int
    pixel_mm: float


class Line(NamedTuple):
    """A polyline in picture mm: ``points_mm`` (k, 2) of (right, down); ``of`` the tooth or the band edge's rank."""

    of: int
    points_mm: F64


class ToothMark(NamedTuple):
    """Where a tooth's number goes, in picture mm (right, down).

    ``at_mm`` the middle of the occlusal table; ``beside_mm`` a place 2.5 mm outside the crown on the side of lip or
    cheek, where the number covers nothing.
    """

    tooth: int
    at_mm: tuple[float, float]
    beside_mm: tuple[float, float]


class OcclusalView(NamedTuple):
    """One arch as seen by a dentist, patient's right on the left.

    ``shade`` (h, w) uint8, 0 where there is no surface; ``tooth`` (h, w) int32; ``gap_mm`` (h, w) along closure,
    NaN where nothing opposes or the surface is hidden from its opponent; ``unknown`` (h, w) where a hole leaves
    it open; ``band`` (h, w) uint8 rank of the band, 255 for none; ``contours`` where the gap passes a band edge;
    ``outlines`` of teeth; ``marks`` their numbers' places; ``hole_border_mm`` (k, 2, 2) visible border edges in
    picture mm; ``sites_mm`` (j, 2) the given sites in picture mm.
    """

    frame: Frame
    shade: U8
    tooth: I32
    gap_mm: F64
    unknown: NDArray[np.bool_]
    band: U8
    contours: tuple[Line, ...]
    outlines: tuple[Line, ...]
    marks: tuple[ToothMark, ...]
    hole_border_mm: F64
    sites_mm: F64
    width_mm: float
    height_mm: float
    scale_bar_mm: float
    patient_right: str


def frames(
    upper_mm: F64,
    upper_faces: I32,
    upper_teeth: I32,
    lower_mm: F64,
    lower_faces: I32,
    lower_teeth: I32,
    *,
    columns: int,
) -> tuple[Frame, Frame]:
    """Return the frames of both views, of one width, scale and span across.

    Vertices (n, 3) mm in the program's frame, faces (m, 3), tooth per face (m,), of each arch; ``columns`` pixels.
    The pictures show the crowns with 5 mm around; where no face has a tooth, the whole arch.
    """
    boxes = []
    for v, f, t in ((upper_mm, upper_faces, upper_teeth), (lower_mm, lower_faces, lower_teeth)):
        shown = v[np.unique(f[t > 0])] if (t > 0).any() else v
        boxes.append((shown.min(axis=0), shown.max(axis=0)))
    z_low = min(b[0][2] for b in boxes) - _MARGIN_MM
    z_high = max(b[1][2] for b in boxes) + _MARGIN_MM
    longest = max(b[1][0] - b[0][0] for b in boxes) + 2 * _MARGIN_MM
    # Something far longer than it is wide is no arch; its picture stays a picture all the same.
    pixel = max(float(z_high - z_low) / columns, float(longest) / (_TALLEST * columns))
    made = []
    for arch, (low, high) in zip(("upper", "lower"), boxes, strict=True):
        rows = int(np.ceil((high[0] - low[0] + 2 * _MARGIN_MM) / pixel))
        start = float(high[0] + _MARGIN_MM) if arch == "upper" else float(_MARGIN_MM - low[0])
        made.append(Frame(arch, float(z_high), start, -1.0 if arch == "upper" else 1.0, rows, columns, pixel))  # type: ignore[arg-type]
    return made[0], made[1]


def to_picture(frame: Frame, points_mm: F64) -> F64:
    """Return (n, 2) picture mm (right, down) of points (n, 3) in the program's frame."""
    return np.stack(
        [frame.u_from_z_mm - points_mm[:, 2], frame.v_from_x_mm + frame.v_sign * points_mm[:, 0]], axis=1
    )


@njit(cache=True, nogil=True)
def _sample_map(height, place, phi, gap, unknown, out, open_):  # type: ignore[no-untyped-def]
    """Gap (mm of arc) of each pixel from the map: between four cells where all are known, else the nearest."""
    y_sign, u_from_z, v_from_x, v_sign, pixel, r0, z0, cell, same = place
    nr, nz = gap.shape
    for row in range(height.shape[0]):
        x = (v_sign) * ((row + 0.5) * pixel - v_from_x)
        for column in range(height.shape[1]):
            h = height[row, column]
            if not np.isfinite(h):
                continue
            y, z = y_sign * h, u_from_z - (column + 0.5) * pixel
            r = np.hypot(x, y)
            a, b = (r - r0) / cell - 0.5, (z - z0) / cell - 0.5
            i, j = int(np.rint(a)), int(np.rint(b))
            if i < 0 or j < 0 or i >= nr or j >= nz:
                continue
            here = np.arctan2(y, x)
            if unknown[i, j]:
                open_[row, column] = True
            i0, j0 = int(np.floor(a)), int(np.floor(b))
            near_phi, value = phi[i, j], gap[i, j]
            if i0 >= 0 and j0 >= 0 and i0 + 1 < nr and j0 + 1 < nz:
                s, t = a - i0, b - j0
                wa, wb, wc, wd = (1 - s) * (1 - t), (1 - s) * t, s * (1 - t), s * t
                g = wa * gap[i0, j0] + wb * gap[i0, j0 + 1] + wc * gap[i0 + 1, j0] + wd * gap[i0 + 1, j0 + 1]
                if np.isfinite(g):
                    value = g
                    near_phi = (
                        wa * phi[i0, j0]
                        + wb * phi[i0, j0 + 1]
                        + wc * phi[i0 + 1, j0]
                        + wd * phi[i0 + 1, j0 + 1]
                    )
            if abs(near_phi - here) * r <= same:
                out[row, column] = value * r


@njit(cache=True, nogil=True)
def _boxes(tooth, box):  # type: ignore[no-untyped-def]
    """Fill ``box`` (numbers, 4) with the first and last row and column of each number."""
    for r in range(tooth.shape[0]):
        for c in range(tooth.shape[1]):
            t = tooth[r, c]
            if t > 0:
                box[t, 0] = min(box[t, 0], r)
                box[t, 1] = max(box[t, 1], r)
                box[t, 2] = min(box[t, 2], c)
                box[t, 3] = max(box[t, 3], c)


def _crops(tooth: I32) -> dict[int, tuple[slice, slice]]:
    """Return the part of the picture each tooth lies in, teeth in order along the arch."""
    box = np.zeros((int(tooth.max(initial=0)) + 1, 4), dtype=np.int64)
    box[:, [0, 2]] = max(tooth.shape)
    box[:, [1, 3]] = -1
    _boxes(tooth, box)
    found = [int(t) for t in np.flatnonzero(box[:, 1] >= 0)]
    found.sort(key=lambda t: along_arch_key(t) if is_tooth(t) else (2, t))
    return {
        t: (slice(int(box[t, 0]), int(box[t, 1]) + 1), slice(int(box[t, 2]), int(box[t, 3]) + 1))
        for t in found
    }


def _outlines(tooth: I32, crops: dict[int, tuple[slice, slice]], pixel_mm: float) -> tuple[Line, ...]:
    lines = []
    for number, (rows, columns) in crops.items():
        # A rim of six pixels, so that every outline closes; softened, so that it does not follow the pixels.
        part = np.pad(tooth[rows, columns] == number, 6).astype(np.float64)
        soft = blurred(part, np.ones(part.shape, dtype=np.bool_), 2)
        for line in contour_lines(soft, 0.5):
            placed = (line + np.array([columns.start - 5.5, rows.start - 5.5])) * pixel_mm
            if line_length(placed) >= _SHORTEST_OUTLINE_MM:
                lines.append(Line(number, placed))
    return tuple(lines)


def _marks(
    tooth: I32, crops: dict[int, tuple[slice, slice]], height: F64, pixel_mm: float
) -> tuple[ToothMark, ...]:
    found = []
    for number, (row_part, column_part) in crops.items():
        rows, columns = np.nonzero(tooth[row_part, column_part] == number)
        h = height[row_part, column_part][rows, columns]
        rows, columns = rows + row_part.start, columns + column_part.start
        table = h >= np.quantile(h, 0.98) - 3.0
        r, c = float(rows[table].mean()), float(columns[table].mean())
        if tooth[round(r), round(c)] != number:
            # The middle of a bent table can lie beside the tooth; the nearest pixel of it carries the number then.
            nearest = int(np.argmin((rows - r) ** 2 + (columns - c) ** 2))
            r, c = float(rows[nearest]), float(columns[nearest])
        found.append((number, r, c, rows, columns))
    marks = []
    for k, (number, r, c, rows, columns) in enumerate(found):
        out_r, out_c = _outwards([(q[1], q[2]) for q in found], k)
        reach = float(np.max((rows - r) * out_r + (columns - c) * out_c)) + _BESIDE_MM / pixel_mm
        beside = ((c + out_c * reach + 0.5) * pixel_mm, (r + out_r * reach + 0.5) * pixel_mm)
        marks.append(ToothMark(number, ((c + 0.5) * pixel_mm, (r + 0.5) * pixel_mm), beside))
    return tuple(marks)


def _outwards(middles: list[tuple[float, float]], k: int) -> tuple[float, float]:
    """Return the direction (down, right) square to the arch at tooth ``k``, away from its inside.

    ``middles`` (down, right) in order along the arch.
    """
    every = np.array(middles)
    before, after = every[max(k - 1, 0)], every[min(k + 1, len(every) - 1)]
    inner = np.array([np.median(every[:, 0]), 0.5 * (every[:, 1].min() + every[:, 1].max())])
    away = np.array([after[1] - before[1], before[0] - after[0]])
    length = float(np.hypot(*away))
    if length == 0.0:
        return 1.0, 0.0
    turn = (1.0 if float(away @ (every[k] - inner)) >= 0.0 else -1.0) / length
    return float(away[0]) * turn, float(away[1]) * turn


def _visible_border(frame: Frame, v: F64, height: F64, towards: float, border: I32) -> F64:
    if len(border) == 0:
        return np.zeros((0, 2, 2))
    ends = np.stack([to_picture(frame, v[border[:, k]]) for k in (0, 1)], axis=1)
    cell = np.floor(ends / frame.pixel_mm).astype(np.int64)
    inside = ((cell >= 0) & (cell < [frame.columns, frame.rows])).all(axis=(1, 2))
    keep = np.flatnonzero(inside)
    at = height[cell[keep, :, 1], cell[keep, :, 0]]
    level = towards * np.stack([v[border[keep, k], 1] for k in (0, 1)], axis=1)
    hidden = (at > level + _SAME_SURFACE_MM).any(axis=1)
    return ends[keep[~hidden]]


def occlusal_view(
    frame: Frame,
    vertices_mm: F64,
    faces: I32,
    teeth: I32,
    closing: ClosingMap | None,
    *,
    band_edges_mm: Sequence[float],
    closed_rad: float = 0.0,
    border: I32 | None = None,
    sites_mm: F64 | None = None,
) -> OcclusalView:
    """Compute one view.

    ``vertices_mm`` (n, 3) mm in the program's frame at the pose the map was made for; ``faces`` (m, 3); ``teeth``
    (m,) numbers; ``closing`` the map of both arches, None where there is one arch only; ``band_edges_mm`` upper
    limits of the bands, rising (band 0 is every gap up to the first, overlap included); ``closed_rad`` how much
    further the lower is closed than in the map (the picture of the arch itself stays); ``border`` (k, 2) vertex
    pairs of border edges; ``sites_mm`` (j, 3) points on this arch. ValueError for edges that do not rise.
    """
    edges = np.asarray(band_edges_mm, dtype=np.float64)
    if edges.ndim != 1 or edges.size == 0 or not (np.diff(edges) > 0).all():
        raise ValueError("band edges must rise")
    towards = 1.0 if frame.arch == "lower" else -1.0
    v = np.ascontiguousarray(vertices_mm, dtype=np.float64)
    f = np.ascontiguousarray(faces, dtype=np.int32)
    uv = to_picture(frame, v)
    half, last = 0.5 * frame.pixel_mm, frame.pixel_mm * (frame.columns - 0.5)
    bottom = frame.pixel_mm * (frame.rows - 0.5)
    slack = 0.25 * frame.pixel_mm  # so that the last column is not lost to rounding
    raster = draw(
        np.ascontiguousarray(uv[:, 0]),
        np.ascontiguousarray(uv[:, 1]),
        np.ascontiguousarray(towards * v[:, 1]),
        f,
        cell_mm=frame.pixel_mm,
        box_mm=(half, last + slack, half, bottom + slack),
    )
    seen = raster.face >= 0
    tooth = np.where(seen, teeth[np.maximum(raster.face, 0)], 0).astype(np.int32)
    shade = shaded(uv[:, 0], uv[:, 1], towards * v[:, 1], f, raster.height_mm, raster.face, frame.pixel_mm)
    gap = np.full(raster.height_mm.shape, np.nan)
    unknown = np.zeros(gap.shape, dtype=np.bool_)
    if closing is not None and closing.gap_rad.size:
        phi = closing.upper_phi if frame.arch == "upper" else closing.lower_phi
        place = (
            towards,
            frame.u_from_z_mm,
            frame.v_from_x_mm,
            frame.v_sign,
            frame.pixel_mm,
            closing.r0_mm,
            closing.z0_mm,
            closing.cell_mm,
            _SAME_SURFACE_MM,
        )
        _sample_map(raster.height_mm, place, phi, closing.gap_rad - closed_rad, closing.unknown, gap, unknown)
    crops = _crops(tooth)
    band = np.where(np.isfinite(gap) & (gap <= edges[-1]), np.searchsorted(edges, gap, side="left"), NO_BAND)
    contours = tuple(
        Line(i, placed)
        for i, edge in enumerate(edges)
        for line in contour_lines(gap, float(edge))
        if line_length(placed := (line + 0.5) * frame.pixel_mm) >= _SHORTEST_LINE_MM
    )
    return OcclusalView(
        frame,
        shade,
        tooth,
        gap,
        unknown,
        band.astype(np.uint8),
        contours,
        _outlines(tooth, crops, frame.pixel_mm),
        _marks(tooth, crops, raster.height_mm, frame.pixel_mm),
        _visible_border(
            frame, v, raster.height_mm, towards, np.zeros((0, 2), np.int32) if border is None else border
        ),
        np.zeros((0, 2)) if sites_mm is None else to_picture(frame, np.asarray(sites_mm, dtype=np.float64)),
        frame.columns * frame.pixel_mm,
        frame.rows * frame.pixel_mm,
        SCALE_BAR_MM,
        "left",
    )
