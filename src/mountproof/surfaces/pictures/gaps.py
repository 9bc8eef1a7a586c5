"""What is left open at each tooth at first contact: medians and intervals along the arch, beside the foil."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from mountproof.answers.picture_data import ContactChances, ToothChance
from mountproof.said import figure, say
from mountproof.surfaces.pictures.chances import LABELS, WIDE, across, drawn, row_head, sides, teeth_of_arch
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, Tooth, key
from mountproof.teeth import ARCHES, Arch

#: Height of the scale of gaps, and where it ends at the latest: so many foils, where teeth do not call for more.
_SCALE_HIGH, _FOILS_HIGH = 110.0, 12.0


def gap_plate(chances: ContactChances, speak: Speak, tooth: Tooth) -> Plate:
    """Return the picture of the gap left at each tooth at first contact, with its 95 % interval, and its table."""
    title = say("What is left open at each tooth when the first teeth meet")
    alt = say(
        "Gaps of {count} teeth in µm along closure, median and 95 % interval, the patient's right on the left. The table has "
        "all teeth.",
        count=sum(one.gap_um is not None for one in chances.teeth),
    )
    plate = Plate("gaps", speak(title), speak(alt), _gap_table(chances, speak, tooth))
    y, highest = 8.0, _highest(chances)
    for arch in ARCHES:
        shown = teeth_of_arch(chances, arch)
        if shown:
            y = _gap_rows(plate, shown, arch, y, highest, chances.foil_um, speak, tooth)
    entries: list[tuple[Callable[[Plate, XY], None], str]] = [
        (_gap_sign, say("gap: median and 95 % interval")),
        (_foil_sign, say("thickness of the foil, {um:g} µm", um=chances.foil_um)),
    ]
    if any(mark.look == "strokeup" for mark in plate.marks):
        entries.append((_beyond_sign, say("reaches above the scale")))
    written = [_median(one) for one in chances.teeth]
    for sign, meaning in (
        (say("?"), say("unknown: no scan shows enough there")),
        (say("–"), say("nothing opposes it")),
    ):
        if sign in written:
            entries.append((_word_sign(speak(sign)), meaning))
    y = key(plate, (0.0, y), [(draw, speak(words)) for draw, words in entries])
    plate.height = plate.lines((0.0, y), speak(drawn(chances)), WIDTH, look="quiet", size=SMALL)
    return plate


def _has_gap(one: ToothChance) -> bool:
    """Tell whether the gap of a tooth is known: numbers, and no hole there."""
    return one.gap_um is not None and not one.unknown and all(map(math.isfinite, one.gap_um))


def _median(one: ToothChance) -> str:
    """Return what is written under a tooth: its median gap, a sign where it is unknown, another where nothing opposes."""
    if one.gap_um is None and not one.unknown:
        return say("–")
    return figure(one.gap_um[0] + 0.0, ".0f") if one.gap_um is not None and _has_gap(one) else say("?")


def _highest(chances: ContactChances) -> float:
    """Return the top of the scale, um: all intervals where they are short, else a few foils and most of the intervals."""
    gaps = [one.gap_um for one in chances.teeth if one.gap_um is not None and _has_gap(one)]
    if not gaps:
        return _round_up(max(chances.foil_um, 1.0))
    highs = sorted(gap[2] for gap in gaps)
    n = len(highs)
    # A few teeth that stand far apart do not squeeze the others.
    most = min(highs[-(-3 * (n - 1) // 4)], 3.0 * highs[(n - 1) // 2])
    top = max(highs[-1], chances.foil_um)
    return _round_up(min(top, max(most, _FOILS_HIGH * chances.foil_um)))


def _round_up(um: float) -> float:
    """Return the next round number, so that half of it is one too."""
    power = 10.0 ** math.floor(math.log10(um))
    return next(
        step * power
        for step in (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
        if step * power >= um * (1.0 - 1e-9)
    )


def _gap_rows(
    plate: Plate,
    shown: Sequence[ToothChance],
    arch: Arch,
    y: float,
    highest: float,
    foil_um: float,
    speak: Speak,
    tooth: Tooth,
) -> float:
    sides(plate, arch, y, speak)
    top = y + 24.0
    zero = top + _SCALE_HIGH
    scale = _SCALE_HIGH / highest
    row_head(plate, top + 0.25 * _SCALE_HIGH, say("gap, µm"), speak, most=2)
    for um in (0.0, 0.5 * highest, highest):
        plate.word(
            (LABELS - 6.0, zero - um * scale),
            speak(figure(um, ".3g")),
            look="quiet",
            size=SMALL,
            anchor="end",
        )
        plate.line([(LABELS - 3.0, zero - um * scale), (WIDTH, zero - um * scale)], "faint")
    plate.line([(LABELS - 3.0, zero - foil_um * scale), (WIDTH, zero - foil_um * scale)], "level")
    number, median = zero + 30.0, zero + 12.0
    row_head(plate, median, say("median"), speak, most=1)
    row_head(plate, number, say("tooth"), speak, most=1)
    middle = LABELS + 8.0 * WIDE
    plate.line([(middle, y + 10.0), (middle, number + 10.0)], "faint")
    for one in shown:
        x = across(one.tooth)
        plate.box(x - 13.0, number - 10.0, 26.0, 20.0, "tooth")
        plate.word((x, number), tooth(one.tooth), look="bold", size=SMALL, anchor="middle")
        plate.word((x, median), speak(_median(one)), size=SMALL, anchor="middle")
        if _has_gap(one) and one.gap_um is not None:
            _interval(plate, x, zero, top, scale, one.gap_um)
    return number + 30.0


def _interval(
    plate: Plate, x: float, zero: float, top: float, scale: float, gap: tuple[float, float, float]
) -> None:
    """Draw one gap with its interval; an arrow where it goes beyond the scale."""
    median, low, high = (zero - max(um, 0.0) * scale for um in gap)
    if low < top:
        # All of it lies above the scale.
        plate.path(f"M{x - 4:.1f} {top + 5:.1f}L{x:.1f} {top:.1f}L{x + 4:.1f} {top + 5:.1f}", "strokeup")
        return
    plate.line([(x, low), (x, max(high, top))], "thick")
    if high < top:
        plate.path(f"M{x - 4:.1f} {top + 5:.1f}L{x:.1f} {top:.1f}L{x + 4:.1f} {top + 5:.1f}", "strokeup")
    else:
        plate.line([(x - 4.0, high), (x + 4.0, high)], "thick")
    plate.line([(x - 4.0, low), (x + 4.0, low)], "thick")
    if median >= top:
        plate.ring((x, median), 4.5, "full")


def _gap_sign(plate: Plate, at: XY) -> None:
    x, y = at
    plate.line([(x, y - 8.0), (x, y + 8.0)], "thick")
    plate.line([(x - 4.0, y - 8.0), (x + 4.0, y - 8.0)], "thick")
    plate.line([(x - 4.0, y + 8.0), (x + 4.0, y + 8.0)], "thick")
    plate.ring(at, 4.5, "full")


def _foil_sign(plate: Plate, at: XY) -> None:
    plate.line([(at[0] - 10.0, at[1]), (at[0] + 12.0, at[1])], "level")


def _beyond_sign(plate: Plate, at: XY) -> None:
    x, y = at
    plate.path(f"M{x - 4:.1f} {y - 1:.1f}L{x:.1f} {y - 6:.1f}L{x + 4:.1f} {y - 1:.1f}", "strokeup")


def _word_sign(sign: str) -> Callable[[Plate, XY], None]:
    return lambda plate, at: plate.word(at, sign, size=SMALL, anchor="middle")


def _gap_table(chances: ContactChances, speak: Speak, tooth: Tooth) -> Grid:
    columns = (say("tooth"), say("gap (median), µm"), say("95 % interval, µm"))
    rows = []
    for one in chances.teeth:
        if one.gap_um is not None and _has_gap(one):
            _, low, high = one.gap_um
            cells = [_median(one), say("{low:.0f} to {high:.0f}", low=low, high=high)]
        else:
            cells = [
                say("nothing opposes it") if one.gap_um is None and not one.unknown else say("unknown"),
                "",
            ]
        rows.append((tooth(one.tooth), *(speak(cell) for cell in cells)))
    return Grid(
        speak(say("Gap at first contact, tooth by tooth")), tuple(speak(c) for c in columns), tuple(rows)
    )
