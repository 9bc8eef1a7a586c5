"""First contact of one pair of parts for many small motions of the lower (docs/theory/draws.md).

Motions come in bunches that are alike. For the most central one the first contact is searched (``_nearest``); what it
finds becomes a yardstick, and every corner, edge and face that may come before the yardstick at any motion of the bunch
is listed with a linear bound. Each motion then sees that short list only, in closed form. Where the yardstick was too
short for a motion, that motion is searched by itself: nothing rests on a guess.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._leaf_pairs import _overlaps
from mountproof.geometry._pair_bounds import Frame, _least
from mountproof.geometry._pair_features import _take
from mountproof.geometry._pair_lists import _bounded, _listed, _off_centre, _rest
from mountproof.geometry._pair_nearest import Room, _fresh_lid, _nearest
from mountproof.geometry._parts import Part
from mountproof.geometry._small_motions import _spread, _without_closing

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Room above the yardstick for what bends, mm of arc.
_MARGIN_MM = 0.003


@njit(cache=True, nogil=True, error_model="numpy")
def _bunches(
    up: Part,
    low: Part,
    frame: Frame,
    motions: Floats,
    poses: Floats,
    told: Floats,
    order: Ints,
    starts: Ints,
    count: int,
    first_rad: Floats,
    band_rad: float,
    room: Room,
    closing: Floats,
    which: Ints,
) -> None:
    """First contact of one pair of parts at every motion, as far as it is no later than ``first_rad`` + ``band_rad``.

    ``first_rad`` (n,): earliest contact known of any pair; lowered where this one is earlier. ``closing`` (n,): inf
    where there is none in the band. ``which`` (n, 5): as a row of ``Room.what``.
    """
    about = np.zeros(13)
    near = np.zeros(13)
    single = np.zeros(13)
    star = np.zeros(5)
    far = np.zeros(2)
    n = np.zeros((3, 4))
    m = np.zeros(5)
    other = np.zeros(5)
    alone = np.zeros(13)
    stamp = 0
    solved = 0
    warm = -1
    found = room.found
    best = room.best
    what = room.what
    points = room.points
    touch = room.touch
    corners = room.corners
    bounds = room.bounds
    sides = room.sides
    for bunch in range(count):
        first = starts[bunch]
        last = starts[bunch + 1]
        middle = _spread(told, order, first, last, about)
        cap = -np.inf
        for q in range(first, last):
            k = order[q]
            cap = max(cap, min(first_rad[k] + band_rad, 4.0) + told[k, 5])
        centre = told[middle]
        theta = centre[5]
        stamp += 1
        _fresh_lid(low.lids, low.balls, 0, frame, about, star, room.kept.lids, room.kept.lid_stamp, stamp)
        if _least(up.lids, 0, room.kept.lids, 0) > cap + frame.slack:
            continue
        for k in range(5):
            near[k] = about[k] - centre[k]
            near[5 + k] = about[5 + k]
            single[k] = centre[k]
            single[5 + k] = 0.0
        for k in range(3):
            single[10 + k] = centre[6 + k]
        _off_centre(told, centre, near, order, first, last)
        _without_closing(motions[middle], frame.cos, frame.sin, frame.rc, frame.zc, n)
        leaf_stamp = stamp
        stamp += 1
        found[0] = cap - theta
        best[0] = -1
        if last - first > 1:
            room.counts[4] += 1
            if warm >= 0:
                # what came first in the bunch before is a good guess here
                for k in range(5):
                    star[k] = -room.rows[1 + k, warm]
                _take(points, what, warm, poses, middle, frame.tol, corners, found, touch, best)
            _nearest(
                up, low, frame, poses, middle, theta, n, single, about, near, leaf_stamp, stamp, room, star
            )
        listed = -1
        level = np.inf
        lift = 0.0
        if best[0] < 0:
            for k in range(5):
                star[k] = 0.0
        else:
            for k in range(5):
                lift += star[k] * centre[k]
            level = found[0] + theta + _MARGIN_MM / frame.rc + frame.slack
        if last - first > 1 and (cap < 3.0 or level < np.inf):
            stamp += 1
            listed = _listed(
                up,
                low,
                frame,
                n,
                about,
                near,
                star,
                level,
                cap + frame.slack,
                lift,
                leaf_stamp,
                stamp,
                room,
                far,
            )
            room.counts[5] += max(listed, 0)
        warm = -1  # the list is another
        for q in range(first, last):
            k = order[q]
            row = told[k]
            limit = min(first_rad[k] + band_rad, 4.0)
            found[0] = limit
            best[0] = -1
            sure = False
            if listed >= 0:
                w2 = 0.0
                reach = level
                for c in range(5):
                    m[c] = row[c] - centre[c]
                    reach += star[c] * m[c]
                    if c >= 2:
                        w2 += m[c] * m[c]
                if listed > 0:
                    w = math.sqrt(w2)
                    s = _rest(w, row[7], centre)
                    eta = math.sqrt(m[0] * m[0] + m[1] * m[1]) + (w + s) * far[0]
                    turn = w + 1.4143 * eta / far[1]
                    bent = s * far[0] + 0.7072 * eta * eta / far[1]
                    _bounded(room.rows, listed, m, turn, bent, bounds)
                    if warm >= 0 and bounds[warm] <= found[0] + row[5] + frame.slack:
                        solved += 1
                        _take(points, what, warm, poses, k, frame.tol, corners, found, touch, best)
                    top = found[0] + row[5] + frame.slack
                    last_found = warm
                    for i in range(listed):
                        if (
                            bounds[i] <= top
                            and i != last_found
                            and _overlaps(sides, i, m, turn, bent + frame.wide)
                        ):
                            before = found[0]
                            solved += 1
                            _take(points, what, i, poses, k, frame.tol, corners, found, touch, best)
                            if found[0] < before:
                                top = found[0] + row[5] + frame.slack
                                warm = i
                # what is not listed lies above the yardstick, or above the band
                sure = min(found[0], limit) + row[5] <= reach - frame.slack
            if not sure:
                room.counts[6] += 1
                for c in range(5):
                    single[c] = row[c]
                    single[5 + c] = 0.0
                for c in range(3):
                    single[10 + c] = row[6 + c]
                _without_closing(motions[k], frame.cos, frame.sin, frame.rc, frame.zc, n)
                stamp += 2
                _nearest(
                    up, low, frame, poses, k, row[5], n, single, single, alone, stamp - 1, stamp, room, other
                )
            if best[0] >= 0:
                closing[k] = found[0]
                for c in range(5):
                    which[k, c] = best[c]
                first_rad[k] = min(first_rad[k], found[0])
            else:
                closing[k] = np.inf
    room.counts[7] += solved
