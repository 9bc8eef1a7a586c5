"""Question 6: what to set on the condyles and the incisal table."""

from __future__ import annotations

from mountproof.answers._not_yet import not_yet
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Need
from mountproof.case.model import Case, RecordKind
from mountproof.said import say


def answer(case: Case, progress: Progress) -> Answer:
    """Say which excursive records are there and which are missing."""
    have = {record.kind for record in case.records.values()}
    wanted = (
        (
            RecordKind.PROTRUSIVE,
            say("a protrusive record at 5 to 6 mm"),
            say("a shorter one reads too steep and too noisy"),
        ),
        (RecordKind.LEFT, say("left lateral records at two amounts"), say("they set the right joint")),
        (RecordKind.RIGHT, say("right lateral records at two amounts"), say("they set the left joint")),
    )
    needs = tuple(Need(reading, why, "records") for kind, reading, why in wanted if kind not in have)
    return not_yet("guidance", say("It takes one protrusive record and two lateral records a side."), needs)
