"""Question 4: whether the mounting came out as the records say (the bench part)."""

from __future__ import annotations

import math
from collections.abc import Sequence

from mountproof.answers.bench_inputs import (
    MarksInput,
    PinInput,
    States,
    marks_input,
    pin_input,
    pin_reading,
    states_of,
)
from mountproof.answers.foils import compare_foils
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import Openings, front_tooth, openings, tooth_places
from mountproof.answers.poses import bench_marks, half_width, looks_of, record_slack, set_aside
from mountproof.answers.procedure import mounting_needs
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Reason, Table, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.bench.mounting import PinMeaning, pin_meaning
from mountproof.bench.movement import Movement, movement
from mountproof.bench.pin import Tooth, carried_opening_from_pin, carried_pin_from_opening
from mountproof.bench.pose import PoseTable, fit_poses
from mountproof.bench.reach import AXES, Point, PointMotion, pairs_to_add, point_motion
from mountproof.case.model import Case, StateKind
from mountproof.geometry.carry import Carried
from mountproof.said import capital, figure, joined, say

#: A result at a place is refused when its standard uncertainty is beyond this: it would not tell a slide from none.
_USABLE_MM = 0.25
_PREDICTED = say("pin opening predicted, record out, from the marks")
_AGAINST = (say("back"), say("down"), say("left"))
#: Two directions are looked at, beside lift and tilt: 3 SDs keep a still cast from being called moved (1 in 200).
_SEEN_SDS = 3.0


def answer(case: Case, progress: Progress) -> Answer:
    """Answer from movement during set, the record-out reading against its prediction, the slide, and foils."""
    ledger = Ledger("mounting")
    ledger.sources += [SOURCES["pin"], SOURCES["gum"]]
    says: list[str] = []
    moved: list[str] = []
    read = False
    marks = None
    if case.marks is None:
        ledger.need(
            say("marks before and after set, record in, then with the record out"),
            say("they show what moved and what the pin means"),
            "marks",
        )
    else:
        marks = marks_input(case.marks, case.caliper, ledger)
        states = states_of(case, ledger)
        marks = set_aside(case, marks, looks_of(case, states, ledger), ledger)
        moved = _moved(case, marks, states, ledger)
        says += moved
        if case.instrument is not None:
            pin = pin_input(case.instrument, case.caliper, ledger)
            says += _pin(case, pin, marks, states, ledger)
            read = any(q.key == "found" for q in ledger.quantities)
        else:
            ledger.need(
                say("hinge to pin, forward, and hinge to pin tip, down"),
                say("what the pin reads is predicted from its own lengths"),
                "instrument.pin",
            )
        _slide(case, marks, states, ledger)
    foil = compare_foils(case, ledger)
    if foil:
        says.append(foil)
    second = _second_record(case, marks, ledger) if marks is not None else ""
    says.append(second or say("not verified by a second record"))
    if not second:
        ledger.need(
            say("a second CR record seated on the mounting, pin or split cast read"),
            say("the record it was mounted on cannot prove it"),
            "marks.states",
        )
    for need in mounting_needs(case):
        ledger.need(*need)
    if ledger.verdicts and not moved and not read and not second:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say("neither movement during set nor the pin with the record out was checked"),
        )
    if not ledger.verdicts:
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, say("no check of the mounting was entered"))
        return ledger.answer(say("Not verified: no check of this mounting was entered."))
    return ledger.answer(capital(joined("; ", says)))


