"""Connected patches of cells of a map."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

I32 = NDArray[np.int32]
Flags = NDArray[np.bool_]


@njit(cache=True, nogil=True)
def _patches(mask, out):  # type: ignore[no-untyped-def]
    rows, columns = mask.shape
    stack = np.zeros((rows * columns, 2), dtype=np.int32)
    count = 0
    for r in range(rows):
        for c in range(columns):
            if not mask[r, c] or out[r, c] >= 0:
                continue
            out[r, c] = count
            stack[0, 0], stack[0, 1] = r, c
            size = 1
            while size > 0:
                size -= 1
                i, j = stack[size, 0], stack[size, 1]
                for u in range(max(i - 1, 0), min(i + 2, rows)):
                    for v in range(max(j - 1, 0), min(j + 2, columns)):
                        if mask[u, v] and out[u, v] < 0:
                            out[u, v] = count
                            stack[size, 0], stack[size, 1] = u, v
                            size += 1
            count += 1
    return count


def patches(mask: Flags) -> tuple[I32, int]:
    """Return for each cell the number of its patch, -1 outside, and how many there are.

    ``mask`` (rows, columns) the cells that count. Cells touching by a corner are joined. Numbered by their first
    cell, row by row.
    """
    out = np.full(mask.shape, -1, dtype=np.int32)
    return out, int(_patches(mask, out))


@njit(cache=True, nogil=True)
def _spread(label, into):  # type: ignore[no-untyped-def]
    rows, columns = label.shape
    queue = np.zeros((rows * columns, 2), dtype=np.int32)
    head, tail = 0, 0
    for r in range(rows):
        for c in range(columns):
            if label[r, c] != 0:
                queue[tail, 0], queue[tail, 1] = r, c
                tail += 1
    while head < tail:
        i, j = queue[head, 0], queue[head, 1]
        head += 1
        for d in range(4):
            u = i + (1 if d == 0 else -1 if d == 1 else 0)
            v = j + (1 if d == 2 else -1 if d == 3 else 0)
            if 0 <= u < rows and 0 <= v < columns and into[u, v] and label[u, v] == 0:
                label[u, v] = label[i, j]
                queue[tail, 0], queue[tail, 1] = u, v
                tail += 1


def spread_labels(label: I32, into: Flags) -> I32:
    """Return ``label`` with its values carried into the unlabelled (0) cells of ``into``, nearest first."""
    out = label.copy()
    _spread(out, into)
    return out
