"""Work and events as they travel."""

from __future__ import annotations

from mountproof.surfaces.web.hub import Happened
from mountproof.surfaces.web.shapes.basics import fault_out
from mountproof.surfaces.web.tongue import words
from mountproof.surfaces.web.wire import EventOut, WorkOut
from mountproof.surfaces.web.works import Standing


def work_out(work: Standing, language: str) -> WorkOut:
    """Return how far a work is."""
    return WorkOut(
        name=work.name,
        case_id=work.case_id,
        what=words(work.what, language),
        done=work.done,
        state=work.state,
        faults=[fault_out(one, language) for one in work.faults],
    )


def event_out(event: Happened, language: str) -> EventOut:
    """Return one event."""
    return EventOut(
        kind=event.kind,
        case_id=event.case_id,
        revision=event.revision,
        who=event.who,
        question=words(event.question, language),
        work=None if event.work is None else work_out(event.work, language),
    )