def _second_record(case: Case, marks: MarksInput, ledger: Ledger) -> str:
    """Hold a second record on the mounting against the same record before stone; say how it seats, or nothing.

    A record that seats fully on the mounting leaves the marks where it left them on the casts in the hand; where the
    hinge leads the casts elsewhere, it stands off.
    """
    placed = bench_marks(case, marks)
    if case.marks is None or case.mounted_on is None or placed is None:
        return ""
    by = {
        kind: {s.record: n for n, s in case.marks.states.items() if s.kind is kind and marks.table.get(n)}
        for kind in (StateKind.RECORD, StateKind.RECORD_SET)
    }
    if case.mounted_on not in by[StateKind.RECORD]:
        return ""  # nobody measured the record it is said to be mounted on: any other may be that one
    for record, on in by[StateKind.RECORD_SET].items():
        if record in (None, case.mounted_on):
            continue
        before = by[StateKind.RECORD].get(record)
        shared = set(marks.table[on]) & set(marks.table.get(before or "", {}))
        if before is None or not shared & {p.name for p in placed.pairs}:
            ledger.need(
                say("the marks with {record} in, before stone", record=record),
                say(
                    "{record} on the mounting ({on}) is held against the same record in the hand",
                    record=record,
                    on=on,
                ),
                "marks.states",
            )
            continue
        found = movement(placed, marks.table, before, on)
        off = found.lift if found.lift is not None else found.mean
        ledger.quantity("second_record", say("{record} stands off on the mounting", record=record), off, "mm")
        what = say("{record} on the mounting against in the hand", record=record)
        verdict = judge_against(ledger, what, off.value, off.u, case.limits.records_at_incisors)
        says = {
            Verdict.AGREES: say("{record} seats on the mounting", record=record),
            Verdict.DOUBTFUL: say("{record} seats on the mounting, if not quite", record=record),
            Verdict.DISAGREES: say("{record} does not seat on the mounting", record=record),
        }
        if verdict is Verdict.DISAGREES:
            ledger.need(
                say("{record} seated once more, and the pin read with it in", record=record),
                say(
                    "it does not seat where {record} put the cast: one of the two, or the mounting, is off",
                    record=case.mounted_on,
                ),
                "marks.states",
            )
        return say(
            "{seats} ({off:+.2f} mm)",
            seats=says.get(verdict, say("whether {record} seats on the mounting is open", record=record)),
            off=off.value,
        )
    return ""


