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

#: A result at a place is refused when its standard uncertainty is beyond this: it would not tell a slide from none.
_USABLE_MM = 0.25
_TURNS = ("forward", "up", "right")
_PREDICTED = "pin opening predicted, record out, from the marks"
_AGAINST = ("back", "down", "left")
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
            "marks before and after set, record in, then with the record out",
            "they show what moved and what the pin means",
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
                "hinge to pin, forward, and hinge to pin tip, down",
                "what the pin reads is predicted from its own lengths",
                "instrument.pin",
            )
        _slide(case, marks, states, ledger)
    foil = compare_foils(case, ledger)
    if foil:
        says.append(foil)
    second = _second_record(case, marks, ledger) if marks is not None else ""
    says.append(second or "not verified by a second record")
    if not second:
        ledger.need(
            "a second CR record seated on the mounting, pin or split cast read",
            "the record it was mounted on cannot prove it",
            "marks.states",
        )
    if ledger.verdicts and not moved and not read and not second:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            "neither movement during set nor the pin with the record out was checked",
        )
    if not ledger.verdicts:
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, "no check of the mounting was entered")
        return ledger.answer("Not verified: no check of this mounting was entered.")
    return ledger.answer("; ".join(s if i else s[:1].upper() + s[1:] for i, s in enumerate(says)) + ".")


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
                f"the marks with {record} in, before stone",
                f"{record} on the mounting ({on}) is held against the same record in the hand",
                "marks.states",
            )
            continue
        found = movement(placed, marks.table, before, on)
        off = found.lift if found.lift is not None else found.mean
        ledger.quantity("second_record", f"{record} stands off on the mounting", off, "mm")
        what = f"{record} on the mounting against in the hand"
        verdict = judge_against(ledger, what, off.value, off.u, case.limits.records_at_incisors)
        says = {
            Verdict.AGREES: f"{record} seats on the mounting",
            Verdict.DOUBTFUL: f"{record} seats on the mounting, if not quite",
            Verdict.DISAGREES: f"{record} does not seat on the mounting",
        }
        if verdict is Verdict.DISAGREES:
            ledger.need(
                f"{record} seated once more, and the pin read with it in",
                f"it does not seat where {case.mounted_on} put the cast: one of the two, or the mounting, is off",
                "marks.states",
            )
        return f"{says.get(verdict, f'whether {record} seats on the mounting is open')} ({off.value:+.2f} mm)"
    return ""


