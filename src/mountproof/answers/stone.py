"""Question 2: how much stone and water, in how many pours, and when it may be touched."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Assumption, Table, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.bench import stone
from mountproof.bench.luting import luting_plan
from mountproof.case.model import Bench, Case
from mountproof.faults import FaultError
from mountproof.geometry.carry import Carried, exact, measured, stack, through

_WATER_U_ML = 0.5
_POWDER_U_G = 0.5
_GAP_U_MM = 1.0
_VOLUME_U_ML = 2.0
_AREA_U = 0.05
_LUTE_GIVES_MM = 0.05
_COMMON = "common practice, no source"
#: Where luting is asked to hold: ahead of the hinge and to the right. An average skull; stand-ins.
_TEETH_XZ = {"incisors": (92.0, 0.0), "right second molar": (50.0, 28.0), "left second molar": (50.0, -28.0)}
_SHEET_WORDS = {
    "water_ml_per_100g": ("water for 100 g of powder", "mL"),
    "expansion_percent": ("setting expansion", "%"),
    "powder_g_per_ml": ("density of the powder's grains", "g/mL"),
    "mix_s": ("mixing by hand", "s"),
    "work_min": ("poured and adapted within", "min"),
    "set_min": ("initial set", "min"),
    "release_min": ("release from the instrument", "min"),
}
_SHEET_ENTRY = {
    "expansion_percent": "setting_expansion_percent",
    "powder_g_per_ml": "powder_density_g_per_ml",
}


def answer(case: Case, progress: Progress) -> Answer:
    """Answer masses, pours and times from the product sheet, or from common practice where it was not entered."""
    ledger = Ledger("stone")
    ledger.sources.append(SOURCES["stone"])
    bench = case.bench if case.bench is not None else Bench()
    entered = _entered(bench)
    sheet = _sheet(entered, ledger)
    volume = _volume(bench, ledger)
    says = [*_mix(bench, sheet, volume, ledger, case), *_pours(bench, sheet, ledger, case)]
    _times(bench, entered, sheet, ledger)
    _luting(bench, ledger, case)
    if not bench.sheet.water_ml_per_100g:
        ledger.need(
            "water for 100 g from the product sheet",
            "the ratio is common practice so far",
            "bench.sheet.water_ml_per_100g",
        )
    if bench.sheet.setting_expansion_percent is None:
        ledger.need(
            "setting expansion from the product sheet", "what the stone lifts rests on it", "bench.sheet"
        )
    if not ledger.verdicts:
        ledger.because(
            Verdict.CANNOT_TELL, Why.MISSING, "no mix and no gap was entered, so nothing can be judged"
        )
    return ledger.answer(". ".join(s[0].upper() + s[1:] for s in says) + ".")


def _entered(bench: Bench) -> stone.Sheet:
    given = bench.sheet
    return stone.Sheet(
        given.water_ml_per_100g,
        given.setting_expansion_percent,
        given.powder_density_g_per_ml,
        given.mix_s,
        given.work_min,
        given.set_min,
        given.release_min,
    )


def _sheet(entered: stone.Sheet, ledger: Ledger) -> stone.Sheet:
    full, assumed = stone.filled_in(entered)
    for name in assumed:
        words, unit = _SHEET_WORDS[name]
        value = getattr(full, name)
        source = "handbook value for hemihydrate, from memory" if name == "powder_g_per_ml" else _COMMON
        ledger.assume(words, value, unit, source, f"bench.sheet.{_SHEET_ENTRY.get(name, name)}")
    return full


def _gap(bench: Bench, ledger: Ledger) -> Carried | None:
    """Return the mean height of the gap (mm): entered, or the mean of the places."""
    if bench.mean_gap_mm is not None:
        u = bench.mean_gap_mm.u
        if u is None:
            u = ledger.assume("uncertainty of the mean gap", _GAP_U_MM, "mm", _COMMON, "bench.mean_gap_mm")
        return measured(bench.mean_gap_mm.value, u, "length/gap")
    if bench.gaps:
        heights = [g.gap_mm for g in bench.gaps]
        ledger.assume("uncertainty of the gap at one place", _GAP_U_MM, "mm", _COMMON, "bench.gaps")
        return measured(float(np.mean(heights)), _GAP_U_MM / math.sqrt(len(heights)), "length/gap")
    return None


def _volume(bench: Bench, ledger: Ledger) -> Carried | None:
    if bench.volume_ml is not None:
        u = ledger.assume(
            "uncertainty of the measured volume", _VOLUME_U_ML, "mL", _COMMON, "bench.volume_ml"
        )
        return measured(bench.volume_ml, u, "reading/volume")
    gap = _gap(bench, ledger)
    if gap is None or bench.base_area_mm2 is None:
        ledger.need(
            "area of the base and mean height of the gap",
            "then the powder is answered for this gap",
            "bench.base_area_mm2",
        )
        return None
    area = bench.base_area_mm2
    u_area = area.u
    if u_area is None:
        u_area = ledger.assume(
            "uncertainty of the base's area",
            round(_AREA_U * area.value, 1),
            "mm2",
            _COMMON,
            "bench.base_area_mm2",
        )
    return stone.volume_of_gap(measured(area.value, u_area, "length/area"), gap)


def _mix(bench: Bench, sheet: stone.Sheet, volume: Carried | None, ledger: Ledger, case: Case) -> list[str]:
    assert sheet.water_ml_per_100g is not None
    ratio, assumed = sheet.water_ml_per_100g, bench.sheet.water_ml_per_100g is None
    says = []
    if volume is not None:
        mix = stone.mix_for_volume(volume, ratio, _density(bench))
        ledger.quantity("volume", "space to fill", volume, "mL", decimals=0)
        ledger.quantity("powder", "powder for this space", mix.powder_g, "g", decimals=0, assumed=assumed)
        ledger.quantity("water", "water for it", mix.water_ml, "mL", decimals=1, assumed=assumed)
        says.append(
            f"{mix.powder_g.value:.0f} g of powder with {mix.water_ml.value:.1f} mL of water fill the gap"
        )
    powder = bench.powder_g
    if powder is not None:
        u_powder = ledger.assume("uncertainty of weighing", _POWDER_U_G, "g", _COMMON, "bench.powder_g")
        wanted = measured(powder, u_powder, "reading/powder").times(ratio / 100.0)
        ledger.quantity(
            "water_for_powder", f"water for {powder:g} g", wanted, "mL", decimals=1, assumed=assumed
        )
        says.append(f"{powder:g} g of powder takes {wanted.value:.1f} mL of water")
        if bench.water_ml is not None:
            _deviation(bench, powder, u_powder, ratio, ledger, case)
            mass = measured(powder, u_powder, "reading/powder")
            water = measured(bench.water_ml, _WATER_U_ML, "reading/water")
            filled = through(lambda v: v[0] / v[1] + v[2], stack([mass, _density(bench), water]))
            ledger.quantity("mixed", "space this mix fills", filled, "mL", decimals=0)
    if not says:
        whence = "about " if assumed else ""
        tail = " (common practice: the product sheet decides)" if assumed else ""
        says.append(f"100 g of powder takes {whence}{ratio:g} mL of water{tail}")
    ledger.tables.append(_ratio_table(ratio, _density(bench).value))
    return says


def _density(bench: Bench) -> Carried:
    """Return the density of the powder's grains (g/mL): from the product sheet, or the assumed one with its doubt."""
    given = bench.sheet.powder_density_g_per_ml
    return stone.density() if given is None else exact(given)


