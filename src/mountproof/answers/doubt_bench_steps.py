"""The steps at the bench: luting and movement during set, what the stone lifts, a plate put back."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.doubt_priors import Known, Made, StepTold, own_or, source_of
from mountproof.answers.ledger import Ledger
from mountproof.bench.stone import COMMON, pours
from mountproof.case.model import Arch, Bench, Case
from mountproof.doubt.chain import ChainStep
from mountproof.doubt.motions import plane_of_stops
from mountproof.doubt.step_kinds import (
    PLATE_STOPS_MM,
    column_step,
    even_column_step,
    expansion_sd,
    stops_step,
)
from mountproof.doubt.steps import Step, free_step
from mountproof.said import joined, say

#: Bands of what luting and setting move (1 SD at the last teeth): geometric middle of the ends, for a size has no sign.
#: Stabilised: 0.04 (common practice) to 0.21 mm; by hand: 0.32 to 1.58 mm. The published ends are Gunderson & Siegel's.
_STABILISED_MM: Final = round(math.sqrt(0.04 * 0.21), 2)
_BY_HAND_MM: Final = round(math.sqrt(0.32 * 1.58), 2)
#: Luted at this many places, casts are stabilised.
_ENOUGH_PLACES: Final = 3
#: Height of a column of stone where nobody measured the gap (mm).
_HEIGHT_MM: Final = 20.0
#: Part of its expansion that the upper column still has to come when the lower is joined to it.
_LATE: Final = 0.2
#: A column of unknown shape lifts one end by so much of its lift more or less than the middle (1 SD).
_WEDGE: Final = 0.5
#: Middle of the 0.02 to 0.05 mm that an eye sees at a plate put back.
_PLATE_MM: Final = 0.035
_SPREAD_OF_EXPANSION: Final = 1.0 / math.sqrt(3.0)
_OUR_CHOICE: Final = say("our choice, no source")
_COMMON: Final = say("common practice, no source")


def bench_steps(case: Case, ledger: Ledger, *, measured: bool) -> list[Made]:
    """Return luting, both columns of stone, and the plate. ``measured``: movement during set was read in this case."""
    return [
        _luting(case, ledger, measured=measured),
        _stone(case, ledger, Arch.UPPER),
        _stone(case, ledger, Arch.LOWER),
        _plate(case, ledger),
    ]


def _luting(case: Case, ledger: Ledger, *, measured: bool) -> Made:
    luted = len(case.bench.luted_at) if case.bench is not None else 0
    tied = case.doubt.stabilised
    if tied is None:
        tied = True
        if luted < _ENOUGH_PLACES and case.doubt.luting_mm is None:
            ledger.need(
                say("whether the casts were tied together while the stone set"),
                say("held by hand they moved by 1.58 mm on average where it was measured"),
                "doubt.stabilised",
            )
    source = say(
        "casts tied together: 0.04 mm in common practice (no source) to 0.21 mm (Gunderson & Siegel 2002)"
    )
    if not tied:
        source = say("casts held by hand moved by 1.58 ± 0.32 mm (Gunderson & Siegel 2002)")
    known = own_or(
        case,
        ledger,
        "luting_mm",
        say("how far the casts move while they are luted and the stone sets"),
        _STABILISED_MM if tied else _BY_HAND_MM,
        source,
    )
    if measured:
        more = say(
            "movement was measured here: that reading is a check, which narrows this step and does not replace it"
        )
        known = known._replace(source=joined("; ", (known.source, more)))
    told = StepTold(
        "luting",
        say("luting, and movement while the stone sets"),
        ((say("at the last teeth"), known.sd, "mm"),),
        known.source,
        known.assumed,
        "doubt.luting_mm",
    )
    return Made((ChainStep("luting", "set", free_step("luting", known.sd)),), told)


class _Column(NamedTuple):
    """A column of stone: mean height, and places (n, 2) with heights (n,) where its shape is known."""

    height_mm: float
    places_mm: tuple[tuple[float, float], ...]
    heights_mm: tuple[float, ...]


def _stone(case: Case, ledger: Ledger, arch: Arch) -> Made:
    lower = arch is Arch.LOWER
    key = "stone_lower" if lower else "stone_upper"
    words = (
        say("expansion of the stone under the lower cast")
        if lower
        else say("expansion of the stone over the upper cast that comes after the lower is joined")
    )
    own = case.doubt.stone_mm
    if own is not None:
        part = 1.0 if lower else _LATE
        step = even_column_step(key, part * own, _WEDGE)
        known = Known(part * own, source_of(case, "stone_mm"), False)
        return _told_stone(key, words, step, known, "doubt.stone_mm")
    bench = case.bench if case.bench is not None else Bench()
    percent, sheet = bench.sheet.setting_expansion_percent, say("product sheet")
    assumed = percent is None
    entry = "bench.sheet.setting_expansion_percent" if assumed else "bench.mean_gap_mm"
    if percent is None:
        assert COMMON.expansion_percent is not None
        percent = COMMON.expansion_percent
        sheet = say("0.05 % for mounting plaster to 0.20 % for stone, from memory; our choice between them")
        ledger.assume(say("setting expansion"), percent, "%", sheet, "bench.sheet.setting_expansion_percent")
    part, late = (1.0, "") if lower else (_late(ledger), say("the part that comes late"))
    column = _column(bench, ledger, arch)
    assumed = assumed or not lower or not (bench.gaps or bench.mean_gap_mm is not None)
    column = _last_pour(case, column, percent, arch)
    free = part * percent / 100.0 * column.height_mm
    bound = say(
        "free expansion of {height:.0f} mm is a bound: divided by the root of 3", height=column.height_mm
    )
    source = joined("; ", (s for s in (sheet, late, bound) if s))
    if column.places_mm:
        step = column_step(key, column.places_mm, column.heights_mm, percent, part)
    else:
        ledger.assume(
            say("how much more a column of stone lifts one end, as a part of its lift (1 SD)"),
            _WEDGE,
            "",
            _OUR_CHOICE,
            "bench.gaps",
        )
        step = even_column_step(key, expansion_sd(free), _WEDGE)
    known = Known(expansion_sd(free), source, assumed)
    return _told_stone(
        key,
        words,
        step,
        known,
        entry if lower or bench.sheet.setting_expansion_percent is None else "doubt.stone_mm",
    )


def _late(ledger: Ledger) -> float:
    return ledger.assume(
        say("part of its expansion that the upper stone still has to come when the lower is joined"),
        _LATE,
        "",
        say("0.15 % after 2 h, 0.18 % after 24 h for one type of stone, from memory"),
        "doubt.stone_mm",
    )


def _told_stone(key: str, words: str, step: Step, known: Known, field: str) -> Made:
    """Tell a column by the lift and the tilts that it makes, each 1 SD."""
    cov = step.motion @ step.cov @ step.motion.T
    lift, pitch, roll = (float(s) for s in np.sqrt(np.diag(cov)[:3]))
    numbers = (
        (say("lift"), lift, "mm"),
        (say("tilt to the front"), math.degrees(pitch), "deg"),
        (say("tilt to the side"), math.degrees(roll), "deg"),
    )
    told = StepTold(key, words, numbers, known.source, known.assumed, field)
    return Made((ChainStep(key, "set", step),), told)


def _column(bench: Bench, ledger: Ledger, arch: Arch) -> _Column:
    """Return the column under the lower cast as it was measured; the gap of the upper is not asked for."""
    if arch is Arch.LOWER and bench.gaps:
        places = tuple((g.ahead_mm, g.right_mm) for g in bench.gaps)
        heights = tuple(float(g.gap_mm) for g in bench.gaps)
        plane = plane_of_stops(places) is not None
        return _Column(float(np.mean(heights)), places if plane else (), heights if plane else ())
    if arch is Arch.LOWER and bench.mean_gap_mm is not None:
        return _Column(bench.mean_gap_mm.value, (), ())
    what = (
        say("height of the stone under the lower cast")
        if arch is Arch.LOWER
        else say("height of the stone over the upper cast")
    )
    entry = "bench.mean_gap_mm" if arch is Arch.LOWER else "doubt.stone_mm"
    return _Column(ledger.assume(what, _HEIGHT_MM, "mm", _OUR_CHOICE, entry), (), ())


def _last_pour(case: Case, column: _Column, percent: float, arch: Arch) -> _Column:
    """Return what is left of a column that was poured twice: only the last pour lifts the cast."""
    if not any(p.cast is arch and p.number > 1 for p in case.pours.values()) or column.height_mm <= 0.0:
        return column
    one, lift = case.limits.gap_in_one_pour.decent, case.limits.lift_of_stone.decent
    last = 0.5 * column.height_mm
    if one > 0.0 and lift > 0.0:
        plan = pours(column.height_mm, percent, one, lift).heights_mm
        last = plan[1] if len(plan) == 2 else last
    scale = last / column.height_mm
    return _Column(last, column.places_mm, tuple(scale * h for h in column.heights_mm))


def _plate(case: Case, ledger: Ledger) -> Made:
    known = own_or(
        case,
        ledger,
        "plate_mm",
        say("how well a mounting plate finds its seat when put back"),
        _PLATE_MM,
        say("an eye sees 0.02 to 0.05 mm at a split cast, from memory"),
    )
    told = StepTold(
        "plate",
        say("a mounting plate put back"),
        (
            (say("at each place it bears on"), known.sd, "mm"),
            (say("slide"), 0.5 * known.sd, "mm"),
        ),
        known.source,
        known.assumed,
        "doubt.plate_mm",
    )
    return Made((ChainStep("plate", "set", stops_step("plate", known.sd, PLATE_STOPS_MM)),), told)
