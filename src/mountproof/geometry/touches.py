"""Every pair of faces that is about to touch, as a gap along the normal that a small motion of the lower opens or closes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _sites
from mountproof.geometry._touch_rows import _rows
from mountproof.geometry.poses import Array
from mountproof.geometry.surface import Surface


class Touches(NamedTuple):
    """Pairs of faces near contact, one row each.

    ``gap_mm`` (n,): along the normal, negative: overlap; ``point_mm`` (n, 3): of the lower as it stands; ``normal`` (n, 3): unit,
    from the upper towards the lower, so that a motion ``u`` of the point changes the gap by ``normal . u``; ``faces`` (n, 2):
    numbers of the faces, upper and lower; ``arc_mm`` (n,): the gap along closure. The gap is that along closure times the
    cosine to the normal: exact where it is nothing, to first order elsewhere.
    """

    gap_mm: Array
    point_mm: Array
    normal: Array
    faces: NDArray[np.int64]
    arc_mm: Array

    def within(self, arc_mm: float) -> Touches:
        """Those that meet within a shorter arc of closing."""
        near = self.arc_mm <= arc_mm
        return Touches(
            self.gap_mm[near], self.point_mm[near], self.normal[near], self.faces[near], self.arc_mm[near]
        )


def touches_within(upper: Surface, lower: Surface, within_mm: float) -> Touches:
    """Return every pair of faces that meets within an arc of ``within_mm`` of closing about the hinge, overlaps too.

    ``lower`` at its present pose. Raises ValueError when the arches are swapped.
    """
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")
    every_up = np.ones(len(upper.faces), dtype=np.int32)
    every_low = np.ones(len(lower.faces), dtype=np.int32)
    found, which = _sites._pairs_within(
        upper.tree, lower.tree, *upper.tolerances(lower), 0.0, within_mm, every_up, every_low
    )
    return told(upper, lower, 0.0, found, which)


def told(
    upper: Surface, lower: Surface, closed_rad: float, found: Array, which: NDArray[np.int64]
) -> Touches:
    """Put what a search found of the lower as it stands into what is true once it has closed by an angle (rad).

    ``found`` (n, 8): rows of the search; ``which`` (n, 5): what of either arch meets in each.
    """
    out = np.zeros((len(found), 8))
    _rows(
        upper.rest_mm,
        upper.faces,
        upper.pose,
        lower.rest_mm,
        lower.faces,
        lower.pose,
        found,
        which,
        closed_rad,
        out,
    )
    return Touches(out[:, 0], out[:, 1:4], out[:, 4:7], which[:, :2], out[:, 7])
