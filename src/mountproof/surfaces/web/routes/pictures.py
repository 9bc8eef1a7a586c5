"""The pictures behind answers, as drawing instructions and as files."""

from __future__ import annotations

import io
import zipfile
from typing import Annotated

from fastapi import APIRouter, Path, Response

from mountproof.answers.foils import written
from mountproof.answers.progress import quiet
from mountproof.answers.words import BY_KEY
from mountproof.case.tooth_numbers import system_of
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number
from mountproof.surfaces.web.bench import opened
from mountproof.surfaces.web.files_out import file_name
from mountproof.surfaces.web.tongue import speaker
from mountproof.surfaces.web.wire import DrawingsOut

router = APIRouter(tags=["pictures"])
Question = Annotated[str, Path(max_length=40, description="key of a question")]
_WHEN = (2000, 1, 1, 0, 0, 0)


@router.get("/cases/{id}/pictures/{question}", summary="The pictures behind an answer")
def pictures(
    bench: BenchOf, language: In, case_id: CaseId, question: Question, number: Number = None
) -> DrawingsOut:
    """Words and places are drawn here, in the language asked for; the page only puts them where they are told to be."""
    from mountproof.surfaces.pictures.gallery import gallery
    from mountproof.surfaces.web.shapes.pictures import drawing_out

    if question not in BY_KEY:
        todo = say("Name one of: {questions}", questions=", ".join(BY_KEY))
        raise FaultError([Fault("question.unknown", say("this is no question"), todo, got=question[:40])])
    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    answers = bench.answering.ask(found).sheet.answers
    answer = answers.get(question)
    if answer is None:
        return DrawingsOut(question=question, drawings=[])
    speak = speaker(language, system_of(found.case))
    plates = gallery(answer, speak, lambda tooth: written(found.case, tooth), answers.get("contacts"))
    return DrawingsOut(question=question, drawings=[drawing_out(one) for one in plates])


@router.get(
    "/cases/{id}/pictures.zip",
    summary="The pictures of all answers as SVG files",
    response_class=Response,
    responses={
        200: {
            "description": "One SVG a picture",
            "content": {"application/zip": {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)
def files(bench: BenchOf, language: In, case_id: CaseId, number: Number = None) -> Response:
    """What is not answered yet is worked out first."""
    from mountproof.surfaces.pictures.gallery import gallery
    from mountproof.surfaces.pictures.svg import plate_svg

    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    sheet = bench.answering.whole(found, quiet)
    speak = speaker(language, system_of(found.case))
    drawn = {
        f"{answer.key}-{plate.name}.svg": plate_svg(plate)
        for answer in sheet.answers.values()
        for plate in gallery(
            answer, speak, lambda tooth: written(found.case, tooth), sheet.answers.get("contacts")
        )
    }
    if not drawn:
        what = say("there is no picture of records, of the mounting or of its doubt for this case")
        todo = say("Enter two records or more, foils, or a split cast")
        raise FaultError([Fault("pictures.none", what, todo)])
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in drawn.items():
            info = zipfile.ZipInfo(name, _WHEN)
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, data)
    called = {"Content-Disposition": f'attachment; filename="{file_name(found.case.code)}-pictures.zip"'}
    return Response(sink.getvalue(), media_type="application/zip", headers=called)
