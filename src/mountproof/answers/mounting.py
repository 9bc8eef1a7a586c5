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
from mountproof.answers.pin import Openings, openings, tooth_places
from mountproof.answers.poses import bench_marks, half_width, looks_of, record_slack, set_aside
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Reason, Table, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.bench.mounting import PinMeaning, pin_meaning
from mountproof.bench.movement import Movement, movement
from mountproof.bench.pin import Tooth, carried_pin_from_opening
from mountproof.bench.pose import PoseTable, fit_poses
from mountproof.bench.reach import AXES, Point, PointMotion, pairs_to_add, point_motion
from mountproof.case.model import Case, StateKind
from mountproof.geometry.carry import Carried

#: A result at a place is refused when its standard uncertainty is beyond this: it would not tell a slide from none.
_USABLE_MM = 0.25
_TURNS = ("forward", "up", "right")


def answer(case: Case, progress: Progress) -> Answer:
    """Answer from movement during set, the record-out reading against its prediction, the slide, and foils."""
    ledger = Ledger("mounting")
    ledger.sources += [SOURCES["pin"], SOURCES["gum"]]
    says: list[str] = []
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
        says += _moved(case, marks, states, ledger)
        if case.instrument is not None:
            pin = pin_input(case.instrument, case.caliper, ledger)
            says += _pin(case, pin, marks, states, ledger)
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
    if not _second_record(case):
        says.append("not verified by a second record")
        ledger.need(
            "a second CR record seated on the mounting, pin or split cast read",
            "the record it was mounted on cannot prove it",
            "marks.states",
        )
    if not ledger.verdicts:
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, "no check of the mounting was entered")
        return ledger.answer("Not verified: no check of this mounting was entered.")
    return ledger.answer("; ".join(s if i else s[:1].upper() + s[1:] for i, s in enumerate(says)) + ".")


def _second_record(case: Case) -> bool:
    if case.marks is None or case.mounted_on is None:
        return False
    return any(
        s.kind is StateKind.RECORD_SET and s.record not in (None, case.mounted_on)
        for s in case.marks.states.values()
    )


def _moved(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    placed = bench_marks(case, marks)
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
    ledger.notes.append(
        f"Movement of less than {found.lift_detectable_mm:.2f} mm, and tilt of less than "
        f"{math.degrees(found.tilt_detectable_rad):.2f} degrees, would not show in these readings."
    )
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
    was_set = pin_reading(case, pin, (states.record, states.after_set), by_hand=True)
    found = pin_reading(case, pin, (states.contact,), by_hand=False) if states.contact else None
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
    if was_set is None or known.from_mip is None:
        return []
    over_mip = None
    if known.from_contact is not None:
        over_mip = known.from_mip - known.from_contact
    meaning = pin_meaning(pin.pin, was_set, known.from_mip, known.from_contact, over_mip, found, pin.lengths)
    return _pin_says(case, meaning, known, pin, ledger)


def _pin_says(case: Case, meaning: PinMeaning, known: Openings, pin: PinInput, ledger: Ledger) -> list[str]:
    ledger.quantity(
        "predicted_if_mip",
        "pin opening predicted, record out, if CR contact = MIP",
        meaning.if_contact_is_mip.pin_mm,
        "mm",
    )
    says = []
    if meaning.from_marks is not None:
        ledger.quantity(
            "predicted", "pin opening predicted, record out, from the marks", meaning.from_marks.pin_mm, "mm"
        )
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
        rest = ledger.quantity(
            "found_minus_predicted", "found less predicted", meaning.found_minus_from_marks, "mm"
        )
        verdict = judge_against(
            ledger,
            "pin found less predicted",
            rest.value,
            rest.u or 0.0,
            case.limits.pin_found_minus_predicted,
        )
        words = {
            Verdict.AGREES: "is where it was predicted",
            Verdict.DOUBTFUL: "is a little off its prediction",
            Verdict.DISAGREES: "is not where it was predicted",
            Verdict.CANNOT_TELL: "cannot be held against its prediction",
        }[verdict]
        says.insert(
            0,
            f"the pin, at {meaning.found_mm.value:+.1f} mm, {words} ({meaning.found_minus_from_marks.value:+.2f})",
        )
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
    _rank(fit, states.contact, marks, ledger)


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
    by_name = {t.name: t for t in teeth}
    front = by_name.get("incisors", teeth[0])
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


def _rank(fit: PoseTable, state: str, marks: MarksInput, ledger: Ledger) -> None:
    pose = fit.poses[state]
    ledger.notes.append(
        f"{pose.pairs} pairs carry {pose.rank} of the 6 directions of motion (condition {pose.condition:.0f})"
        + ("." if not pose.not_seen else "; not seen: " + "; ".join(s.words for s in pose.not_seen) + ".")
    )
    points = [Point("incisors", (92.0, -42.0, 0.0)), Point("right second molar", (50.0, -35.0, 28.0))]
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
