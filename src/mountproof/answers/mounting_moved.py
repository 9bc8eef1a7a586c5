"""Part of question 4: whether the cast moved while the stone set, by the marks before and after with the record in."""

from __future__ import annotations

import math

from mountproof.answers.bench_inputs import MarksInput, States
from mountproof.answers.implants import held_to
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.mounting_places import USABLE_MM, points_of
from mountproof.answers.pin import tooth_places
from mountproof.answers.poses import bench_marks, record_slack
from mountproof.answers.result import Table, Verdict
from mountproof.bench.movement import Movement, movement
from mountproof.bench.pose import fit_poses
from mountproof.bench.reach import AXES, point_motion
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried
from mountproof.said import figure, joined, say

_AGAINST = (say("back"), say("down"), say("left"))
#: Two directions are looked at, beside lift and tilt: 3 SDs keep a still cast from being called moved (1 in 200).
_SEEN_SDS = 3.0


def moved(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    """Judge what moved between the states with the record in, before stone and after set; say it, or nothing."""
    placed = bench_marks(case, marks)
    if states.record is not None and states.after_set is not None and placed is None:
        ledger.need(
            say("ahead, above and right of every mark"),
            say("movement during set is told from where the marks stand"),
            "marks.places",
        )
        return []
    if states.record is None or states.after_set is None or placed is None:
        ledger.need(
            say("the same marks with the record in, before stone and after set"),
            say("they show whether anything moved"),
            "marks.states",
        )
        return []
    found = movement(placed, marks.table, states.record, states.after_set)
    _movement_table(ledger, found, states)
    shift = found.lift if found.lift is not None else found.mean
    ledger.quantity("lift", say("lower cast away from the upper during set"), shift, "mm")
    verdict = judge_against(
        ledger, say("movement during set"), shift.value, shift.u, held_to(case, "movement_during_set")
    )
    tilts = []
    for key, words, part in (
        ("pitch", say("front opened during set"), found.pitch),
        ("roll", say("right side lowered during set"), found.roll),
    ):
        if part is not None:
            ledger.quantity(f"set_{key}", words, part, "deg", factor=180 / math.pi)
            tilts.append((abs(part.value), part))
    if tilts:
        worst = max(tilts, key=lambda t: t[0])[1]
        _tilt(case, ledger, worst)
    aside = _sideways(case, marks, states, ledger)
    ledger.notes.append(
        say(
            "Movement of less than {lift:.2f} mm, and tilt of less than {tilt:.2f} degrees, "
            "would not show in these readings.",
            lift=found.lift_detectable_mm,
            tilt=math.degrees(found.tilt_detectable_rad),
        )
    )
    if aside:
        return [aside]
    if verdict is Verdict.AGREES:
        return [say("nothing moved during set")]
    if verdict is Verdict.DISAGREES:
        ledger.need(
            say("remount with the same record while it is good"),
            say("the cast moved while the stone set"),
            "",
        )
        return [say("the cast moved {mm:.2f} mm during set", mm=shift.value)]
    if abs(shift.value) > 2.0 * shift.u:
        return [say("a small lift of {mm:.2f} mm during set, no reason yet to remount", mm=shift.value)]
    ledger.need(
        say("every pair three times, record in"),
        say("the readings are too rough to see a movement"),
        "marks.readings_mm",
    )
    return [say("no movement during set was seen, but the readings are rough")]


def _tilt(case: Case, ledger: Ledger, tilt: Carried) -> None:
    """Judge a tilt only where it is seen at all: an unseen one leaves the verdict to the lift."""
    degrees = tilt.times(180 / math.pi)
    if abs(degrees.value) > 2.0 * degrees.u:
        judge_against(ledger, say("tilt during set"), degrees.value, degrees.u, case.limits.tilt_during_set)


def _sideways(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> str:
    """Judge fore-aft and side movement at the front teeth during set, only where it is seen; say it, or nothing."""
    placed = bench_marks(case, marks)
    if placed is None or states.record is None or states.after_set is None:
        return ""
    from_state = states.mip or states.record
    wanted = [s for s in (states.record, states.after_set) if s != from_state]
    slack = record_slack(case, wanted)
    fit = fit_poses(placed, marks.table, from_state, wanted, slack=slack, usable_mm=USABLE_MM)
    if not fit.settled:
        return ""
    point = points_of(case, tooth_places(case, ledger), ledger)[0]
    shift = point_motion(fit, states.record, states.after_set, point)
    says = []
    for axis in (0, 2):
        part = shift.shift[axis]
        if AXES[axis] in shift.refused or abs(part.value) <= _SEEN_SDS * part.u:
            continue
        way = (AXES[axis] if part.value > 0.0 else _AGAINST[axis], abs(part.value))
        ledger.quantity(
            f"set_{AXES[axis]}",
            say("{point} {way} during set", point=point.name, way=AXES[axis]),
            part,
            "mm",
        )
        verdict = judge_against(
            ledger,
            say("{point} {way} during set", point=point.name, way=way[0]),
            part.value,
            part.u,
            held_to(case, "movement_during_set"),
        )
        if verdict is not Verdict.AGREES:
            says.append(say("{mm:.2f} mm {way}", mm=way[1], way=way[0]))
        if verdict is Verdict.DISAGREES:
            ledger.need(
                say("remount with the same record while it is good"),
                say("the cast moved while the stone set"),
                "",
            )
    return say("the front teeth moved {how} during set", how=joined(say(" and "), says)) if says else ""


def _movement_table(ledger: Ledger, found: Movement, states: States) -> None:
    rows = tuple(
        (
            c.pair,
            figure(c.change_mm, "+.2f"),
            figure(c.limit_mm, ".2f"),
            say("beyond") if c.beyond else "",
        )
        for c in found.pairs
    )
    ledger.tables.append(
        Table(
            say(
                "Change from {before} to {after} (record in, during set), mm",
                before=states.record or "",
                after=states.after_set or "",
            ),
            (say("pair"), say("change"), say("repeats allow"), ""),
            rows,
            say("What repeats of the caliper alone allow: 2.8 SD of one reading (ISO 5725-6, from memory)."),
        )
    )
