"""Question 3: whether the record is good enough to mount with. The parts stand in modules of their own."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from mountproof.answers.bench_inputs import marks_input, states_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import RecordEvidence, ResidualMap, Scatter
from mountproof.answers.progress import Progress
from mountproof.answers.record_few_teeth import few_teeth
from mountproof.answers.record_hinge_axis import axis_of_records
from mountproof.answers.record_on_cast import on_cast
from mountproof.answers.record_power import how_many
from mountproof.answers.record_repeats import repeats
from mountproof.answers.record_reseat import RESEAT_NEED, reseat
from mountproof.answers.record_stops import stops
from mountproof.answers.result import Answer, Verdict, Why
from mountproof.answers.told_apart import Told
from mountproof.answers.words import BY_KEY, SOURCES
from mountproof.case.model import Case, Marks, StateKind
from mountproof.said import joined, say


def answer(case: Case, progress: Progress) -> Answer:
    """Answer from re-seating, and from records compared after the hinge opening has been taken out."""
    noted = noted_parts(case, progress)
    ledger, says = noted.ledger.copied(), list(noted.says)
    ledger.sources[:0] = [SOURCES["critical"], SOURCES["gum"]]
    if not ledger.verdicts:
        if not _has_anything(case):
            ledger.need(*RESEAT_NEED)
            return ledger.answer(say("Nothing was measured with a record in yet."), Verdict.CANNOT_TELL)
        ledger.because(
            Verdict.CANNOT_TELL, Why.MISSING, say("neither re-seating nor a second record was measured")
        )
        says = [*says, say("One record, seated once, cannot be judged")]
    return ledger.answer(joined(". ", says), evidence=evidence(ledger))


class Noted(NamedTuple):
    """What the parts of question 3 wrote, and what they say. Others copy the page before they write on it."""

    ledger: Ledger
    says: tuple[str, ...]


def noted_parts(case: Case, progress: Progress) -> Noted:
    """Judge everything that is known of the records, once for questions 3 and 4 (for its ``finds``)."""
    return _noted(Told(case, BY_KEY["record"].reads, progress))


@lru_cache(maxsize=8)
def _noted(read: Told) -> Noted:
    ledger = Ledger("record")
    return Noted(ledger, tuple(_parts(read.case, ledger, read.progress)))


def _parts(case: Case, ledger: Ledger, progress: Progress) -> list[str]:
    """Judge everything that is known of the records; return what it comes to, the most decisive first."""
    says: list[str] = []
    marks = states = None
    if case.marks is not None and _anything_read(case.marks):
        marks = marks_input(case.marks, case.caliper, ledger)
        states = states_of(case, ledger)
        says += reseat(case, marks, ledger)
    if _has_anything(case):
        says += on_cast(case, ledger, progress)
        compared = repeats(case, marks, states, ledger, progress)
        says += compared
        says += axis_of_records(case, marks, states, ledger, progress)
        if compared:
            how_many(case, ledger)
    says += stops(case, ledger)
    says += few_teeth(case, ledger)
    return says


def evidence(ledger: Ledger) -> RecordEvidence | None:
    """Return the arrays behind the pictures that the parts noted on the page; None where there are none."""
    scatter = next((p for p in ledger.pictures if isinstance(p, Scatter)), None)
    maps = tuple(p for p in ledger.pictures if isinstance(p, ResidualMap))
    return RecordEvidence(scatter, maps) if scatter is not None or maps else None


def _has_anything(case: Case) -> bool:
    """Tell whether anything of a record was measured, with the caliper or a scanner, or its stops were entered."""
    if case.marks is not None and _anything_read(case.marks):
        return True
    return any(r.upper_from_lower is not None or r.scan is not None or r.stops for r in case.records.values())


def _anything_read(marks: Marks) -> bool:
    """Tell whether a record was measured at all: with it in, before or after set, or on and off again."""
    with_record = {n for n, s in marks.states.items() if s.kind in (StateKind.RECORD, StateKind.RECORD_SET)}
    return marks.reseat_mm is not None or any(c.state in with_record for c in marks.readings_mm.cells())
