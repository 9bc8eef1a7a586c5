"""Vertices that are the same to the last bit become one; nothing else is touched."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from numba import njit

from mountproof.case.scans._scan import Ints


def same_vertices(points: npt.NDArray[Any], salt: int) -> tuple[npt.NDArray[np.int64], Ints]:
    """Find the points that are equal in every coordinate to the last bit (-0.0 and 0.0 are one number).

    ``points`` (n, 3) contiguous float32 or float64. Returns ``first`` (k,) the first index of each different
    point, in the order of appearance, and ``which`` (n,) int32 the different point each one is. ``salt``
    (any whole number, such as part of the file's digest) keeps a made-up file from slowing the table down;
    it has no influence on the result.
    """
    bits = points.view(np.uint32 if points.dtype == np.float32 else np.uint64)
    minus_zero = bits.dtype.type(1 << (31 if points.dtype == np.float32 else 63))
    size = 1 << max(4, int(2 * len(points) - 1).bit_length())
    first, which, n = _hashed(bits, minus_zero, np.uint64(salt & 0xFFFFFFFFFFFFFFFF), size)
    return first[:n].copy(), which


@njit(cache=True, nogil=True)
def _hashed(bits, minus_zero, salt, size):  # type: ignore[no-untyped-def]
    """Open addressing with linear probing in a table that is never more than half full."""
    n = bits.shape[0]
    table = np.full(size, -1, np.int32)
    first = np.zeros(n, np.int64)
    which = np.zeros(n, np.int32)
    mask = np.uint64(size - 1)
    nothing = minus_zero ^ minus_zero
    count = 0
    for i in range(n):
        x, y, z = bits[i, 0], bits[i, 1], bits[i, 2]
        if x == minus_zero:
            x = nothing
        if y == minus_zero:
            y = nothing
        if z == minus_zero:
            z = nothing
        # Three rounds of multiply and fold (odd constants from the golden ratio and its like).
        h = (np.uint64(x) ^ salt) * np.uint64(0x9E3779B97F4A7C15)
        h ^= h >> np.uint64(32)
        h = (h ^ np.uint64(y)) * np.uint64(0xC2B2AE3D27D4EB4F)
        h ^= h >> np.uint64(29)
        h = (h ^ np.uint64(z)) * np.uint64(0x165667B19E3779F9)
        h ^= h >> np.uint64(32)
        slot = h & mask
        while True:
            k = table[slot]
            if k < 0:
                table[slot] = count
                first[count] = i
                which[i] = count
                count += 1
                break
            j = first[k]
            a, b, c = bits[j, 0], bits[j, 1], bits[j, 2]
            if a == minus_zero:
                a = nothing
            if b == minus_zero:
                b = nothing
            if c == minus_zero:
                c = nothing
            if a == x and b == y and c == z:
                which[i] = k
                break
            slot = (slot + np.uint64(1)) & mask
    return first, which, count
