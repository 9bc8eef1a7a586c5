"""The chart of single values over the cases, above it its mean and limits, below how far each lies from the one before."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

from mountproof.answers.many_cases import Charted, limits_shown
from mountproof.said import capital, figure, say
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, key

#: Where the curves lie: room for the numbers at the left, for the words of the limits at the right.
_LEFT, _RIGHT, _TOP = 56.0, 118.0, 22.0
_HIGH, _LOW_HIGH, _BETWEEN = 210.0, 90.0, 46.0
_MOST_CODES = 12


def control_plate(charted: Charted, speak: Speak) -> Plate:
    """Return the picture of one chart; what is found is marked by shape, not by colour."""
    chart = charted.chart
    shown = limits_shown(charted)
    plate = Plate(
        f"chart-{charted.key}",
        speak(say("{what} over {count} cases", what=capital(charted.label), count=len(charted.values))),
        " ".join(speak(s) for s in charted.sentences),
        _table(charted, speak),
    )
    values = [abs(v) if charted.power != 1.0 else v for v in charted.values]
    spans = [v for v in (*values, *(shown or ())) if math.isfinite(v)]
    step = (WIDTH - _LEFT - _RIGHT) / max(1, len(values) - 1)

    def x(i: int) -> float:
        return _LEFT + i * step

    y = _Scale(min(spans), max(spans), _TOP, _HIGH)
    _axis(plate, y, charted.decimals, speak(charted.unit), speak)
    if shown is not None:
        for value, words, look in (
            (shown[0], say("mean"), "soft"),
            (shown[2], say("limit"), "level"),
            (shown[1], say("limit"), "level"),
        ):
            plate.line([(_LEFT, y(value)), (WIDTH - _RIGHT, y(value))], look)
            text = f"{speak(words)} {speak(figure(value, f'.{charted.decimals}f'))}"
            plate.word((WIDTH - _RIGHT + 8.0, y(value)), text, size=SMALL)
    for a, b in chart.runs:
        low, high = min(y(v) for v in values[a : b + 1]), max(y(v) for v in values[a : b + 1])
        plate.box(x(a) - 7.0, low - 9.0, x(b) - x(a) + 14.0, high - low + 18.0, "doubt")
    plate.line([(x(i), y(v)) for i, v in enumerate(values)], "soft")
    for i, v in enumerate(values):
        plate.ring((x(i), y(v)), 3.6, "open" if shown is None else "full")
        if i in chart.outside:
            plate.ring((x(i), y(v)), 8.0, "thick")
    bottom = _TOP + _HIGH + _BETWEEN
    bottom = _ranges(plate, charted, x, bottom, speak)
    _cases(plate, charted, x, bottom)
    signs: list[tuple[Callable[[Plate, XY], None], str]] = [(_dot, speak(say("one case")))]
    if chart.outside:
        signs.append((_ringed, speak(say("outside its limits"))))
    if chart.runs:
        signs.append((_boxed, speak(say("many in a row on one side"))))
    if chart.jumps:
        signs.append((_square, speak(say("jump from the case before"))))
    plate.height = key(plate, (0.0, bottom + 44.0), signs)
    return plate


class _Scale:
    """From values to heights on the plate, the largest at the top."""

    def __init__(self, low: float, high: float, top: float, tall: float) -> None:
        room = 0.08 * (high - low) or 1.0
        self.low, self.high, self.top, self.tall = low - room, high + room, top, tall

    def __call__(self, value: float) -> float:
        return self.top + self.tall * (self.high - value) / (self.high - self.low)

    def ticks(self) -> list[float]:
        raw = (self.high - self.low) / 4.0
        size = 10.0 ** math.floor(math.log10(raw))
        step = next(m * size for m in (1.0, 2.0, 5.0, 10.0) if m * size >= raw)
        first = math.ceil(self.low / step)
        return [step * k for k in range(first, math.floor(self.high / step) + 1)]


def _axis(plate: Plate, y: _Scale, decimals: int, unit: str, speak: Speak) -> None:
    for tick in y.ticks():
        plate.line([(_LEFT, y(tick)), (WIDTH - _RIGHT, y(tick))], "faint")
        plate.word(
            (_LEFT - 8.0, y(tick)),
            speak(figure(tick, f".{decimals}f")),
            size=SMALL,
            anchor="end",
            look="quiet",
        )
    plate.word((0.0, y.top - 12.0), unit, size=SMALL, look="quiet")


def _ranges(plate: Plate, charted: Charted, x: Callable[[int], float], top: float, speak: Speak) -> float:
    """Draw how far each value lies from the one before; nothing where the chart's own scale is another one."""
    chart = charted.chart
    if charted.power != 1.0 or len(charted.values) < 2:
        return top - _BETWEEN
    moves = [abs(b - a) for a, b in pairwise(charted.values)]
    limit = chart.limits.range_high if chart.limits else 0.0
    y = _Scale(0.0, max(*moves, limit, 1e-9), top, _LOW_HIGH)
    y.low = 0.0
    plate.word((_LEFT, top - 16.0), speak(say("from the case before")), size=SMALL, look="bold")
    _axis(plate, y, charted.decimals, "", speak)
    if chart.limits is not None:
        plate.line([(_LEFT, y(limit)), (WIDTH - _RIGHT, y(limit))], "level")
        text = f"{speak(say('limit'))} {speak(figure(limit, f'.{charted.decimals}f'))}"
        plate.word((WIDTH - _RIGHT + 8.0, y(limit)), text, size=SMALL)
    plate.line([(x(i + 1), y(v)) for i, v in enumerate(moves)], "soft")
    for i, v in enumerate(moves):
        spot = (x(i + 1), y(v))
        plate.ring(spot, 3.0, "open")
        if i + 1 in chart.jumps:
            plate.box(spot[0] - 7.0, spot[1] - 7.0, 14.0, 14.0, "thick")
    return top + _LOW_HIGH


