"""How a record lies on one cast: bands of gap with patterns on its teeth, and numbered places with words."""

from __future__ import annotations

import numpy as np

from mountproof.answers.picture_data import ResidualMap
from mountproof.occlusion.residual_view import residual_view
from mountproof.occlusion.view import OcclusalView
from mountproof.said import figure, say, term
from mountproof.surfaces.palette import BANDS, HOLE, TOOTH, Band, band_words
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Image, Plate, Speak, Tooth
from mountproof.surfaces.report.raster import as_png, paint, swatch
from mountproof.teeth import is_tooth

#: Upper limits of the bands, mm: what a record of wax or silicone leaves where it lies well, up to where it does not.
EDGES_MM = (0.03, 0.06, 0.12, 0.25, 0.5)
_PICTURE = 440.0
_UNIT_MM = 25.4 / 96.0


def residual_plate(found: ResidualMap, name: str, speak: Speak, tooth: Tooth) -> Plate:
    """Return the picture of a record on one cast, and the table of its places."""
    upper = found.arch == "upper"
    places = np.array([at for _, at in found.spots], dtype=np.float64).reshape(-1, 3)
    view = residual_view(
        "upper" if upper else "lower",
        np.asarray(found.vertices_mm, dtype=np.float64),
        found.faces,
        found.teeth,
        found.residual_mm,
        band_edges_mm=EDGES_MM,
        sites_mm=places,
    )
    title = (
        say("{record} on the upper cast, seen from below", record=found.record)
        if upper
        else say("{record} on the lower cast, seen from above", record=found.record)
    )
    alt = say(
        "{title}, the patient's right on the left, in bands of gap, with {count} numbered places.",
        title=title,
        count=len(found.spots),
    )
    plate = Plate(name, speak(title), speak(alt), _table(found, speak))
    scale = min(_PICTURE / view.width_mm, 420.0 / view.height_mm)
    wide, high = view.width_mm * scale, view.height_mm * scale
    pixels = paint(view.shade, view.band, BANDS, wide * _UNIT_MM, unknown=view.unknown)
    plate.image = Image(as_png(pixels), 0.0, 0.0, wide, high)
    for line in view.outlines:
        plate.line(_thin(line.points_mm * scale), "outline")
    for line in view.contours:
        plate.line(_thin(line.points_mm * scale), "contour")
    _written(plate, view, scale, (wide, high), tooth, speak)
    foot = _key(plate, wide + 16.0, speak)
    plate.height = max(high, _spots(plate, found, wide + 16.0, foot + 12.0, speak))
    return plate


def _thin(points: np.ndarray) -> list[XY]:
    kept: list[XY] = []
    for x, y in points.tolist():
        if not kept or abs(x - kept[-1][0]) + abs(y - kept[-1][1]) >= 1.2:
            kept.append((x, y))
    return kept if len(kept) > 1 else [*kept, *kept]


def _written(plate: Plate, view: OcclusalView, scale: float, size: XY, tooth: Tooth, speak: Speak) -> None:
    wide, high = size
    within = (0.0, 0.0, wide, high)
    corner = 12.0 if view.frame.arch == "upper" else high - 12.0
    plate.word((6.0, corner), speak(say("R")), look="bold", size=16.0)
    plate.word((wide - 6.0, corner), speak(say("L")), look="bold", size=16.0, anchor="end")
    bar = view.scale_bar_mm * scale
    y = high - 10.0 if view.frame.arch == "upper" else 14.0
    plate.line([((wide - bar) / 2.0, y), ((wide + bar) / 2.0, y)], "thick")
    words = say("{mm:g} mm", mm=view.scale_bar_mm)
    plate.word((wide / 2.0, y - 9.0 if y > 20.0 else y + 11.0), speak(words), size=SMALL, anchor="middle")
    sites = [(float(u) * scale, float(v) * scale) for u, v in view.sites_mm]
    for x, y in sites:
        plate.ring((x, y), 3.5, "full")
        plate.taken.append((x - 5.0, y - 5.0, x + 5.0, y + 5.0))
    for mark in view.marks:
        if is_tooth(mark.tooth):
            at = (mark.beside_mm[0] * scale, mark.beside_mm[1] * scale)
            plate.word(at, tooth(mark.tooth), look="quiet", size=SMALL, anchor="middle")
    for rank, at in enumerate(sites):
        plate.label(at, str(rank + 1), within, look="bold", size=15.0)


def _key(plate: Plate, x: float, speak: Speak) -> float:
    y = 10.0
    words = band_words(EDGES_MM)
    plate.word((x, y), speak(say("gap, {unit}", unit=words[0].unit)), look="bold", size=SMALL)
    rows: list[tuple[Band, str]] = [(band, speak(w.short)) for band, w in zip(BANDS, words, strict=True)]
    rows.append(
        (
            Band(TOOTH, TOOTH, "solid", 1.0, 0.0),
            speak(say("above {limit}", limit=f"{EDGES_MM[-1] * 1000.0:g}")),
        )
    )
    rows.append((HOLE, speak(say("unknown"))))
    for band, text in rows:
        y += 20.0
        _swatch(plate, band, (x, y - 7.0))
        plate.word((x + 34.0, y), text, size=SMALL)
    return y + 14.0


def _swatch(plate: Plate, band: Band, at: XY) -> None:
    plate.more.append(Image(as_png(swatch(band, 26.0 * _UNIT_MM, 14.0 * _UNIT_MM)), at[0], at[1], 26.0, 14.0))
    plate.box(at[0], at[1], 26.0, 14.0, "outline")


def _spots(plate: Plate, found: ResidualMap, x: float, y: float, speak: Speak) -> float:
    for rank, (words, _) in enumerate(found.spots):
        y = plate.lines((x, y), f"{rank + 1}  {speak(term(words))}", WIDTH - x, size=SMALL) + 2.0
    return y


def _table(found: ResidualMap, speak: Speak) -> Grid:
    columns = (say("number"), say("what"), say("ahead, mm"), say("up, mm"), say("right, mm"))
    rows = tuple(
        (str(rank + 1), speak(term(words)), *(speak(figure(v, ".1f")) for v in at))
        for rank, (words, at) in enumerate(found.spots)
    )
    note = "" if rows else speak(say("Nothing odd was found on this cast."))
    return Grid(speak(say("Places found")), tuple(speak(c) for c in columns), rows, note)
