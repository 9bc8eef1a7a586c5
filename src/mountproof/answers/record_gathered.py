"""What there is to compare several records of centric relation by: places of the lower cast, or pairs of marks."""

from __future__ import annotations

import math
from typing import NamedTuple

from mountproof.answers.bench_inputs import MarksInput, States
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.poses import Look, bench_marks, half_width, record_slack, set_aside
from mountproof.answers.progress import Progress
from mountproof.answers.scanned_records import scanned_relations
from mountproof.bench.pose import PoseTable, fit_poses
from mountproof.bench.reach import Point
from mountproof.bench.same_opening import (
    Features,
    place_features,
    relation_features,
    residual_features,
)
from mountproof.case.model import Case, Marks, RecordKind, StateKind
from mountproof.geometry.poses import inverse
from mountproof.said import joined, say

#: The full rank of a pose: six directions.
ALL_SIX = 6
#: How far a second molar lies beside the middle where nobody measured it.
_BESIDE_MM = 28.0


class Gathered(NamedTuple):
    """Records that can be compared: their words by column, the numbers, what these are, and whether they see everything.

    ``points`` are the places behind the numbers, none where only pairs of marks were read; ``scanned`` tells where the
    numbers come from; ``width_mm`` between the condyles.
    """

    wording: dict[str, str]
    features: Features
    what: str
    points: tuple[Point, ...]
    blind: bool
    scanned: bool
    width_mm: float


def from_marks(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> Gathered | None:
    """Return the records that were measured by marks before stone; None, with what is needed, where there are too few."""
    assert case.marks is not None
    names = _one_a_record(case.marks, marks, ledger)
    if len(names) >= 2 and states.mip is None:
        ledger.need(
            say("the same pairs of marks in MIP by hand"),
            say("the records are compared against it"),
            "marks.states",
        )
        return None
    if len(names) < 2 or states.mip is None:
        return None
    placed = bench_marks(case, marks)
    fit = None
    if placed is not None:
        slack = record_slack(case, names)
        marks = set_aside(case, marks, [Look(states.mip, tuple(names), slack)], ledger)
        fit = fit_poses(placed, marks.table, states.mip, names, slack=slack)
    wording = {n: case.marks.states[n].record or n for n in names}
    width = 2.0 * half_width(case, ledger)
    if fit is not None and all(fit.poses[n].rank == ALL_SIX for n in names):
        points = compared_points(case, ledger)
        what = _what(points)
        return Gathered(wording, place_features(fit, names, points, width), what, points, False, False, width)
    straight = [a for a in marks.arms if all(a.pair in marks.table[s] for s in (states.mip, *names))]
    if len(straight) < 2:
        ledger.need(
            say("two or more pairs in MIP and with every record in"),
            say("records are compared by them"),
            "marks.readings_mm",
        )
        return None
    if fit is not None:
        _missing(ledger, fit, names)
    features = residual_features(straight, marks.table, states.mip, names)
    return Gathered(wording, features, say("pairs of marks, hinge opening taken out"), (), True, False, width)


def from_scans(case: Case, ledger: Ledger, progress: Progress) -> Gathered | None:
    """Return the records of centric relation that were scanned, or None where fewer than two were."""
    scanned = [
        r
        for r in case.records.values()
        if r.kind is RecordKind.CR and (r.scan is not None or r.upper_from_lower is not None)
    ]
    if len(scanned) < 2:
        return None
    found = scanned_relations(case, ledger, progress)
    if len(found) < 2:
        return None
    # Places are told as they lie with the first record in: which one is first moves them by a record's thickness at most.
    first = inverse(found[0].upper_from_lower)
    points = compared_points(case, ledger)
    width = 2.0 * half_width(case, ledger)
    names = [r.record for r in found]
    features = relation_features(
        names, [r.upper_from_lower @ first for r in found], [r.cov6 for r in found], points, width
    )
    return Gathered(
        {n: n for n in names},
        features,
        joined(", ", (_what(points), say("by scans"))),
        points,
        False,
        True,
        width,
    )


def compared_points(case: Case, ledger: Ledger) -> tuple[Point, ...]:
    """Return the places at which records are compared: both condyles, the front tooth, both second molars."""
    half = half_width(case, ledger)
    teeth = tooth_places(case, ledger)
    front = front_tooth(teeth)
    back = min(teeth, key=lambda t: math.hypot(t.x_mm, t.y_mm))
    beside = ledger.assume(
        say("how far the second molars lie beside the middle"),
        _BESIDE_MM,
        "mm",
        say("an average skull; stand-ins"),
        "teeth_at",
    )
    return (
        Point(say("right condyle"), (0.0, 0.0, half)),
        Point(say("left condyle"), (0.0, 0.0, -half)),
        Point(front.name, (front.x_mm, front.y_mm, 0.0)),
        Point(say("right second molar"), (back.x_mm, back.y_mm, beside)),
        Point(say("left second molar"), (back.x_mm, back.y_mm, -beside)),
    )


def _what(points: tuple[Point, ...]) -> str:
    return say("condyles, {teeth} and second molars, closed to one opening", teeth=points[2].name)


def _one_a_record(given: Marks, marks: MarksInput, ledger: Ledger) -> list[str]:
    """Return one column for each record with it in before stone; further columns of one record show its seat only."""
    first: dict[str, str] = {}
    for name, state in given.states.items():
        if state.kind is StateKind.RECORD and marks.table.get(name):
            before = first.setdefault(state.record or name, name)
            if before != name:
                ledger.notes.append(
                    say(
                        "{state} is a further column of {record}: the records are compared by {before}.",
                        state=name,
                        record=state.record or name,
                        before=before,
                    )
                )
    return list(first.values())


def _missing(ledger: Ledger, fit: PoseTable, names: list[str]) -> None:
    blind = fit.poses[names[0]].not_seen
    if blind:
        ledger.notes.append(
            say("These marks do not see: {ways}.", ways=joined("; ", (s.words for s in blind)))
        )
        ledger.need(
            say("slanted and cross-arch pairs of marks"),
            say("straight pairs do not see fore-aft, side and yaw"),
            "marks.readings_mm",
        )
