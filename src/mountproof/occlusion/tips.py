"""Tips of teeth."""

from __future__ import annotations

from typing import Final

import numpy as np

from mountproof.geometry.poses import Array
from mountproof.teeth import Arch

#: The tip of a tooth is the middle of this part of its outermost points: one alone may be a speck.
_TIP_SHARE: Final = 0.01


def tip(points_mm: Array, arch: Arch) -> Array:
    """Return the middle (3,) of the outermost points of a tooth, the lowest of an upper and the highest of a lower.

    ``points_mm`` (n, 3) in the frame of the upper jaw (y up), n at least 1.
    """
    count = max(1, round(_TIP_SHARE * len(points_mm)))
    down = points_mm[:, 1] if arch == "upper" else -points_mm[:, 1]
    middle: Array = points_mm[np.argpartition(down, count - 1)[:count]].mean(axis=0)
    return middle
