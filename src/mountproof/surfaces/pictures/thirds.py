"""Lower buccal cusp tips across the upper inner inclines: a bar in thirds for each, the tip's place and its interval."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from mountproof.answers.cusp_words import cusp_words
from mountproof.answers.picture_data import AcrossBar
from mountproof.said import figure, joined, say
from mountproof.surfaces.pictures import patterns
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth, key, wrapped
from mountproof.teeth import along_arch_key

#: Names on the left, bars in the middle, numbers on the right, units.
_FROM, _TO = 132.0, WIDTH - 92.0
_ROW, _HIGH = 34.0, 12.0
#: The axis shows at least these places, and never more than those: what lies beyond ends in an arrow.
_LEAST: Final = (-0.5, 1.15)
_MOST: Final = (-1.5, 2.5)


def thirds_plate(bars: Sequence[AcrossBar], speak: Speak, tooth: Tooth = str) -> Plate:
    """Return the picture of where cusp tips stand across inclines, and its table; ``bars`` at least one."""
    ordered = sorted(bars, key=lambda b: (along_arch_key(b.upper), along_arch_key(b.lower), b.cusp))
    first = max(min(_LEAST[0], *(b.low for b in ordered)), _MOST[0])
    last = min(max(_LEAST[1], *(b.high for b in ordered)), _MOST[1])

    def x(part: float) -> float:
        return _FROM + (_TO - _FROM) * (min(max(part, first), last) - first) / (last - first)

    title = speak(say("Lower buccal cusp tips across the upper inner inclines, in thirds"))
    plate = Plate("thirds", title, speak(_alt(ordered, tooth)), _table(ordered, speak, tooth))
    y = 10.0
    for at, anchor, words in ((x(0.0), "middle", say("groove")), (x(1.0), "middle", say("upper tip"))):
        plate.word((at, y), speak(words), look="quiet", size=SMALL, anchor=anchor)  # type: ignore[arg-type]
    plate.word((0.0, y), speak(say("upper / lower")), look="quiet", size=SMALL)
    plate.word((WIDTH, y), speak(say("0 to 1, 95 %")), look="quiet", size=SMALL, anchor="end")
    y += 24.0
    for bar in ordered:
        _row(plate, bar, y, x, (first, last), speak, tooth)
        y += _ROW
    note = say(
        "Seen across the arch, outward to the right. Each bar is the incline in thirds: inner, middle (lined), outer; as "
        "far as the short stroke still counts to the inner third. Thirds: common practice, no source. The choice of "
        "means stays with the "
        "clinician and the patient."
    )
    y = plate.lines((0.0, y), speak(note), WIDTH, size=SMALL)
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [
        (lambda p, at: _dot(p, at), say("lower cusp tip")),
        (lambda p, at: _bracket(p, at[0] - 10.0, at[0] + 10.0, at[1]), say("95 %, pose and landmarks")),
        (lambda p, at: p.box(at[0] - 10.0, at[1] - 2.5, 20.0, 5.0, "bar"), say("of it the pose alone")),
    ]
    plate.height = key(plate, (0.0, y + 8.0), [(draw, speak(words)) for draw, words in entries])
    return plate


def _row(
    plate: Plate,
    bar: AcrossBar,
    y: float,
    x: Callable[[float], float],
    ends: tuple[float, float],
    speak: Speak,
    tooth: Tooth,
) -> None:
    names = wrapped(speak(_name(bar, tooth)), _FROM - 8.0, SMALL)
    for k, row in enumerate(names):
        plate.word((0.0, y + 14.0 * (k - (len(names) - 1) / 2.0)), row, size=SMALL)
    top = y - _HIGH / 2.0 - 5.0
    for k in range(3):
        left, right = x(k / 3.0), x((k + 1) / 3.0)
        if k == 1:
            patterns.assumed(plate, (left, top, right, top + _HIGH))
        else:
            plate.box(left, top, right - left, _HIGH, "hollow")
    plate.line([(x(-1.0 / 3.0), top), (x(-1.0 / 3.0), top + _HIGH)], "soft")
    beside = y + _HIGH / 2.0 + 2.0
    plate.line([(x(ends[0]), beside), (x(ends[1]), beside)], "faint")
    plate.box(x(bar.pose_low), beside - 2.5, max(x(bar.pose_high) - x(bar.pose_low), 1.0), 5.0, "bar")
    _bracket(plate, x(bar.low), x(bar.high), beside)
    for end, beyond, turn in ((ends[0], bar.low < ends[0], -1.0), (ends[1], bar.high > ends[1], 1.0)):
        if beyond:
            at = x(end)
            plate.line(
                [(at, beside - 5.0), (at + turn * 6.0, beside), (at, beside + 5.0)], "stroke", closed=True
            )
    _dot(plate, (x(bar.part), beside))
    plate.word((WIDTH, y), speak(_told(bar)), size=SMALL, anchor="end")


def _dot(plate: Plate, at: XY) -> None:
    plate.ring(at, 5.0, "hollow")


def _bracket(plate: Plate, low: float, high: float, y: float) -> None:
    plate.path(
        f"M{low:.1f} {y - 5:.1f}v10M{low:.1f} {y:.1f}L{high:.1f} {y:.1f}M{high:.1f} {y - 5:.1f}v10", "stroke"
    )


def _name(bar: AcrossBar, tooth: Tooth) -> str:
    words = (f"{tooth(bar.upper)} / {tooth(bar.lower)}", cusp_words(bar.cusp, bar.cusps))
    return joined(" ", filter(None, words))


def _told(bar: AcrossBar) -> str:
    return say("{part:.2f} ± {half:.2f}", part=bar.part + 0.0, half=bar.high - bar.part)


def _alt(bars: Sequence[AcrossBar], tooth: Tooth) -> str:
    far = max(bars, key=lambda b: b.part)
    return say(
        "Where {count} lower buccal cusp tips stand across the upper inner inclines: 0 over the groove, 1 under the upper tip. "
        "Farthest outward: {pair}, {part:.2f}. The table has all of them.",
        count=len(bars),
        pair=_name(far, tooth),
        part=far.part,
    )


def _table(bars: Sequence[AcrossBar], speak: Speak, tooth: Tooth) -> Grid:
    rows = tuple(
        (
            speak(_name(bar, tooth)),
            speak(figure(bar.part + 0.0, ".2f")),
            speak(say("{low:.2f} to {high:.2f}", low=bar.low, high=bar.high)),
            speak(say("{low:.2f} to {high:.2f}", low=bar.pose_low, high=bar.pose_high)),
            speak(figure(bar.width_mm, ".1f")),
        )
        for bar in bars
    )
    return Grid(
        speak(say("Lower buccal cusp tips across the upper inner inclines")),
        tuple(
            speak(c)
            for c in (
                say("upper / lower"),
                say("place, 0 to 1"),
                say("95 %, pose and landmarks"),
                say("95 %, pose alone"),
                say("incline, mm"),
            )
        ),
        rows,
    )
