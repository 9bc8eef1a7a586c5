"""Five bands of gap: one colour, one pattern and one rank each, the same on paper, on screen and in files.

The colours are five samples of the map *lapaz* of the Scientific colour maps (F. Crameri, 2018, version 8,
doi 10.5281/zenodo.1243862, MIT licence; Crameri, Shephard and Heron 2020, Nat Commun 11:5444), taken where its
CIELAB lightness is 22, 37, 52, 67 and 82, so that equal steps of band are equal steps of grey. The narrowest gap
is the darkest. The pattern carries the band where the colour is lost: on a grey print, a photocopy, a photograph.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.said import figure, say

Rgb = tuple[int, int, int]


class Band(NamedTuple):
    """One band: its colour, the ink of its pattern, and the pattern.

    ``pattern`` is ``solid``, ``cross``, ``lines``, ``dots`` or ``sparse``; ``pitch_mm`` is the distance from one
    line or dot to the next on paper, ``stroke_mm`` the width of the line or of the dot.
    """

    rgb: Rgb
    ink: Rgb
    pattern: str
    pitch_mm: float
    stroke_mm: float


#: From the narrowest gap to the widest.
BANDS: tuple[Band, ...] = (
    Band((34, 43, 121), (34, 43, 121), "solid", 1.0, 0.0),
    Band((46, 87, 149), (176, 196, 222), "cross", 0.85, 0.10),
    Band((78, 130, 163), (214, 226, 234), "lines", 0.75, 0.11),
    Band((159, 166, 150), (74, 80, 72), "dots", 0.80, 0.27),
    Band((227, 199, 176), (110, 84, 64), "sparse", 1.10, 0.20),
)

#: Where a hole of a scan leaves the gap unknown.
HOLE = Band((214, 214, 214), (90, 90, 90), "cross", 1.6, 0.12)
#: A tooth where no gap is shown, and the paper.
TOOTH: Rgb = (246, 244, 239)
PAPER: Rgb = (255, 255, 255)

#: Chances, the likeliest darkest: lower limits of the first four bands. What is less likely is a plain tooth.
CHANCE_EDGES: tuple[float, ...] = (0.5, 0.2, 0.05, 0.01)

#: Where this palette comes from, for files that carry it.
CITATION = say(
    "five samples of the map lapaz, Scientific colour maps 8 (Crameri 2018, doi 10.5281/zenodo.1243862)"
)


def hexadecimal(rgb: Rgb) -> str:
    """Return a colour as ``#rrggbb``."""
    return f"#{rgb[0]:02x}{rgb[1]:02x}{rgb[2]:02x}"


class BandWords(NamedTuple):
    """What a band means: ``long`` with its unit, ``short`` without, beside a title that names the ``unit``."""

    long: str
    short: str
    unit: str


def band_words(edges_mm: Sequence[float]) -> tuple[BandWords, ...]:
    """Return what each band means, from the upper limits of the bands (mm, rising, at most five)."""
    if not 0 < len(edges_mm) <= len(BANDS):
        raise ValueError(f"one to {len(BANDS)} bands are drawn, not {len(edges_mm)}")
    um = edges_mm[-1] < 1.0
    unit = "µm" if um else "mm"
    shown = [figure(edge * 1000.0 if um else edge, ".4g") for edge in edges_mm]
    first = BandWords(
        say("up to {limit} {unit}, touching included", limit=shown[0], unit=unit),
        say("up to {limit}", limit=shown[0]),
        unit,
    )
    rest = (
        BandWords(
            say("{low} to {high} {unit}", low=low, high=high, unit=unit),
            say("{low} to {high}", low=low, high=high),
            unit,
        )
        for low, high in pairwise(shown)
    )
    return (first, *rest)


def chance_rank(chance: float) -> int:
    """Return the band of a chance (0 to 1), the likeliest 0; as many as there are bands where it is below all of them."""
    return next((rank for rank, edge in enumerate(CHANCE_EDGES) if chance >= edge), len(CHANCE_EDGES))


def chance_words() -> tuple[str, ...]:
    """Return what each band of chance means, the likeliest first, and last what lies below them all."""
    shown = [figure(100.0 * edge, ".3g") for edge in CHANCE_EDGES]
    between = (say("{low} to {high} %", low=low, high=high) for high, low in pairwise(shown))
    return say("{low} % and more", low=shown[0]), *between, say("below {low} %", low=shown[-1])


def pattern_mask(band: Band, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return where the pattern of a band has ink.

    ``x_mm`` and ``y_mm`` are positions on paper in mm, any shapes that broadcast; back comes a bool array of
    that shape. Lines run at 45 degrees, so that no pattern lies along a printer's rows.
    """
    pitch, stroke = band.pitch_mm, band.stroke_mm
    diagonal = (x_mm + y_mm) / np.sqrt(2.0)
    across = (x_mm - y_mm) / np.sqrt(2.0)
    if band.pattern == "solid":
        return np.zeros(np.broadcast(x_mm, y_mm).shape, dtype=np.bool_)
    if band.pattern == "lines":
        lines: NDArray[np.bool_] = np.mod(diagonal, pitch) < stroke
        return lines
    if band.pattern == "cross":
        cross: NDArray[np.bool_] = (np.mod(diagonal, pitch) < stroke) | (np.mod(across, pitch) < stroke)
        return cross
    half = pitch / 2.0
    along, over = np.mod(diagonal, pitch) - half, np.mod(across, pitch) - half
    dots: NDArray[np.bool_] = along * along + over * over < (stroke / 2.0) ** 2
    return dots