def _moved(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
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
        ledger, say("movement during set"), shift.value, shift.u, case.limits.movement_during_set
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
    fit = fit_poses(placed, marks.table, from_state, wanted, slack=slack, usable_mm=_USABLE_MM)
    if not fit.settled:
        return ""
    point = _points(case, tooth_places(case, ledger), ledger)[0]
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
            case.limits.movement_during_set,
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


def _pin(case: Case, pin: PinInput, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    was_set = pin_reading(case, pin, (states.record, states.after_set), ledger, by_hand=True)
    found = pin_reading(case, pin, (states.contact,), ledger, by_hand=False) if states.contact else None
    if was_set is None:
        ledger.need(
            say("what the pin was set to with the record in"),
            say("the prediction starts from it"),
            "pin_readings",
        )
    if found is None:
        ledger.need(
            say("what the pin reads with the record out, at first contact"),
            say("it is the best free check"),
            "pin_readings",
        )
    if states.record is None:
        return []
    known = openings(case, marks, states, ledger)
    if was_set is None:
        return []
    _still_there(case, pin, was_set, states, ledger)
    if known.from_mip is None:
        return _without_mip(case, pin, was_set, known, found, ledger)
    over_mip = None
    if known.from_contact is not None:
        over_mip = known.from_mip - known.from_contact
    meaning = pin_meaning(pin.pin, was_set, known.from_mip, known.from_contact, over_mip, found, pin.lengths)
    return _pin_says(case, meaning, known, pin, ledger)


def _still_there(case: Case, pin: PinInput, was_set: Carried, states: States, ledger: Ledger) -> None:
    """Ask about a pin that reads otherwise after set than it was set to."""
    now = pin_reading(case, pin, (states.after_set,), ledger, by_hand=False)
    if now is None:
        return
    slipped = now - was_set
    if abs(slipped.value) > _SEEN_SDS * slipped.u:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say(
                "the pin was set to {was_set:.2f} mm and stands at {now:.2f} mm after set, record in: it "
                "slipped, or the casts rest on something else",
                was_set=was_set.value,
                now=now.value,
            ),
            value=slipped.value,
            u=slipped.u,
            unit="mm",
        )
        ledger.need(
            say("the pin with the record in, once more"),
            say("it does not stand where it was set"),
            "pin_readings",
        )


def _without_mip(
    case: Case, pin: PinInput, was_set: Carried, known: Openings, found: Carried | None, ledger: Ledger
) -> list[str]:
    """Hold the found reading against that from the marks at first contact, where MIP was not measured."""
    if known.from_contact is None:
        return []
    was = carried_opening_from_pin(pin.pin, was_set, pin.lengths)
    predicted = carried_pin_from_opening(pin.pin, was - known.from_contact, pin.lengths)
    ledger.quantity("predicted", _PREDICTED, predicted, "mm")
    if found is None:
        return []
    ledger.quantity("found", say("pin opening found, record out"), found, "mm")
    return [_found_less_predicted(case, found, found - predicted, ledger)]


def _found_less_predicted(case: Case, found: Carried, rest: Carried, ledger: Ledger) -> str:
    made = ledger.quantity("found_minus_predicted", say("found less predicted"), rest, "mm")
    verdict = judge_against(
        ledger,
        say("pin found less predicted"),
        made.value,
        made.u or 0.0,
        case.limits.pin_found_minus_predicted,
    )
    words = {
        Verdict.AGREES: say("is where it was predicted"),
        Verdict.DOUBTFUL: say("is a little off its prediction"),
        Verdict.DISAGREES: say("is not where it was predicted"),
        Verdict.CANNOT_TELL: say("cannot be held against its prediction"),
    }[verdict]
    return say(
        "the pin, at {found:+.1f} mm, {judged} ({rest:+.2f})",
        found=found.value,
        judged=words,
        rest=rest.value,
    )


def _pin_says(case: Case, meaning: PinMeaning, known: Openings, pin: PinInput, ledger: Ledger) -> list[str]:
    ledger.quantity(
        "predicted_if_mip",
        say("pin opening predicted, record out, if CR contact = MIP"),
        meaning.if_contact_is_mip.pin_mm,
        "mm",
    )
    says = []
    if meaning.from_marks is not None:
        ledger.quantity("predicted", _PREDICTED, meaning.from_marks.pin_mm, "mm")
    if known.from_contact is not None and known.from_mip is not None:
        stands = carried_pin_from_opening(pin.pin, known.from_mip - known.from_contact, pin.lengths)
        ledger.quantity(
            "contact_over_mip", say("CR first contact stands open over MIP, at the pin"), stands, "mm"
        )
        if abs(stands.value) > 2.0 * stands.u:
            says.append(
                say(
                    "CR first contact stands {mm:.1f} mm open over MIP at the pin: a slide, not a fault of the "
                    "mounting",
                    mm=stands.value,
                )
            )
    if meaning.found_mm is None:
        return says
    ledger.quantity("found", say("pin opening found, record out"), meaning.found_mm, "mm")
    if meaning.found_minus_from_marks is not None:
        says.insert(0, _found_less_predicted(case, meaning.found_mm, meaning.found_minus_from_marks, ledger))
    elif meaning.found_minus_if_mip is not None:
        off = meaning.found_minus_if_mip
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say(
                "the pin stands {off:+.2f} ± {twice:.2f} mm from where it would be without a slide: slide or "
                "fault",
                off=off.value,
                twice=2 * off.u,
            ),
        )
        ledger.need(
            say("the marks once more with the record out"),
            say("they tell a slide from a fault"),
            "marks.states",
        )
    rows = tuple(
        (name, figure(part.value, "+.2f"), figure(2 * part.u, ".2f")) for name, part in meaning.parts
    )
    ledger.tables.append(
        Table(
            say("What the record-out reading is made of, mm at the pin"),
            ("", say("mm"), say("± (95 %)")),
            rows,
        )
    )
    ledger.notes.append(
        say(
            "A pin about zero proves little, for a short setting and a slide can cancel; one where it was "
            "predicted does."
        )
    )
    return says