def _deviation(
    bench: Bench, powder: float, u_powder: float, ratio: float, ledger: Ledger, case: Case
) -> None:
    assert bench.water_ml is not None
    u_water = ledger.assume("uncertainty of measuring water", _WATER_U_ML, "mL", _COMMON, "bench.water_ml")
    off = stone.ratio_deviation_percent(powder, bench.water_ml, ratio)
    u = (
        100.0
        * bench.water_ml
        / stone.water_for(powder, ratio)
        * math.hypot(u_water / bench.water_ml, u_powder / powder)
    )
    made = ledger.quantity(
        "deviation", "water used against the sheet", measured(off, u, "reading/mix"), "%", decimals=1
    )
    limit = case.limits.water_powder_deviation
    verdict = judge_against(ledger, "water used differs from the sheet by", made.value, u, limit, 1)
    if verdict is Verdict.CANNOT_TELL:
        ledger.need(
            "the water weighed (1 g is 1 mL)", "a cylinder reads too roughly for this limit", "bench.water_ml"
        )
    if off > 0.0:
        ledger.notes.append(
            "More water than the sheet asks for: weaker and slower; less of it: more expansion."
        )


def _ratio_table(ratio: float, density: float) -> Table:
    rows = tuple((f"{g}", f"{stone.water_for(g, ratio):.1f}", f"{stone.mix_volume_ml(g, stone.water_for(g, ratio), density):.0f}")
                 for g in (50, 75, 100, 125, 150, 200, 250, 300))  # fmt: skip
    return Table(
        "Powder, water, space filled", ("powder g", "water mL", "fills mL"), rows, "Air is not counted."
    )


