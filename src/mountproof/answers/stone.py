"""Question 2: how much stone and water, in how many pours, and when it may be touched."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.pours import sheet_of
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Assumption, Table, Verdict, Why
from mountproof.answers.stone_times import tell_times
from mountproof.answers.words import SOURCES
from mountproof.bench import stone
from mountproof.bench.luting import luting_plan
from mountproof.case.model import Bench, Case
from mountproof.faults import FaultError
from mountproof.geometry.carry import Carried, exact, measured, stack, through
from mountproof.said import capital, figure, joined, say

_WATER_U_ML = 0.5
_POWDER_U_G = 0.5
_GAP_U_MM = 1.0
_VOLUME_U_ML = 2.0
_AREA_U = 0.05
LUTE_GIVES_MM = 0.05
_COMMON = say("common practice, no source")
#: Where luting is asked to hold: ahead of the hinge and to the right. An average skull; stand-ins.
TEETH_XZ = {
    say("incisors"): (92.0, 0.0),
    say("right second molar"): (50.0, 28.0),
    say("left second molar"): (50.0, -28.0),
}
_SHEET_WORDS = {
    "water_ml_per_100g": (say("water for 100 g of powder"), "mL"),
    "expansion_percent": (say("setting expansion"), "%"),
    "powder_g_per_ml": (say("density of the powder's grains"), "g/mL"),
    "mix_s": (say("mixing by hand"), "s"),
    "work_min": (say("poured and adapted within"), "min"),
    "set_min": (say("initial set"), "min"),
    "release_min": (say("release from the instrument"), "min"),
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
    sheet = _sheet(sheet_of(bench), ledger)
    volume = _volume(bench, ledger)
    says = [*_mix(bench, sheet, volume, ledger, case), *_pours(bench, sheet, ledger, case)]
    tell_times(case, ledger)
    _luting(bench, ledger, case)
    if not bench.sheet.water_ml_per_100g:
        ledger.need(
            say("water for 100 g from the product sheet"),
            say("the ratio is common practice so far"),
            "bench.sheet.water_ml_per_100g",
        )
    if bench.sheet.setting_expansion_percent is None:
        ledger.need(
            say("setting expansion from the product sheet"),
            say("what the stone lifts rests on it"),
            "bench.sheet",
        )
    if not ledger.verdicts:
        ledger.because(
            Verdict.CANNOT_TELL, Why.MISSING, say("no mix and no gap was entered, so nothing can be judged")
        )
    return ledger.answer(joined(". ", (capital(s) for s in says)))


def _sheet(entered: stone.Sheet, ledger: Ledger) -> stone.Sheet:
    full, assumed = stone.filled_in(entered)
    for name in assumed:
        words, unit = _SHEET_WORDS[name]
        value = getattr(full, name)
        source = say("handbook value for hemihydrate, from memory") if name == "powder_g_per_ml" else _COMMON
        ledger.assume(words, value, unit, source, f"bench.sheet.{_SHEET_ENTRY.get(name, name)}")
    return full


def _gap(bench: Bench, ledger: Ledger) -> Carried | None:
    """Return the mean height of the gap (mm): entered, or the mean of the places."""
    if bench.mean_gap_mm is not None:
        u = bench.mean_gap_mm.u
        if u is None:
            u = ledger.assume(
                say("uncertainty of the mean gap"), _GAP_U_MM, "mm", _COMMON, "bench.mean_gap_mm"
            )
        return measured(bench.mean_gap_mm.value, u, "length/gap")
    if bench.gaps:
        heights = [g.gap_mm for g in bench.gaps]
        ledger.assume(say("uncertainty of the gap at one place"), _GAP_U_MM, "mm", _COMMON, "bench.gaps")
        return measured(float(np.mean(heights)), _GAP_U_MM / math.sqrt(len(heights)), "length/gap")
    return None


def _volume(bench: Bench, ledger: Ledger) -> Carried | None:
    if bench.volume_ml is not None:
        u = ledger.assume(
            say("uncertainty of the measured volume"), _VOLUME_U_ML, "mL", _COMMON, "bench.volume_ml"
        )
        return measured(bench.volume_ml, u, "reading/volume")
    gap = _gap(bench, ledger)
    if gap is None or bench.base_area_mm2 is None:
        ledger.need(
            say("area of the base and mean height of the gap"),
            say("then the powder is answered for this gap"),
            "bench.base_area_mm2",
        )
        return None
    area = bench.base_area_mm2
    u_area = area.u
    if u_area is None:
        u_area = ledger.assume(
            say("uncertainty of the base's area"),
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
        ledger.quantity("volume", say("space to fill"), volume, "mL", decimals=0)
        ledger.quantity(
            "powder", say("powder for this space"), mix.powder_g, "g", decimals=0, assumed=assumed
        )
        ledger.quantity("water", say("water for it"), mix.water_ml, "mL", decimals=1, assumed=assumed)
        says.append(
            say(
                "{powder:.0f} g of powder with {water:.1f} mL of water fill the gap",
                powder=mix.powder_g.value,
                water=mix.water_ml.value,
            )
        )
    powder = bench.powder_g
    if powder is not None:
        u_powder = ledger.assume(say("uncertainty of weighing"), _POWDER_U_G, "g", _COMMON, "bench.powder_g")
        wanted = measured(powder, u_powder, "reading/powder").times(ratio / 100.0)
        ledger.quantity(
            "water_for_powder",
            say("water for {powder:g} g", powder=powder),
            wanted,
            "mL",
            decimals=1,
            assumed=assumed,
        )
        says.append(
            say("{powder:g} g of powder takes {water:.1f} mL of water", powder=powder, water=wanted.value)
        )
        if bench.water_ml is not None:
            _deviation(bench, powder, u_powder, ratio, ledger, case)
            mass = measured(powder, u_powder, "reading/powder")
            water = measured(bench.water_ml, _WATER_U_ML, "reading/water")
            filled = through(lambda v: v[0] / v[1] + v[2], stack([mass, _density(bench), water]))
            ledger.quantity("mixed", say("space this mix fills"), filled, "mL", decimals=0)
    if not says:
        says.append(
            say(
                "100 g of powder takes about {ratio:g} mL of water (common practice: the product sheet decides)",
                ratio=ratio,
            )
            if assumed
            else say("100 g of powder takes {ratio:g} mL of water", ratio=ratio)
        )
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
    u_water = ledger.assume(
        say("uncertainty of measuring water"), _WATER_U_ML, "mL", _COMMON, "bench.water_ml"
    )
    off = stone.ratio_deviation_percent(powder, bench.water_ml, ratio)
    u = (
        100.0
        * bench.water_ml
        / stone.water_for(powder, ratio)
        * math.hypot(u_water / bench.water_ml, u_powder / powder)
    )
    made = ledger.quantity(
        "deviation", say("water used against the sheet"), measured(off, u, "reading/mix"), "%", decimals=1
    )
    limit = case.limits.water_powder_deviation
    verdict = judge_against(ledger, say("water used differs from the sheet by"), made.value, u, limit, 1)
    if verdict is Verdict.CANNOT_TELL:
        ledger.need(
            say("the water weighed (1 g is 1 mL)"),
            say("a cylinder reads too roughly for this limit"),
            "bench.water_ml",
        )
    if off > 0.0:
        ledger.notes.append(
            say("More water than the sheet asks for: weaker and slower; less of it: more expansion.")
        )


def _ratio_table(ratio: float, density: float) -> Table:
    rows = []
    for powder in (50, 75, 100, 125, 150, 200, 250, 300):
        water = stone.water_for(powder, ratio)
        fills = stone.mix_volume_ml(powder, water, density)
        rows.append((figure(powder, "d"), figure(water, ".1f"), figure(fills, ".0f")))
    return Table(
        say("Powder, water, space filled"),
        (say("powder g"), say("water mL"), say("fills mL")),
        tuple(rows),
        say("Air is not counted."),
    )


def _pours(bench: Bench, sheet: stone.Sheet, ledger: Ledger, case: Case) -> list[str]:
    gap = _gap(bench, ledger)
    if gap is None or sheet.expansion_percent is None:
        return []
    one, lift_limit = case.limits.gap_in_one_pour, case.limits.lift_of_stone
    judge_against(ledger, say("gap"), gap.value, gap.u, one, 0)
    if gap.value <= 0.0:
        return [say("there is no gap to fill")]
    if one.decent <= 0.0 or lift_limit.decent <= 0.0:
        ledger.notes.append(
            say("A limit of zero for gap or lift leaves no pour that keeps it: pours are not told.")
        )
        return []
    plan = stone.pours(gap.value, sheet.expansion_percent, one.decent, lift_limit.decent)
    assumed = bench.sheet.setting_expansion_percent is None
    lift = gap.times(sheet.expansion_percent / 100.0)
    ledger.quantity(
        "lift",
        say("what one pour may lift, at most"),
        lift,
        "mm",
        decimals=3,
        assumed=assumed,
        note=say("free expansion: a bound"),
    )
    if bench.gaps and len(bench.gaps) >= 3:
        _wedge(bench, sheet.expansion_percent, ledger)
    if len(plan.heights_mm) == 1:
        return [say("one pour will do")]
    first, second = plan.heights_mm
    ledger.quantity(
        "lift_of_two",
        say("what is left of it with two pours"),
        measured(second, _GAP_U_MM, "length/second pour").times(sheet.expansion_percent / 100.0),
        "mm",
        decimals=3,
        assumed=assumed,
    )
    ledger.notes.append(
        say("Two pours because of {because}: let the first set before the second.", because=plan.because)
    )
    return [
        say("pour twice: {first:.0f} mm, then {second:.0f} mm after it has set", first=first, second=second)
    ]


def _wedge(bench: Bench, expansion: float, ledger: Ledger) -> None:
    try:
        wedge = stone.wedge_lift(
            [(g.ahead_mm, g.right_mm) for g in bench.gaps], [g.gap_mm for g in bench.gaps], expansion
        )
    except ValueError:
        ledger.need(
            say("gap heights at three places not in a line"),
            say("then the tilt by expansion is known"),
            "bench.gaps",
        )
        return
    ledger.notes.append(
        say(
            "The gap is a wedge: expansion may tilt the cast by {pitch:+.3f} degrees (front) and "
            "{roll:+.3f} (right side); it lifts {um:.0f} um where it is highest.",
            pitch=math.degrees(wedge.pitch_rad),
            roll=math.degrees(wedge.roll_rad),
            um=1000 * wedge.largest_mm,
        )
    )


def _luting(bench: Bench, ledger: Ledger, case: Case) -> None:
    if not bench.luted_at:
        ledger.need(
            say("where the lower cast was luted (three places or more)"),
            say("two places are a hinge"),
            "bench.luted_at",
        )
        return
    places = [(p.ahead_mm, p.right_mm) for p in bench.luted_at]
    try:
        plan = luting_plan(places, TEETH_XZ, LUTE_GIVES_MM, case.limits.stop_amplification.redo)
    except FaultError as error:
        for fault in error.faults:
            ledger.because(Verdict.DISAGREES, Why.OUTSIDE, say("luting: {what}", what=fault.what))
            ledger.need(
                say("one more luted place, well off the line of the others"), fault.what, "bench.luted_at"
            )
        return
    named = joined(
        ", ",
        (
            say("{tooth} {x:g} ahead and {z:g} right", tooth=name, x=x, z=z)
            for name, (x, z) in TEETH_XZ.items()
        ),
    )
    ledger.assumptions.append(
        Assumption(
            say("where the teeth stand for luting (mm)"),
            named,
            say("an average skull; stand-ins"),
            "bench.luted_at",
        )
    )
    worst = plan.amplification[plan.worst_tooth]
    ledger.assume(say("how far one luted place may give"), LUTE_GIVES_MM, "mm", _COMMON, "bench.luted_at")
    verdict = Verdict.AGREES if worst <= case.limits.stop_amplification.decent else Verdict.DOUBTFUL
    ledger.because(
        verdict,
        Why.INSIDE if verdict is Verdict.AGREES else Why.BETWEEN,
        say(
            "luted at {places} places ({area:.0f} mm2): an error of one grows {times:.1f} times at the "
            "{tooth}; left loose about their longest line: {degrees:.2f} degrees",
            places=plan.places,
            area=plan.area_mm2,
            times=worst,
            tooth=plan.worst_tooth,
            degrees=math.degrees(plan.loose_tilt_rad),
        ),
        value=worst,
        limit=case.limits.stop_amplification.decent,
    )
