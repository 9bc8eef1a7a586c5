"""Part of question 4: a second record seated on the mounting, by the marks."""

from __future__ import annotations

from mountproof.answers.bench_inputs import MarksInput
from mountproof.answers.implants import held_to
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.poses import bench_marks
from mountproof.answers.result import Verdict
from mountproof.bench.movement import movement
from mountproof.case.model import Case, StateKind
from mountproof.said import say


def second_record(case: Case, marks: MarksInput, ledger: Ledger) -> str:
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
        verdict = judge_against(ledger, what, off.value, off.u, held_to(case, "records_at_incisors"))
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
