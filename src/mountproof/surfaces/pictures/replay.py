"""A trial on duplicates round by round: what has come off which tooth, which pairs hold, and where the pin stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from mountproof.answers.picture_data import ChangeEvidence, Replay, ReplayRound
from mountproof.said import figure, joined, say
from mountproof.surfaces.pictures import patterns
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth, key, shortened
from mountproof.teeth import right_to_left

#: Panels beside each other, and how far one lies from the next.
_ACROSS: Final = 3
_WIDE, _STEP = 194.0, 218.0
_TOOTH: Final = _WIDE / 16.0
_HIGH: Final = 15.0
_DOWN: Final = 92.0
#: Rounds in the picture; of more, some between are left out. The table has all.
_MOST: Final = 24
#: What has come off by less than this has not come off, mm.
_NONE_MM: Final = 0.005
_STEPS_MM: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)


def replay_plate(found: Replay, number: int, over: ChangeEvidence, speak: Speak, tooth: Tooth = str) -> Plate:
    """Return the picture of one way of a trial and its table; ``over`` tells what the pin is told against."""
    title = say("The trial on duplicates, round by round: {name}", name=found.name)
    plate = Plate(
        f"replay-{number + 1}", speak(title), speak(_alt(found, tooth)), _table(found, speak, tooth)
    )
    step = _step(found)
    y = 12.0
    shown = _shown(found.rounds)
    for k, one in enumerate(shown):
        left = (k % _ACROSS) * _STEP
        _panel(plate, found, one, step, (left, y), speak, tooth)
        if k % _ACROSS == _ACROSS - 1 or k == len(shown) - 1:
            y += _DOWN
    edges = [figure(n * step, ".4g") for n in (1, 2, 3)]
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [
        (_box(3), say("up to {mm} mm off the tooth so far", mm=edges[0])),
        (_box(2), say("up to {mm} mm", mm=edges[1])),
        (_box(1), say("up to {mm} mm", mm=edges[2])),
        (_box(0), say("more")),
        (_box(4), say("nothing")),
        (_frame, say("holds after the round")),
    ]
    y = key(plate, (0.0, y + 4.0), [(draw, speak(text)) for draw, text in entries])
    zero = say("MIP") if over.by_mip else say("first contact")
    place = say("the pin") if over.at_pin else say("the incisors")
    words = say(
        "Upper teeth above, lower below, the patient's right on the left. mm: {place}, open over {zero}. Then the pair that met "
        "first before the round. On duplicates only: no cast was changed, and this is no instruction for the mouth.",
        place=place, zero=zero,
    )  # fmt: skip
    y = plate.lines((0.0, y), speak(words), WIDTH, look="quiet", size=SMALL)
    if found.why:
        y = plate.lines((0.0, y), speak(found.why), WIDTH, size=SMALL)
    plate.height = y
    return plate


def _shown(rounds: tuple[ReplayRound, ...]) -> list[ReplayRound]:
    """Return the rounds of the picture: all, or the first and the last and some evenly between."""
    picked = np.unique(np.linspace(0, len(rounds) - 1, min(_MOST, len(rounds))).round().astype(int))
    return [rounds[k] for k in picked]


def _step(found: Replay) -> float:
    """Return the width of a band of depth (mm), so that the deepest tooth falls into the last."""
    most = max((mm for one in found.rounds for mm in one.off_mm.values()), default=0.0)
    return next((s for s in _STEPS_MM if 4.0 * s >= most), _STEPS_MM[-1])


def _rank(off_mm: float, step: float) -> int:
    """Return the band of a depth, 0 the deepest, 4 nothing."""
    if off_mm < _NONE_MM:
        return 4
    return next((3 - n for n in range(3) if off_mm <= (n + 1) * step + 1e-9), 0)


def _panel(
    plate: Plate, found: Replay, one: ReplayRound, step: float, at: XY, speak: Speak, tooth: Tooth
) -> None:
    left, top = at
    plate.word((left, top), speak(say("round {n}", n=one.number)), look="bold", size=SMALL)
    pin = speak(say("{mm:+.2f} mm", mm=one.pin_mm))
    plate.word((left + _WIDE, top), pin, size=SMALL, anchor="end")
    there = set(found.teeth)
    rows = {"upper": top + 20.0, "lower": top + 22.0 + _HIGH}
    middle: dict[int, XY] = {}
    for arch, y in rows.items():
        for k, number in enumerate(right_to_left("upper" if arch == "upper" else "lower")):
            if number in there:
                middle[number] = (left + (k + 0.5) * _TOOTH, y)
                box = patterns.middle_box(middle[number], _TOOTH - 1.0, _HIGH)
                patterns.banded(plate, box, _rank(one.off_mm.get(number, 0.0), step))
    line = left + 8.0 * _TOOTH
    plate.line([(line, rows["upper"] - 11.0), (line, rows["lower"] + 11.0)], "faint")
    for number in {t for pair in one.holding for t in pair if t in middle}:
        x, y = middle[number]
        plate.box(x - 0.5 * _TOOTH, y - 0.5 * _HIGH - 0.5, _TOOTH, _HIGH + 1.0, "frame")
    words = speak(say("met first: {pair}", pair=_pair(one.first, tooth)))
    plate.word((left, rows["lower"] + 19.0), shortened(words, _WIDE, SMALL), look="quiet", size=SMALL)


def _pair(pair: tuple[int, int], tooth: Tooth) -> str:
    return joined(" / ", (tooth(t) if t else say("no tooth") for t in pair))


def _box(rank: int) -> Callable[[Plate, XY], None]:
    return lambda plate, at: patterns.banded(plate, patterns.middle_box(at, 16.0, _HIGH), rank)


def _frame(plate: Plate, at: XY) -> None:
    plate.box(at[0] - 7.0, at[1] - 8.0, 14.0, 16.0, "frame")


def _alt(found: Replay, tooth: Tooth) -> str:
    last = found.rounds[-1]
    most = max(last.off_mm, key=lambda t: last.off_mm[t], default=0)
    if not most:
        return say("Rounds: {count}. The table has all of them.", count=len(found.rounds))
    return say(
        "Rounds: {count}. At the end most has come off {tooth}, {mm:.2f} mm. The table has all of them.",
        count=len(found.rounds), tooth=tooth(most), mm=last.off_mm[most],
    )  # fmt: skip


def _table(found: Replay, speak: Speak, tooth: Tooth) -> Grid:
    touched = sorted({t for one in found.rounds for t, mm in one.off_mm.items() if mm >= _NONE_MM})
    rows = [
        (
            str(one.number),
            speak(figure(one.pin_mm, "+.2f")),
            speak(_pair(one.first, tooth)),
            speak(joined(", ", (_pair(pair, tooth) for pair in one.holding))),
            *(speak(figure(one.off_mm.get(t, 0.0), ".2f")) for t in touched),
        )
        for one in found.rounds
    ]
    heads = (say("round"), say("pin, mm"), say("met first"), say("pairs that hold after it"))
    note = say("Under each tooth: mm off it since the trial began, across the surface.")
    title = say("Every round of the trial")
    columns = (*(speak(h) for h in heads), *(tooth(t) for t in touched))
    return Grid(speak(title), columns, tuple(rows), speak(note))
