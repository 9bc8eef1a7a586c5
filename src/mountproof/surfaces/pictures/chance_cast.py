"""The chance of each tooth to meet first, on the cast itself: crowns in bands, with number and chance."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from mountproof.answers.picture_data import ContactChances, ToothChance
from mountproof.occlusion.view import OcclusalView
from mountproof.said import say
from mountproof.surfaces.palette import BANDS, CHANCE_EDGES, chance_rank
from mountproof.surfaces.pictures.chances import band_key, known
from mountproof.surfaces.pictures.percent import short_percent
from mountproof.surfaces.pictures.plate import (
    SMALL,
    WIDTH,
    XY,
    Box,
    Grid,
    Image,
    Plate,
    Speak,
    Tooth,
    key,
    meet,
    word_box,
)
from mountproof.surfaces.report.raster import NO_BAND, as_png, paint
from mountproof.teeth import is_tooth

_TALLEST = 520.0
_UNIT_MM = 25.4 / 96.0


def cast_plate(chances: ContactChances, view: OcclusalView, speak: Speak, tooth: Tooth) -> Plate:
    """Return the picture of one arch as seen in the mouth, each crown in the band of its chance to meet first."""
    upper = view.frame.arch == "upper"
    title = (
        say("How likely each tooth is to meet first, on the upper cast seen from below")
        if upper
        else say("How likely each tooth is to meet first, on the lower cast seen from above")
    )
    here = {one.tooth: one for one in chances.teeth}
    told = [mark.tooth for mark in view.marks if mark.tooth in here]
    alt = say(
        "{title}, the patient's right on the left, each crown in a band of chance with its number and its chance. {count} teeth "
        "are shown.",
        title=title,
        count=len(told),
    )
    name = "cast-upper" if upper else "cast-lower"
    plate = Plate(name, speak(title), speak(alt), Grid("", (), ()))
    scale = min(WIDTH / view.width_mm, _TALLEST / view.height_mm)
    wide, high = view.width_mm * scale, view.height_mm * scale
    left = (WIDTH - wide) / 2.0
    band = np.full(view.tooth.shape, NO_BAND, dtype=np.uint8)
    hole = np.zeros(view.tooth.shape, dtype=np.bool_)
    for number, one in here.items():
        crown = view.tooth == number
        if not known(one):
            hole |= crown
        elif chance_rank(one.first) < len(CHANCE_EDGES):
            band[crown] = chance_rank(one.first)
    pixels = paint(view.shade, band, BANDS[: len(CHANCE_EDGES)], wide * _UNIT_MM, unknown=hole)
    plate.image = Image(as_png(pixels), left, 0.0, wide, high)
    for line in view.outlines:
        plate.line(_thin(line.points_mm * scale, left), "outline")
    corner = 14.0 if upper else high - 14.0
    plate.word((left + 4.0, corner), speak(say("R patient's right")), look="bold")
    plate.word((left + wide - 4.0, corner), speak(say("patient's left L")), look="bold", anchor="end")
    _written(plate, view, here, (left, scale), (left, 0.0, left + wide, high), speak, tooth)
    entries = [(draw, speak(words)) for draw, words in band_key(bool(hole.any()))]
    plate.height = key(plate, (0.0, high + 16.0), entries)
    return plate


def _written(
    plate: Plate,
    view: OcclusalView,
    here: Mapping[int, ToothChance],
    place: tuple[float, float],
    within: Box,
    speak: Speak,
    tooth: Tooth,
) -> None:
    """Write chances on their crowns and numbers beside them; ``place``: left edge and units to the mm."""
    left, scale = place
    marks = [mark for mark in view.marks if is_tooth(mark.tooth)]
    for mark in marks:
        one = here.get(mark.tooth)
        if one is not None:
            at = (left + mark.at_mm[0] * scale, mark.at_mm[1] * scale)
            told = short_percent(one.first if known(one) else math.nan)
            words = say("{percent} %", percent=told) if known(one) else told
            plate.word(at, speak(words), look="bold", size=SMALL, anchor="middle")
    for mark in marks:
        at = (left + mark.beside_mm[0] * scale, mark.beside_mm[1] * scale)
        words = speak(tooth(mark.tooth))
        if any(meet(word_box(at, words, SMALL, "middle"), other) for other in plate.taken):
            plate.label(at, words, within)
        else:
            plate.word(at, words, size=SMALL, anchor="middle")


def _thin(points: np.ndarray, left: float) -> list[XY]:
    kept: list[XY] = []
    for x, y in points.tolist():
        if not kept or abs(x + left - kept[-1][0]) + abs(y - kept[-1][1]) >= 1.2:
            kept.append((x + left, y))
    return kept if len(kept) > 1 else [*kept, *kept]
