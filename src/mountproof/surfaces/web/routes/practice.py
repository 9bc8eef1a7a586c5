"""What all cases of the store come to together."""

from __future__ import annotations

import time

from fastapi import APIRouter

from mountproof.faults import Cancelled
from mountproof.surfaces.web.asked import BenchOf, In
from mountproof.surfaces.web.tongue import speaker
from mountproof.surfaces.web.wire import ChartOut, LeftOutOut, PracticeOut, TogetherOut

router = APIRouter(tags=["practice"])
#: So long one request reads cases, s: then it tells how far it came.
_READS_S = 1.0


@router.get(
    "/practice", summary="Charts over all cases, what carries their spread, how well records repeat, courses"
)
def practice(bench: BenchOf, language: In) -> PracticeOut:
    """Reading stops after a second and goes on with the next request: nothing is read twice while a case stays as it is."""
    from mountproof.answers.many_cases import many_cases
    from mountproof.answers.store_rows import rows_of_store
    from mountproof.surfaces.pictures.control import control_plate
    from mountproof.surfaces.pictures.course import course_plate
    from mountproof.surfaces.web.shapes.pictures import drawing_out
    from mountproof.surfaces.web.shapes.sheets import table_out

    with bench.store.snapshot() as seen:
        cases = seen.count()
    end = time.monotonic() + _READS_S
    begun: list[float] = []

    def until(done: float, _: str) -> None:
        """Stop before a case that would begin too late; one at least is read."""
        begun.append(done)
        if time.monotonic() > end and done > begun[0] + 0.5 / cases:
            raise Cancelled

    try:
        rows = rows_of_store(bench.store, until, bench.rows)
    except Cancelled:
        return PracticeOut(read=min(int(begun[-1] * cases), cases), cases=cases, together=None)
    speak = speaker(language)
    found = many_cases(rows.rows)
    together = TogetherOut(
        sentences=[speak(s) for s in found.sentences],
        charts=[
            ChartOut(sentences=[speak(s) for s in c.sentences], drawing=drawing_out(control_plate(c, speak)))
            for c in found.charts
        ],
        clouds=[drawing_out(course_plate(c, speak)) for c in found.courses],
        tables=[table_out(one, speak) for one in found.tables],
        left_out=[LeftOutOut(code=code, why=speak(why)) for code, why in rows.left_out],
    )
    return PracticeOut(read=cases, cases=cases, together=together)
