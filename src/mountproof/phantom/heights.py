"""Heights of a mesh over the corners of an even grid: the lowest or the highest of what lies over each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def heights(v: Array, faces: NDArray[np.int32], x: Array, z: Array, *, lowest: bool) -> Array:
    """Return (p, q) y of the mesh over every corner of the grid ``x`` (p,), ``z`` (q,), both even; NaN where nothing is.

    Exact: each corner gets the height of the plane of a face that it lies over.
    """
    step = float(x[1] - x[0])
    tri = v[faces]
    lo, hi = tri.min(axis=1), tri.max(axis=1)
    i0 = np.ceil((lo[:, 0] - x[0]) / step).astype(int)
    i1 = np.floor((hi[:, 0] - x[0]) / step).astype(int)
    j0 = np.ceil((lo[:, 2] - z[0]) / step).astype(int)
    j1 = np.floor((hi[:, 2] - z[0]) / step).astype(int)
    i0, j0 = np.maximum(i0, 0), np.maximum(j0, 0)
    i1, j1 = np.minimum(i1, len(x) - 1), np.minimum(j1, len(z) - 1)
    wide, deep = i1 - i0 + 1, j1 - j0 + 1
    rows = np.flatnonzero((wide > 0) & (deep > 0))
    worst = np.inf if lowest else -np.inf
    out = np.full((len(x), len(z)), worst)
    if not len(rows):
        return np.full(out.shape, np.nan)
    count = wide[rows] * deep[rows]
    which = np.repeat(rows, count)
    nth = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    i = i0[which] + nth // deep[which]
    j = j0[which] + nth % deep[which]
    a, b, c = tri[which, 0], tri[which, 1], tri[which, 2]
    px, pz = x[i], z[j]
    area = (b[:, 0] - a[:, 0]) * (c[:, 2] - a[:, 2]) - (b[:, 2] - a[:, 2]) * (c[:, 0] - a[:, 0])
    with np.errstate(
        divide="ignore", invalid="ignore"
    ):  # a face seen edge on has no area, and covers no corner
        s = ((px - a[:, 0]) * (c[:, 2] - a[:, 2]) - (pz - a[:, 2]) * (c[:, 0] - a[:, 0])) / area
        t = ((b[:, 0] - a[:, 0]) * (pz - a[:, 2]) - (b[:, 2] - a[:, 2]) * (px - a[:, 0])) / area
    s, t = np.where(area == 0.0, -1.0, s), np.where(area == 0.0, -1.0, t)
    inside = (s >= -1e-12) & (t >= -1e-12) & (s + t <= 1.0 + 1e-12)
    y = a[:, 1] + s * (b[:, 1] - a[:, 1]) + t * (c[:, 1] - a[:, 1])
    (np.minimum if lowest else np.maximum).at(out, (i[inside], j[inside]), y[inside])
    return np.where(np.isfinite(out), out, np.nan)
