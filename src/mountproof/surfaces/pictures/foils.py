"""Foil in the mouth beside foil on the casts, tooth by tooth: three states by shape, and the gap that is left."""

from __future__ import annotations

import math

from mountproof.answers.picture_data import FoilChart, FoilSide
from mountproof.said import capital, figure, say, term
from mountproof.surfaces.pictures import signs
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, Grid, Plate, Speak, Tooth, key, wrapped
from mountproof.teeth import ARCHES, Arch, right_to_left

_LABELS, _WIDE, _SCALE_HIGH = 88.0, 34.0, 56.0
_SIGN = {"holds": signs.holds, "drags": signs.drags, "free": signs.free}


def foil_plate(chart: FoilChart, name: str, speak: Speak, tooth: Tooth) -> Plate:
    """Return the picture of one pair of foil lists and its table."""
    title = say(
        "Foil of {um:g} µm in {relation}, {closure} closure",
        um=chart.mouth.thickness_um,
        relation=chart.relation,
        closure=term(chart.mouth.closure),
    )
    differing = ", ".join(tooth(t) for t in chart.differs)
    alt = (
        say(
            "{title}. Mouth and {casts} differ at {teeth}.",
            title=title,
            casts=term(chart.casts.where),
            teeth=differing,
        )
        if differing
        else say("{title}. Mouth and {casts} differ at no tooth.", title=title, casts=term(chart.casts.where))
    )
    plate = Plate(name, speak(title), speak(alt), _table(chart, speak, tooth))
    highest = _highest(chart)
    y = 6.0
    for arch in ARCHES:
        shown = [t for t in right_to_left(arch) if t in chart.teeth]
        if shown:
            y = _row(plate, chart, arch, y, highest, speak, tooth)
    entries = [
        (signs.holds, speak(say("holds"))),
        (signs.drags, speak(say("drags"))),
        (signs.free, speak(say("free"))),
        (signs.untried, speak(say("not tried"))),
        (signs.differs, speak(say("mouth and casts differ"))),
    ]
    plate.height = key(plate, (0.0, y + 8.0), entries)
    if chart.fitted_um:
        words = say(
            "Gap left: what is left at each tooth once the small change that all foils tell is taken away, stroke for 95 %. "
            "An arrow: wider than that, how much is not told."
        )
        plate.height = plate.lines((0.0, plate.height), speak(words), WIDTH, look="quiet", size=SMALL)
    return plate


def _highest(chart: FoilChart) -> float:
    """Return the top of the scale (um): what foils bound, and a little above what they do not; never above a few foils."""
    bounded = [high for _, _, high in chart.fitted_um.values() if math.isfinite(high)]
    beyond = [1.25 * low for _, low, high in chart.fitted_um.values() if math.isinf(high)]
    thickest = max(chart.mouth.thickness_um, chart.casts.thickness_um)
    return min(max([*bounded, *beyond, thickest]), max([_FOILS_HIGH * thickest, *beyond]))


#: The scale of gaps ends at so many foils, where no tooth calls for more.
_FOILS_HIGH = 12.0


def _row(
    plate: Plate, chart: FoilChart, arch: Arch, y: float, highest_um: float, speak: Speak, tooth: Tooth
) -> float:
    teeth = right_to_left(arch)
    place = {t: _LABELS + (k + 0.5) * _WIDE for k, t in enumerate(teeth)}
    head = say("upper teeth") if arch == "upper" else say("lower teeth")
    plate.word((0.0, y + 4.0), speak(capital(head)), look="bold", size=SMALL)
    plate.word((_LABELS + 14.0, y + 4.0), speak(say("R patient's right")), look="bold", size=SMALL)
    plate.word((WIDTH - 2.0, y + 4.0), speak(say("patient's left L")), look="bold", size=SMALL, anchor="end")
    mouth, number, casts = y + 30.0, y + 54.0, y + 78.0
    for at, words in ((mouth, chart.mouth.where), (casts, chart.casts.where)):
        for k, line in enumerate(wrapped(speak(term(words)), _LABELS, SMALL)[:2]):
            plate.word((0.0, at + 15.0 * k), line, size=SMALL)
    middle = _LABELS + 8.0 * _WIDE
    plate.line([(middle, y + 16.0), (middle, y + 94.0)], "faint")
    fitted = [t for t in teeth if t in chart.fitted_um and t in chart.teeth]
    bottom = y + 98.0 + (_SCALE_HIGH + 24.0 if fitted else 0.0)
    for t in teeth:
        if t not in chart.teeth:
            continue
        x = place[t]
        if t in chart.differs:
            plate.box(x - 15.5, y + 15.0, 31.0, 78.0, "frame")
        plate.box(x - 13.0, number - 10.0, 26.0, 20.0, "tooth")
        plate.word((x, number), tooth(t), look="bold", size=SMALL, anchor="middle")
        for at, side in ((mouth, chart.mouth), (casts, chart.casts)):
            _SIGN.get(_state(side, t), signs.untried)(plate, (x, at))
    if fitted:
        _gaps(plate, chart, fitted, place, y + 104.0, highest_um, speak)
    return bottom + 8.0


