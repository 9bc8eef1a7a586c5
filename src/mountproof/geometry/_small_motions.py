"""Kernels for small motions of the lower near one of its parts: what closing does is taken off, the rest is five numbers.

Motions are given in the part's frame: the hinge's, turned about z so that the part's middle c = (rc, 0, zc) lies in the plane
y = 0. N = Rz(-theta) M with theta such that N c has y = 0 too. Then N x = x + d + w x (x - c) + S (x - c), with
d = (d_r, 0, d_z), w the skew half of N - 1 and S the rest of it (docs/theory/draws.md).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._kernel import kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

#: Columns of what ``_told`` writes: d_r, d_z, w_r, w_phi, w_z, theta, |w|, |S|, |d|.
COLUMNS = 9


@kernel
def _sizes(motions: Floats, middle: Floats, tolerance: float, out: Floats) -> None:
    """Write how far each motion (k, 4, 4) turns (rad) and moves ``middle``, (k, 2); no number for one that is not rigid."""
    for k in range(motions.shape[0]):
        m = motions[k]
        good = m[3, 0] == 0.0 and m[3, 1] == 0.0 and m[3, 2] == 0.0 and m[3, 3] == 1.0
        chord2 = 0.0
        shift2 = 0.0
        for i in range(3):
            moved = m[i, 3] - middle[i]
            for j in range(3):
                one = 1.0 if i == j else 0.0
                off = m[0, i] * m[0, j] + m[1, i] * m[1, j] + m[2, i] * m[2, j] - one
                good = good and abs(off) <= tolerance
                chord2 += (m[i, j] - one) * (m[i, j] - one)
                moved += m[i, j] * middle[j]
            shift2 += moved * moved
        turned = (
            m[0, 0] * (m[1, 1] * m[2, 2] - m[1, 2] * m[2, 1])
            - m[0, 1] * (m[1, 0] * m[2, 2] - m[1, 2] * m[2, 0])
            + m[0, 2] * (m[1, 0] * m[2, 1] - m[1, 1] * m[2, 0])
        )
        # |R - 1| = 2 sqrt(2) sin(turn / 2)
        out[k, 0] = 2.0 * math.asin(min(math.sqrt(chord2 / 8.0), 1.0)) if good and turned > 0.0 else np.nan
        out[k, 1] = math.sqrt(shift2) if shift2 < np.inf else np.nan


@kernel
def _without_closing(m: Floats, cos: float, sin: float, rc: float, zc: float, n: Floats) -> float:
    """Write N (3 x 4) of a motion (4 x 4, hinge frame); ``cos``, ``sin`` of the part's phi. Return theta."""
    for i in range(3):
        n[i, 0] = m[i, 0] * cos + m[i, 1] * sin
        n[i, 1] = m[i, 1] * cos - m[i, 0] * sin
        n[i, 2] = m[i, 2]
        n[i, 3] = m[i, 3]
    for j in range(4):
        x = n[0, j]
        y = n[1, j]
        n[0, j] = cos * x + sin * y
        n[1, j] = cos * y - sin * x
    x = n[0, 0] * rc + n[0, 2] * zc + n[0, 3]
    y = n[1, 0] * rc + n[1, 2] * zc + n[1, 3]
    r = math.sqrt(x * x + y * y)
    c = x / r
    s = y / r
    for j in range(4):
        x1 = n[0, j]
        y1 = n[1, j]
        n[0, j] = c * x1 + s * y1
        n[1, j] = c * y1 - s * x1
    return math.atan2(y, x)


@njit(cache=True, nogil=True, error_model="numpy")
def _told(motions: Floats, cos: float, sin: float, rc: float, zc: float, out: Floats) -> None:
    """Write the numbers of ``COLUMNS`` for each motion (k, 4, 4)."""
    n = np.zeros((3, 4))
    for k in range(motions.shape[0]):
        theta = _without_closing(motions[k], cos, sin, rc, zc, n)
        row = out[k]
        row[0] = n[0, 0] * rc + n[0, 2] * zc + n[0, 3] - rc
        row[1] = n[2, 0] * rc + n[2, 2] * zc + n[2, 3] - zc
        row[2] = 0.5 * (n[2, 1] - n[1, 2])
        row[3] = 0.5 * (n[0, 2] - n[2, 0])
        row[4] = 0.5 * (n[1, 0] - n[0, 1])
        row[5] = theta
        row[6] = math.sqrt(row[2] * row[2] + row[3] * row[3] + row[4] * row[4])
        a = n[0, 0] - 1.0
        b = n[1, 1] - 1.0
        c = n[2, 2] - 1.0
        d = 0.5 * (n[0, 1] + n[1, 0])
        e = 0.5 * (n[0, 2] + n[2, 0])
        f = 0.5 * (n[1, 2] + n[2, 1])
        row[7] = math.sqrt(a * a + b * b + c * c + 2.0 * (d * d + e * e + f * f))
        row[8] = math.sqrt(row[0] * row[0] + row[1] * row[1])


