"""Changes of entries: saved, or only tried."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import JsonValue

from mountproof.case.store import why
from mountproof.case.store.trial import tried_case, tried_text
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Who
from mountproof.surfaces.web.saved import look, saved, shown_sheet
from mountproof.surfaces.web.shapes.cases import case_out
from mountproof.surfaces.web.wire import Conflicts, EditsIn, SavedOut, TryOut

router = APIRouter(tags=["edits"])


@router.post(
    "/cases/{id}/edits",
    summary="Change entries of a case",
    responses={
        409: {
            "model": Conflicts,
            "description": "Somebody else changed the same entries; nothing was changed",
        }
    },
)
def edit(bench: BenchOf, language: In, who: Who, case_id: CaseId, edits: EditsIn) -> SavedOut:
    """All of them or none. Values as typed are kept; changes of other entries by others are brought together."""
    with bench.store.change(who) as change:
        change.edit(case_id, fields_of(edits), edits.based_on, edits.what or why.CHANGED)
    return saved(bench, case_id, language)


@router.post("/cases/{id}/try", summary="Say what edits would do, and save nothing")
def try_edits(bench: BenchOf, language: In, case_id: CaseId, edits: EditsIn) -> TryOut:
    """The case with these edits, and the answers that need no scan."""
    with bench.store.snapshot() as snapshot:
        seen = look(snapshot, case_id, edits.based_on)
        fields = fields_of(edits)
        text = tried_text(seen.revision, fields)
        case = tried_case(snapshot, seen.revision, fields)
    tried = seen._replace(opened=seen.opened._replace(case=case))
    asked = bench.answering.bench(case)
    return TryOut(
        case=case_out(
            tried.opened,
            seen.revision,
            seen.state,
            asked.sheet,
            language,
            sizes={},
            looks=bench.checks.look(tried.opened, begin=False),
            text=text,
        ),
        sheet=shown_sheet(tried, asked, language),
    )


def fields_of(edits: EditsIn) -> tuple[tuple[str, JsonValue], ...]:
    """Return the edits in their order. FaultError where one entry is changed twice; items may be added many times."""
    seen: set[str] = set()
    for one in edits.edits:
        if one.field in seen and not one.field.endswith("+"):
            what, todo = say("this entry is changed twice at once"), say("Send one value for it")
            raise FaultError([Fault("request.value", what, todo, field=one.field)])
        seen.add(one.field)
    return tuple((one.field, one.value) for one in edits.edits)
