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
    # A scan has about one vertex to six corners: the first table holds that many, and it grows with the need.
    size = 1 << max(4, (len(points) // 3).bit_length())
    first, which, n = _hashed(bits, minus_zero, np.uint64(salt & 0xFFFFFFFFFFFFFFFF), size)
    return first[:n].copy(), which


@njit(cache=True, nogil=True)
def _slot_of(x, y, z, salt):  # type: ignore[no-untyped-def]
    """Three rounds of multiply and fold (odd constants from the golden ratio and its like)."""
    h = (np.uint64(x) ^ salt) * np.uint64(0x9E3779B97F4A7C15)
    h ^= h >> np.uint64(32)
    h = (h ^ np.uint64(y)) * np.uint64(0xC2B2AE3D27D4EB4F)
    h ^= h >> np.uint64(29)
    h = (h ^ np.uint64(z)) * np.uint64(0x165667B19E3779F9)
    return h ^ (h >> np.uint64(32))


@njit(cache=True, nogil=True)
def _hashed(bits, minus_zero, salt, size):  # type: ignore[no-untyped-def]
    """Open addressing with linear probing in a table that is never more than half full."""
    n = bits.shape[0]
    first = np.zeros(n, np.int64)
    which = np.zeros(n, np.int32)
    # The different points lie side by side, so that most comparisons stay in the cache.
    known = np.zeros((n, 3), bits.dtype)
    table = np.full(size, -1, np.int32)
    mask = np.uint64(size - 1)
    nothing = minus_zero ^ minus_zero
    one = np.uint64(1)
    count = 0
    for i in range(n):
        x, y, z = bits[i, 0], bits[i, 1], bits[i, 2]
        if x == minus_zero:
            x = nothing
        if y == minus_zero:
            y = nothing
        if z == minus_zero:
            z = nothing
        slot = _slot_of(x, y, z, salt) & mask
        k = table[slot]
        while k >= 0 and (known[k, 0] != x or known[k, 1] != y or known[k, 2] != z):
            slot = (slot + one) & mask
            k = table[slot]
        if k < 0:
            k = count
            table[slot] = k
            known[k, 0], known[k, 1], known[k, 2] = x, y, z
            first[k] = i
            count += 1
            if 2 * count > table.size:
                table = np.full(2 * table.size, -1, np.int32)
                mask = np.uint64(table.size - 1)
                for j in range(count):
                    slot = _slot_of(known[j, 0], known[j, 1], known[j, 2], salt) & mask
                    while table[slot] >= 0:
                        slot = (slot + one) & mask
                    table[slot] = j
        which[i] = k
    return first, which, count
