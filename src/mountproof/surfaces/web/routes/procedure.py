"""The steps of a mounting, and the pours of all cases. Ticking and pouring are ordinary edits of the case."""

from __future__ import annotations

from fastapi import APIRouter

from mountproof.answers.pours import PourTimes, in_order, pour_times
from mountproof.answers.procedure import LOOKED_AT, procedure_steps
from mountproof.answers.sheet import answer
from mountproof.case.store.pouring import maybe_poured
from mountproof.case.store.texts import read
from mountproof.case.store.times import utc_now
from mountproof.case.tooth_numbers import system_of
from mountproof.faults import FaultError
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number
from mountproof.surfaces.web.bench import opened
from mountproof.surfaces.web.shapes.procedure import pour_out, step_out
from mountproof.surfaces.web.wire import PoursOut, StepOut

router = APIRouter(tags=["procedure"])


@router.get("/cases/{id}/procedure", summary="The steps of the mounting")
def procedure(bench: BenchOf, language: In, case_id: CaseId, number: Number = None) -> list[StepOut]:
    """In order, with what was ticked, and held against what the case itself says."""
    with bench.store.snapshot() as snapshot:
        case = opened(snapshot, case_id, number).case
    answers = answer(case, LOOKED_AT, cache=bench.answering.cache).answers
    return [step_out(step, language, system_of(case)) for step in procedure_steps(case, answers)]


@router.get("/pours", summary="All pours that go on, over all cases")
def pours(bench: BenchOf, language: In) -> PoursOut:
    """In the order in which they are to be seen to; what was released is not among them, nor what was put away."""
    now = utc_now()
    going: list[PourTimes] = []
    whose: dict[int, tuple[int, int, str]] = {}
    with bench.store.snapshot() as snapshot:
        for case_id in maybe_poured(snapshot):
            head = snapshot.head(case_id)
            try:
                case = read(head.text).case
            except FaultError:
                continue  # the case itself says what is wrong with it
            for pour in pour_times(case):
                if pour.released is None:
                    going.append(pour)
                    whose[id(pour)] = (case_id, head.number, case.code)
    return PoursOut(
        now=now, pours=[pour_out(*whose[id(pour)], pour, now, language) for pour in in_order(going, now)]
    )
