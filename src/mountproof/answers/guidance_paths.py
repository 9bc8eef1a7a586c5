"""Where the condyles went in each protrusive and lateral record: by the marks of a caliper, or by scanned relations."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.bench_inputs import marks_input, record_repeat, states_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.poses import bench_marks, half_width, record_slack
from mountproof.answers.progress import Progress
from mountproof.answers.scanned_records import scanned_relations
from mountproof.bench.pose import fit_poses
from mountproof.bench.reach import Point, place_in
from mountproof.case.model import Case, RecordKind, StateKind
from mountproof.geometry.carry import Carried, from_covariance
from mountproof.geometry.poses import hat, transform
from mountproof.records.settings import path_between
from mountproof.said import say

#: Excursions by kind: what a state of the marks, and what a record, calls them.
STATE_OF: Final = {
    RecordKind.PROTRUSIVE: StateKind.PROTRUSIVE,
    RecordKind.LEFT: StateKind.LEFT,
    RecordKind.RIGHT: StateKind.RIGHT,
}
SIDES: Final = ("right", "left")


class Excursion(NamedTuple):
    """One record: its kind and name, the path (3) of each condyle by side, and the turn (rad) that the lower opened by."""

    kind: RecordKind
    name: str
    paths: dict[str, Carried]
    opening_rad: float
    by_scan: bool


def excursions(case: Case, ledger: Ledger, progress: Progress) -> tuple[Excursion, ...]:
    """Return every excursion that was measured; a record that was scanned goes before its marks."""
    scanned = _by_scan(case, ledger, progress)
    kinds = {e.kind for e in scanned}
    return (*scanned, *(e for e in _by_marks(case, ledger) if e.kind not in kinds))


def _condyles(half_mm: float) -> dict[str, tuple[float, float, float]]:
    return {"right": (0.0, 0.0, half_mm), "left": (0.0, 0.0, -half_mm)}


def _by_marks(case: Case, ledger: Ledger) -> list[Excursion]:
    if case.marks is None:
        return []
    wanted = {
        name: kind
        for kind, state in STATE_OF.items()
        for name, given in case.marks.states.items()
        if given.kind is state
    }
    quiet = Ledger(ledger.key)
    marks, states = marks_input(case.marks, case.caliper, ledger), states_of(case, quiet)
    placed = bench_marks(case, marks)
    # The condyles stand in one place on the instrument, record in or out; the nearer the teeth, the less the hinge turned.
    start = next((s for s in (states.contact, states.after_set, states.record) if s is not None), None)
    there = [name for name in wanted if marks.table.get(name)]
    if placed is None or start is None or not there:
        return []
    first = states.mip if states.mip is not None and marks.table.get(states.mip) else start
    others = [s for s in (start, *there) if s != first]
    fit = fit_poses(placed, marks.table, first, others, slack=record_slack(case, others))
    if not fit.settled:
        ledger.notes.append(say("The marks of the excursions do not settle on one pose: they are not used."))
        return []
    own = record_repeat(case, ledger)
    found = []
    for name in there:
        paths = {}
        for side, at in _condyles(half_width(case, ledger)).items():
            point = Point(side, at)
            paths[side] = path_between(place_in(fit, start, point), place_in(fit, name, point), own, name)
        turn = fit.poses[name].motion.values[2] - fit.poses[start].motion.values[2]
        found.append(Excursion(wanted[name], name, paths, -float(turn), False))
    return found


def _by_scan(case: Case, ledger: Ledger, progress: Progress) -> list[Excursion]:
    has = [k for k in STATE_OF if any(_is_scanned(r, k) for r in case.records.values())]
    if not has:
        return []
    centric = scanned_relations(case, ledger, progress)
    start = next((c for c in centric if c.record == case.mounted_on), centric[0] if centric else None)
    if start is None:
        ledger.need(
            say("the scanned relation of the CR record"),
            say("the path of a condyle begins in centric relation"),
            "records.upper_from_lower",
        )
        return []
    own, half = record_repeat(case, ledger), half_width(case, ledger)
    found = []
    for kind in has:
        for one in scanned_relations(case, ledger, progress, kind):
            paths = {}
            for side, at in _condyles(half).items():
                ends = []
                for relation, at_end in ((start, False), (one, True)):
                    # the condylar point of the lower as it lies in centric relation, where the hinge is
                    low = transform(np.linalg.inv(start.upper_from_lower), np.array(at))
                    place = transform(relation.upper_from_lower, low)
                    rows = np.concatenate([-hat(place), np.eye(3)], axis=1)
                    name = f"scan/{relation.record}/{at_end}"
                    ends.append(from_covariance(np.zeros(6), relation.cov6, name).linear(rows, place))
                paths[side] = path_between(ends[0], ends[1], own, one.record)
            turn = one.upper_from_lower[:3, :3] @ start.upper_from_lower[:3, :3].T
            found.append(Excursion(kind, one.record, paths, -float(np.arctan2(turn[1, 0], turn[0, 0])), True))
    return found


def _is_scanned(record: object, kind: RecordKind) -> bool:
    return getattr(record, "kind", None) is kind and (
        getattr(record, "upper_from_lower", None) is not None or getattr(record, "scan", None) is not None
    )