def _pours(bench: Bench, sheet: stone.Sheet, ledger: Ledger, case: Case) -> list[str]:
    gap = _gap(bench, ledger)
    if gap is None or sheet.expansion_percent is None:
        return []
    one, lift_limit = case.limits.gap_in_one_pour, case.limits.lift_of_stone
    judge_against(ledger, "gap", gap.value, gap.u, one, 0)
    if gap.value <= 0.0:
        return ["there is no gap to fill"]
    if one.decent <= 0.0 or lift_limit.decent <= 0.0:
        ledger.notes.append(
            "A limit of zero for gap or lift leaves no pour that keeps it: pours are not told."
        )
        return []
    plan = stone.pours(gap.value, sheet.expansion_percent, one.decent, lift_limit.decent)
    assumed = bench.sheet.setting_expansion_percent is None
    lift = gap.times(sheet.expansion_percent / 100.0)
    ledger.quantity(
        "lift",
        "what one pour may lift, at most",
        lift,
        "mm",
        decimals=3,
        assumed=assumed,
        note="free expansion: a bound",
    )
    if bench.gaps and len(bench.gaps) >= 3:
        _wedge(bench, sheet.expansion_percent, ledger)
    if len(plan.heights_mm) == 1:
        return ["one pour will do"]
    first, second = plan.heights_mm
    ledger.quantity(
        "lift_of_two",
        "what is left of it with two pours",
        measured(second, _GAP_U_MM, "length/second pour").times(sheet.expansion_percent / 100.0),
        "mm",
        decimals=3,
        assumed=assumed,
    )
    ledger.notes.append(f"Two pours because of {plan.because}: let the first set before the second.")
    return [f"pour twice: {first:.0f} mm, then {second:.0f} mm after it has set"]


def _wedge(bench: Bench, expansion: float, ledger: Ledger) -> None:
    try:
        wedge = stone.wedge_lift(
            [(g.ahead_mm, g.right_mm) for g in bench.gaps], [g.gap_mm for g in bench.gaps], expansion
        )
    except ValueError:
        ledger.need(
            "gap heights at three places not in a line", "then the tilt by expansion is known", "bench.gaps"
        )
        return
    ledger.notes.append(
        f"The gap is a wedge: expansion may tilt the cast by {math.degrees(wedge.pitch_rad):+.3f} degrees (front) and "
        f"{math.degrees(wedge.roll_rad):+.3f} (right side); it lifts {1000 * wedge.largest_mm:.0f} um where it is highest."
    )


