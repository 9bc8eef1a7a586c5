"""Part of question 3: the hinge axis from scanned records of different thickness, and what it buys."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.answers.axis_doubt import AxisDoubt, axis_doubt
from mountproof.answers.bench_inputs import MarksInput, States, record_repeat
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, openings, tooth_places
from mountproof.answers.poses import half_width
from mountproof.answers.progress import Progress, quiet
from mountproof.answers.result import Quantity, Table
from mountproof.answers.scanned_records import ScannedRelation, scanned_relations
from mountproof.answers.words import SOURCES
from mountproof.bench.pin import Tooth
from mountproof.bench.same_opening import repeat_cov6
from mountproof.case.model import Case, RecordKind
from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array, inverse
from mountproof.records.hinge_axis import (
    HingeAxis,
    expected_sd_mm,
    facebow_cov,
    hinge_axis,
    slip_at,
    turn_is_seen,
    widest_turn,
)
from mountproof.said import figure, say

#: Records of one hinge disagree so much in fewer than one of a hundred cases.
_CHANCE = 0.01
#: Opened wider at the front teeth than this, a jaw no longer only turns. Common practice, no source.
_TURNS_TO_MM = 20.0
#: What the axis buys is told for one degree of closing where the opening of the case is not known.
_ONE_DEG = math.radians(1.0)
#: A turn of less is none.
_LEAST_TURN_RAD = 1e-4


class _Records(NamedTuple):
    """Scanned records with how honest ones vary in their doubt, and the two that differ most in thickness.

    ``shift_mm`` is the doubt (SD) of where these two lie against each other at the hinge; over the turn it is that of the axis.
    """

    relations: Sequence[ScannedRelation]
    covs6: list[Array]
    thin: str
    turn_rad: float
    shift_mm: float
    sd_mm: float
    seen: bool
    width_mm: float


def axis_of_records(
    case: Case,
    marks: MarksInput | None,
    states: States | None,
    ledger: Ledger,
    progress: Progress = quiet,
) -> list[str]:
    """Find the hinge axis that records of different thickness turn about, and say what it buys over the facebow's."""
    scanned = [
        r
        for r in case.records.values()
        if r.kind is RecordKind.CR and (r.scan is not None or r.upper_from_lower is not None)
    ]
    if len(scanned) < 2:
        return []
    relations = scanned_relations(case, ledger, progress)
    if len(relations) < 2:
        return []
    given = _records(case, relations, ledger)
    doubt = axis_doubt(case, ledger)
    front = front_tooth(tooth_places(case, ledger))
    if not given.seen or given.sd_mm >= doubt.u_mm:
        _too_alike(given, doubt, front, ledger)
        return []
    ledger.sources.append(SOURCES["hinge_axis"])
    poses = [r.upper_from_lower for r in relations]
    alone = hinge_axis(poses, given.covs6, given.width_mm)
    both = hinge_axis(poses, given.covs6, given.width_mm, doubt.u_mm)
    if not (alone.settled and both.settled):
        ledger.notes.append(say("The search for the hinge axis of these records did not end; none is told."))
        return []
    _quantities(alone, given, ledger)
    _one_hinge(alone, ledger)
    _buys(case, marks, states, both, given, doubt, ledger)
    return _sentence(alone)


def _records(case: Case, relations: Sequence[ScannedRelation], ledger: Ledger) -> _Records:
    width = 2.0 * half_width(case, ledger)
    honest = repeat_cov6(record_repeat(case, ledger), width)
    covs = [r.cov6 + honest for r in relations]
    thin, thick, turn = widest_turn([r.upper_from_lower for r in relations])
    return _Records(
        relations,
        covs,
        relations[thin].record,
        turn,
        expected_sd_mm(covs[thin], covs[thick], 1.0) * 2.0 * math.sin(0.5),
        expected_sd_mm(covs[thin], covs[thick], turn),
        turn_is_seen(covs[thin], covs[thick], turn),
        width,
    )


def _too_alike(given: _Records, doubt: AxisDoubt, front: Tooth, ledger: Ledger) -> None:
    """Refuse an axis that would be worse than the facebow's, and name the record that would show a better one."""
    # The doubt goes as one over the turn; half of the facebow's is worth a record.
    thicker = given.shift_mm / (0.5 * doubt.u_mm) * math.hypot(front.x_mm, front.y_mm)
    ledger.notes.append(
        say(
            "The records are too alike in thickness ({deg:.2f} deg apart) to show the hinge axis: to {sd:.1f} mm "
            "(1 SD) at best, where it is taken as known to {u:.1f} mm.",
            deg=math.degrees(given.turn_rad),
            sd=given.sd_mm,
            u=doubt.u_mm,
        )
        if given.turn_rad > _LEAST_TURN_RAD
        else say("The records are of one thickness: they do not show the hinge axis.")
    )
    if thicker > _TURNS_TO_MM:
        ledger.notes.append(
            say(
                "A record thick enough to show it would open the {teeth} by {mm:.0f} mm more; so wide, a jaw no "
                "longer only turns.",
                teeth=front.name,
                mm=thicker,
            )
        )
        return
    ledger.need(
        say(
            "a scanned CR record that opens the {teeth} {mm:.1f} mm more than {record}",
            teeth=front.name,
            mm=thicker,
            record=given.thin,
        ),
        say("together they show the hinge axis to half the doubt it has now"),
        "records",
    )