def _moved(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    placed = bench_marks(case, marks)
    if states.record is not None and states.after_set is not None and placed is None:
        ledger.need(
            "ahead, above and right of every mark",
            "movement during set is told from where the marks stand",
            "marks.places",
        )
        return []
    if states.record is None or states.after_set is None or placed is None:
        ledger.need(
            "the same marks with the record in, before stone and after set",
            "they show whether anything moved",
            "marks.states",
        )
        return []
    found = movement(placed, marks.table, states.record, states.after_set)
    _movement_table(ledger, found, states)
    shift = found.lift if found.lift is not None else found.mean
    ledger.quantity("lift", "lower cast away from the upper during set", shift, "mm")
    verdict = judge_against(
        ledger, "movement during set", shift.value, shift.u, case.limits.movement_during_set
    )
    tilts = []
    for key, words, part in (
        ("pitch", "front opened during set", found.pitch),
        ("roll", "right side lowered during set", found.roll),
    ):
        if part is not None:
            ledger.quantity(f"set_{key}", words, part, "deg", factor=180 / math.pi)
            tilts.append((abs(part.value), part))
    if tilts:
        worst = max(tilts, key=lambda t: t[0])[1]
        _tilt(case, ledger, worst)
    aside = _sideways(case, marks, states, ledger)
    ledger.notes.append(
        f"Movement of less than {found.lift_detectable_mm:.2f} mm, and tilt of less than "
        f"{math.degrees(found.tilt_detectable_rad):.2f} degrees, would not show in these readings."
    )
    if aside:
        return [aside]
    if verdict is Verdict.AGREES:
        return ["nothing moved during set"]
    if verdict is Verdict.DISAGREES:
        ledger.need("remount with the same record while it is good", "the cast moved while the stone set", "")
        return [f"the cast moved {shift.value:.2f} mm during set"]
    if abs(shift.value) > 2.0 * shift.u:
        return [f"a small lift of {shift.value:.2f} mm during set, no reason yet to remount"]
    ledger.need(
        "every pair three times, record in",
        "the readings are too rough to see a movement",
        "marks.readings_mm",
    )
    return ["no movement during set was seen, but the readings are rough"]


def _tilt(case: Case, ledger: Ledger, tilt: Carried) -> None:
    """Judge a tilt only where it is seen at all: an unseen one leaves the verdict to the lift."""
    degrees = tilt.times(180 / math.pi)
    if abs(degrees.value) > 2.0 * degrees.u:
        judge_against(ledger, "tilt during set", degrees.value, degrees.u, case.limits.tilt_during_set)


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
        way = (_TURNS[axis] if part.value > 0.0 else _AGAINST[axis], abs(part.value))
        ledger.quantity(f"set_{_TURNS[axis]}", f"{point.name} {_TURNS[axis]} during set", part, "mm")
        verdict = judge_against(
            ledger, f"{point.name} {way[0]} during set", part.value, part.u, case.limits.movement_during_set
        )
        if verdict is not Verdict.AGREES:
            says.append(f"{way[1]:.2f} mm {way[0]}")
        if verdict is Verdict.DISAGREES:
            ledger.need(
                "remount with the same record while it is good", "the cast moved while the stone set", ""
            )
    return f"the front teeth moved {' and '.join(says)} during set" if says else ""


def _movement_table(ledger: Ledger, found: Movement, states: States) -> None:
    rows = tuple(
        (c.pair, f"{c.change_mm:+.2f}", f"{c.limit_mm:.2f}", "beyond" if c.beyond else "")
        for c in found.pairs
    )
    ledger.tables.append(
        Table(
            f"Change from {states.record} to {states.after_set} (record in, during set), mm",
            ("pair", "change", "repeats allow", ""),
            rows,
            "What repeats of the caliper alone allow: 2.8 SD of one reading (ISO 5725-6, from memory).",
        )
    )


def _pin(case: Case, pin: PinInput, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    was_set = pin_reading(case, pin, (states.record, states.after_set), ledger, by_hand=True)
    found = pin_reading(case, pin, (states.contact,), ledger, by_hand=False) if states.contact else None
    if was_set is None:
        ledger.need(
            "what the pin was set to with the record in", "the prediction starts from it", "pin_readings"
        )
    if found is None:
        ledger.need(
            "what the pin reads with the record out, at first contact",
            "it is the best free check",
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
            f"the pin was set to {was_set.value:.2f} mm and stands at {now.value:.2f} mm after set, record in: it slipped, "
            "or the casts rest on something else",
            value=slipped.value,
            u=slipped.u,
            unit="mm",
        )
        ledger.need(
            "the pin with the record in, once more", "it does not stand where it was set", "pin_readings"
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
    ledger.quantity("found", "pin opening found, record out", found, "mm")
    return [_found_less_predicted(case, found, found - predicted, ledger)]


def _found_less_predicted(case: Case, found: Carried, rest: Carried, ledger: Ledger) -> str:
    made = ledger.quantity("found_minus_predicted", "found less predicted", rest, "mm")
    verdict = judge_against(
        ledger,
        "pin found less predicted",
        made.value,
        made.u or 0.0,
        case.limits.pin_found_minus_predicted,
    )
    words = {
        Verdict.AGREES: "is where it was predicted",
        Verdict.DOUBTFUL: "is a little off its prediction",
        Verdict.DISAGREES: "is not where it was predicted",
        Verdict.CANNOT_TELL: "cannot be held against its prediction",
    }[verdict]
    return f"the pin, at {found.value:+.1f} mm, {words} ({rest.value:+.2f})"


def _pin_says(case: Case, meaning: PinMeaning, known: Openings, pin: PinInput, ledger: Ledger) -> list[str]:
    ledger.quantity(
        "predicted_if_mip",
        "pin opening predicted, record out, if CR contact = MIP",
        meaning.if_contact_is_mip.pin_mm,
        "mm",
    )
    says = []
    if meaning.from_marks is not None:
        ledger.quantity("predicted", _PREDICTED, meaning.from_marks.pin_mm, "mm")
    if known.from_contact is not None and known.from_mip is not None:
        stands = carried_pin_from_opening(pin.pin, known.from_mip - known.from_contact, pin.lengths)
        ledger.quantity("contact_over_mip", "CR first contact stands open over MIP, at the pin", stands, "mm")
        if abs(stands.value) > 2.0 * stands.u:
            says.append(
                f"CR first contact stands {stands.value:.1f} mm open over MIP at the pin: a slide, not a fault of the mounting"
            )
    if meaning.found_mm is None:
        return says
    ledger.quantity("found", "pin opening found, record out", meaning.found_mm, "mm")
    if meaning.found_minus_from_marks is not None:
        says.insert(0, _found_less_predicted(case, meaning.found_mm, meaning.found_minus_from_marks, ledger))
    elif meaning.found_minus_if_mip is not None:
        off = meaning.found_minus_if_mip
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            f"the pin stands {off.value:+.2f} ± {2 * off.u:.2f} mm from where it would be without a slide: slide or fault",
        )
        ledger.need(
            "the marks once more with the record out", "they tell a slide from a fault", "marks.states"
        )
    rows = tuple((name, f"{part.value:+.2f}", f"{2 * part.u:.2f}") for name, part in meaning.parts)
    ledger.tables.append(
        Table("What the record-out reading is made of, mm at the pin", ("", "mm", "± (95 %)"), rows)
    )
    ledger.notes.append(
        "A pin about zero proves little, for a short setting and a slide can cancel; one where it was predicted does."
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
        ("Slide, CR first contact to MIP, mm (± 95 %)", states.contact, states.mip),
        ("Record against MIP, mm (± 95 %)", states.mip, states.record),
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
        note = f"Not told: these marks leave more than {_USABLE_MM:g} mm (1 SD) of doubt there. Minus is back, down, left."
        ledger.tables.append(Table(title, ("", *_TURNS), tuple(rows), note))
    _rank(fit, states.contact, marks, points[:2], ledger)


def _tell_slide(moved: PointMotion, point: Point, ledger: Ledger) -> None:
    """Note the slide at one point as quantities, direction by direction, where the marks carry it."""
    if moved.refused:
        lost = " and ".join(moved.refused)
        text = f"these pairs of marks do not carry the slide at the {point.name} {lost}: it is not told"
        ledger.reasons.append(Reason(Why.NOT_CARRIED, text))
    for axis, name in enumerate(_TURNS):
        if AXES[axis] not in moved.refused:
            ledger.quantity(
                f"slide_{name}",
                f"slide from CR first contact to MIP at the {point.name}, {name}",
                moved.shift[axis],
                "mm",
            )


def _points(case: Case, teeth: Sequence[Tooth], ledger: Ledger) -> tuple[Point, ...]:
    half = half_width(case, ledger)
    front = front_tooth(teeth)
    last = min(teeth, key=lambda t: t.x_mm)
    return (
        Point(front.name, (front.x_mm, front.y_mm, 0.0)),
        Point(f"{last.name} right", (last.x_mm, last.y_mm, 28.0)),
        Point(f"{last.name} left", (last.x_mm, last.y_mm, -28.0)),
        Point("condyle right", (0.0, 0.0, half)),
        Point("condyle left", (0.0, 0.0, -half)),
    )


def _cell(shift: Carried, axis: int, refused: bool) -> str:
    if refused:
        return "not told"
    return f"{shift.values[axis]:+.2f} ± {2 * shift.us[axis]:.2f}"


def _rank(fit: PoseTable, state: str, marks: MarksInput, points: Sequence[Point], ledger: Ledger) -> None:
    pose = fit.poses[state]
    ledger.notes.append(
        f"{pose.pairs} pairs carry {pose.rank} of the 6 directions of motion (condition {pose.condition:.0f})"
        + ("." if not pose.not_seen else "; not seen: " + "; ".join(s.words for s in pose.not_seen) + ".")
    )
    if not pose.not_seen:
        return
    better = pairs_to_add(fit, state, points, marks.sd_mm, most=1)
    if better and better[0].worst_after_mm < better[0].worst_before_mm:
        b = better[0]
        ledger.need(
            f"the pair {b.upper}-{b.lower} in every state",
            f"it would shrink the worst doubt at the teeth from {b.worst_before_mm:.2f} to {b.worst_after_mm:.2f} mm",
            "marks.readings_mm",
        )
