"""Chances of teeth to meet first and to hold the foil, on the tooth chart; what other charts of teeth share."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from mountproof.answers.picture_data import ContactChances, ToothChance
from mountproof.answers.result import K95
from mountproof.said import capital, joined, say, term
from mountproof.surfaces.palette import chance_rank, chance_words
from mountproof.surfaces.pictures import patterns
from mountproof.surfaces.pictures.percent import drawn_percent, short_percent
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth, key, wrapped
from mountproof.teeth import ARCHES, Arch, arch_of, is_tooth, place, side_of

#: Room for the heads of rows, and for each tooth, units.
LABELS, WIDE = 88.0, 34.0
_BOX_WIDE, _BOX_HIGH = 28.0, 24.0
_LINE = 15.0
#: So many of the likeliest teeth are named in words.
_NAMED = 4


def chance_plate(chances: ContactChances, speak: Speak, tooth: Tooth) -> Plate:
    """Return the tooth chart of chances to meet first and to hold the foil, and its table."""
    title = say("How likely each tooth is to meet first, and to hold a foil of {um:g} µm", um=chances.foil_um)
    alt = say(
        "Tooth chart, the patient's right on the left, chances in bands and in percent. {likeliest} The table has all teeth.",
        likeliest=_likeliest(chances, tooth),
    )
    plate = Plate("chances", speak(title), speak(alt), _chance_table(chances, speak, tooth))
    y = plate.lines((0.0, 8.0), speak(_likeliest(chances, tooth)), WIDTH, look="bold") + 8.0
    for arch in ARCHES:
        shown = teeth_of_arch(chances, arch)
        if shown:
            y = _chance_rows(plate, shown, arch, y, speak, tooth)
    plate.height = _foot(plate, chances, y + 4.0, speak)
    return plate


def known(one: ToothChance) -> bool:
    """Tell whether a chance to meet first stands for this tooth: no hole lies there and it is a number."""
    return not one.unknown and math.isfinite(one.first)


def band_key(hole: bool) -> list[tuple[Callable[[Plate, XY], None], str]]:
    """Return the key of the bands of chance, and of teeth that a hole leaves open."""

    def sign(rank: int) -> Callable[[Plate, XY], None]:
        return lambda plate, at: patterns.banded(plate, patterns.middle_box(at, 24.0, 16.0), rank)

    entries = [(sign(rank), words) for rank, words in enumerate(chance_words())]
    if hole:
        entries.append(
            (
                lambda plate, at: patterns.unknown(plate, patterns.middle_box(at, 24.0, 16.0)),
                say("unknown: no scan shows enough there"),
            )
        )
    return entries


def teeth_of_arch(chances: ContactChances, arch: Arch) -> list[ToothChance]:
    """Return the teeth of one arch."""
    return [one for one in chances.teeth if is_tooth(one.tooth) and arch_of(one.tooth) == arch]


def across(tooth: int) -> float:
    """Return where a tooth stands across the chart: the patient's right on the left, a milk tooth as the one that follows it."""
    step = place(tooth) - 0.5
    return LABELS + (8.0 + (step if side_of(tooth) == "left" else -step)) * WIDE


def _likeliest(chances: ContactChances, tooth: Tooth) -> str:
    ranked = sorted((one for one in chances.teeth if known(one)), key=lambda one: -one.first)
    named = [one for one in ranked if one.first >= 0.01][:_NAMED]
    if not ranked:
        return say("For no tooth a chance to meet first is known.")
    if not named:
        return say("No tooth stands out: each meets first in less than 1 % of the drawn mountings.")
    told = [
        say("{tooth} ({chance})", tooth=tooth(one.tooth), chance=drawn_percent(one.first)) for one in named
    ]
    return say("Likeliest to meet first: {teeth}.", teeth=joined(", ", told))