def _quantities(found: HingeAxis, given: _Records, ledger: Ledger) -> None:
    u = np.sqrt(np.diag(found.middle_cov))
    for key, label, value, sd in (
        ("axis_ahead", say("hinge axis ahead of the one entered"), found.middle_mm[0], u[0]),
        ("axis_above", say("hinge axis above the one entered"), found.middle_mm[1], u[1]),
    ):
        ledger.quantities.append(Quantity.of(key, label, float(value), say("mm"), float(sd), decimals=1))
    lean, sd2 = found.lean(given.width_mm)
    for key, label, value, sd in (
        ("axis_lean_ahead", say("hinge axis points ahead on the right"), lean[0], sd2[0]),
        ("axis_lean_up", say("hinge axis points up on the right"), lean[1], sd2[1]),
    ):
        ledger.quantities.append(
            Quantity.of(
                key, label, math.degrees(float(value)), say("deg"), math.degrees(float(sd)), decimals=1
            )
        )


def _one_hinge(found: HingeAxis, ledger: Ledger) -> None:
    ledger.notes.append(
        say(
            "Between the thinnest and the thickest record the lower turned by {deg:.2f} deg, slid by {slide:+.2f} mm along "
            "the axis of that turn, and that axis leans {out:.1f} deg out of the one entered.",
            deg=math.degrees(found.turn_rad),
            slide=found.slide_mm,
            out=math.degrees(found.out_rad),
        )
    )
    if found.tail < _CHANCE:
        ledger.notes.append(
            say(
                "So far do records that turn about one hinge not slide: at least one of them is not of this hinge."
            )
        )


def _buys(
    case: Case,
    marks: MarksInput | None,
    states: States | None,
    both: HingeAxis,
    given: _Records,
    doubt: AxisDoubt,
    ledger: Ledger,
) -> None:
    """Tell what an error of the axis costs at each tooth group with the facebow's axis, and with the records' as well."""
    angle = _opened(case, marks, states, given)
    told = _ONE_DEG if angle is None else angle
    if abs(told) < _LEAST_TURN_RAD:
        return
    before = facebow_cov(doubt.u_mm)
    rows = []
    for tooth in tooth_places(case, ledger):
        place = (tooth.x_mm, tooth.y_mm, 0.0)
        was, now = (slip_at(told, c, given.width_mm, place) for c in (before, both.cov_mm2))
        rows.append((tooth.name, figure(was, ".3f"), figure(now, ".3f")))
    title = (
        say("What the doubt of the axis costs for each degree of closing, mm (root mean square)")
        if angle is None
        else say(
            "What the doubt of the axis costs for this opening of {deg:.2f} deg, mm (root mean square)",
            deg=math.degrees(abs(told)),
        )
    )
    ledger.tables.append(
        Table(
            title,
            ("", say("axis as entered"), say("with these records")),
            tuple(rows),
            say("Slip along the teeth once they have met there."),
        )
    )


def _opened(case: Case, marks: MarksInput | None, states: States | None, given: _Records) -> float | None:
    """Return how far the mounted record opens the jaw (rad), by marks or by a scanned MIP; None where nothing tells."""
    if marks is not None and states is not None and states.record is not None:
        aside = Ledger("record")
        found = openings(case, marks, states, aside)
        for opened in (found.from_contact, found.from_mip):
            if opened is not None:
                return abs(opened.value)
    mip = scanned_relations(case, Ledger("record"), quiet, RecordKind.MIP)
    on = next((r for r in given.relations if r.record == case.mounted_on), None)
    if mip and on is not None:
        turn = on.upper_from_lower @ inverse(mip[0].upper_from_lower)
        return abs(math.atan2(turn[1, 0], turn[0, 0]))
    return None


def _sentence(found: HingeAxis) -> list[str]:
    """Return where the axis lies, where it is surely not the one entered and records of one hinge show it; else nothing."""
    off = found.middle_mm
    cov = found.middle_cov
    if found.tail < _CHANCE or chi2_tail(float(off @ np.linalg.solve(cov, off)), 2) >= _CHANCE:
        return []
    ahead = say("ahead") if off[0] >= 0.0 else say("behind")
    above = say("above") if off[1] >= 0.0 else say("below")
    return [
        say(
            "The records turn about an axis {x:.1f} mm {ahead} and {y:.1f} mm {above} the one entered (each ± {u:.1f} mm)",
            x=abs(float(off[0])),
            ahead=ahead,
            y=abs(float(off[1])),
            above=above,
            u=2.0 * found.sd_mm,
        )
    ]
