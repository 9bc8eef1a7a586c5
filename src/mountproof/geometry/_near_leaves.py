"""Which leaves of the lower can come near the upper at all."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._descent import Tree
from mountproof.geometry._tree import _floor_scale, _lowest

Floats = NDArray[np.float64]


@njit(cache=True, nogil=True, error_model="numpy")
def _near_leaves(up: Tree, low_boxes: Floats, low_row: int, leaves: int, margin: float) -> NDArray[np.bool_]:
    """Leaves of the lower that come within ``margin`` (mm, along closure and across) of the upper."""
    near = np.zeros(leaves, dtype=np.bool_)
    root = up.boxes[1]
    scale = np.zeros(2)
    _floor_scale(root, up.floor_side, scale)
    for leaf in range(leaves):
        box = low_boxes[low_row + leaf]
        r = math.sqrt(max(box[1], 0.0))
        q_wide = 2.0 * r * margin + margin * margin
        lowest = _lowest(up.floor, up.floor_side, root, scale, box, q_wide, margin)
        inner = math.sqrt(max(box[0], 0.0)) - margin
        if inner <= 0.0:
            near[leaf] = True
        else:
            near[leaf] = lowest - box[5] <= margin / inner
    return near
