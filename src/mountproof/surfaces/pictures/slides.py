"""The slide from first contact in CR into MIP: the ways of incisors, molars and condyles, from the side and from above."""

from __future__ import annotations

import numpy as np

from mountproof.answers.picture_data import SlidePath
from mountproof.geometry.poses import Array
from mountproof.said import figure, say
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, key
from mountproof.surfaces.pictures.scatter import round_length

_HIGH, _GAP = 120.0, 12.0
#: The smallest span of a panel, mm: less is no slide worth a larger picture.
_LEAST_MM = 0.4


def slide_plate(found: SlidePath, speak: Speak) -> Plate:
    """Return the picture of the slide, a row of panels from the side above a row from above, and its table."""
    title = say("From first contact in CR into MIP, place by place")
    alt = say(
        "Ways of {count} places in mm, from first contact on: from the side in the upper row, from above in the lower. The "
        "table has the ends.",
        count=len(found.names),
    )
    plate = Plate("slide", speak(title), speak(alt), _table(found, speak))
    wide = (WIDTH - _GAP * (len(found.names) - 1)) / len(found.names)
    scale = min(wide, _HIGH) * 0.8 / _span(found)
    y = 8.0
    # from the side: ahead to the right, up is up; from above: ahead up, the patient's right on the left
    for words, across, up in (
        (say("from the patient's right: forward is to the right"), (0, 1.0), (1, 1.0)),
        (say("from above: forward is up, the patient's right on the left"), (2, -1.0), (0, 1.0)),
    ):
        plate.word((0.0, y), speak(words), look="quiet", size=SMALL)
        y += 12.0
        for n, name in enumerate(found.names):
            left = n * (wide + _GAP)
            plate.box(left, y, wide, _HIGH, "panel")
            plate.lines((left + 5.0, y + 10.0), speak(name), wide - 10.0, size=SMALL)
            _way(plate, found, n, (left, y, wide), across, up, scale)
        y += _HIGH + 18.0
    length = round_length(0.25 * _span(found))
    plate.line([(0.0, y), (length * scale, y)], "thick")
    plate.word((length * scale + 8.0, y), speak(say("{mm:g} mm", mm=length)), size=SMALL)
    entries = [
        (lambda p, at: p.ring(at, 4.0, "open"), say("first contact in CR")),
        (lambda p, at: p.ring(at, 4.0, "full"), say("where the casts come to rest")),
    ]
    if found.mip_mm is not None:
        entries.append((_cross, say("MIP as scanned")))
    plate.height = key(plate, (0.0, y + 24.0), [(draw, speak(words)) for draw, words in entries])
    return plate


def _span(found: SlidePath) -> float:
    """Return the widest extent (mm) of all ways along one axis, so that all panels have one scale."""
    widest = _LEAST_MM
    for n, track in enumerate(found.tracks_mm):
        points = track if found.mip_mm is None else np.vstack([track, found.mip_mm[n]])
        widest = max(widest, float(np.ptp(points, axis=0).max()))
    return widest


def _way(
    plate: Plate,
    found: SlidePath,
    n: int,
    panel: tuple[float, float, float],
    across: tuple[int, float],
    up: tuple[int, float],
    scale: float,
) -> None:
    left, top, wide = panel
    track = found.tracks_mm[n]
    points = track if found.mip_mm is None else np.vstack([track, found.mip_mm[n]])
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))

    def at(point: Array) -> XY:
        right = across[1] * float(point[across[0]] - middle[across[0]])
        high = up[1] * float(point[up[0]] - middle[up[0]])
        return left + wide / 2.0 + right * scale, top + _HIGH / 2.0 + 6.0 - high * scale

    plate.line([at(point) for point in track], "thick")
    plate.ring(at(track[0]), 4.0, "open")
    plate.ring(at(track[-1]), 4.0, "full")
    if found.mip_mm is not None:
        _cross(plate, at(found.mip_mm[n]))


def _cross(plate: Plate, at: XY) -> None:
    x, y = at
    plate.line([(x - 5.0, y - 5.0), (x + 5.0, y + 5.0)], "thick")
    plate.line([(x - 5.0, y + 5.0), (x + 5.0, y - 5.0)], "thick")


def _table(found: SlidePath, speak: Speak) -> Grid:
    columns = (say("place"), say("end"), say("forward, mm"), say("up, mm"), say("right, mm"))
    rows = []
    for n, name in enumerate(found.names):
        ends = [(say("where the casts come to rest"), found.tracks_mm[n][-1])]
        if found.mip_mm is not None:
            ends.append((say("MIP as scanned"), found.mip_mm[n]))
        for words, end in ends:
            cells = [speak(figure(float(v) + 0.0, "+.2f")) for v in end]
            rows.append((speak(name), speak(words), *cells))
    return Grid(
        speak(say("Ends of the slide, from first contact")), tuple(speak(c) for c in columns), tuple(rows)
    )
