"""The list of cases, new ones, one of them, its history and where it stands."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query

from mountproof.case.store import CaseState, why
from mountproof.case.store.times import utc_now
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number, Who
from mountproof.surfaces.web.new_cases import begin_case
from mountproof.surfaces.web.saved import look, saved, shown_case
from mountproof.surfaces.web.shapes.basics import entry_text
from mountproof.surfaces.web.shapes.cases import listed_out
from mountproof.surfaces.web.tongue import words
from mountproof.surfaces.web.wire import (
    CaseOut,
    ChangeOut,
    NewCaseIn,
    PageOut,
    RevisionOut,
    SavedOut,
    StateIn,
    UndoIn,
)

router = APIRouter(tags=["cases"])


@router.get("/cases", summary="A page of the list of cases")
def list_cases(
    bench: BenchOf,
    language: In,
    search: Annotated[
        str, Query(max_length=200, description="words that must all stand in code, lab or note")
    ] = "",
    state: Annotated[CaseState | None, Query(description="only cases in this state")] = None,
    order: Annotated[
        Literal["changed", "code"], Query(description="last change first, or by code")
    ] = "changed",
    after: Annotated[str | None, Query(max_length=400, description="``next`` of the page before")] = None,
    most: Annotated[int, Query(ge=1, le=200, description="how many")] = 50,
) -> PageOut:
    """Search words, state and order as in the list of the page; pages stay in place while cases are added."""
    with bench.store.snapshot() as snapshot:
        try:
            page = snapshot.cases(search, state, order, after, most)
        except ValueError as error:
            todo = say("Begin again at the first page")
            raise FaultError(
                [
                    Fault(
                        "request.value",
                        say("this page does not continue another one of this order"),
                        todo,
                        field="after",
                    )
                ]
            ) from error
    now = utc_now()
    return PageOut(cases=[listed_out(one, now, language) for one in page.cases], next=page.after)


@router.post("/cases", summary="Begin a case")
def new_case(bench: BenchOf, language: In, who: Who, new: NewCaseIn) -> SavedOut:
    """An empty case with a code, or the invented demo case with its two casts."""
    revision = begin_case(bench, new.code, who, demo=new.demo)
    return saved(bench, revision.case_id, language)


@router.get("/cases/{id}", summary="One revision of a case, as entered")
def one_case(bench: BenchOf, language: In, case_id: CaseId, number: Number = None) -> CaseOut:
    """The newest revision unless told."""
    with bench.store.snapshot() as snapshot:
        seen = look(snapshot, case_id, number)
    return shown_case(bench, seen, bench.answering.bench(seen.opened.case), language)


@router.get("/cases/{id}/history", summary="Every revision of a case, the newest first")
def history(bench: BenchOf, language: In, case_id: CaseId) -> list[RevisionOut]:
    """Who changed what, and when."""
    with bench.store.snapshot() as snapshot:
        snapshot.head(case_id)
        found = snapshot.history(case_id)
    return [
        RevisionOut(
            number=one.number,
            who=one.who,
            at=one.at,
            what=words(why.recalled(one.what), language),
            changes=[
                ChangeOut(field=c.field, old=entry_text(c.old), new=entry_text(c.new)) for c in one.changes
            ],
        )
        for one in reversed(found)
    ]


@router.post("/cases/{id}/undo", summary="Take back what one revision changed")
def undo(bench: BenchOf, language: In, who: Who, case_id: CaseId, which: UndoIn) -> SavedOut:
    """As a new revision; what came after it stays. 409 where something later changed the same entries."""
    with bench.store.change(who) as change:
        change.undo(case_id, which.number)
    return saved(bench, case_id, language)


@router.post("/cases/{id}/state", summary="Say where a case stands")
def set_state(bench: BenchOf, language: In, who: Who, case_id: CaseId, new: StateIn) -> SavedOut:
    """Open, waiting, done, or put away."""
    with bench.store.change(who) as change:
        change.set_state(case_id, new.state)
    return saved(bench, case_id, language)
