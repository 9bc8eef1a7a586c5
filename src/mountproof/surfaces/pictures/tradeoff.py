"""What comes off and what stays open over the vertical dimension: a line for each pair of teeth, in two fields."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from mountproof.answers.picture_data import Band, ChangeCurve, ChangeEvidence
from mountproof.said import figure, say
from mountproof.surfaces.pictures import signs
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth, key

#: Left and right edge of the fields; names of the pairs stand to the right of them.
_LEFT, _RIGHT = 44.0, WIDTH - 76.0
_HIGH, _BETWEEN = 150.0, 40.0
#: Pairs that are drawn in a field: the deepest, and those that are nearest to meet.
_MOST = 8
#: Names stand no nearer to each other than this.
_APART = 14.0
#: Heights nearer than this share one word.
_CLOSE = 24.0


def tradeoff_plate(found: ChangeEvidence, speak: Speak, tooth: Tooth = str) -> Plate:
    """Return the picture of the trade-off, and its table at the heights that are told."""
    at = int(np.argmin(np.abs(found.pin_mm))) if found.by_mip else len(found.pin_mm) - 1
    off = sorted((c for c in found.curves if c.off_mm.mid[at] > 0.0), key=lambda c: -float(c.off_mm.mid[at]))
    still = sorted((c for c in found.curves if c.gap_mm.mid[at] > 0.0), key=lambda c: float(c.gap_mm.mid[at]))
    plate = Plate("tradeoff", speak(say("What comes off and what stays open, over the vertical dimension")),
                  speak(_alt(off, at, tooth)), _table(found, speak, tooth))  # fmt: skip
    fields: list[tuple[Sequence[ChangeCurve], Callable[[ChangeCurve], Band], str]] = [
        (off[:_MOST], lambda c: c.off_mm, say("comes off, mm across the surface, both teeth")),
        (still[:_MOST], lambda c: c.gap_mm, say("stays open, mm along closure")),
    ]
    y = 14.0
    for curves, values, title in fields:
        if curves:
            plate.word((0.0, y), speak(title), look="bold", size=SMALL)
            y = _field(plate, found, curves, values, y + 24.0, speak, tooth) + _BETWEEN
    over = say("MIP") if found.by_mip else say("first contact")
    place = say("the pin") if found.at_pin else say("the incisors")
    words = speak(say("{place}, mm open over {zero}; closing to the right", place=place, zero=over))
    plate.word((0.5 * (_LEFT + _RIGHT), y - 6.0), words, size=SMALL, anchor="middle")
    y += 20.0
    for k, (name, pin) in enumerate(found.stands):
        y = plate.lines(
            (0.0, y), f"{k + 1}  {speak(name)}: {speak(figure(pin + 0.0, '.2f'))} mm", WIDTH, size=SMALL
        )
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [
        (signs.stroke("stroke"), say("a pair of teeth")),
        (
            signs.stroke("doubt"),
            say(
                "95 % around {pairs}, from record and placement",
                pairs=" + ".join(_name(c[0], tooth) for c in (off, still) if c),
            ),
        ),
        (signs.stroke("level"), say("a height, numbered")),
    ]
    if any(c.at_hole for c in (*off[:_MOST], *still[:_MOST])):
        entries.append((signs.star, say("at a hole of a scan: at least")))
    plate.height = key(plate, (0.0, y + 8.0), [(draw, speak(text)) for draw, text in entries])
    return plate


def _field(
    plate: Plate,
    found: ChangeEvidence,
    curves: Sequence[ChangeCurve],
    values: Callable[[ChangeCurve], Band],
    top: float,
    speak: Speak,
    tooth: Tooth,
) -> float:
    bottom = top + _HIGH
    first, last = float(found.pin_mm[0]), float(found.pin_mm[-1])
    highest = max(float(values(c).mid.max()) for c in curves)

    def x(pin: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (first - pin) / (first - last)

    def y(mm: float) -> float:
        return bottom - _HIGH * min(max(mm / highest, 0.0), 1.0)

    for part in (0.0, 0.5, 1.0):
        plate.line([(_LEFT, y(part * highest)), (_RIGHT, y(part * highest))], "faint")
        number = speak(figure(part * highest, ".2f"))
        plate.word((_LEFT - 6.0, y(part * highest)), number, look="quiet", size=SMALL, anchor="end")
    numbers: list[tuple[float, str]] = []
    for k, (_, pin) in enumerate(found.stands):
        if last <= pin <= first:
            plate.line([(x(pin), top), (x(pin), bottom)], "level")
            if numbers and x(pin) - numbers[-1][0] < _CLOSE:
                numbers[-1] = (numbers[-1][0], f"{numbers[-1][1]}, {k + 1}")
            else:
                numbers.append((x(pin), str(k + 1)))
    for place, words in numbers:
        plate.word((place, top - 8.0), words, look="quiet", size=SMALL, anchor="middle")
    for pin in (first, 0.5 * (first + last), last):
        plate.word(
            (x(pin), bottom + 15.0),
            speak(figure(pin + 0.0, ".2f")),
            look="quiet",
            size=SMALL,
            anchor="middle",
        )
    lead = curves[0]
    for edge in (values(lead).low, values(lead).high):
        plate.line([(x(float(p)), y(float(v))) for p, v in zip(found.pin_mm, edge, strict=True)], "doubt")
    for curve in curves:
        plate.line(
            [(x(float(p)), y(float(v))) for p, v in zip(found.pin_mm, values(curve).mid, strict=True)],
            "stroke",
        )
    _names(plate, [(y(float(values(c).mid[-1])), _name(c, tooth)) for c in curves], top, bottom)
    return bottom


def _names(plate: Plate, ends: Sequence[tuple[float, str]], top: float, bottom: float) -> None:
    """Write the names at the ends of their lines, moved apart where they would cover each other."""
    ordered = sorted(ends)
    places = [height for height, _ in ordered]
    for k in range(1, len(places)):
        places[k] = max(places[k], places[k - 1] + _APART)
    if places and places[-1] > bottom:
        places[-1] = bottom
        for k in range(len(places) - 2, -1, -1):
            places[k] = min(places[k], places[k + 1] - _APART)
    for (height, name), place in zip(ordered, places, strict=True):
        if abs(place - height) > 1.0:
            plate.line([(_RIGHT, height), (_RIGHT + 10.0, place)], "faint")
        plate.word((_RIGHT + 13.0, max(place, top - 20.0)), name, size=SMALL)


def _name(curve: ChangeCurve, tooth: Tooth) -> str:
    return f"{tooth(curve.upper)} / {tooth(curve.lower)}" + (" *" if curve.at_hole else "")


def _alt(off: Sequence[ChangeCurve], at: int, tooth: Tooth) -> str:
    if not off:
        return say("No pair of teeth overlaps at the height in question. The table has all of them.")
    return say(
        "Pairs of teeth that overlap at the height in question: {count}. Most comes off at {pair}, {mm:.2f} mm. The table "
        "has all of them.",
        count=len(off), pair=_name(off[0], tooth), mm=float(off[0].off_mm.mid[at]),
    )  # fmt: skip


def _table(found: ChangeEvidence, speak: Speak, tooth: Tooth) -> Grid:
    """Every pair at every height that is told, read off its curve: what comes off, else what stays open."""
    inside = [
        (name, pin) for name, pin in found.stands if found.pin_mm[-1] - 1e-9 <= pin <= found.pin_mm[0] + 1e-9
    ]
    rows = []
    for curve in found.curves:
        cells = []
        for _, pin in inside:
            off, gap = (
                float(np.interp(-pin, -found.pin_mm, v)) for v in (curve.off_mm.mid, curve.gap_mm.mid)
            )
            cells.append(speak(say("{mm:.2f} off", mm=off) if off > 0.0 else say("{mm:.2f} open", mm=gap)))
        rows.append((_name(curve, tooth), *cells))
    return Grid(
        speak(say("Pairs of teeth at each height, mm")),
        (speak(say("upper / lower")), *(speak(name) for name, _ in inside)),
        tuple(rows),
        speak(
            say(
                "Off: across the surface, both teeth together. Open: along closure. A star: at a hole, at least."
            )
        ),
    )
