"""How places, gaps and teeth of the picture in space are said."""

from __future__ import annotations

from collections.abc import Sequence

from mountproof.answers.foils import written
from mountproof.case.model import Case
from mountproof.geometry.poses import Array
from mountproof.said import say

#: Gaps smaller than this are said as touching: half of the last decimal that is said.
_TOUCHING_MM = 0.0005


def gap_words(gap_mm: float) -> str:
    """Return a gap, an overlap or a touch as read."""
    if abs(gap_mm) < _TOUCHING_MM:
        return say("touching")
    if gap_mm < 0.0:
        return say("overlap {mm:.3f} mm", mm=-gap_mm)
    return say("{mm:.3f} mm", mm=gap_mm)


def place_words(point_mm: Array) -> str:
    """Return a place in the frame, ``point_mm`` (3,), as read: ahead of the hinge axis, above or below it, to which side."""
    x, y, z = (float(v) for v in point_mm)
    ahead = (
        say("{mm:.1f} mm ahead of the hinge", mm=x)
        if x >= 0.0
        else say("{mm:.1f} mm behind the hinge", mm=-x)
    )
    high = say("{mm:.1f} mm above", mm=y) if y >= 0.0 else say("{mm:.1f} mm below", mm=-y)
    if abs(z) < 0.05:
        side = say("in the midline")
    elif z > 0.0:
        side = say("{mm:.1f} mm to the patient's right", mm=z)
    else:
        side = say("{mm:.1f} mm to the patient's left", mm=-z)
    return say("{ahead}, {high}, {side}", ahead=ahead, high=high, side=side)


def tooth_words(case: Case, tooth: int) -> str:
    """Return a tooth (ISO 3950) as the case writes it, or that the place carries no number."""
    return written(case, tooth) if tooth else say("no tooth number")


def foil_words(gap_mm: float, foils_um: Sequence[float]) -> str:
    """Return the thinnest foil that a gap holds, or nothing."""
    held = [foil for foil in foils_um if gap_mm * 1000.0 <= foil]
    return say("{um:g} µm", um=min(held)) if held else ""
