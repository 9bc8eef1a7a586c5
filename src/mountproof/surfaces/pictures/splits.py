"""The split cast from above: gaps as numbers where they were read, and lines of equal gap of the plane through them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from mountproof.answers.picture_data import SplitPlane
from mountproof.said import figure, say
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Box, Grid, Plate, Speak
from mountproof.surfaces.pictures.scatter import round_length

F64 = NDArray[np.float64]
_MARGIN, _TALLEST = 64.0, 460.0


def split_plate(found: SplitPlane, name: str, speak: Speak) -> Plate:
    """Return the picture of one split cast and its table."""
    plate = Plate(
        name,
        speak(say("Split cast with {record}, from above", record=found.record)),
        speak(
            say(
                "The base seen from above, the patient's right on the left, with {count} gaps in mm. The table has "
                "the numbers.",
                count=len(found.gaps_mm),
            )
        ),
        _table(found, speak),
    )
    others = np.array([(ahead, right) for _, ahead, right, _, _ in found.carried]).reshape(-1, 2)
    every = np.vstack([found.places_mm, others])
    low, high = every.min(axis=0), every.max(axis=0)
    span = np.maximum(high - low, 20.0)
    scale = float(min((WIDTH - 2 * _MARGIN) / span[1], (_TALLEST - 2 * _MARGIN) / span[0]))
    middle = (low + high) / 2.0
    height = float(span[0]) * scale + 2 * _MARGIN
    within = (0.0, 0.0, WIDTH, height)

    def at(ahead: float, right: float) -> XY:
        return WIDTH / 2.0 - (right - middle[1]) * scale, height / 2.0 + (ahead - middle[0]) * scale

    plate.box(0.0, 0.0, WIDTH, height, "panel")
    _outline(plate, found, at)
    plate.word((8.0, 14.0), speak(say("R patient's right")), look="bold", size=SMALL)
    plate.word((WIDTH - 8.0, 14.0), speak(say("patient's left L")), look="bold", size=SMALL, anchor="end")
    plate.word((WIDTH / 2.0, height - 12.0), speak(say("ahead")), look="quiet", size=SMALL, anchor="middle")
    dots = [at(float(a), float(r)) for a, r in found.places_mm]
    rest = [at(ahead, right) for _, ahead, right, _, _ in found.carried]
    plate.taken += [(x - 7.0, y - 7.0, x + 7.0, y + 7.0) for x, y in (*dots, *rest)]
    _levels(plate, found, middle, scale, within, speak)
    for spot, gap in zip(dots, found.gaps_mm, strict=True):
        plate.ring(spot, 4.5, "full")
        plate.label(spot, speak(figure(float(gap), ".2f")), within, look="bold")
    for spot, (words, _, _, gap, u) in zip(rest, found.carried, strict=True):
        plate.ring(spot, 4.5, "open")
        told = say("{place} {gap:+.2f} ± {twice:.2f}", place=words, gap=gap, twice=2 * u)
        plate.label(spot, speak(told), within)
    words = say("Full dots: gaps read (mm). Open dots: what the plane comes to there. Lines: equal gap, mm.")
    plate.height = plate.lines((0.0, height + 16.0), speak(words), WIDTH, look="quiet", size=SMALL)
    return plate


def _outline(plate: Plate, found: SplitPlane, at: object) -> None:
    places = np.asarray(found.places_mm, dtype=np.float64)
    try:
        ring = places[ConvexHull(places).vertices] if len(places) > 2 else places
    except QhullError:
        ring = places
    if len(ring) > 2:
        plate.line([at(float(a), float(r)) for a, r in ring], "tooth", closed=True)  # type: ignore[operator]


def _levels(plate: Plate, found: SplitPlane, middle: F64, scale: float, within: Box, speak: Speak) -> None:
    """Draw lines of equal gap across the picture, each with its number at the edge."""
    c0, ahead, right = (float(c) for c in found.plane)
    steep = math.hypot(ahead, right)
    if not math.isfinite(c0 + steep) or steep * (within[3] / scale) < 1e-3:
        return
    wide, high = within[2], within[3]
    # Gap as a plane on the picture: grows per unit to the right of it, and per unit down.
    per_x, per_y = -right / scale, ahead / scale
    start = c0 + ahead * middle[0] + right * middle[1] - per_x * wide / 2.0 - per_y * high / 2.0
    corners = [start + per_x * x + per_y * y for x in (0.0, wide) for y in (0.0, high)]
    step = round_length((max(corners) - min(corners)) / 2.5)
    for k in range(math.ceil(min(corners) / step), math.floor(max(corners) / step) + 1):
        ends = _crossing(start - k * step, per_x, per_y, wide, high)
        if len(ends) < 2 or math.dist(ends[0], ends[-1]) < 40.0:
            continue
        plate.line([ends[0], ends[-1]], "level")
        first = ends[0]
        towards = (ends[-1][0] - first[0], ends[-1][1] - first[1])
        length = math.hypot(*towards)
        spot = (first[0] + 30.0 * towards[0] / length, first[1] + 30.0 * towards[1] / length)
        plate.label(spot, speak(figure(k * step, ".12g")), within, look="quiet")


def _crossing(start: float, per_x: float, per_y: float, wide: float, high: float) -> list[XY]:
    """Return where the line of zero of ``start + per_x x + per_y y`` meets the border of the picture."""
    found: list[XY] = []
    if per_y:
        found += [(x, y) for x in (0.0, wide) if 0.0 <= (y := -(start + per_x * x) / per_y) <= high]
    if per_x:
        found += [(x, y) for y in (0.0, high) if 0.0 <= (x := -(start + per_y * y) / per_x) <= wide]
    return sorted(set(found))


def _table(found: SplitPlane, speak: Speak) -> Grid:
    columns = (
        say("place"),
        say("ahead, mm"),
        say("right, mm"),
        say("gap, mm"),
        say("standard uncertainty, mm"),
    )
    rows = [
        (speak(say("read {k}", k=k + 1)), *(speak(figure(float(v), how)) for v, how in cells))
        for k, cells in enumerate(
            ((a, ".0f"), (r, ".0f"), (g, ".2f"), (u, ".2f"))
            for (a, r), g, u in zip(found.places_mm, found.gaps_mm, found.u_mm, strict=True)
        )
    ]
    for words, ahead, right, gap, u in found.carried:
        numbers = ((ahead, ".0f"), (right, ".0f"), (gap, "+.2f"), (u, ".2f"))
        rows.append((speak(words), *(speak(figure(v, how)) for v, how in numbers)))
    return Grid(speak(say("Gaps of the split cast")), tuple(speak(c) for c in columns), tuple(rows))
