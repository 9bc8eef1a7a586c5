"""A trial on a raster: two height fields about the hinge, nothing of meshes. Slow to refine, obviously right."""

from __future__ import annotations

import numpy as np


def rounds(r_mm, z_mm, phi_up, phi_low, goals, part_up=0.5):
    """Remove what overlaps at each goal (rad): closings after each round, and the volumes (mm3) that came off in it."""
    cell = (r_mm[1] - r_mm[0]) * (z_mm[1] - z_mm[0])
    up, low = phi_up.copy(), phi_low.copy()
    closings, volumes = [], []
    for goal in goals:
        over = np.nan_to_num(np.maximum(goal - (up - low), 0.0))
        up += part_up * over
        low -= (1.0 - part_up) * over
        volumes.append(float((over * r_mm[:, None]).sum() * cell))
        closings.append(float(np.nanmin(up - low)))
    return closings, volumes