def _slide(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> None:
    """The slide from CR first contact to MIP, and the record against MIP, at teeth and condyles; refused where not seen."""
    placed = bench_marks(case, marks)
    if states.mip is None or states.contact is None or placed is None:
        return
    wanted = [s for s in (states.record, states.contact) if s is not None]
    fit = fit_poses(
        placed, marks.table, states.mip, wanted, slack=record_slack(case, wanted), usable_mm=_USABLE_MM
    )
    points = _points(case, tooth_places(case, ledger), ledger)
    for title, start, end in (
        (say("Slide, CR first contact to MIP, mm (± 95 %)"), states.contact, states.mip),
        (say("Record against MIP, mm (± 95 %)"), states.mip, states.record),
    ):
        if start is None or end is None:
            continue
        rows = []
        for point in points:
            moved = point_motion(fit, start, end, point)
            rows.append(
                (point.name, *(_cell(moved.shift, axis, AXES[axis] in moved.refused) for axis in range(3)))
            )
            if start == states.contact and point is points[0]:
                _tell_slide(moved, point, ledger)
        note = say(
            "Not told: these marks leave more than {mm:g} mm (1 SD) of doubt there. Minus is back, "
            "down, left.",
            mm=_USABLE_MM,
        )
        ledger.tables.append(Table(title, ("", *AXES), tuple(rows), note))
    _rank(fit, states.contact, marks, points[:2], ledger)


def _tell_slide(moved: PointMotion, point: Point, ledger: Ledger) -> None:
    """Note the slide at one point as quantities, direction by direction, where the marks carry it."""
    if moved.refused:
        text = say(
            "these pairs of marks do not carry the slide at the {point} {ways}: it is not told",
            point=point.name,
            ways=joined(say(" and "), moved.refused),
        )
        ledger.reasons.append(Reason(Why.NOT_CARRIED, text))
    for axis, name in enumerate(AXES):
        if AXES[axis] not in moved.refused:
            ledger.quantity(
                f"slide_{name}",
                say("slide from CR first contact to MIP at the {point}, {way}", point=point.name, way=name),
                moved.shift[axis],
                "mm",
            )


def _points(case: Case, teeth: Sequence[Tooth], ledger: Ledger) -> tuple[Point, ...]:
    half = half_width(case, ledger)
    front = front_tooth(teeth)
    last = min(teeth, key=lambda t: t.x_mm)
    return (
        Point(front.name, (front.x_mm, front.y_mm, 0.0)),
        Point(say("{teeth} right", teeth=last.name), (last.x_mm, last.y_mm, 28.0)),
        Point(say("{teeth} left", teeth=last.name), (last.x_mm, last.y_mm, -28.0)),
        Point(say("condyle right"), (0.0, 0.0, half)),
        Point(say("condyle left"), (0.0, 0.0, -half)),
    )


def _cell(shift: Carried, axis: int, refused: bool) -> str:
    if refused:
        return say("not told")
    return say("{mm:+.2f} ± {twice:.2f}", mm=shift.values[axis], twice=2 * shift.us[axis])


def _rank(fit: PoseTable, state: str, marks: MarksInput, points: Sequence[Point], ledger: Ledger) -> None:
    pose = fit.poses[state]
    carried = say(
        "{pairs} pairs carry {rank} of the 6 directions of motion (condition {condition:.0f})",
        pairs=pose.pairs,
        rank=pose.rank,
        condition=pose.condition,
    )
    lost = joined("; ", (s.words for s in pose.not_seen))
    ledger.notes.append(
        say("{carried}; not seen: {lost}.", carried=carried, lost=lost) if lost else carried + "."
    )
    if not pose.not_seen:
        return
    better = pairs_to_add(fit, state, points, marks.sd_mm, most=1)
    if better and better[0].worst_after_mm < better[0].worst_before_mm:
        b = better[0]
        ledger.need(
            say("the pair {upper}-{lower} in every state", upper=b.upper, lower=b.lower),
            say(
                "it would shrink the worst doubt at the teeth from {before:.2f} to {after:.2f} mm",
                before=b.worst_before_mm,
                after=b.worst_after_mm,
            ),
            "marks.readings_mm",
        )
