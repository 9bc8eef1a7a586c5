"""The space map: bands of space on a tooth chart with a number at every tooth, and on the casts with contour lines."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from mountproof.answers.picture_data import SAME_MM, SpaceChart, SpaceTooth
from mountproof.occlusion.view import OcclusalView
from mountproof.said import capital, figure, joined, say
from mountproof.surfaces.palette import band_words
from mountproof.surfaces.pictures import patterns
from mountproof.surfaces.pictures.banded import band_column, corners, laid
from mountproof.surfaces.pictures.chances import LABELS, WIDE, across, row_head, sides
from mountproof.surfaces.pictures.plate import (
    SMALL,
    WIDTH,
    XY,
    Grid,
    Plate,
    Speak,
    Tooth,
    key,
    meet,
    word_box,
)
from mountproof.teeth import ARCHES, Arch, arch_of, is_tooth

#: Upper limits of the bands, mm; wider space is a plain tooth.
EDGES_MM: Final = (0.5, 1.0, 1.5, 2.0)
_BOX_WIDE, _BOX_HIGH = 30.0, 30.0
_PICTURE, _TALLEST = 500.0, 460.0
#: Contours shorter than this on the picture get no number, units, and at most so many numbers a picture.
_LONG, _MOST_NUMBERS = 34.0, 26
#: Bold lines run no wider than this, units.
_TEXT: Final = 0.92 * WIDTH


def space_plates(found: SpaceChart, speak: Speak, tooth: Tooth) -> tuple[Plate, ...]:
    """Return the chart of space, and with scans both occlusal views of it."""
    views: Sequence[OcclusalView] = getattr(found.views, "views", ())
    edges: Sequence[float] = getattr(found.views, "band_edges_mm", EDGES_MM)
    return (chart_plate(found, speak, tooth), *(cast_plate(found, one, edges, speak, tooth) for one in views))


def _rank(mm: float) -> int:
    return int(np.searchsorted(EDGES_MM, mm, side="left"))


def _at(found: SpaceChart) -> str:
    return say(
        "pin {mm:.1f} mm out from where the teeth touch, reading {reads:.1f}",
        mm=found.pin_mm,
        reads=found.pin_reads,
    )


def chart_plate(found: SpaceChart, speak: Speak, tooth: Tooth) -> Plate:
    """Return the tooth chart with the space at each tooth in bands and in mm, and what stays short."""
    title = say("Space at each tooth")
    alt = say(
        "Tooth chart, the patient's right on the left, space in bands and in mm. {short} The table has all teeth.",
        short=_short(found, tooth),
    )
    plate = Plate("space", speak(title), speak(alt), _table(found, speak, tooth))
    y = plate.lines((0.0, 6.0), speak(capital(_at(found))), _TEXT, size=SMALL) + 2.0
    y = plate.lines((0.0, y), speak(_short(found, tooth)), _TEXT, look="bold") + 8.0
    for arch in ARCHES:
        shown = [one for one in found.teeth if is_tooth(one.tooth) and arch_of(one.tooth) == arch]
        if shown:
            y = _rows(plate, shown, arch, y, speak, tooth)
    words = band_words(EDGES_MM)
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [
        (_sign(rank), w.long) for rank, w in enumerate(words)
    ]
    entries.append((_sign(len(words)), say("more than {mm:g} mm", mm=EDGES_MM[-1])))
    if found.short:
        entries.append((_short_sign, say("stays short of the wanted thickness")))
    y = key(plate, (0.0, y), [(draw, speak(text)) for draw, text in entries])
    how = (
        say("Across, from each tooth to the nearest place of the other arch, by the scans.")
        if found.exact
        else say("Upright, from places of teeth alone: cusps and the curve of the teeth count for nothing.")
    )
    plate.height = plate.lines((0.0, y), speak(how), WIDTH, look="quiet", size=SMALL)
    return plate


def _short(found: SpaceChart, tooth: Tooth) -> str:
    if not any(one.wanted_mm is not None for one in found.teeth):
        return say("No thickness is wanted: the space is told as it is.")
    if not found.short:
        return say("Every wanted thickness has its space.")
    told = [say("{tooth} by {mm:.2f} mm", tooth=tooth(one.tooth), mm=one.short_mm) for one in found.short]
    return say("Short of the wanted thickness: {teeth}.", teeth=joined(", ", told))


def _rows(
    plate: Plate, shown: Sequence[SpaceTooth], arch: Arch, y: float, speak: Speak, tooth: Tooth
) -> float:
    sides(plate, arch, y, speak)
    space, number, wanted = y + 30.0, y + 74.0, y + 94.0
    row_head(plate, space, say("space, mm"), speak)
    wants = any(one.wanted_mm is not None for one in shown)
    if wants:
        row_head(plate, wanted, say("wanted, mm"), speak, most=1)
    middle = LABELS + 8.0 * WIDE
    plate.line([(middle, y + 10.0), (middle, (wanted if wants else number) + 10.0)], "faint")
    for one in shown:
        x = across(one.tooth)
        patterns.banded(plate, patterns.middle_box((x, space), _BOX_WIDE, _BOX_HIGH), _rank(one.gap_mm))
        if one.short_mm > SAME_MM:
            plate.box(x - 14.0, space - 14.0, 28.0, 28.0, "frame")
        plate.word((x, space + 26.0), speak(_mm(one)), look="bold", size=SMALL, anchor="middle")
        plate.word((x, number), tooth(one.tooth), look="quiet", size=SMALL, anchor="middle")
        if one.wanted_mm is not None:
            plate.word((x, wanted), speak(figure(one.wanted_mm, ".1f")), size=SMALL, anchor="middle")
    return (wanted if wants else number) + 30.0


def _mm(one: SpaceTooth) -> str:
    return figure(one.gap_mm, ".1f") if math.isfinite(one.gap_mm) else say("–")


def _sign(rank: int) -> Callable[[Plate, XY], None]:
    return lambda plate, at: patterns.banded(plate, patterns.middle_box(at, 24.0, 16.0), rank)


def _short_sign(plate: Plate, at: XY) -> None:
    plate.box(at[0] - 10.0, at[1] - 8.0, 20.0, 16.0, "frame")


def cast_plate(
    found: SpaceChart, view: OcclusalView, edges_mm: Sequence[float], speak: Speak, tooth: Tooth
) -> Plate:
    """Return one occlusal view in bands of space, with numbers on the contour lines and the space at every tooth."""
    upper = view.frame.arch == "upper"
    title = (
        say("Space on the upper cast, seen from below")
        if upper
        else say("Space on the lower cast, seen from above")
    )
    here = {one.tooth: one for one in found.teeth}
    own = [one for one in found.teeth if is_tooth(one.tooth) and arch_of(one.tooth) == view.frame.arch]
    alt = say(
        "{title}, the patient's right on the left, in bands with contour lines and numbers. {short}",
        title=title,
        short=_short(found, tooth),
    )
    name = "space-upper" if upper else "space-lower"
    plate = Plate(name, speak(title), speak(alt), _table(found._replace(teeth=tuple(own)), speak, tooth))
    scale = min(_PICTURE / view.width_mm, _TALLEST / view.height_mm)
    wide, high = view.width_mm * scale, view.height_mm * scale
    laid(plate, view, len(edges_mm), scale, 0.0)
    corners(plate, view, scale, (0.0, wide, high), speak)
    _teeth(plate, view, here, scale, speak, tooth)
    _contour_numbers(plate, view, edges_mm, scale, speak)
    foot = band_column(plate, wide + 14.0, edges_mm, speak) + 10.0
    note = joined(
        ". ",
        (
            capital(_at(found)),
            say("Space across to the nearest place of the other arch, at each tooth the least."),
        ),
    )
    foot = plate.lines((wide + 14.0, foot), speak(note), WIDTH - wide - 14.0, look="quiet", size=SMALL)
    plate.height = max(high, foot)
    return plate


def _teeth(
    plate: Plate, view: OcclusalView, here: dict[int, SpaceTooth], scale: float, speak: Speak, tooth: Tooth
) -> None:
    """Write the number of every tooth beside it, and its space on it."""
    for mark in view.marks:
        if not is_tooth(mark.tooth):
            continue
        beside = (mark.beside_mm[0] * scale, mark.beside_mm[1] * scale)
        plate.word(beside, tooth(mark.tooth), look="quiet", size=SMALL, anchor="middle")
        one = here.get(mark.tooth)
        if one is not None:
            on = (mark.at_mm[0] * scale, mark.at_mm[1] * scale)
            words = speak(_mm(one))
            plate.word(on, words, look="bold", size=SMALL, anchor="middle")
            if one.short_mm > SAME_MM:
                plate.box(on[0] - 14.0, on[1] - 9.0, 28.0, 18.0, "frame")


def _contour_numbers(
    plate: Plate, view: OcclusalView, edges_mm: Sequence[float], scale: float, speak: Speak
) -> None:
    """Number the longest contour lines where nothing else is written."""
    lengths = [
        (float(np.sum(np.hypot(*np.diff(line.points_mm * scale, axis=0).T))), line) for line in view.contours
    ]
    told = 0
    for length, line in sorted(lengths, key=lambda one: -one[0]):
        if length < _LONG or told >= _MOST_NUMBERS:
            return
        words = speak(figure(edges_mm[line.of], ".1f"))
        points = line.points_mm * scale
        for part in (0.5, 0.25, 0.75):
            x, y = points[int(part * (len(points) - 1))].tolist()
            box = word_box((x, y), words, 9.0, "middle")
            if not any(meet(box, other) for other in plate.taken):
                plate.word((x, y), words, size=9.0, anchor="middle")
                told += 1
                break


def _table(found: SpaceChart, speak: Speak, tooth: Tooth) -> Grid:
    columns = (say("tooth"), say("space, mm"), say("± (95 %)"), say("wanted, mm"), say("short by, mm"))
    rows = []
    for one in found.teeth:
        wanted = "" if one.wanted_mm is None else figure(one.wanted_mm, ".2f")
        short = figure(one.short_mm, ".2f") if one.short_mm > SAME_MM else ""
        known = math.isfinite(one.gap_mm)
        gap = figure(one.gap_mm, ".2f") if known else say("nothing near opposes it")
        half = figure(1.96 * one.u_mm, ".2f") if known else ""
        rows.append((tooth(one.tooth), *(speak(cell) for cell in (gap, half, wanted, short))))
    return Grid(speak(say("Space, tooth by tooth")), tuple(speak(c) for c in columns), tuple(rows))
