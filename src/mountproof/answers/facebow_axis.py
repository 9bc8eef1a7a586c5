"""What the doubt of the hinge axis costs for this opening, tooth by tooth, and how to make it less."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.answers.axis_doubt import BANDS, AxisDoubt, axis_doubt
from mountproof.answers.bench_inputs import marks_input, states_of
from mountproof.answers.foils import written
from mountproof.answers.implants import at_implants, held_at
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, openings, tooth_places
from mountproof.answers.poses import half_width, looks_of, set_aside
from mountproof.answers.result import Table, Verdict
from mountproof.answers.scan_tips import Tips
from mountproof.answers.scanned_records import scanned_relations
from mountproof.answers.words import SOURCES
from mountproof.bench.pin import Tooth, opening_at
from mountproof.case.model import AxisFrom, Case
from mountproof.geometry.carry import Carried, measured
from mountproof.geometry.poses import Array
from mountproof.records.axis_cost import ToothCost, cost_at, opening_for_cost, turn_of, unit_draws
from mountproof.said import figure, joined, say, term

#: Draws for a table tooth by tooth: a root mean square to half a percent.
_DRAWS_A_TOOTH = 20_000
#: Below this an opening is none (rad): a hundredth of a degree, some 0.01 mm at the front.
_NONE_RAD = math.radians(0.01)
#: The molars stand so far to each side; for a turn of the jaw told in millimetres across the arch. Common practice.
_ACROSS_MM = 50.0
#: Places of the last digit of a tooth that a named group of teeth stands for.
_GROUP_OF = {
    1: "incisors",
    2: "incisors",
    3: "canines",
    4: "first molars",
    5: "first molars",
    6: "first molars",
}


class _Opened(NamedTuple):
    """The opening (rad) that the instrument closes, and between which states."""

    angle: Carried
    words: str


def axis_cost(case: Case, ledger: Ledger, tips: Tips | None) -> list[str]:
    """Say and judge what the axis costs; nothing is judged before somebody said where the axis came from."""
    told = case.facebow.axis is not None or case.facebow.axis_u_mm is not None
    opened = _opened(case, ledger, told)
    if opened is None:
        if told:
            ledger.need(
                say("marks in MIP and with the record in, or a scanned record"),
                say("what the axis costs grows with the opening of the record"),
                "marks",
            )
        return []
    if SOURCES["axis"] not in ledger.sources:
        ledger.sources.append(SOURCES["axis"])
    if abs(opened.angle.value) < _NONE_RAD:
        ledger.notes.append(
            say(
                "The record opens nothing that is closed again: the hinge axis costs nothing, wherever it lies."
            )
        )
        return []
    teeth = tooth_places(case, ledger)
    doubt = axis_doubt(case, ledger)
    angle = abs(opened.angle.value)
    front = front_tooth(teeth)
    costs = {t: _cost(case, angle, doubt.u_mm, t, front) for t in teeth}
    worst = max(costs, key=lambda t: costs[t].rms_mm)
    cost = _carried(costs[worst].rms_mm, opened.angle, doubt)
    ledger.quantity(
        "axis_cost",
        say("what the axis may cost at the {teeth}, once they meet (1 SD)", teeth=worst.name),
        cost,
        "mm",
        assumed=doubt.assumed,
    )
    turn = turn_of(angle, 2.0 * doubt.u_mm, 2.0 * half_width(case, ledger))
    ledger.quantity(
        "axis_turn",
        say("turn of the jaw where both hinge points are off on their own (1 SD)"),
        _carried(turn, opened.angle, doubt),
        "deg",
        factor=180.0 / math.pi,
        assumed=doubt.assumed,
        note=say("{mm:.2f} mm across the arch at the molars", mm=turn * _ACROSS_MM),
    )
    _tables(case, ledger, opened, costs, worst, tips, doubt)
    if not told:
        ledger.need(
            say("where the hinge axis came from: located, ear rods, points of the skin, or average lengths"),
            say("what it costs at the teeth is not judged before"),
            "facebow.axis",
        )
        return []
    return _judge(case, ledger, opened, costs, worst, cost, doubt)


def _cost(case: Case, angle: float, sd_mm: float, tooth: Tooth, front: Tooth) -> ToothCost:
    return cost_at(angle, sd_mm, _place(tooth), _place(front), case.limits.axis_cost.redo)


def _place(tooth: Tooth) -> Array:
    return np.array([tooth.x_mm, tooth.y_mm, 0.0])


def _carried(value: float, angle: Carried, doubt: AxisDoubt) -> Carried:
    """Return a cost, proportional to opening and doubt of the axis, with the doubt of both."""
    u_angle = value * abs(angle.u / angle.value)
    return measured(value, u_angle, "opening") + measured(
        0.0, value * doubt.u_of_u_mm / doubt.u_mm, "assumed/axis"
    )


def _opened(case: Case, ledger: Ledger, told: bool) -> _Opened | None:
    """Return the opening of the mounted record, from the marks or from a scanned relation; None where it is not known."""
    own = Ledger(ledger.key)
    if case.marks is not None:
        marks = marks_input(case.marks, case.caliper, own)
        states = states_of(case, own)
        if states.record is not None:
            marks = set_aside(case, marks, looks_of(case, states, own), own)
            found = openings(case, marks, states, own)
            if found.from_contact is not None:
                return _Opened(found.from_contact, say("from the record to first contact"))
            if found.from_mip is not None:
                return _Opened(found.from_mip, say("from the record to MIP"))
    if not told or len(case.scans) < 2:
        return None
    relations = scanned_relations(case, own)
    mine = [r for r in relations if r.record == case.mounted_on] or (
        list(relations) if len(relations) == 1 else []
    )
    if not mine:
        return None
    turn = mine[0].upper_from_lower
    angle = -math.atan2(turn[1, 0], turn[0, 0])
    return _Opened(
        measured(angle, math.sqrt(float(mine[0].cov6[2, 2])), "relation"),
        say("from the record to how the scans lie together"),
    )


def _tables(
    case: Case,
    ledger: Ledger,
    opened: _Opened,
    costs: dict[Tooth, ToothCost],
    worst: Tooth,
    tips: Tips | None,
    doubt: AxisDoubt,
) -> None:
    angle, limit = abs(opened.angle.value), case.limits.axis_cost.redo
    head = (
        say("teeth"),
        say("opened, mm"),
        say("once they meet, 1 SD"),
        say("19 of 20 below"),
        say("same angle, 1 SD"),
        say("height if the front meets first, 1 SD"),
        say("beyond {mm:g} mm", mm=limit),
        say("costs nothing along"),
    )
    ledger.tables.append(
        Table(
            say(
                "What the axis costs for this opening of {deg:.2f} degrees ({what}), mm",
                deg=math.degrees(angle),
                what=opened.words,
            ),
            head,
            tuple(_row(t.name, opening_at(t, angle).gap_mm, c) for t, c in costs.items()),
            say(
                "Axis known to {sd:.1f} mm a coordinate, both hinge points off alike; exact, for drawn axes. An error of "
                "the axis along the line from hinge to tooth costs nothing there, one square to it costs most.",
                sd=doubt.u_mm,
            ),
        )
    )
    if tips is not None:
        _by_tooth(case, ledger, angle, tips, doubt, head)
    rows = []
    for source in AxisFrom:
        band = BANDS[source]
        c = cost_at(angle, band.sd_mm, _place(worst), _place(worst), limit)
        rows.append(
            (
                term(source.value),
                say("{low:.1f} to {high:.1f}", low=band.low_mm, high=band.high_mm),
                figure(c.rms_mm, ".2f"),
                _share(c.beyond),
            )
        )
    ledger.tables.append(
        Table(
            say("What the same opening costs at the {teeth}, by where the axis came from", teeth=worst.name),
            (
                say("hinge axis"),
                say("known to (1 SD of a coordinate), mm"),
                say("1 SD, mm"),
                say("beyond {mm:g} mm", mm=limit),
            ),
            tuple(rows),
            say(
                "Published bands; the middle of each is used. Average lengths: how far people differ from the mean."
            ),
        )
    )


def _row(name: str, gap_mm: float, c: ToothCost) -> tuple[str, ...]:
    return (
        name,
        figure(gap_mm, ".1f"),
        figure(c.rms_mm, ".2f"),
        figure(c.most_mm, ".2f"),
        figure(c.even_mm, ".2f"),
        figure(c.high_mm, ".2f"),
        _share(c.beyond),
        _direction(c.free_rad),
    )


def _share(share: float) -> str:
    if share < 0.005:
        return say("under 1 %")
    return say("{percent:.0f} %", percent=100.0 * share)


def _direction(free_rad: float) -> str:
    degrees = math.degrees(free_rad)
    if degrees < 0.0:
        return say("{deg:.0f} degrees down, ahead", deg=-degrees)
    return say("{deg:.0f} degrees up, ahead", deg=degrees)


def _by_tooth(
    case: Case, ledger: Ledger, angle: float, tips: Tips, doubt: AxisDoubt, head: tuple[str, ...]
) -> None:
    """Add the table tooth by tooth, from where the scan has the tips of the upper teeth."""
    few = unit_draws(_DRAWS_A_TOOTH)
    front = max(tips.places.values(), key=lambda p: float(p[0]))
    rows = []
    for tooth in sorted(tips.places, key=lambda t: (tips.places[t][2] < 0.0, -tips.places[t][2])):
        place = tips.places[tooth]
        c = cost_at(angle, doubt.u_mm, place, front, case.limits.axis_cost.redo, few)
        gap = opening_at(Tooth("", float(place[0]), float(place[1])), angle).gap_mm
        rows.append(_row(written(case, tooth), gap, c))
    ledger.tables.append(Table(say("The same tooth by tooth, from the scan, mm"), head, tuple(rows)))


def _judge(
    case: Case,
    ledger: Ledger,
    opened: _Opened,
    costs: dict[Tooth, ToothCost],
    worst: Tooth,
    cost: Carried,
    doubt: AxisDoubt,
) -> list[str]:
    limit = case.limits.axis_cost
    verdict = judge_against(
        ledger,
        say("what the hinge axis may cost at the {teeth} for this opening (1 SD)", teeth=worst.name),
        cost.value,
        cost.u,
        limit,
    )
    verdicts = [verdict, *_at_implants(case, ledger, opened, costs, doubt)]
    if all(v is Verdict.AGREES for v in verdicts):
        return []
    _advise(case, ledger, costs, worst, cost, doubt)
    if case.facebow.axis is AxisFrom.AVERAGE:
        ears = cost_at(
            abs(opened.angle.value), BANDS[AxisFrom.EARS].sd_mm, _place(worst), _place(worst), limit.redo
        )
        ledger.notes.append(
            say(
                "Mounted by average lengths {here} of such mountings are off by more than {mm:g} mm at the {teeth}; with "
                "ear rods it would be {ears}.",
                here=_share(costs[worst].beyond),
                mm=limit.redo,
                teeth=worst.name,
                ears=_share(ears.beyond),
            )
        )
    if Verdict.AGREES is verdict:
        return []
    return [
        say(
            "the hinge axis may cost {mm:.2f} mm at the {teeth} for this opening (1 SD)",
            mm=cost.value,
            teeth=worst.name,
        )
    ]


def _at_implants(
    case: Case, ledger: Ledger, opened: _Opened, costs: dict[Tooth, ToothCost], doubt: AxisDoubt
) -> list[Verdict]:
    """Judge the cost where implants bear by the limit of implants; teeth of a group that was not named are passed over."""
    by_name = {str(t.name): c for t, c in costs.items()}
    groups: dict[str, list[int]] = {}
    for tooth in at_implants(case, (*range(11, 19), *range(21, 29))):
        groups.setdefault(_GROUP_OF.get(tooth % 10, "second molars"), []).append(tooth)
    verdicts = []
    for group, teeth in groups.items():
        if group not in by_name:
            continue
        cost = _carried(by_name[group].rms_mm, opened.angle, doubt)
        verdicts.append(
            judge_against(
                ledger,
                say(
                    "what the hinge axis may cost where implants bear ({teeth}; 1 SD)",
                    teeth=joined(", ", (written(case, t) for t in teeth)),
                ),
                cost.value,
                cost.u,
                held_at(case, teeth, case.limits.axis_cost).limit,
            )
        )
    return verdicts


def _advise(
    case: Case,
    ledger: Ledger,
    costs: dict[Tooth, ToothCost],
    worst: Tooth,
    cost: Carried,
    doubt: AxisDoubt,
) -> None:
    """Say how thick the record may be, or how well the axis must be known, so that the cost stays within its limit."""
    decent = case.limits.axis_cost.decent
    if decent <= 0.0 or cost.value <= decent:
        return
    places: Sequence[Array] = [_place(t) for t in costs]
    thin = opening_for_cost(decent, doubt.u_mm, np.array(places), _place(front_tooth(tuple(costs))))
    at = joined(
        ", ",
        (
            say("{mm:.1f} mm at the {teeth}", mm=opening_at(t, thin).gap_mm, teeth=t.name)
            for t in sorted(costs, key=lambda t: t.x_mm)
        ),
    )
    ledger.need(
        say("a record no thicker than {at}; or one taken at the vertical dimension of treatment", at=at),
        say(
            "this opening may cost {mm:.2f} mm at the {teeth}; no closing, no cost",
            mm=cost.value,
            teeth=worst.name,
        ),
        "records",
    )
    ledger.need(
        say(
            "the hinge axis located to {mm:.1f} mm (1 SD of a coordinate)",
            mm=doubt.u_mm * decent / cost.value,
        ),
        say("then this record costs no more than {mm:g} mm", mm=decent),
        "facebow.axis",
    )
