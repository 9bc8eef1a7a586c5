"""What happens meanwhile, as a stream; and long work, to look at and to stop."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Header, Path
from fastapi.sse import EventSourceResponse, ServerSentEvent

from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.asked import BenchOf, In
from mountproof.surfaces.web.shapes.events import event_out, work_out
from mountproof.surfaces.web.wire import WorkOut
from mountproof.surfaces.web.works import Work

router = APIRouter(tags=["events"])
#: A page that lost its connection comes back after this.
_RETRY_MS = 1000
Name = Annotated[str, Path(max_length=100, description="name of the work")]


@router.get("/events", summary="What happens meanwhile", response_class=EventSourceResponse)
async def events(
    bench: BenchOf,
    language: In,
    last_event_id: Annotated[str, Header(max_length=100, description="the last event that was seen")] = "",
) -> AsyncIterator[ServerSentEvent]:
    """Each event is an ``EventOut``. With ``Last-Event-ID`` the stream goes on behind that event."""
    yield ServerSentEvent(comment="mountproof", retry=_RETRY_MS)
    async for told in bench.hub.listen(last_event_id):
        yield ServerSentEvent(id=told.id, data=event_out(told.event, language))


@router.get("/work/{name}", summary="How far long work is")
def one_work(bench: BenchOf, language: In, name: Name) -> WorkOut:
    """Also for some time after it has ended."""
    return work_out(_there(bench.works.get(name), name).now(), language)


@router.delete("/work/{name}", summary="Stop long work")
def stop_work(bench: BenchOf, language: In, name: Name) -> WorkOut:
    """It ends at its next word of progress; an event tells."""
    return work_out(_there(bench.works.cancel(name), name).now(), language)


def _there(work: Work | None, name: str) -> Work:
    if work is None:
        what, todo = say("there is no such work; it may be over for long"), say("Look at the sheet")
        raise FaultError([Fault("work.missing", what, todo, got=name[:60])])
    return work
