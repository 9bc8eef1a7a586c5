"""Where condyles, incisors and molars lie with each record in: small pictures at one scale, side view and from above."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.picture_data import Dots, Scatter
from mountproof.said import figure, say
from mountproof.surfaces.pictures import signs
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, key, wrapped

#: Picture (right, down) from (ahead, up, right): seen from the patient's right side, and from above, right on the left.
SIDE = np.array([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0]])
ABOVE = np.array([[0.0, 0.0, -1.0], [1.0, 0.0, 0.0]])
_ACROSS, _GAP = 4, 10.0
_LONGEST_NAME = 4


def scatter_plate(found: Scatter, speak: Speak) -> Plate:
    """Return the picture of compared records and their table."""
    names = tuple(speak(name) for name in found.names)
    short = (
        names if all(len(n) <= _LONGEST_NAME for n in names) else tuple(map(str, range(1, len(names) + 1)))
    )
    plate = Plate(
        "scatter",
        speak(say("Where the lower lies with each record in")),
        speak(_alt(found)),
        _table(found, names, short, speak),
    )
    reach = _reach_mm(found)
    lines = -(-len(found.dots) // _ACROSS)
    across = max(2, -(-len(found.dots) // lines))
    side = (WIDTH - (across - 1) * _GAP) / across
    scale = side / (2.0 * reach)
    y = 0.0
    for start in range(0, len(found.dots), across):
        row = found.dots[start : start + across]
        heads = [wrapped(speak(dots.name), side, SMALL) for dots in row]
        for k, head in enumerate(heads):
            for i, line in enumerate(head):
                at = (k * (side + _GAP) + side / 2.0, y + 8.0 + 16.0 * i)
                plate.word(at, line, look="bold", size=SMALL, anchor="middle")
        y += 16.0 * max(map(len, heads)) + 4.0
        for view, words in ((SIDE, say("from the patient's right side")), (ABOVE, say("from above"))):
            plate.word((0.0, y + 8.0), speak(words), look="quiet", size=SMALL)
            y += 18.0
            for k, dots in enumerate(row):
                _panel(plate, found, short, dots, view, (k * (side + _GAP), y), side, scale, speak)
            y += side + 8.0
    plate.height = _foot(plate, found, names, short, reach, scale, y + 8.0, speak)
    return plate


def axes(cov: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return the half axes (larger first, root of the eigenvalues) and the turn (rad) of the first, of (2, 2)."""
    values, vectors = np.linalg.eigh(cov)
    first = vectors[:, 1]
    low, high = np.sqrt(np.maximum(values, 0.0))
    return float(high), float(low), math.atan2(float(first[1]), float(first[0]))


def _reach_mm(found: Scatter) -> float:
    every = [float(np.abs(dots.places_mm).max(initial=0.0)) for dots in found.dots]
    usual = [2.0 * dots.usual_sd_mm for dots in found.dots if math.isfinite(dots.usual_sd_mm)]
    reach = max(1.3 * max(every, default=0.0), 1.12 * max(usual, default=0.0), 0.05)
    # Room for the doubt of a reading, unless that would make specks of everything else.
    return max(
        reach, min(1.05 * max((_doubt_mm(found, dots) for dots in found.dots), default=0.0), 2.0 * reach)
    )


def _doubt_mm(found: Scatter, dots: Dots) -> float:
    """Return how far from the middle the doubt of the record that is held reaches, along the axes."""
    if not np.isfinite(dots.reading_cov).all():
        return 0.0
    held = _held(found)
    centre = dots.places_mm[found.names.index(held)] if held in found.names else np.zeros(3)
    return float(np.max(np.abs(centre) + 2.0 * np.sqrt(np.maximum(np.diag(dots.reading_cov), 0.0))))


