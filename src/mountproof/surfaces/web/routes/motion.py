"""The movements of the picture in space: closing, slide and excursions, position by position."""

from __future__ import annotations

from fastapi import APIRouter

from mountproof.case.tooth_numbers import system_of
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number
from mountproof.surfaces.web.routes.scene import ShelfOf, opened_whole
from mountproof.surfaces.web.shapes.motion import motions_out
from mountproof.surfaces.web.wire import MotionsOut

router = APIRouter(tags=["scene"])


@router.get("/cases/{id}/scene/motions", summary="Movements of the lower cast, position by position")
def motions(
    bench: BenchOf, shelf: ShelfOf, language: In, case_id: CaseId, number: Number = None
) -> MotionsOut:
    """Closing to first contact, slide into MIP, straight ahead, to the right and to the left: what the answers worked out.

    Empty while the answers to contacts and guidance are being made; then it says by which work, and events tell when they are
    there. A movement without positions says what is missing.
    """
    found = opened_whole(bench, case_id, number)
    asked = bench.answering.ask(found)
    answers = asked.sheet.answers
    contacts, guidance = answers.get("contacts"), answers.get("guidance")
    system = system_of(found.case)
    if contacts is None or guidance is None:
        return motions_out((), found.number, asked.work, language, system)
    return motions_out(shelf.motions(found.case, contacts, guidance), found.number, None, language, system)
