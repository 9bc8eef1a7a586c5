"""Kernels that put faces in an order in which each half of them lies together."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True, error_model="numpy")
def _select(keys: Floats, order: Ints, first: int, last: int, middle: int) -> None:
    """Reorder ``order[first:last]`` so that the place ``middle`` divides smaller keys from larger ones."""
    lo = first
    hi = last - 1
    while lo < hi:
        pivot = keys[order[(lo + hi) >> 1]]
        i = lo
        j = hi
        while i <= j:
            while keys[order[i]] < pivot:
                i += 1
            while keys[order[j]] > pivot:
                j -= 1
            if i <= j:
                kept = order[i]
                order[i] = order[j]
                order[j] = kept
                i += 1
                j -= 1
        if middle <= j:
            hi = j
        elif middle >= i:
            lo = i
        else:
            return


@njit(cache=True, nogil=True, error_model="numpy")
def _longest(places: Floats, order: Ints, first: int, last: int) -> int:
    """Along which axis the ``places`` (3, n) of ``order[first:last]`` reach farthest."""
    axis = 0
    widest = -1.0
    for k in range(3):
        low = np.inf
        high = -np.inf
        for j in range(first, last):
            x = places[k, order[j]]
            low = x if x < low else low
            high = x if x > high else high
        if high - low > widest:
            widest = high - low
            axis = k
    return axis


@njit(cache=True, nogil=True, error_model="numpy")
def _halved(vertices: Floats, faces: Ints, leaf_faces: int, row: int, order: Ints) -> None:
    """Write the order in which a heap of ``row`` leaves takes its faces: each node's are cut across their longest side.

    Leaves are filled in order, so the first child of a node is full before the second gets any. ``row``: a power of two.
    """
    n = faces.shape[0]
    middles = np.zeros((3, n))
    for i in range(n):
        order[i] = i
        for k in range(3):
            middles[k, i] = vertices[faces[i, 0], k] + vertices[faces[i, 1], k] + vertices[faces[i, 2], k]
    size = row * leaf_faces
    while size > leaf_faces:
        for first in range(0, n, size):
            last = min(first + size, n)
            middle = first + size // 2
            if middle >= last:
                continue
            _select(middles[_longest(middles, order, first, last)], order, first, last, middle)
        size //= 2