def _panel(
    plate: Plate,
    found: Scatter,
    short: tuple[str, ...],
    dots: Dots,
    view: NDArray[np.float64],
    corner: XY,
    side: float,
    scale: float,
    speak: Speak,
) -> None:
    x, y = corner
    middle = (x + side / 2.0, y + side / 2.0)
    plate.box(x, y, side, side, "panel")
    plate.line([(x, middle[1]), (x + side, middle[1])], "faint")
    plate.line([(middle[0], y), (middle[0], y + side)], "faint")
    if math.isfinite(dots.usual_sd_mm) and dots.usual_sd_mm > 0.0:
        plate.ring(middle, 2.0 * dots.usual_sd_mm * scale, "usual2")
        plate.ring(middle, dots.usual_sd_mm * scale, "usual1")
    if view is SIDE:
        plate.word((middle[0] + 4.0, y + 9.0), speak(say("up")), look="quiet", size=SMALL)
        plate.word(
            (x + side - 3.0, middle[1] - 9.0), speak(say("ahead")), look="quiet", size=SMALL, anchor="end"
        )
    else:
        plate.word((x + 4.0, middle[1] - 9.0), speak(say("R")), look="bold", size=SMALL)
        plate.word((x + side - 4.0, middle[1] - 9.0), speak(say("L")), look="bold", size=SMALL, anchor="end")
        plate.word((middle[0] + 4.0, y + side - 9.0), speak(say("ahead")), look="quiet", size=SMALL)
    seen = dots.places_mm @ view.T * scale + np.array(middle)
    places = [(float(u), float(v)) for u, v in seen]
    centre = next((p for p, n in zip(places, found.names, strict=True) if n == _held(found)), middle)
    cov = view @ dots.reading_cov @ view.T
    if np.isfinite(cov).all():
        a, b, turn = axes(cov)
        spread = 2.0 * np.sqrt(np.maximum(np.diag(cov), 0.0)) * scale
        # What is wider than the picture would only draw over its neighbours.
        if 2.0 * a * scale > 0.5 and (np.abs(np.subtract(centre, middle)) + spread <= side / 2.0).all():
            plate.oval(centre, 2.0 * a * scale, max(2.0 * b * scale, 0.3), turn, "doubt")
    for at in places:
        plate.taken.append((at[0] - 7.0, at[1] - 7.0, at[0] + 7.0, at[1] + 7.0))
    for at, name in zip(places, found.names, strict=True):
        _sign(found, name)(plate, at)
    within = (x + 1.0, y + 1.0, x + side - 1.0, y + side - 1.0)
    for at, word in zip(places, short, strict=True):
        plate.label(at, word, within)


def _held(found: Scatter) -> str | None:
    return found.mounted or found.nearest


def _sign(found: Scatter, name: str) -> Callable[[Plate, XY], None]:
    if name == found.outlier:
        return signs.outlier
    if name == found.mounted:
        return signs.mounted
    return signs.nearest if name == found.nearest else signs.plain


def _foot(
    plate: Plate,
    found: Scatter,
    names: tuple[str, ...],
    short: tuple[str, ...],
    reach: float,
    scale: float,
    y: float,
    speak: Speak,
) -> float:
    bar = round_length(reach)
    plate.line([(0.0, y + 5.0), (0.0, y), (bar * scale, y), (bar * scale, y + 5.0)], "thick")
    words = say("{mm:g} mm, the same in all pictures; R patient's right, L patient's left", mm=bar)
    y = plate.lines((bar * scale + 10.0, y + 3.0), speak(words), WIDTH - bar * scale - 12.0, size=SMALL) + 6.0
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [(signs.plain, speak(say("record")))]
    for sign, name, what in (
        (signs.mounted, found.mounted, say("mounted")),
        (signs.outlier, found.outlier, say("stands out")),
        (signs.nearest, found.nearest, say("nearest the middle")),
    ):
        if name is not None and _sign(found, name) is sign:
            entries.append((sign, speak(say("{what}: {record}", what=what, record=name))))
    assumed = any(dots.usual_assumed for dots in found.dots)
    spread = say("usual spread of honest records, 1 and 2 SD")
    guess = say("usual spread of honest records, 1 and 2 SD, assumed")
    entries.append((signs.usual, speak(guess if assumed else spread)))
    if any(mark.look == "doubt" for mark in plate.marks):
        entries.append((signs.doubt, speak(say("doubt of one record's reading, 2 SD"))))
    y = key(plate, (0.0, y), entries)
    if short != names:
        listed = "; ".join(f"{s} {n}" for s, n in zip(short, names, strict=True))
        y = plate.lines((0.0, y), listed, WIDTH, look="quiet", size=SMALL)
    return y


def round_length(reach: float) -> float:
    """Return the largest of 1, 2, 5 times a power of ten that is not above half of ``reach``."""
    power = 10.0 ** math.floor(math.log10(reach / 2.0))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= reach / 2.0 * (1.0 + 1e-9))


def _alt(found: Scatter) -> str:
    return say(
        "{count} records at {points} places, from the side and from above. The table has the numbers.",
        count=len(found.names),
        points=len(found.dots),
    )


def _table(found: Scatter, names: tuple[str, ...], short: tuple[str, ...], speak: Speak) -> Grid:
    ways = (say("ahead"), say("up"), say("right"))
    columns = [speak(say("record"))]
    for dots in found.dots:
        columns += [speak(say("{point} {way}, mm", point=dots.name, way=way)) for way in ways]
    rows = []
    for i, name in enumerate(names):
        cells = [name if short == names else f"{short[i]}: {name}"]
        for dots in found.dots:
            cells += [speak(figure(float(v), "+.2f")) for v in dots.places_mm[i]]
        rows.append(tuple(cells))
    note = speak(say("Counted from the middle of the records; below zero: behind, below, to the left."))
    return Grid(speak(say("Records compared")), tuple(columns), tuple(rows), note)
