"""How a record lies on one cast: bands of gap with patterns on its teeth, and numbered places with words."""

from __future__ import annotations

import numpy as np

from mountproof.answers.picture_data import ResidualMap
from mountproof.occlusion.residual_view import residual_view
from mountproof.occlusion.view import OcclusalView
from mountproof.said import figure, say, term
from mountproof.surfaces.pictures.banded import band_column, corners, laid
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth
from mountproof.teeth import is_tooth

#: Upper limits of the bands, mm: what a record of wax or silicone leaves where it lies well, up to where it does not.
EDGES_MM = (0.03, 0.06, 0.12, 0.25, 0.5)
_PICTURE = 440.0


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
    laid(plate, view, len(EDGES_MM), scale, 0.0)
    _written(plate, view, scale, (wide, high), tooth, speak)
    foot = band_column(plate, wide + 16.0, EDGES_MM, speak)
    plate.height = max(high, _spots(plate, found, wide + 16.0, foot + 12.0, speak))
    return plate


def _written(plate: Plate, view: OcclusalView, scale: float, size: XY, tooth: Tooth, speak: Speak) -> None:
    corners(plate, view, scale, (0.0, *size), speak)
    sites = [(float(u) * scale, float(v) * scale) for u, v in view.sites_mm]
    for x, y in sites:
        plate.ring((x, y), 3.5, "full")
        plate.taken.append((x - 5.0, y - 5.0, x + 5.0, y + 5.0))
    for mark in view.marks:
        if is_tooth(mark.tooth):
            at = (mark.beside_mm[0] * scale, mark.beside_mm[1] * scale)
            plate.word(at, tooth(mark.tooth), look="quiet", size=SMALL, anchor="middle")
    for rank, at in enumerate(sites):
        plate.label(at, str(rank + 1), (0.0, 0.0, *size), look="bold", size=15.0)


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
