"""The pictures of the sheet: both occlusal tables where there are scans, else the case's own lengths."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.result import Answer, Sheet
from mountproof.case.model import Case
from mountproof.said import say, term
from mountproof.surfaces.palette import BANDS, HOLE, band_words
from mountproof.surfaces.report.drawing import INK, SOFT, WHITE, XY, Picture
from mountproof.surfaces.report.lengths import lengths_pictures
from mountproof.surfaces.report.raster import as_svg, paint, swatch
from mountproof.surfaces.report.text import clean

if TYPE_CHECKING:
    from mountproof.occlusion.view import Line, OcclusalView

#: Room for one picture, mm wide.
_WIDTH_MM = 64.0
_SWATCH_MM = (5.0, 3.0)
#: Sites that get a number, and rows of the table beside them.
_MOST_SITES = 6
#: Points of a line nearer than this on paper are left out.
_FINEST_MM = 0.12
_TABLE_COLUMNS = 3


class _Files(NamedTuple):
    """Pictures by file name, as the template asks for them."""

    svg: dict[str, bytes]

    def add(self, name: str, pixels: NDArray[np.uint8]) -> str:
        self.svg[name] = as_svg(pixels)
        return name


def pictures(sheet: Sheet, case: Case, height_mm: float) -> tuple[dict[str, Any] | None, dict[str, bytes]]:
    """Return the pictures as data for the template, and the files they name; None where there is none.

    The views are taken from the evidence of the answer ``contacts``: ``views`` (upper, lower) and
    ``band_edges_mm``, the upper limits of the bands.
    """
    contacts = sheet.answers.get("contacts")
    views = getattr(contacts.evidence, "views", None) if contacts is not None else None
    if contacts is not None and views is not None:
        return _both_arches(contacts, views, tuple(contacts.evidence.band_edges_mm), height_mm)
    drawn = lengths_pictures(case, _WIDTH_MM, height_mm)
    if drawn is None:
        return None, {}
    left, right = drawn
    notes = [say("filled dots are marks on the upper cast, open dots on the lower.")]
    legend = {"title": say("Drawn from the entered lengths:"), "rows": [], "notes": notes}
    return {"left": left.as_data(), "right": right.as_data(), "legend": legend, "table": None}, {}


def _both_arches(
    contacts: Answer, views: Sequence[OcclusalView], edges_mm: tuple[float, ...], height_mm: float
) -> tuple[dict[str, Any], dict[str, bytes]]:
    files = _Files({})
    scale = min(
        *(_WIDTH_MM / view.width_mm for view in views), *(height_mm / view.height_mm for view in views)
    )
    drawn = []
    for view in views:
        pixels = paint(
            view.shade, view.band, BANDS[: len(edges_mm)], view.width_mm * scale, unknown=view.unknown
        )
        drawn.append(_arch(view, scale, files.add(f"{view.frame.arch}.svg", pixels)))
    upper, lower = drawn
    legend = _legend(edges_mm, any(bool(view.unknown.any()) for view in views), files)
    data = {
        "left": upper.as_data(),
        "right": lower.as_data(),
        "legend": legend,
        "table": _table(contacts),
    }
    return data, files.svg


def occlusal_picture(
    view: OcclusalView, edges_mm: Sequence[float], width_mm: float, tooth_words: Callable[[int], str] = str
) -> tuple[Picture, NDArray[np.uint8]]:
    """Return one occlusal view as it is printed, and the pixels that lie under its lines: (rows, columns, 3).

    ``edges_mm`` upper limits of the bands; ``width_mm`` width on paper; ``tooth_words`` writes a tooth (ISO 3950).
    """
    pixels = paint(view.shade, view.band, BANDS[: len(edges_mm)], width_mm, unknown=view.unknown)
    return _arch(view, width_mm / view.width_mm, "", tooth_words), pixels


def _arch(view: OcclusalView, scale: float, file: str, tooth_words: Callable[[int], str] = str) -> Picture:
    arch = str(view.frame.arch)
    width, height = view.width_mm * scale, view.height_mm * scale
    side = view.patient_right
    teeth = ", ".join(str(mark.tooth) for mark in view.marks)
    picture = Picture(
        title=_title(arch, side),
        alt=say(
            "{title}: occlusal table with the gap to the other arch in bands and {n} numbered sites. Teeth: {teeth}.",
            title=_title(arch, side),
            n=min(len(view.sites_mm), _MOST_SITES),
            teeth=teeth,
        ),
        width=width,
        height=height,
        file=file,
    )
    _lines(picture, view.outlines, scale, paint=SOFT, width_pt=0.35)
    _lines(picture, view.contours, scale, paint=INK, width_pt=0.3)
    for ends in view.hole_border_mm:
        picture.stroke(
            [(float(u) * scale, float(v) * scale) for u, v in ends], paint=INK, width_pt=0.9, dash="dotted"
        )
    # Between the two rows of back teeth, where the picture is emptiest.
    _scale_bar(picture, view.scale_bar_mm, scale, height * (0.86 if arch == "upper" else 0.14))
    right_first = ("R", "L") if side == "left" else ("L", "R")
    corner = 2.6 if arch == "upper" else height - 2.6
    for at, letter in zip((2.4, width - 2.4), right_first, strict=True):
        picture.word((at, corner), letter, weight="bold", size_pt=9.0, ground=True)
    sites = [(float(u) * scale, float(v) * scale) for u, v in view.sites_mm[:_MOST_SITES]]
    _site_dots(picture, sites)
    for mark in view.marks:
        x, y = (c * scale for c in mark.beside_mm)
        on = (mark.at_mm[0] * scale, mark.at_mm[1] * scale)
        shifts = (0.0, 1.2, -1.2, 2.4, -2.4)
        places: list[tuple[XY, str]] = [((x + a, y + b), "center") for a in shifts for b in shifts]
        places += [((on[0] + a, on[1] + b), "center") for a in shifts for b in shifts]
        if not picture.word_near(places, tooth_words(mark.tooth), weight="bold"):
            picture.word(on, tooth_words(mark.tooth), weight="bold", ground=True)
    _site_numbers(picture, sites)
    return picture


def _title(arch: str, side: str) -> str:
    if arch == "upper":
        return say("Upper teeth from below, patient's right on the {side}", side=term(side))
    return say("Lower teeth from above, patient's right on the {side}", side=term(side))


def _lines(picture: Picture, lines: Iterable[Line], scale: float, *, paint: str, width_pt: float) -> None:
    for line in lines:
        kept: list[XY] = []
        points = line.points_mm * scale
        for x, y in points.tolist():
            if not kept or math.hypot(x - kept[-1][0], y - kept[-1][1]) >= _FINEST_MM:
                kept.append((x, y))
        ring = bool(np.allclose(points[0], points[-1])) and len(kept) > 2
        picture.stroke(kept, paint=paint, width_pt=width_pt, closed=ring)


def _site_dots(picture: Picture, sites: Sequence[XY]) -> None:
    for rank, at in enumerate(sites):
        first = rank == 0
        picture.dot(at, 1.0 if first else 0.75, fill=INK if first else WHITE, line=WHITE if first else INK)


def _site_numbers(picture: Picture, sites: Sequence[XY]) -> None:
    """Number the sites, beside their dots and towards the middle of the picture where there is room."""
    for rank, (x, y) in enumerate(sites):
        start = math.atan2(y - picture.height / 2.0, picture.width / 2.0 - x)
        turns = [start + sign * math.pi / 4 * step for step in range(5) for sign in (1, -1)]
        places: list[tuple[XY, str]] = [
            ((x + away * math.cos(turn), y - away * math.sin(turn)), "center")
            for away in (2.4, 3.2, 4.4, 6.0)
            for turn in turns
        ]
        style: dict[str, Any] = {"weight": "bold", "size_pt": 9.0, "ground": True}
        if not picture.word_near(places, str(rank + 1), **style):
            picture.word(places[0][0], str(rank + 1), **style)


def _scale_bar(picture: Picture, length_mm: float, scale: float, y: float) -> None:
    x, half = picture.width / 2.0, length_mm * scale / 2.0
    picture.stroke([(x - half, y), (x + half, y)], width_pt=1.2)
    picture.word((x, y - 1.9), say("{mm:g} mm", mm=length_mm), ground=True)


def _legend(edges_mm: tuple[float, ...], unknown: bool, files: _Files) -> dict[str, Any]:
    rows = []
    words = band_words(edges_mm)
    unit = words[0].unit
    for rank, word in enumerate(words):
        svg = files.add(f"band{rank}.svg", swatch(BANDS[rank], *_SWATCH_MM))
        rows.append(
            {"file": svg, "text": word.short, "alt": say("pattern of the band {band}", band=word.long)}
        )
    if unknown:
        svg = files.add("hole.svg", swatch(HOLE, *_SWATCH_MM))
        rows.append({"file": svg, "text": say("unknown"), "alt": say("pattern of a hole in the scan")})
    return {"title": say("Gap at first contact, {unit}:", unit=unit), "rows": rows, "notes": []}


def _table(contacts: Answer) -> dict[str, Any] | None:
    if not contacts.tables:
        return None
    table = contacts.tables[0]
    return {
        "title": clean(table.title),
        "columns": [clean(c) for c in table.columns[:_TABLE_COLUMNS]],
        "rows": [[clean(c, at_most=40) for c in row[:_TABLE_COLUMNS]] for row in table.rows[:_MOST_SITES]],
        "note": "",
    }
