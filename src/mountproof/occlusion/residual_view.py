"""An occlusal view of one cast with how far a record stands off it, as arrays: what a picture of a fit needs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from mountproof.occlusion.contours import contour_lines, line_length
from mountproof.occlusion.view import NO_BAND, Line, OcclusalView, frames, occlusal_view, to_picture
from mountproof.teeth import Arch

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

_SHORTEST_LINE_MM = 1.0


def residual_view(
    arch: Arch,
    vertices_mm: F64,
    faces: I32,
    teeth: I32,
    residual_mm: F64,
    *,
    band_edges_mm: Sequence[float],
    sites_mm: F64,
    columns: int = 480,
) -> OcclusalView:
    """Return the view of a cast, its ``gap_mm`` the residual, ``unknown`` the parts of teeth where it is NaN.

    ``vertices_mm`` (n, 3) mm in the frame of the upper jaw; ``faces`` (m, 3); ``teeth`` (m,) numbers; ``residual_mm``
    (n,), above zero a gap; ``band_edges_mm`` rising; ``sites_mm`` (j, 3). ValueError for edges that do not rise.
    """
    pair = frames(vertices_mm, faces, teeth, vertices_mm, faces, teeth, columns=columns)
    frame = pair[0 if arch == "upper" else 1]
    seen = occlusal_view(
        frame, vertices_mm, faces, teeth, None, band_edges_mm=band_edges_mm, sites_mm=sites_mm
    )
    towards = 1.0 if arch == "lower" else -1.0
    gap = _at_pixels(
        frame.pixel_mm,
        seen.shade > 0,
        to_picture(frame, vertices_mm),
        towards * vertices_mm[:, 1],
        faces,
        residual_mm,
    )
    edges = np.asarray(band_edges_mm, dtype=np.float64)
    inside = np.isfinite(gap) & (gap <= edges[-1])
    band = np.where(inside, np.searchsorted(edges, gap, side="left"), NO_BAND).astype(np.uint8)
    contours = tuple(
        Line(rank, placed)
        for rank, edge in enumerate(edges)
        for line in contour_lines(gap, float(edge))
        if line_length(placed := (line + 0.5) * frame.pixel_mm) >= _SHORTEST_LINE_MM
    )
    unknown = (seen.tooth > 0) & ~np.isfinite(gap)
    return seen._replace(gap_mm=gap, band=band, contours=contours, unknown=unknown)


def _at_pixels(
    pixel_mm: float, seen: NDArray[np.bool_], uv_mm: F64, height_mm: F64, faces: I32, values: F64
) -> F64:
    """Return the values (n,) of vertices at the pixels of the surface seen, between the three corners of a face."""
    from mountproof.occlusion.raster import draw

    rows, columns = seen.shape
    box = (0.5 * pixel_mm, pixel_mm * (columns - 0.25), 0.5 * pixel_mm, pixel_mm * (rows - 0.25))
    u, v = np.ascontiguousarray(uv_mm[:, 0]), np.ascontiguousarray(uv_mm[:, 1])
    f = np.ascontiguousarray(faces, dtype=np.int32)
    face = draw(u, v, np.ascontiguousarray(height_mm), f, cell_mm=pixel_mm, box_mm=box).face
    out = np.full(face.shape, np.nan)
    r, c = np.nonzero(face >= 0)
    a, b, d = f[face[r, c]].T
    pu, pv = (c + 0.5) * pixel_mm, (r + 0.5) * pixel_mm
    area = (u[b] - u[a]) * (v[d] - v[a]) - (u[d] - u[a]) * (v[b] - v[a])
    with np.errstate(divide="ignore", invalid="ignore"):
        wb = ((pu - u[a]) * (v[d] - v[a]) - (u[d] - u[a]) * (pv - v[a])) / area
        wd = ((u[b] - u[a]) * (pv - v[a]) - (pu - u[a]) * (v[b] - v[a])) / area
    wb, wd = np.clip(wb, 0.0, 1.0), np.clip(wd, 0.0, 1.0)
    out[r, c] = (1.0 - wb - wd) * values[a] + wb * values[b] + wd * values[d]
    return out
