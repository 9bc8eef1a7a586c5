"""Question 3 where few teeth, bases or implants hold the record: what gives, what scatters, where a stop is missing."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.bench_inputs import caliper_sd
from mountproof.answers.foils import iso, present, written
from mountproof.answers.implants import implants
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Quantity, Table, Verdict, Why
from mountproof.answers.usual_sites import usual_sites
from mountproof.case.model import Arch, BasePush, Case, Record, RecordKind
from mountproof.geometry.carry import Carried
from mountproof.records.bases import Tracing, push_range, stop_to_add, tracing
from mountproof.said import capital, figure, joined, say
from mountproof.teeth import opposite, place

#: Fewer tips than this leave the scatter open to more than twice what was found; they are asked for.
_ENOUGH_TIPS = 6
#: A stop within this of another one adds nothing.
_SAME_SPOT_MM = 5.0
#: Third molars are seldom there and carry no record.
_LAST = 7


def few_teeth(case: Case, ledger: Ledger) -> list[str]:
    """Judge bases, tracing and index, and say which stop to add; return what to say, the most decisive first."""
    return [*_index(case, ledger), *_pushes(case, ledger), *_tracing(case, ledger), *_stops(case, ledger)]


def _index(case: Case, ledger: Ledger) -> list[str]:
    here = implants(case)
    if not here:
        return []
    teeth = joined(", ", (written(case, t) for t in sorted(here)))
    limit = case.limits.implant_mounting
    ledger.notes.append(
        say(
            "Implants at {teeth} give nothing: where they bear, the mounting is held to {decent:g} mm (redo above "
            "{redo:g}), not to what teeth allow.",
            teeth=teeth,
            decent=limit.decent,
            redo=limit.redo,
        )
    )
    if case.few_teeth.index_fits is None:
        ledger.need(
            say("whether the index over the implants ({teeth}) fits, tried with one screw", teeth=teeth),
            say("a record on an index that does not fit carries its error into the mounting"),
            "few_teeth.index_fits",
        )
        return []
    if case.few_teeth.index_fits:
        ledger.because(
            Verdict.AGREES,
            Why.INSIDE,
            say("the index over the implants ({teeth}) was checked and fits", teeth=teeth),
        )
        return []
    ledger.because(
        Verdict.DISAGREES, Why.OUTSIDE, say("the index over the implants ({teeth}) does not fit", teeth=teeth)
    )
    ledger.need(
        say("the index over the implants cut and joined again, or a new impression of them"),
        say("implants do not give: what the index is off by stays in the mounting"),
        "few_teeth.index_fits",
    )
    return [say("The index over the implants does not fit")]


def _pushes(case: Case, ledger: Ledger) -> list[str]:
    if not case.few_teeth.pushes:
        return []
    own = Ledger(ledger.key)
    sd, _ = caliper_sd(case.caliper, case.marks.readings_mm.cells() if case.marks is not None else (), own)
    ledger.assumptions += own.assumptions
    ranges: dict[Arch, list[Carried]] = {}
    rows = []
    for i, push in enumerate(case.few_teeth.pushes):
        read = _read(push)
        if len(read) < 2:
            ledger.need(
                say(
                    "{pair} with the {arch} base at rest, pushed right and pushed left",
                    pair=_pair(push),
                    arch=push.arch,
                ),
                say("their range is how far the base gives"),
                "few_teeth.pushes",
            )
            continue
        found = push_range(read, sd, f"push/{i}")
        ranges.setdefault(push.arch, []).append(found)
        sinks = None
        if push.at_rest_mm is not None and push.pressed_mm is not None:
            sinks = push.at_rest_mm - push.pressed_mm
        rows.append(
            (
                _pair(push),
                push.arch.value,
                *(
                    figure(v, ".2f") if v is not None else "-"
                    for v in (push.at_rest_mm, push.pushed_right_mm, push.pushed_left_mm, push.pressed_mm)
                ),
                figure(found.value, ".2f"),
                figure(sinks, "+.2f") if sinks is not None else "-",
            )
        )
    if rows:
        _push_table(ledger, rows)
    says = []
    for arch, found_here in ranges.items():
        says += _base(case, ledger, arch, max(found_here, key=lambda r: r.value))
    return says


def _base(case: Case, ledger: Ledger, arch: Arch, most: Carried) -> list[str]:
    what = say("how far the {arch} record base gives when it is pushed", arch=arch)
    ledger.quantity(f"base_{arch.value}", what, most, "mm")
    verdict = judge_against(ledger, what, most.value, most.u, case.limits.base_mobility)
    if verdict is Verdict.AGREES:
        return []
    ledger.need(
        say("the {arch} base relined, or more stops on teeth, then pushed again", arch=arch),
        say("a record on a base is no better than the base sits"),
        "few_teeth.pushes",
    )
    return [say("The {arch} record base gives {mm:.2f} mm when it is pushed", arch=arch, mm=most.value)]


def _read(push: BasePush) -> dict[str, float]:
    every = {"rest": push.at_rest_mm, "right": push.pushed_right_mm, "left": push.pushed_left_mm}
    return {k: v for k, v in every.items() if v is not None}


def _pair(push: BasePush) -> str:
    return push.pair or say("the marks")


def _push_table(ledger: Ledger, rows: list[tuple[str, ...]]) -> None:
    ledger.tables.append(
        Table(
            say("Record bases pushed and pressed, mm"),
            (
                say("pair"),
                say("base"),
                say("at rest"),
                say("to the right"),
                say("to the left"),
                say("pressed down"),
                say("range"),
                say("sinks"),
            ),
            tuple(rows),
            say(
                "What the base sinks under pressing is the give of the mucosa: 0.2 to 0.5 mm; common practice, no source."
            ),
        )
    )


def _tracing(case: Case, ledger: Ledger) -> list[str]:
    points = case.few_teeth.tracing
    if not points:
        return []
    try:
        found = tracing([[p.ahead_mm, p.right_mm] for p in points], [p.sitting for p in points])
    except ValueError:
        ledger.need(
            say("the tracing closed into at least {count} times in one sitting", count=_ENOUGH_TIPS),
            say("one tip a sitting shows no scatter"),
            "few_teeth.tracing",
        )
        return []
    _tracing_numbers(ledger, found, len(points))
    if len(points) < _ENOUGH_TIPS:
        ledger.need(
            say("{count} more tips of the tracing", count=_ENOUGH_TIPS - len(points)),
            say(
                "{have} tips leave the scatter open from {low:.2f} to {high:.2f} mm",
                have=len(points),
                low=found.low_mm,
                high=found.high_mm,
            ),
            "few_teeth.tracing",
        )
    verdict = _judge_tracing(case, ledger, found)
    says = []
    if found.between_seen:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say(
                "from sitting to sitting the tip of the tracing moves by {mm:.2f} mm more than within one (1 SD an axis)",
                mm=found.between_mm or 0.0,
            ),
        )
        ledger.need(
            say("a further tracing after a rest or on another day"),
            say("the joint does not come back to one place yet"),
            "few_teeth.tracing",
        )
        says.append(say("The tip of the tracing lies elsewhere at another sitting"))
    if verdict is not Verdict.AGREES:
        says.insert(0, say("The tip of the tracing scatters by {mm:.2f} mm (1 SD an axis)", mm=found.sd_mm))
    return says


def _tracing_numbers(ledger: Ledger, found: Tracing, count: int) -> None:
    u = found.sd_mm / math.sqrt(4.0 * found.dof)
    ledger.quantities.append(
        Quantity(
            "tracing_sd",
            say("scatter of the tip of the tracing within a sitting (SD, one axis)"),
            found.sd_mm,
            say("mm"),
            u,
            found.low_mm,
            found.high_mm,
        )
    )
    for axis, words in ((0, say("tip of the tracing, ahead")), (1, say("tip of the tracing, to the right"))):
        ledger.quantities.append(
            Quantity.of(
                f"tracing_{'ahead' if axis == 0 else 'right'}",
                words,
                float(found.mean_mm[axis]),
                say("mm"),
                float(found.mean_u_mm[axis]),
            )
        )
    ledger.notes.append(
        say(
            "{count} tips scatter most along a line {deg:.0f} degrees to the right of straight ahead ({mm:.2f} mm, 1 SD).",
            count=count,
            deg=math.degrees(found.long_rad),
            mm=found.long_mm,
        )
    )
    if found.between_mm == 0.0:
        ledger.notes.append(
            say("Between the sittings nothing is seen that the scatter within them does not make by itself.")
        )


def _judge_tracing(case: Case, ledger: Ledger, found: Tracing) -> Verdict:
    """Judge a scatter by its interval: within when surely not to be redone, beyond when surely above."""
    limit = case.limits.tracing_scatter
    if found.low_mm > limit.redo:
        verdict, why = Verdict.DISAGREES, Why.OUTSIDE
    elif found.high_mm > limit.redo:
        verdict, why = Verdict.CANNOT_TELL, Why.GUARD_BAND
    elif found.sd_mm <= limit.decent:
        verdict, why = Verdict.AGREES, Why.INSIDE
    else:
        verdict, why = Verdict.DOUBTFUL, Why.BETWEEN
    ledger.because(
        verdict,
        why,
        say(
            "the tip of the tracing scatters by {sd:.2f} mm (1 SD an axis; {low:.2f} to {high:.2f}; agrees up to "
            "{decent:g}, redo above {redo:g})",
            sd=found.sd_mm,
            low=found.low_mm,
            high=found.high_mm,
            decent=limit.decent,
            redo=limit.redo,
        ),
        value=found.sd_mm,
        limit=limit.decent,
        unit="mm",
    )
    return verdict


def _stops(case: Case, ledger: Ledger) -> list[str]:
    """Say which stop to add where the record, or the teeth that are left, hold the plane of the arch badly."""
    gone = {t for t in (iso(case, t) for t in case.dentition.missing) if place(t) <= _LAST}
    record = _record_with_stops(case)
    if record is None and not gone:
        return []
    sites = {t: at for t, at in usual_sites(case, ledger).items() if place(t) <= _LAST}
    there = set(present(case, "upper")) & {opposite(t) for t in present(case, "lower")}
    bears = [(s.ahead_mm, s.right_mm) for s in record.stops] if record is not None else None
    places = [sites[t] for t in sites if t in there] if bears is None else bears
    free = [t for t in sites if all(math.dist(sites[t], p) > _SAME_SPOT_MM for p in places)]
    if not free:
        return []
    best = stop_to_add(
        np.array(places).reshape(-1, 2), np.array([sites[t] for t in free]), np.array(list(sites.values()))
    )
    if best.before <= case.limits.stop_amplification.decent:
        return []
    tooth = free[best.candidate]
    where = say("{upper} and {lower}", upper=written(case, tooth), lower=written(case, opposite(tooth)))
    reading = (
        say("a stop of the record between {where}", where=where)
        if tooth in there
        else say("a stop on a base or rim where {where} would meet", where=where)
    )
    held = say("the stops of the record") if record is not None else say("the teeth that still meet")
    if not math.isfinite(best.after):
        reading = say("three or more stops, spread over the arch and not in one line")
        why = say("{held} hold no plane, and one more would not do", held=held)
    elif math.isfinite(best.before):
        why = say(
            "{held} let an error at one of them grow {before:.1f} times at the worst tooth; with this one {after:.1f} times",
            held=held,
            before=best.before,
            after=best.after,
        )
    else:
        why = say(
            "{held} hold no plane; with this one an error grows {after:.1f} times at the worst tooth",
            held=held,
            after=best.after,
        )
    ledger.need(reading, why, "records" if record is not None else "dentition.missing")
    if record is not None:
        return []
    ledger.notes.append(capital(joined("", (why, "."))))
    return []


def _record_with_stops(case: Case) -> Record | None:
    """Return the record whose stops count: the mounted one, else the first of CR that has any."""
    mounted = case.records.get(case.mounted_on or "")
    if mounted is not None and mounted.stops:
        return mounted
    return next((r for r in case.records.values() if r.kind is RecordKind.CR and r.stops), None)
