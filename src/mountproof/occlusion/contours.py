"""Contour lines of a raster by marching squares, chained into polylines."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

F64 = NDArray[np.float64]


@njit(cache=True, nogil=True)
def _link(links, a, b):  # type: ignore[no-untyped-def]
    links[a, 0 if links[a, 0] < 0 else 1] = b
    links[b, 0 if links[b, 0] < 0 else 1] = a


@njit(cache=True, nogil=True)
def _links(z, level, links):  # type: ignore[no-untyped-def]
    """Join crossed grid edges within each cell; edge 2 (r w + c) runs along the row, + 1 along the column."""
    h, w = z.shape
    for r in range(h - 1):
        for c in range(w - 1):
            a, b, d, e = z[r, c], z[r, c + 1], z[r + 1, c], z[r + 1, c + 1]
            if not np.isfinite(a + b + d + e):
                continue
            ia, ib, id_, ie = a > level, b > level, d > level, e > level
            if ia == ib and ib == id_ and id_ == ie:
                continue
            top, left = 2 * (r * w + c), 2 * (r * w + c) + 1
            bottom, right = 2 * ((r + 1) * w + c), 2 * (r * w + c + 1) + 1
            if ia == ie and ib == id_ and ia != ib:
                # A saddle: the middle decides which corners hang together.
                if (0.25 * (a + b + d + e) > level) == ia:
                    _link(links, top, right)
                    _link(links, left, bottom)
                else:
                    _link(links, top, left)
                    _link(links, right, bottom)
                continue
            first = -1
            for k in range(4):
                crossed = (ia != ib, ib != ie, id_ != ie, ia != id_)[k]
                if crossed:
                    edge = (top, right, bottom, left)[k]
                    if first < 0:
                        first = edge
                    else:
                        _link(links, first, edge)


@njit(cache=True, nogil=True)
def _walk(z, level, links, points, starts):  # type: ignore[no-untyped-def]
    """Follow the links: open lines from their ends first, then rings; returns the number of lines."""
    w = z.shape[1]
    lines, at = 0, 0
    seen = np.zeros(links.shape[0], dtype=np.bool_)
    for rings in range(2):
        for start in range(links.shape[0]):
            if seen[start] or links[start, 0] < 0 or (rings == 0 and links[start, 1] >= 0):
                continue
            starts[lines] = at
            lines += 1
            edge, before = start, -1
            while edge >= 0:
                cell = edge // 2
                r, c = cell // w, cell % w
                if edge % 2 == 0:
                    t = (level - z[r, c]) / (z[r, c + 1] - z[r, c])
                    points[at, 0], points[at, 1] = c + t, r
                else:
                    t = (level - z[r, c]) / (z[r + 1, c] - z[r, c])
                    points[at, 0], points[at, 1] = c, r + t
                at += 1
                if seen[edge]:
                    break
                seen[edge] = True
                following = links[edge, 0] if links[edge, 0] != before else links[edge, 1]
                if before < 0 and rings == 1:
                    following = links[edge, 0]
                before, edge = edge, following
    starts[lines] = at
    return lines


def contour_lines(z: F64, level: float) -> tuple[F64, ...]:
    """Return the lines on which a raster passes ``level``.

    ``z`` (rows, columns) float64, NaN where nothing is known (no line is drawn through such a cell). Each line is
    (k, 2) of column and row, fractions of cells; a ring repeats its first point. Bilinear along the grid's edges.
    """
    whole = np.asarray(z, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        low = whole <= level
    rows, columns = np.flatnonzero(low.any(axis=1)), np.flatnonzero(low.any(axis=0))
    if rows.size == 0:
        return ()
    # A line runs beside cells at or below the level; the rest of the raster need not be read.
    r0, c0 = max(int(rows[0]) - 1, 0), max(int(columns[0]) - 1, 0)
    field = np.ascontiguousarray(whole[r0 : rows[-1] + 2, c0 : columns[-1] + 2])
    links = np.full((2 * field.size, 2), -1, dtype=np.int32)
    _links(field, level, links)
    n = int(np.count_nonzero(links[:, 0] >= 0))
    points, starts = np.zeros((2 * n + 2, 2)), np.zeros(n + 2, dtype=np.int64)
    lines = _walk(field, level, links, points, starts)
    offset = np.array([c0, r0], dtype=np.float64)
    return tuple(points[starts[i] : starts[i + 1]] + offset for i in range(lines))


def line_length(line: F64) -> float:
    """Return the length of a polyline (k, 2), in its own unit."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())