@kernel
def _smaller_first(
    keys: Floats, axis: int, order: Ints, first: int, last: int, pivot: float, equal: bool
) -> int:
    """Put the motions whose key of an axis is below ``pivot`` (``equal``: not above) in front; return the first of the others.

    Every motion is exchanged, wanted or not: a branch that nobody can foretell would cost more.
    """
    i = first
    for j in range(first, last):
        x = keys[axis, j]
        y = keys[1 - axis, j]
        kept = order[j]
        keys[axis, j] = keys[axis, i]
        keys[1 - axis, j] = keys[1 - axis, i]
        order[j] = order[i]
        keys[axis, i] = x
        keys[1 - axis, i] = y
        order[i] = kept
        i += 1 if (x < pivot or (equal and x == pivot)) else 0
    return i


@kernel
def _parted(keys: Floats, axis: int, order: Ints, first: int, last: int, middle: int) -> None:
    """Reorder motions so that the place ``middle`` divides smaller keys of an axis from larger ones; both keys move along."""
    while last - first > 1:
        a = keys[axis, first]
        b = keys[axis, (first + last) >> 1]
        c = keys[axis, last - 1]
        pivot = max(min(a, b), min(max(a, b), c))
        at = _smaller_first(keys, axis, order, first, last, pivot, False)
        if middle < at:
            last = at
        elif at > first:
            first = at
        else:  # none is smaller: those that are equal are out of the way
            first = _smaller_first(keys, axis, order, first, last, pivot, True)
            if middle < first:
                return


@kernel
def _gathered(keys: Floats, size: int, order: Ints, starts: Ints, ranges: Ints, boxes: Floats) -> None:
    """Gather motions into bunches of ``size`` that are alike in both ``keys`` (2, n), each bunch but one full.

    ``order`` and ``keys`` are put in their order, ``starts`` gets the first of each and the end. ``ranges`` (m, 2), ``boxes``
    (m, 4): room for as many halves as may wait.
    """
    ranges[0, 0] = 0
    ranges[0, 1] = order.shape[0]
    for k in range(2):
        boxes[0, 2 * k] = np.inf
        boxes[0, 2 * k + 1] = -np.inf
        for j in range(order.shape[0]):
            boxes[0, 2 * k] = min(boxes[0, 2 * k], keys[k, j])
            boxes[0, 2 * k + 1] = max(boxes[0, 2 * k + 1], keys[k, j])
    waiting = 1
    count = 0
    while waiting > 0:
        waiting -= 1
        first = ranges[waiting, 0]
        last = ranges[waiting, 1]
        if last - first <= size:
            starts[count] = first
            count += 1
            continue
        axis = 0 if boxes[waiting, 1] - boxes[waiting, 0] >= boxes[waiting, 3] - boxes[waiting, 2] else 1
        middle = first + size * ((last - first + 2 * size - 1) // (2 * size))
        _parted(keys, axis, order, first, last, middle)
        # the first half is taken up next, so that the starts come in order
        ranges[waiting, 0] = middle
        ranges[waiting + 1, 0] = first
        ranges[waiting + 1, 1] = middle
        for k in range(4):
            boxes[waiting + 1, k] = boxes[waiting, k]
        boxes[waiting, 2 * axis] = keys[axis, middle]
        boxes[waiting + 1, 2 * axis + 1] = keys[axis, middle]
        waiting += 2
    starts[count] = order.shape[0]


@kernel
def _laid(
    told: Floats, order: Ints, starts: Ints, lanes: NDArray[np.float32], thetas: Floats, about: Floats
) -> None:
    """Lay the five numbers of each motion into lanes (bunches, 5, lanes), and bound them over each bunch (bunches, 13).

    ``thetas`` (bunches, lanes): of each motion. ``about``: five middles, five half widths, largest |w|, |S|, |d|.
    """
    for bunch in range(about.shape[0]):
        first = starts[bunch]
        row = about[bunch]
        for c in range(5):
            row[c] = np.inf
            row[5 + c] = -np.inf
        for c in range(3):
            row[10 + c] = 0.0
        for lane in range(starts[bunch + 1] - first):
            k = order[first + lane]
            thetas[bunch, lane] = told[k, 5]
            for c in range(5):
                x = told[k, c]
                lanes[bunch, c, lane] = np.float32(x)
                row[c] = min(row[c], x)
                row[5 + c] = max(row[5 + c], x)
            for c in range(3):
                row[10 + c] = max(row[10 + c], told[k, 6 + c])
        for c in range(5):
            low = row[c]
            high = row[5 + c]
            row[c] = 0.5 * (low + high)
            row[5 + c] = 0.5 * (high - low)