def _gaps(
    plate: Plate,
    chart: FoilChart,
    teeth: list[int],
    place: dict[int, float],
    top: float,
    highest_um: float,
    speak: Speak,
) -> None:
    scale = _SCALE_HIGH / highest_um
    zero = top + _SCALE_HIGH
    for k, line in enumerate(wrapped(speak(say("gap left, µm")), _LABELS - 18.0, SMALL)[:3]):
        plate.word((0.0, top + 6.0 + 15.0 * k), line, size=SMALL)
    for um in (0.0, highest_um):
        plate.word(
            (_LABELS - 6.0, zero - um * scale),
            speak(figure(um, ".0f")),
            look="quiet",
            size=SMALL,
            anchor="end",
        )
        plate.line([(_LABELS - 3.0, zero - um * scale), (WIDTH, zero - um * scale)], "faint")
    for t in teeth:
        gap, low, high = chart.fitted_um[t]
        x = place[t]
        if not math.isfinite(low):
            continue
        foot = zero - min(max(low, 0.0), highest_um) * scale
        if not math.isfinite(high):
            plate.line([(x, foot), (x, top)], "thick")
            plate.line([(x - 4.0, top + 5.0), (x, top), (x + 4.0, top + 5.0)], "thick")
            words = say(">{um:.0f}", um=low)
            plate.word((x, zero + 12.0), speak(words), look="quiet", size=SMALL, anchor="middle")
            continue
        plate.line([(x, foot), (x, zero - min(max(high, 0.0), highest_um) * scale)], "thick")
        at = zero - min(max(gap, 0.0), highest_um) * scale
        plate.line([(x - 6.0, at), (x + 6.0, at)], "thick")
        plate.word((x, zero + 12.0), speak(figure(gap, ".0f")), size=SMALL, anchor="middle")


def _state(side: FoilSide, tooth: int) -> str:
    return str.__str__(side.states.get(tooth, ""))


def _table(chart: FoilChart, speak: Speak, tooth: Tooth) -> Grid:
    columns = [say("tooth"), term(chart.mouth.where), term(chart.casts.where), say("differs")]
    if chart.fitted_um:
        columns += [say("gap left, µm"), say("95 % interval, µm")]
    rows = []
    for t in chart.teeth:
        states = [side.states.get(t, "") for side in (chart.mouth, chart.casts)]
        cells = [tooth(t), *(speak(term(s) if s else say("not tried")) for s in states)]
        cells.append(speak(say("differs")) if t in chart.differs else "")
        if chart.fitted_um:
            cells += [speak(words) for words in _gap_words(chart.fitted_um.get(t))]
        rows.append(tuple(cells))
    return Grid(speak(say("Foil, tooth by tooth")), tuple(speak(c) for c in columns), tuple(rows))


def _gap_words(gap: tuple[float, float, float] | None) -> tuple[str, str]:
    """Return a gap and its interval in words; the gap is left out where no foil bounds it."""
    if gap is None:
        return "", ""
    middle, low, high = gap
    if not math.isfinite(high):
        return "", say("above {low:.0f}", low=low)
    return figure(middle, ".0f"), say("{low:.0f} to {high:.0f}", low=low, high=high)