def _cases(plate: Plate, charted: Charted, x: Callable[[int], float], bottom: float) -> None:
    """Write the codes of the first, the last and some cases between; the table has all."""
    n = len(charted.codes)
    wide = max((7.4 * len(c) for c in charted.codes), default=1.0) + 10.0
    most = max(2, min(_MOST_CODES, int((WIDTH - _LEFT - _RIGHT) / wide)))
    every = max(1, math.ceil((n - 1) / (most - 1))) if n > 1 else 1
    for i in range(0, n, every):
        plate.word((x(i), bottom + 16.0), charted.codes[i], size=SMALL, anchor="middle", look="quiet")


def _table(charted: Charted, speak: Speak) -> Grid:
    inside = {i for a, b in charted.chart.runs for i in range(a, b + 1)}
    rows = []
    for i, (code, day, value) in enumerate(zip(charted.codes, charted.dates, charted.values, strict=True)):
        told = []
        if i in charted.chart.outside:
            told.append(speak(say("outside its limits")))
        if i in inside:
            told.append(speak(say("many in a row on one side")))
        if i in charted.chart.jumps:
            told.append(speak(say("jump from the case before")))
        rows.append((code, day or "-", speak(figure(value, f".{charted.decimals}f")), "; ".join(told)))
    columns = (speak(say("case")), speak(say("day")), speak(charted.unit), "")
    return Grid(speak(capital(charted.label)), columns, tuple(rows))


def _dot(plate: Plate, at: XY) -> None:
    plate.ring(at, 3.6, "full")


def _ringed(plate: Plate, at: XY) -> None:
    plate.ring(at, 3.6, "full")
    plate.ring(at, 8.0, "thick")


def _boxed(plate: Plate, at: XY) -> None:
    plate.box(at[0] - 10.0, at[1] - 6.0, 20.0, 12.0, "doubt")


def _square(plate: Plate, at: XY) -> None:
    plate.ring(at, 3.0, "open")
    plate.box(at[0] - 7.0, at[1] - 7.0, 14.0, 14.0, "thick")
