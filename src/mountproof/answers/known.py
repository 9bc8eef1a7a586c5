"""Answers that are there already, and answers put together from several goes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, MutableMapping

from mountproof.answers.procedure import open_gates
from mountproof.answers.result import Answer, Need, Quantity, Reason, Sheet, Verdict, Why
from mountproof.answers.words import BY_KEY, QUESTIONS
from mountproof.case.digest import digest
from mountproof.case.model import Case
from mountproof.case.scan_names import has_extra_scans
from mountproof.faults import Fault

#: Questions that look at scanned records and further scans of an arch where there are any.
_EXTRA = ("record", "mounting")
#: The order in which verdicts ask for the next measurement.
_URGENT = (Verdict.DISAGREES, Verdict.DOUBTFUL, Verdict.CANNOT_TELL, Verdict.AGREES)


def scan_questions(case: Case) -> tuple[str, ...]:
    """Return the questions that look long at the scans of this case; every other one is answered from the bench alone.

    The record and the mounting are among them only where a record was scanned, or an arch once more.
    """
    extra = has_extra_scans(case)
    return tuple(
        q.key for q in QUESTIONS if "scans" in q.reads and (extra if q.key in _EXTRA else bool(case.scans))
    )


def cache_key(case: Case, key: str) -> str:
    """Return the name under which ``mountproof.answers.sheet.answer`` keeps an answer: question and digest.

    FaultError where a scan file cannot be read, KeyError for a question that is none.
    """
    return f"{key} {digest(case, BY_KEY[key].reads, seed=0)}"


def is_answered(answer: Answer) -> bool:
    """Tell whether this version answers the question at all."""
    return all(reason.why is not Why.NOT_BUILT for reason in answer.reasons)


def together(
    case: Case,
    parts: Iterable[tuple[Answer, tuple[Fault, ...]]],
    cache: MutableMapping[str, Answer] | None = None,
) -> Sheet:
    """Return the sheet of answers that were made one by one, each with the faults that kept it from being whole.

    ``cache`` as for ``mountproof.answers.sheet.answer``.
    """
    found: dict[str, Answer] = {}
    faults: list[Fault] = []
    for answer, own in parts:
        found[answer.key] = answer
        faults += own
    answers = {q.key: found[q.key] for q in QUESTIONS if q.key in found}
    return Sheet(
        case.code,
        answers,
        _asked(answers),
        case.echoes,
        tuple(dict.fromkeys(faults)),
        open_gates(case, answers),
    )


def _asked(answers: Mapping[str, Answer]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(r.text for r in questioned(answers)))


def questioned(answers: Mapping[str, Answer]) -> tuple[Reason, ...]:
    """Return every reason that questions a reading, in the order of the questions."""
    return tuple(r for answer in answers.values() for r in answer.reasons if r.why is Why.QUESTIONED)


def turns_on(answer: Answer) -> Quantity | None:
    """Return the number the answer turns on: the first one that has an interval; None where there is none.

    Every answer notes first what it was asked for, then what that rests on.
    """
    return next((q for q in answer.quantities if q.low is not None and q.high is not None), None)


def next_up(sheet: Sheet, most: int = 5) -> tuple[tuple[str, Need], ...]:
    """Return what to measure next, the most useful first, each with the question it serves.

    Questions whose verdict goes against the mounting come first, then doubtful ones, then those that cannot be told;
    first the first need of each, then their second. Questions that this version does not answer ask for nothing.
    """
    asked = [a for a in sheet.answers.values() if is_answered(a) and a.needs]
    asked.sort(key=lambda a: (_URGENT.index(a.verdict), BY_KEY[a.key].number))
    found: dict[str, tuple[str, Need]] = {}
    for rank in range(max((len(a.needs) for a in asked), default=0)):
        for answer in asked:
            if rank < len(answer.needs):
                need = answer.needs[rank]
                found.setdefault(need.reading, (answer.key, need))
    return tuple(found.values())[:most]
