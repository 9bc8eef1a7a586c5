"""The records of centric relation of a case, all that were compared, for those that ask beside question 3."""

from __future__ import annotations

from mountproof.answers.bench_inputs import MarksInput, marks_input, states_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.poses import looks_of, set_aside
from mountproof.answers.progress import Progress
from mountproof.answers.record_gathered import Gathered, from_marks, from_scans
from mountproof.case.model import Case


def gathered_records(case: Case, progress: Progress) -> Gathered | None:
    """Return the records of CR that question 3 compares, the larger set where marks and scans give one each."""
    page = Ledger("record")
    sets = [from_scans(case, page, progress)]
    marks = _marks(case, page)
    if marks is not None:
        sets.append(from_marks(case, marks, states_of(case, page), page))
    found = [one for one in sets if one is not None]
    return max(found, key=lambda g: len(g.wording)) if found else None


def _marks(case: Case, page: Ledger) -> MarksInput | None:
    if case.marks is None:
        return None
    marks = marks_input(case.marks, case.caliper, page)
    return set_aside(case, marks, looks_of(case, states_of(case, page), page), page)
