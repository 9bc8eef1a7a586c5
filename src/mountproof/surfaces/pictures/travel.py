"""What an excursion opens at each tooth: travel downwards, teeth across, gaps in bands, and who guides in a frame."""

from __future__ import annotations

import math
from collections.abc import Callable

from mountproof.answers.excursion_data import Direction, Travel
from mountproof.said import figure, say
from mountproof.surfaces.pictures import patterns
from mountproof.surfaces.pictures.chances import LABELS, WIDE, across, row_head, sides
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth, key
from mountproof.teeth import arch_of

#: Upper limits of the bands of gap, mm, the first touching; what is wider is a plain tooth.
EDGES_MM = (0.04, 0.2, 0.5, 1.0)
_HIGH, _CELL = 20.0, 28.0


def travel_plate(travel: Travel, speak: Speak, tooth: Tooth) -> Plate:
    """Return the chart of one excursion, upper teeth by travel, and its table."""
    title = _TITLES[travel.direction]
    alt = say(
        "Gaps at {count} upper teeth at {stations} places of travel, the patient's right on the left, first contact at the top. "
        "The table has the numbers.",
        count=len(_upper(travel)),
        stations=len(travel.travel_mm),
    )
    plate = Plate(f"travel-{travel.direction}", speak(title), speak(alt), _travel_table(travel, speak, tooth))
    sides(plate, "upper", 8.0, speak)
    number = 34.0
    row_head(plate, number, say("travel, mm"), speak, most=1)
    for i in _upper(travel):
        plate.word(
            (across(travel.teeth[i]), number),
            tooth(travel.teeth[i]),
            look="bold",
            size=SMALL,
            anchor="middle",
        )
    y = number + 22.0
    for k, mm in enumerate(travel.travel_mm.tolist()):
        plate.word((LABELS - 24.0, y), speak(figure(mm, ".1f")), size=SMALL, anchor="end")
        guides = travel.guides[k]
        for i in _upper(travel):
            box = patterns.middle_box((across(travel.teeth[i]), y), _CELL, _HIGH - 4.0)
            patterns.banded(plate, box, gap_rank(float(travel.gap_mm[i, k])))
            if guides is not None and guides[0] == travel.teeth[i]:
                plate.box(box[0], box[1], box[2] - box[0], box[3] - box[1], "frame")
        y += _HIGH
    middle = LABELS + 8.0 * WIDE
    plate.line([(middle, 22.0), (middle, y - 8.0)], "faint")
    y += 8.0
    row_head(plate, y, say("all settings"), speak, most=2)
    for i in _upper(travel):
        _touch_sign(plate, (across(travel.teeth[i]), y), travel.touch[i])
    y = key(plate, (0.0, y + 30.0), [(draw, speak(words)) for draw, words in _key(travel)])
    plate.height = plate.lines((0.0, y), speak(_foot(travel)), WIDTH, look="quiet", size=SMALL)
    return plate


_TITLES: dict[Direction, str] = {
    "ahead": say("What opens as the jaw goes straight ahead"),
    "right": say("What opens as the jaw goes to its right"),
    "left": say("What opens as the jaw goes to its left"),
}


def gap_rank(gap_mm: float) -> int:
    """Return the band of a gap (mm), the narrowest 0; as many as there are bands where it is wider than all of them."""
    return next((rank for rank, edge in enumerate(EDGES_MM) if gap_mm <= edge), len(EDGES_MM))


def _upper(travel: Travel) -> list[int]:
    return [i for i, t in enumerate(travel.teeth) if arch_of(t) == "upper"]


def _touch_sign(plate: Plate, at: XY, touch: str) -> None:
    """Full: touches whatever is set; open: with some settings; a question mark: a hole; a dash: never."""
    if touch == "always":
        plate.ring(at, 5.5, "full")
    elif touch == "depends":
        plate.ring(at, 5.0, "open")
    elif touch == "unknown":
        plate.word(at, "?", size=SMALL, anchor="middle")
    else:
        plate.line([(at[0] - 4.0, at[1]), (at[0] + 4.0, at[1])], "soft")


def _key(travel: Travel) -> list[tuple[Callable[[Plate, XY], None], str]]:
    def band(rank: int) -> Callable[[Plate, XY], None]:
        return lambda plate, at: patterns.banded(plate, patterns.middle_box(at, 24.0, 16.0), rank)

    def sign(touch: str) -> Callable[[Plate, XY], None]:
        return lambda plate, at: _touch_sign(plate, at, touch)

    def frame(plate: Plate, at: XY) -> None:
        plate.box(at[0] - 12.0, at[1] - 8.0, 24.0, 16.0, "frame")

    shown = [figure(1000.0 * edge if edge < 1.0 else edge, ".4g") for edge in EDGES_MM]
    words = [
        say("up to {um} µm, touching", um=shown[0]),
        say("up to {um} µm", um=shown[1]),
        say("up to {um} µm", um=shown[2]),
        say("up to {mm} mm", mm=shown[3]),
        say("wider"),
    ]
    there = {gap_rank(float(g)) for i in _upper(travel) for g in travel.gap_mm[i]}
    entries = [(band(rank), text) for rank, text in enumerate(words) if rank in there]
    entries.append((frame, say("guides")))
    means = {
        "always": say("touches whatever is set"),
        "depends": say("touches with some settings"),
        "never": say("touches with none"),
        "unknown": say("a hole may hide a contact"),
    }
    found = {travel.touch[i] for i in _upper(travel)}
    return entries + [(sign(touch), text) for touch, text in means.items() if touch in found]


def _foot(travel: Travel) -> str:
    return say(
        "Travel of the condyles that go forward, from first contact in CR; gaps along closing with the middle settings. Below: "
        "from {start:.0f} mm on, over {count} settings that the records and what was assumed leave open.",
        start=travel.from_mm,
        count=travel.settings,
    )


def _travel_table(travel: Travel, speak: Speak, tooth: Tooth) -> Grid:
    columns = (
        say("travel, mm"),
        say("at the incisors, mm"),
        say("guides"),
        *(tooth(travel.teeth[i]) for i in _upper(travel)),
    )
    rows = []
    for k, mm in enumerate(travel.travel_mm.tolist()):
        pair = travel.guides[k]
        who = speak(say("no tooth")) if pair is None else f"{tooth(pair[0])} / {tooth(pair[1])}"
        at = float(travel.incisor_mm[k])
        rows.append(
            (
                speak(figure(mm, ".1f")),
                speak(figure(at, ".1f")) if math.isfinite(at) else "–",
                who,
                *(_gap(float(travel.gap_mm[i, k]), speak) for i in _upper(travel)),
            )
        )
    return Grid(
        speak(say("Gap at each upper tooth by travel, mm")),
        tuple(speak(c) for c in columns),
        tuple(rows),
        speak(say("A dash: nothing opposes the tooth within {mm:.0f} mm along closing.", mm=travel.far_mm)),
    )


def _gap(gap_mm: float, speak: Speak) -> str:
    return speak(figure(gap_mm + 0.0, ".2f")) if math.isfinite(gap_mm) else "–"
