"""Part of question 4: the slide from first contact in CR to MIP, and the record against MIP, by the marks."""

from __future__ import annotations

from collections.abc import Sequence

from mountproof.answers.bench_inputs import MarksInput, States
from mountproof.answers.ledger import Ledger
from mountproof.answers.mounting_places import USABLE_MM, points_of
from mountproof.answers.pin import tooth_places
from mountproof.answers.poses import bench_marks, record_slack
from mountproof.answers.result import Reason, Table, Why
from mountproof.bench.pose import PoseTable, fit_poses
from mountproof.bench.reach import AXES, Point, PointMotion, pairs_to_add, point_motion
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried
from mountproof.said import joined, say


def slide(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> None:
    """The slide from CR first contact to MIP, and the record against MIP, at teeth and condyles; refused where not seen."""
    placed = bench_marks(case, marks)
    if states.mip is None or states.contact is None or placed is None:
        return
    wanted = [s for s in (states.record, states.contact) if s is not None]
    fit = fit_poses(
        placed, marks.table, states.mip, wanted, slack=record_slack(case, wanted), usable_mm=USABLE_MM
    )
    points = points_of(case, tooth_places(case, ledger), ledger)
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
            mm=USABLE_MM,
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
