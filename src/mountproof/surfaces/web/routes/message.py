"""The message to the lab or the dentist, made from the answers to the record and the mounting."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query

from mountproof.answers.message import message
from mountproof.case.tooth_numbers import system_of
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number
from mountproof.surfaces.web.bench import opened
from mountproof.surfaces.web.tongue import speaker
from mountproof.surfaces.web.wire import MessageOut

router = APIRouter(tags=["pictures"])
To = Annotated[Literal["lab", "dentist"], Query(description="who is to read it")]


@router.get("/cases/{id}/message", summary="A message to the lab or the dentist")
def read(bench: BenchOf, language: In, case_id: CaseId, to: To = "lab", number: Number = None) -> MessageOut:
    """Measurement, limit and request, to be read and copied; nothing is sent."""
    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    sheet = bench.answering.ask(found).sheet
    if not {"record", "mounting"} <= sheet.answers.keys():
        what = say("a message can be made once the record and the mounting are answered")
        raise FaultError([Fault("message.working", what, say("Wait until they are there, then look again"))])
    speak = speaker(language, system_of(found.case))
    made = message(found.case, sheet, to)
    subject, lines = speak(made.subject), [speak(line) for line in made.lines]
    return MessageOut(subject=subject, lines=lines, text="\n".join((subject, "", *lines)))