def _times(bench: Bench, entered: stone.Sheet, sheet: stone.Sheet, ledger: Ledger) -> None:
    try:
        moments = stone.steps(entered)
    except ValueError:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            "the times of the product sheet contradict each other: mixing, working, set, release",
        )
        ledger.need(
            "mixing, working, setting and release times in this order",
            "they contradict each other",
            "bench.sheet",
        )
        return
    met = bench.powder_met_water
    rows = []
    for step in moments:
        wait = f"{step.after_s:.0f} s" if step.after_s < 60 else f"{step.after_s / 60:g} min"
        rows.append((step.name, wait, _clock(met, step.after_s), "assumed" if step.assumed else ""))
    ledger.tables.append(Table("Times, from powder meets water", ("", "after", "clock", ""), tuple(rows)))
    if met is None:
        ledger.need(
            "the time powder met water", "then every step has its clock time", "bench.powder_met_water"
        )
        return
    initial, release = 60.0 * (sheet.set_min or 0.0), 60.0 * (sheet.release_min or 0.0)
    if bench.hands_off is not None and _after(met, bench.hands_off) > initial:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            f"hands were on it past the initial set ({_since(met, bench.hands_off)})",
        )
    if bench.released is not None:
        after = _after(met, bench.released)
        if after < initial:
            ledger.because(
                Verdict.DISAGREES,
                Why.OUTSIDE,
                f"released before the initial set ({_since(met, bench.released)})",
            )
        elif after < release:
            ledger.because(Verdict.DOUBTFUL, Why.BETWEEN, f"released early ({_since(met, bench.released)})")


def _after(met: dt.time, then: dt.time) -> float:
    """Seconds from one clock time to a later one, over midnight where it must be."""
    seconds = (then.hour - met.hour) * 3600 + (then.minute - met.minute) * 60 + then.second - met.second
    return float(seconds % 86400)


def _since(met: dt.time, then: dt.time) -> str:
    return f"{_after(met, then) / 60:.0f} min after powder met water"


def _clock(met: dt.time | None, after_s: float) -> str:
    if met is None:
        return ""
    day = dt.datetime.combine(dt.date(2000, 1, 1), met) + dt.timedelta(seconds=after_s)
    return day.strftime("%H:%M:%S" if after_s % 60 else "%H:%M")


def _luting(bench: Bench, ledger: Ledger, case: Case) -> None:
    if not bench.luted_at:
        ledger.need(
            "where the lower cast was luted (three places or more)",
            "two places are a hinge",
            "bench.luted_at",
        )
        return
    places = [(p.ahead_mm, p.right_mm) for p in bench.luted_at]
    try:
        plan = luting_plan(places, _TEETH_XZ, _LUTE_GIVES_MM, case.limits.stop_amplification.redo)
    except FaultError as error:
        for fault in error.faults:
            ledger.because(Verdict.DISAGREES, Why.OUTSIDE, f"luting: {fault.what}")
            ledger.need("one more luted place, well off the line of the others", fault.what, "bench.luted_at")
        return
    named = ", ".join(f"{name} {x:g} ahead and {z:g} right" for name, (x, z) in _TEETH_XZ.items())
    ledger.assumptions.append(
        Assumption(
            "where the teeth stand for luting (mm)", named, "an average skull; stand-ins", "bench.luted_at"
        )
    )
    worst = plan.amplification[plan.worst_tooth]
    ledger.assume("how far one luted place may give", _LUTE_GIVES_MM, "mm", _COMMON, "bench.luted_at")
    verdict = Verdict.AGREES if worst <= case.limits.stop_amplification.decent else Verdict.DOUBTFUL
    ledger.because(
        verdict,
        Why.INSIDE if verdict is Verdict.AGREES else Why.BETWEEN,
        f"luted at {plan.places} places ({plan.area_mm2:.0f} mm2): an error of one grows {worst:.1f} times at the "
        f"{plan.worst_tooth}; left loose about their longest line: {math.degrees(plan.loose_tilt_rad):.2f} degrees",
        value=worst,
        limit=case.limits.stop_amplification.decent,
    )
