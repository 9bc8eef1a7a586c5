"""What comes off and what is added over the pin: each pair of teeth in a row of small charts, and all of them in all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from mountproof.answers.picture_data import Band, ChangeCurve, ChangeEvidence, ChangeLimit
from mountproof.said import figure, say
from mountproof.surfaces.pictures import signs
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth, key

#: Columns of the rows: left edge and width; names of the pairs stand before them.
_NAMES: Final = 82.0
_WIDE, _STEP = 128.0, 139.0
_HIGH, _ROW = 34.0, 46.0
#: Pairs in the picture, those that change most; the table has all of them.
_MOST: Final = 12
_BIG_LEFT, _BIG_HIGH = 52.0, 120.0


def pairs_plate(found: ChangeEvidence, speak: Speak, tooth: Tooth = str) -> Plate:
    """Return the picture of every pair: depth, area, volume and gap over the pin, each with its band, and its table."""
    at = _zero(found)
    shown = sorted(found.curves, key=lambda c: (-float(c.off_mm.mid[at]), float(c.gap_mm.mid[at])))[:_MOST]
    plate = Plate(
        "change-pairs",
        speak(say("Pair by pair over the pin")),
        speak(_alt(found)),
        _table(found, speak, tooth),
    )
    columns: list[tuple[Callable[[ChangeCurve], Band], str, str]] = [
        (lambda c: c.off_mm, say("off, mm across"), ".2f"),
        (lambda c: c.area_mm2, say("area off, mm2"), ".1f"),
        (lambda c: c.volume_mm3, say("volume off, mm3"), ".2f"),
        (lambda c: c.gap_mm, say("still open, mm"), ".2f"),
    ]
    tops = [max((float(of(c).high.max()) for c in shown), default=0.0) or 1.0 for of, _, _ in columns]
    for k, ((_, title, how), top) in enumerate(zip(columns, tops, strict=True)):
        x = _NAMES + k * _STEP
        plate.word((x, 12.0), speak(title), look="bold", size=SMALL)
        words = speak(say("up to {most}", most=figure(top, how)))
        plate.word((x, 28.0), words, look="quiet", size=SMALL)
    y = 42.0
    for curve in shown:
        star = " *" if curve.at_hole else ""
        plate.word((0.0, y + 0.5 * _HIGH), f"{tooth(curve.upper)} / {tooth(curve.lower)}{star}", size=SMALL)
        for k, ((of, _, _), top) in enumerate(zip(columns, tops, strict=True)):
            left = _NAMES + k * _STEP
            _chart(plate, found, [of(curve)], (left, y, _WIDE, _HIGH), top, ("stroke",))
        y += _ROW
    y = _axis_words(plate, found, y, speak)
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [
        (signs.stroke("stroke"), say("value")),
        (_spread, say("95 %, from record and placement")),
        (signs.stroke("level"), say("a height that is told")),
    ]
    if any(c.at_hole for c in shown):
        entries.append((signs.star, say("at a hole of a scan: at least")))
    plate.height = key(plate, (0.0, y + 8.0), [(draw, speak(text)) for draw, text in entries])
    return plate


def totals_plate(found: ChangeEvidence, speak: Speak) -> Plate:
    """Return the trade-off: what all teeth lose against what they would gain, in all and at most, and the limits on it."""
    told = found.totals
    title = say("In all: what comes off against what is added")
    plate = Plate("change-totals", speak(title), speak(_totals_alt(found)), _totals_table(found, speak))
    fields = (
        ((told.off_mm3, told.on_mm3), say("volume, mm3"), ".1f"),
        ((told.off_mm, told.on_mm), say("most on one pair, mm"), ".2f"),
    )
    y = 14.0
    for bands, words, how in fields:
        plate.word((0.0, y), speak(words), look="bold", size=SMALL)
        y += 16.0
        top = max(float(b.high.max()) for b in bands) or 1.0
        box = (_BIG_LEFT, y, WIDTH - _BIG_LEFT - 8.0, _BIG_HIGH)
        _shade(plate, found, box)
        for part in (0.0, 0.5, 1.0):
            level = y + _BIG_HIGH * (1.0 - part)
            plate.line([(box[0], level), (box[0] + box[2], level)], "faint")
            words = speak(figure(part * top, how))
            plate.word((box[0] - 6.0, level), words, look="quiet", size=SMALL, anchor="end")
        _chart(plate, found, bands, box, top, ("strokeup", "dashes"))
        y += _BIG_HIGH + 28.0
    y = _axis_words(plate, found, y - 12.0, speak, box=(_BIG_LEFT, WIDTH - _BIG_LEFT - 8.0))
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [
        (signs.stroke("strokeup"), say("comes off")),
        (signs.stroke("dashes"), say("is added, until all meet")),
        (_spread, say("95 %, from record and placement")),
        (signs.stroke("level"), say("a height that is told")),
    ]
    window = found.window
    if window is not None and (window.floor is not None or window.ceiling is not None):
        entries.append((_out, say("outside the limits that were entered")))
    if window is not None and window.least_mm is not None:
        entries.append((_ring, say("least volume in all inside the limits")))
    plate.height = key(plate, (0.0, y + 8.0), [(draw, speak(text)) for draw, text in entries])
    return plate


def _zero(found: ChangeEvidence) -> int:
    """Return the column of the height that the change leads to."""
    return int(np.argmin(np.abs(found.pin_mm))) if found.by_mip else len(found.pin_mm) - 1


def _across(found: ChangeEvidence, pin: float, left: float, wide: float) -> float:
    first, last = float(found.pin_mm[0]), float(found.pin_mm[-1])
    return left + wide * (first - pin) / (first - last)


def _chart(
    plate: Plate, found: ChangeEvidence, bands: Sequence[Band], box: tuple[float, float, float, float],
    top: float, looks: Sequence[str],
) -> None:  # fmt: skip
    """Draw curves with their bands into a box (left, top, width, height); closing goes to the right."""
    left, up, wide, high = box
    bottom = up + high
    plate.line([(left, bottom), (left + wide, bottom)], "faint")
    last = float(found.pin_mm[-1])
    for _, pin in found.stands:
        if last <= pin <= float(found.pin_mm[0]):
            x = _across(found, pin, left, wide)
            plate.line([(x, up), (x, bottom)], "level")

    def points(values: Sequence[float]) -> list[XY]:
        return [
            (_across(found, float(p), left, wide), bottom - high * min(max(float(v) / top, 0.0), 1.0))
            for p, v in zip(found.pin_mm, values, strict=True)
            if np.isfinite(v)
        ]

    for band in bands:
        ring = [*points(list(band.low)), *points(list(band.high))[::-1]]
        if len(ring) > 2 and float(np.nanmax(band.high)) > 0.0:
            plate.line(ring, "spread", closed=True)
    for band, look in zip(bands, looks, strict=True):
        told = points(list(band.mid))
        if len(told) > 1 and float(np.nanmax(band.mid)) > 0.0:
            plate.line(told, look)


def _shade(plate: Plate, found: ChangeEvidence, box: tuple[float, float, float, float]) -> None:
    """Hatch what lies outside the limits, and ring the least change inside them."""
    if found.window is None:
        return
    left, up, wide, high = box
    ends = (float(found.pin_mm[0]), float(found.pin_mm[-1]))

    def clipped(limit: ChangeLimit) -> float:
        return _across(found, min(max(limit.pin_mm, ends[1]), ends[0]), left, wide)

    sides = []
    if found.window.ceiling is not None:
        sides.append((left, clipped(found.window.ceiling)))
    if found.window.floor is not None:
        sides.append((clipped(found.window.floor), left + wide))
    for a, b in sides:
        if b - a > 1.0:
            _hatched(plate, (a, up, b - a, high))
    if found.window.least_mm is not None:
        x = _across(found, found.window.least_mm, left, wide)
        plate.ring((x, up + high), 4.0, "open")


def _hatched(plate: Plate, box: tuple[float, float, float, float]) -> None:
    left, up, wide, high = box
    plate.box(left, up, wide, high, "faint")
    step = 9.0
    at = step
    while at < wide + high:
        x0, y0 = left + min(at, wide), up + max(at - wide, 0.0)
        x1, y1 = left + max(at - high, 0.0), up + min(at, high)
        plate.line([(x0, y0), (x1, y1)], "faint")
        at += step


def _axis_words(
    plate: Plate, found: ChangeEvidence, y: float, speak: Speak, box: XY = (_NAMES, _WIDE)
) -> float:
    """Write where the axis begins and ends and what it tells; return where the next line goes."""
    left, wide = box
    first, last = float(found.pin_mm[0]), float(found.pin_mm[-1])
    plate.word((left, y), speak(figure(first + 0.0, ".2f")), look="quiet", size=SMALL)
    plate.word((left + wide, y), speak(figure(last + 0.0, ".2f")), look="quiet", size=SMALL, anchor="end")
    over = say("MIP") if found.by_mip else say("first contact")
    place = say("the pin") if found.at_pin else say("the incisors")
    y += 20.0
    words = say("Across: {place}, mm open over {zero}; closing to the right.", place=place, zero=over)
    y = plate.lines((0.0, y), speak(words), WIDTH, size=SMALL)
    names = [f"{speak(name)} {speak(figure(pin + 0.0, '.2f'))}" for name, pin in found.stands]
    return plate.lines((0.0, y), "; ".join(names), WIDTH, look="quiet", size=SMALL)


def _spread(plate: Plate, at: XY) -> None:
    plate.box(at[0] - 10.0, at[1] - 6.0, 22.0, 12.0, "spread")


def _out(plate: Plate, at: XY) -> None:
    _hatched(plate, (at[0] - 10.0, at[1] - 7.0, 22.0, 14.0))


def _ring(plate: Plate, at: XY) -> None:
    plate.ring(at, 4.0, "open")


def _alt(found: ChangeEvidence) -> str:
    at = _zero(found)
    count = sum(float(c.off_mm.mid[at]) > 0.0 for c in found.curves)
    return say(
        "A row of charts for each pair of teeth over the pin: depth, area and volume that come off, and what stays open. At the "
        "height in question {count} pairs overlap. The table has the numbers.",
        count=count,
    )  # fmt: skip


def _totals_alt(found: ChangeEvidence) -> str:
    at = _zero(found)
    return say(
        "As the pin comes down more comes off and less is added. At the height in question {off:.1f} mm3 come off and {on:.1f} "
        "mm3 are added.",
        off=float(found.totals.off_mm3.mid[at]), on=float(found.totals.on_mm3.mid[at]),
    )  # fmt: skip


def _columns(found: ChangeEvidence) -> list[tuple[str, int]]:
    """Return the heights inside the sweep: their words, and the column nearest to each."""
    ends = (float(found.pin_mm[-1]) - 1e-9, float(found.pin_mm[0]) + 1e-9)
    return [
        (name, int(np.argmin(np.abs(found.pin_mm - pin))))
        for name, pin in found.stands
        if ends[0] <= pin <= ends[1]
    ]


def _cell(band: Band, at: int, how: str) -> str:
    if not np.isfinite(band.mid[at]):
        return "-"
    values = {name: figure(float(v[at]) + 0.0, how) for name, v in band._asdict().items()}
    return say("{mid} ({low} to {high})", **values)


def _table(found: ChangeEvidence, speak: Speak, tooth: Tooth) -> Grid:
    rows = []
    for curve in found.curves:
        for name, at in _columns(found):
            cells = (
                _cell(curve.off_mm, at, ".2f"), _cell(curve.area_mm2, at, ".1f"), _cell(curve.volume_mm3, at, ".2f"),
                _cell(curve.gap_mm, at, ".2f"), _cell(curve.fill_mm3, at, ".2f"),
            )  # fmt: skip
            rows.append(
                (f"{tooth(curve.upper)} / {tooth(curve.lower)}", speak(name), *(speak(c) for c in cells))
            )
    heads = (
        say("upper / lower"), say("height"), say("off, mm across"), say("area off, mm2"), say("volume off, mm3"),
        say("still open, mm"), say("to fill it, mm3"),
    )  # fmt: skip
    note = say(
        "In brackets: 95 %. Depth and volume are of both teeth together; the area is that of the upper."
    )
    return Grid(
        speak(say("Pair by pair at each height")), tuple(speak(h) for h in heads), tuple(rows), speak(note)
    )


def _totals_table(found: ChangeEvidence, speak: Speak) -> Grid:
    told = found.totals
    rows = [
        (
            speak(name), speak(_cell(told.off_mm3, at, ".1f")), speak(_cell(told.on_mm3, at, ".1f")),
            speak(_cell(told.off_mm, at, ".2f")), speak(_cell(told.on_mm, at, ".2f")),
        )
        for name, at in _columns(found)
    ]  # fmt: skip
    heads = (
        say("height"), say("off, mm3"), say("on, mm3"), say("most off one pair, mm"), say("most on one pair, mm"),
    )  # fmt: skip
    note = say(
        "In brackets: 95 %. What is added fills each open pair at the place where it would meet first; pairs that stay more than "
        "1 mm open are left out."
    )  # fmt: skip
    title = say("All pairs together at each height")
    return Grid(speak(title), tuple(speak(h) for h in heads), tuple(rows), speak(note))
