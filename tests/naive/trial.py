"""Trials told without meshes: on a raster of two height fields, and on plane inclines that are one number each."""

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


def inclines(gap_mm, rise, radius_mm, step_mm, holds_mm, end_rad, only_holding=True):
    """Plane inclines by tooth: ``gap_mm`` across at the start, ``rise`` of across over along, ``radius_mm`` from the hinge.

    Each round takes ``step_mm`` off every incline that holds, within ``holds_mm`` of arc of the first, and closes again; or else
    all comes off that would overlap when one of those that hold has come down by the step.
    Returns the rounds (who meets first, who holds, closing before it in rad) and what came off each tooth.
    """
    off = dict.fromkeys(gap_mm, 0.0)
    log = []
    while True:
        meets = {t: (gap_mm[t] + off[t]) / (rise[t] * radius_mm[t]) for t in gap_mm}
        first = min(meets, key=meets.get)
        if meets[first] >= end_rad:
            return log, off
        held = {t for t in meets if (meets[t] - meets[first]) * radius_mm[first] <= holds_mm}
        log.append((first, held, meets[first]))
        if only_holding:
            for tooth in held:
                off[tooth] += step_mm
        else:
            goal = min(meets[t] + step_mm / (rise[t] * radius_mm[t]) for t in held)
            off = {t: max(mm, rise[t] * radius_mm[t] * goal - gap_mm[t]) for t, mm in off.items()}
