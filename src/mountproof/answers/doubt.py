"""Question 8: which step limits the result."""

from __future__ import annotations

from mountproof.answers._not_yet import not_yet
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Need
from mountproof.case.model import Case, RecordKind
from mountproof.said import say


def answer(case: Case, progress: Progress) -> Answer:
    """Say which repeats are there and which are missing."""
    needs = []
    records = [r for r in case.records.values() if r.kind is RecordKind.CR]
    if len(records) < 3:
        needs.append(
            Need(say("three or more CR records"), say("repeats are what shows the largest doubt"), "records")
        )
    if case.marks is None or case.marks.reseat_mm is None:
        needs.append(
            Need(
                say("one record taken off and put back five times"),
                say("it shows the doubt of seating"),
                "marks",
            )
        )
    return not_yet(
        "doubt", say("Until then each answer carries the uncertainty of its own readings."), tuple(needs)
    )
