"""The eight answers, and what a person accepted of them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path

from mountproof.answers.known import cache_key, is_answered
from mountproof.answers.words import BY_KEY
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number, Who
from mountproof.surfaces.web.bench import opened
from mountproof.surfaces.web.faulty import ChangedError
from mountproof.surfaces.web.saved import look, saved, shown_sheet
from mountproof.surfaces.web.wire import AcceptIn, Conflicts, SavedOut, SheetOut

router = APIRouter(tags=["sheet"])
Question = Annotated[str, Path(max_length=40, description="key of a question")]


@router.get("/cases/{id}/sheet", summary="The eight answers")
def sheet(bench: BenchOf, language: In, case_id: CaseId, number: Number = None) -> SheetOut:
    """What needs no scan is there at once; the rest may be ``working``, and an event tells when it is there."""
    with bench.store.snapshot() as snapshot:
        seen = look(snapshot, case_id, number)
    return shown_sheet(seen, bench.answering.ask(seen.opened), language)


@router.post("/cases/{id}/sheet", summary="Begin anew what was stopped or went wrong")
def sheet_again(bench: BenchOf, language: In, case_id: CaseId, number: Number = None) -> SheetOut:
    """Answers that are there stay."""
    with bench.store.snapshot() as snapshot:
        seen = look(snapshot, case_id, number)
    bench.checks.look(seen.opened, again=True)
    return shown_sheet(seen, bench.answering.ask(seen.opened, again=True), language)


@router.post(
    "/cases/{id}/accept",
    summary="Accept an answer",
    responses={
        409: {"model": Conflicts, "description": "The answer is another one by now; nothing was accepted"}
    },
)
def accept(bench: BenchOf, language: In, who: Who, case_id: CaseId, answer: AcceptIn) -> SavedOut:
    """By the digest of what the person saw it read, so that it is known to be out of date later."""
    _known(answer.question)
    with bench.store.snapshot() as snapshot:
        seen = look(snapshot, case_id)
    found = bench.answering.ask(seen.opened, begin=False).sheet.answers.get(answer.question)
    if found is None or not is_answered(found) or found.digest != answer.digest:
        raise _changed(seen.opened.number)
    with bench.store.change(who) as change:
        head = change.head(case_id)
        if head.number != seen.opened.number:
            now = cache_key(opened(change, case_id).case, answer.question)
            if now != f"{answer.question} {answer.digest}":
                raise _changed(head.number)
        change.accept(case_id, answer.question, answer.digest, BY_KEY[answer.question].reads)
    return saved(bench, case_id, language)


def _changed(revision: int) -> ChangedError:
    what = say("this answer is another one by now, or is not there yet")
    fault = Fault("answer.changed", what, say("Look at the answer once more"), field="digest")
    return ChangedError([fault], revision)


@router.delete("/cases/{id}/accept/{question}", summary="Take an acceptance back")
def take_back(bench: BenchOf, language: In, who: Who, case_id: CaseId, question: Question) -> SavedOut:
    """What was accepted before stays in the store."""
    _known(question)
    with bench.store.change(who) as change:
        change.take_back(case_id, question)
    return saved(bench, case_id, language)


def _known(question: str) -> None:
    if question not in BY_KEY:
        todo = say("Name one of: {questions}", questions=", ".join(BY_KEY))
        raise FaultError([Fault("question.unknown", say("this is no question"), todo, got=question[:40])])
