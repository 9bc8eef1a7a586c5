"""The bands of the palette as paths: a fill and its pattern, cut to a box, so that they stay sharp at every size."""

from __future__ import annotations

import math

from mountproof.surfaces.palette import BANDS, HOLE
from mountproof.surfaces.pictures.plate import XY, Box, Plate

#: A pattern on a picture is set wider than in the print of an arch: its boxes are small and seen on a screen too.
_WIDER = 1.5
_UNITS_PER_MM = 96.0 / 25.4
#: How far the lines of what is assumed stand apart, units.
_ASSUMED = 6.0


def banded(plate: Plate, box: Box, rank: int) -> None:
    """Fill a box with a band of chance by its rank; a plain tooth where there is no such band."""
    _filled(plate, box, f"band{rank}" if rank < 4 else "tooth")
    if 0 < rank < 4:
        band = BANDS[rank]
        _lined(plate, box, band.pattern, band.pitch_mm * _WIDER * _UNITS_PER_MM, f"pattern{rank}")
    _filled(plate, box, "edge")


def unknown(plate: Plate, box: Box) -> None:
    """Fill a box as where a hole of a scan leaves the answer open."""
    _filled(plate, box, "hole")
    _lined(plate, box, HOLE.pattern, HOLE.pitch_mm * _WIDER * _UNITS_PER_MM, "holelines")
    _filled(plate, box, "edge")


def assumed(plate: Plate, box: Box) -> None:
    """Fill a box as what is assumed: an outline with lines, where what was measured is full."""
    _filled(plate, box, "hollow")
    _lined(plate, box, "lines", _ASSUMED, "hollowlines")


def pattern_path(box: Box, pattern: str, pitch: float) -> str:
    """Return a path of lines, crossed lines or dots inside a box; empty where the box is too small for one."""
    left, top, right, bottom = box
    if pattern in ("lines", "cross"):
        d = _rising(box, pitch)
        return d + _falling(box, pitch) if pattern == "cross" else d
    steps = (max(1, round((right - left) / pitch)), max(1, round((bottom - top) / pitch)))
    across, down = (right - left) / steps[0], (bottom - top) / steps[1]
    return "".join(
        f"M{left + (i + 0.5) * across:.1f} {top + (j + 0.5) * down:.1f}h.1"
        for j in range(steps[1])
        for i in range(steps[0])
    )


def middle_box(at: XY, wide: float, high: float) -> Box:
    """Return the box about a middle."""
    return at[0] - wide / 2.0, at[1] - high / 2.0, at[0] + wide / 2.0, at[1] + high / 2.0


def _filled(plate: Plate, box: Box, look: str) -> None:
    plate.box(box[0], box[1], box[2] - box[0], box[3] - box[1], look)


def _lined(plate: Plate, box: Box, pattern: str, pitch: float, look: str) -> None:
    d = pattern_path(box, pattern, pitch)
    if d:
        plate.path(d, look)


def _rising(box: Box, pitch: float) -> str:
    """Lines along which right plus down stays the same."""
    left, top, right, bottom = box
    step = pitch * math.sqrt(2.0)
    found = []
    for k in range(math.ceil((left + top) / step), math.floor((right + bottom) / step) + 1):
        c = k * step
        x0, x1 = max(left, c - bottom), min(right, c - top)
        if x1 - x0 > 0.5:
            found.append(f"M{x0:.1f} {c - x0:.1f}L{x1:.1f} {c - x1:.1f}")
    return "".join(found)


def _falling(box: Box, pitch: float) -> str:
    """Lines along which right less down stays the same."""
    left, top, right, bottom = box
    step = pitch * math.sqrt(2.0)
    found = []
    for k in range(math.ceil((left - bottom) / step), math.floor((right - top) / step) + 1):
        c = k * step
        x0, x1 = max(left, c + top), min(right, c + bottom)
        if x1 - x0 > 0.5:
            found.append(f"M{x0:.1f} {x0 - c:.1f}L{x1:.1f} {x1 - c:.1f}")
    return "".join(found)
