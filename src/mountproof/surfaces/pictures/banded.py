"""An occlusal view in bands of gap on a plate: its pixels and lines, its corners, and the key of its bands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mountproof.occlusion.view import OcclusalView
from mountproof.said import say
from mountproof.surfaces.palette import BANDS, HOLE, TOOTH, Band, band_words
from mountproof.surfaces.pictures.plate import SMALL, XY, Image, Plate, Speak
from mountproof.surfaces.report.raster import as_png, paint, swatch

_UNIT_MM = 25.4 / 96.0


def laid(plate: Plate, view: OcclusalView, bands: int, scale: float, left: float) -> None:
    """Lay the pixels of a view, its outlines and its contours on a plate, ``scale`` units to the mm, from ``left`` on."""
    wide, high = view.width_mm * scale, view.height_mm * scale
    pixels = paint(view.shade, view.band, BANDS[:bands], wide * _UNIT_MM, unknown=view.unknown)
    plate.image = Image(as_png(pixels), left, 0.0, wide, high)
    for line in view.outlines:
        plate.line(thinned(line.points_mm * scale, left), "outline")
    for line in view.contours:
        plate.line(thinned(line.points_mm * scale, left), "contour")


def thinned(points: np.ndarray, left: float) -> list[XY]:
    """Return a line without the points that nobody tells apart."""
    kept: list[XY] = []
    for x, y in points.tolist():
        if not kept or abs(x + left - kept[-1][0]) + abs(y - kept[-1][1]) >= 1.2:
            kept.append((x + left, y))
    return kept if len(kept) > 1 else [*kept, *kept]


def corners(
    plate: Plate, view: OcclusalView, scale: float, place: tuple[float, float, float], speak: Speak
) -> None:
    """Write the patient's sides and the bar of length on a view; ``place``: its left edge, width and height, units."""
    left, wide, high = place
    corner = 12.0 if view.frame.arch == "upper" else high - 12.0
    plate.word((left + 6.0, corner), speak(say("R")), look="bold", size=16.0)
    plate.word((left + wide - 6.0, corner), speak(say("L")), look="bold", size=16.0, anchor="end")
    bar = view.scale_bar_mm * scale
    y = high - 10.0 if view.frame.arch == "upper" else 14.0
    plate.line([(left + (wide - bar) / 2.0, y), (left + (wide + bar) / 2.0, y)], "thick")
    words = say("{mm:g} mm", mm=view.scale_bar_mm)
    at = (left + wide / 2.0, y - 9.0 if y > 20.0 else y + 11.0)
    plate.word(at, speak(words), size=SMALL, anchor="middle")


def band_column(plate: Plate, x: float, edges_mm: Sequence[float], speak: Speak) -> float:
    """Write the key of the bands in a column; return where the next thing goes."""
    y = 10.0
    words = band_words(edges_mm)
    unit = words[0].unit
    last = edges_mm[-1] * (1000.0 if unit == "µm" else 1.0)
    plate.word((x, y), speak(say("gap, {unit}", unit=unit)), look="bold", size=SMALL)
    rows: list[tuple[Band, str]] = [
        (band, speak(w.short)) for band, w in zip(BANDS[: len(words)], words, strict=True)
    ]
    rows.append((Band(TOOTH, TOOTH, "solid", 1.0, 0.0), speak(say("above {limit}", limit=f"{last:g}"))))
    rows.append((HOLE, speak(say("unknown"))))
    for band, text in rows:
        y += 20.0
        _swatch(plate, band, (x, y - 7.0))
        plate.word((x + 34.0, y), text, size=SMALL)
    return y + 14.0


def _swatch(plate: Plate, band: Band, at: XY) -> None:
    plate.more.append(Image(as_png(swatch(band, 26.0 * _UNIT_MM, 14.0 * _UNIT_MM)), at[0], at[1], 26.0, 14.0))
    plate.box(at[0], at[1], 26.0, 14.0, "outline")
