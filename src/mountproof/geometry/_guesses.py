"""Kernels that guess the closing of a motion from the contact of one like it (docs/theory/draws.md).

Both arches are taken for the plane in which they touch, and the motion to first order. A guess decides what is asked first; no
answer rests on one.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel
from mountproof.geometry._leaf_pairs import Room
from mountproof.geometry._pair_bounds import Frame
from mountproof.geometry._pair_contacts import _direction
from mountproof.geometry._pair_features import _gathered, _solved
from mountproof.geometry._parts import Part

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Numbers of a tangent: theta and closing at no motion, then what they lose with each of the five numbers of a motion.
TANGENT = 6


@kernel
def _tangents(
    up: Part,
    low: Part,
    frame: Frame,
    poses: Floats,
    told: Floats,
    chosen: Ints,
    closing: Floats,
    which: Ints,
    room: Room,
    out: Floats,
) -> None:
    """Write the tangent (k, 6) of the contact of each motion ``chosen`` (k,); infinite where there is none."""
    touch = room.touch
    n = room.corners.normal
    c = room.corners
    for at in range(chosen.shape[0]):
        k = chosen[at]
        for x in range(TANGENT):
            out[at, x] = 0.0
        out[at, 0] = np.inf
        if not closing[k] < np.inf:
            continue
        row = which[k]
        _gathered(up, low, row[0], row[1], row[2], room.points, 0)
        _solved(
            room.points, 0, row[0], poses, k, frame.tol, 4.0, c.face, c.normal, c.p, c.p1, c.q, c.q1, touch
        )
        known = _direction(up, low, row, poses, k, touch, room.points, c)
        r = math.sqrt(touch[1] * touch[1] + touch[2] * touch[2])
        across = (n[1] * touch[1] - n[0] * touch[2]) / r
        if not known or across == 0.0:
            continue
        beta = -(n[0] * touch[1] + n[1] * touch[2]) / (r * r * across)
        gamma = -n[2] / (r * across)
        # the place of the lower before closing, in the part's own frame
        phi = math.atan2(touch[2], touch[1]) - touch[0] - told[k, 5] - frame.phi
        cos = math.cos(phi)
        sin = math.sin(phi)
        y0 = r * cos - frame.rc
        y1 = r * sin
        y2 = touch[3] - frame.zc
        g0 = -sin / r - beta * cos
        g1 = cos / r - beta * sin
        g2 = -gamma
        out[at, 1] = g0
        out[at, 2] = g2
        out[at, 3] = y1 * g2 - y2 * g1
        out[at, 4] = y2 * g0 - y0 * g2
        out[at, 5] = y0 * g1 - y1 * g0
        out[at, 0] = touch[0] + told[k, 5]
        for x in range(5):
            out[at, 0] += out[at, 1 + x] * told[k, x]


@kernel
def _guessed(told: Floats, order: Ints, firsts: Ints, tangents: Floats, out: Floats) -> None:
    """Guess the closing of motions, in ``order`` from ``firsts[i]`` to the next by tangent ``i``; inf where it knows none."""
    for i in range(tangents.shape[0]):
        for q in range(firsts[i], firsts[i + 1]):
            k = order[q]
            guess = tangents[i, 0] - told[k, 5]
            for x in range(5):
                guess -= tangents[i, 1 + x] * told[k, x]
            out[k] = guess if guess < np.inf else np.inf
