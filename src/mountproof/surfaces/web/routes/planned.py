"""Addresses whose parts are being built: their shapes stand, and until then they say so."""

from __future__ import annotations

from typing import NoReturn

from fastapi import APIRouter

from mountproof.faults import Fault, FaultError
from mountproof.surfaces.web.asked import CaseId
from mountproof.surfaces.web.wire import (
    AtIn,
    AtOut,
    PoursOut,
    SceneOut,
    StepOut,
)

router = APIRouter()


def _not_yet() -> NoReturn:
    what, todo = "this version does not answer here yet", "Use the command line"
    raise FaultError([Fault("page.missing", what, todo)])


@router.get("/cases/{id}/scene", summary="The picture in space", tags=["scene"])
def scene(case_id: CaseId) -> SceneOut:
    """Not there yet."""
    _not_yet()


@router.post("/cases/{id}/scene/at", summary="What is at a tapped place", tags=["scene"])
def at(case_id: CaseId, place: AtIn) -> AtOut:
    """Not there yet."""
    _not_yet()


@router.get("/cases/{id}/procedure", summary="The steps of the procedure", tags=["procedure"])
def procedure(case_id: CaseId) -> list[StepOut]:
    """Not there yet."""
    _not_yet()


@router.get("/pours", summary="All pours that go on", tags=["procedure"])
def pours() -> PoursOut:
    """Not there yet."""
    _not_yet()