def sides(plate: Plate, arch: Arch, y: float, speak: Speak) -> None:
    """Write which arch it is, and the patient's sides over the chart."""
    head = say("upper teeth") if arch == "upper" else say("lower teeth")
    plate.word((0.0, y), speak(capital(head)), look="bold", size=SMALL)
    plate.word((LABELS + 3.0, y), speak(say("R patient's right")), look="bold", size=SMALL)
    plate.word((WIDTH - 3.0, y), speak(say("patient's left L")), look="bold", size=SMALL, anchor="end")


def row_head(plate: Plate, y: float, words: str, speak: Speak, most: int = 3) -> None:
    """Write the head of a row, its lines about ``y``."""
    rows = wrapped(speak(words), LABELS - 4.0, SMALL)[:most]
    for k, row in enumerate(rows):
        plate.word((0.0, y + _LINE * (k - (len(rows) - 1) / 2.0)), row, size=SMALL)


def _chance_rows(
    plate: Plate, shown: Sequence[ToothChance], arch: Arch, y: float, speak: Speak, tooth: Tooth
) -> float:
    sides(plate, arch, y, speak)
    first, number, holds = y + 26.0, y + 62.0, y + 90.0
    row_head(plate, first + 8.0, say("meets first, in %"), speak)
    row_head(plate, holds + 8.0, say("holds the foil, in %"), speak)
    middle = LABELS + 8.0 * WIDE
    plate.line([(middle, y + 10.0), (middle, holds + 28.0)], "faint")
    for one in shown:
        x = across(one.tooth)
        plate.word((x, number + 2.0), tooth(one.tooth), look="bold", size=SMALL, anchor="middle")
        for at, chance in ((first, one.first), (holds, one.holds)):
            box = patterns.middle_box((x, at), _BOX_WIDE, _BOX_HIGH)
            open_ = one.unknown or not math.isfinite(chance)
            if open_:
                patterns.unknown(plate, box)
            else:
                patterns.banded(plate, box, chance_rank(chance))
            words = short_percent(math.nan if open_ else chance)
            plate.word((x, at + 20.0), speak(words), size=SMALL, anchor="middle")
    return holds + 46.0


def _foot(plate: Plate, chances: ContactChances, y: float, speak: Speak) -> float:
    hole = any(not known(one) or not math.isfinite(one.holds) for one in chances.teeth)
    y = key(plate, (0.0, y), [(draw, speak(words)) for draw, words in band_key(hole)])
    return plate.lines((0.0, y), speak(_counted(chances)), WIDTH, look="quiet", size=SMALL)


def drawn(chances: ContactChances) -> str:
    """Say what the chances were counted from."""
    return (
        say(
            "From {draws} drawn mountings, {closure} closure, with what the checks told.",
            draws=chances.draws,
            closure=term(chances.closure),
        )
        if chances.after_checks
        else say(
            "From {draws} drawn mountings, {closure} closure, without any check of the mounting.",
            draws=chances.draws,
            closure=term(chances.closure),
        )
    )


def _counted(chances: ContactChances) -> str:
    """Say besides how far the counting itself is off."""
    errors = [u for one in chances.teeth for u in (one.first_u, one.holds_u) if math.isfinite(u)]
    if not errors:
        return drawn(chances)
    error = say(
        "Counting so many leaves at most ± {points:.1f} percentage points (95 %).",
        points=100.0 * K95 * max(errors),
    )
    return joined(" ", (drawn(chances), error))


def _chance_table(chances: ContactChances, speak: Speak, tooth: Tooth) -> Grid:
    columns = (say("tooth"), say("meets first"), say("± (95 %)"), say("holds the foil"), say("± (95 %)"))
    rows = []
    for one in chances.teeth:
        cells = [tooth(one.tooth)]
        for chance, u in ((one.first, one.first_u), (one.holds, one.holds_u)):
            if one.unknown or not math.isfinite(chance):
                cells += [speak(say("unknown")), ""]
            else:
                error = say("{points:.1f} %", points=100.0 * K95 * u) if math.isfinite(u) else ""
                cells += [speak(drawn_percent(chance)), speak(error)]
        rows.append(tuple(cells))
    return Grid(speak(say("Chances, tooth by tooth")), tuple(speak(c) for c in columns), tuple(rows))
