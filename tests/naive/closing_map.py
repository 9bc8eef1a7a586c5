"""The closing map by trying every face at every cell: no pruning, no rasters."""

from __future__ import annotations

import numpy as np

from naive.first_contact import angles_on_faces


def front_phi(r_mm, z_mm, vertices, faces, arch: str):
    """Angle of the lowest (upper arch) or highest (lower arch) face on the arc at each (r, z); NaN for none."""
    corners = np.asarray(vertices, float)[faces]
    out = np.full((len(r_mm), len(z_mm)), np.nan)
    for i, r in enumerate(r_mm):
        for j, z in enumerate(z_mm):
            met = angles_on_faces(np.array([r, 0.0, z]), corners)
            if len(met):
                out[i, j] = met.min() if arch == "upper" else met.max()
    return out


def vertex_gap_mm(points, vertices, faces, arch: str):
    """Arc from each point to the nearest face of the opposing ``arch`` (the upper closes nothing: it stands)."""
    corners = np.asarray(vertices, float)[faces]
    out = np.full(len(points), np.nan)
    for k, p in enumerate(points):
        met = angles_on_faces(p, corners)
        if len(met):
            out[k] = np.hypot(p[0], p[1]) * (met.min() if arch == "upper" else -met.max())
    return out
