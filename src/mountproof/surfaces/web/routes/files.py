"""Files in and out: bundles and case files, the printed sheet, tables for other programs."""

from __future__ import annotations

from contextlib import ExitStack
from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Path, Query, Request, Response
from fastapi.responses import FileResponse
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool

from mountproof.surfaces.web.access_folders import passing_folder
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number, Who
from mountproof.surfaces.web.files_out import contacts_zip, file_name, printed_paper, printed_sheet
from mountproof.surfaces.web.new_cases import brought_in
from mountproof.surfaces.web.routes.scans import RAW
from mountproof.surfaces.web.saved import saved
from mountproof.surfaces.web.upload import taken_in
from mountproof.surfaces.web.wire import SavedOut

router = APIRouter(tags=["files"])


def _file(kind: str, words: str) -> dict[int | str, dict[str, Any]]:
    return {
        200: {"description": words, "content": {kind: {"schema": {"type": "string", "format": "binary"}}}}
    }


@router.post("/cases/bring-in", summary="Bring in a case from elsewhere", openapi_extra=RAW)
async def bring_in(
    request: Request,
    bench: BenchOf,
    language: In,
    who: Who,
    name: Annotated[str, Query(max_length=300, description="name of the file, for messages only")] = "",
    as_new: Annotated[
        bool, Query(description="make it a case of its own where it went on both here and elsewhere")
    ] = False,
) -> SavedOut:
    """A bundle of this program with its whole history and its scans, or a single case.toml without scans."""

    def take(body: BinaryIO) -> int:
        return brought_in(bench, body, name, who, as_new=as_new)

    case_id = await taken_in(request, take)

    def now() -> SavedOut:
        return saved(bench, case_id, language)

    return await run_in_threadpool(now)


@router.get(
    "/cases/{id}/report.pdf",
    summary="The sheet, to print, sign and file",
    response_class=Response,
    responses=_file("application/pdf", "The sheet as a PDF"),
)
def report(bench: BenchOf, language: In, case_id: CaseId, number: Number = None) -> Response:
    """With all answers; what is not there yet is worked out first."""
    name, data = printed_sheet(bench, case_id, number, language)
    return Response(data, media_type="application/pdf", headers=_called(f"{name}.pdf"))


@router.get(
    "/cases/{id}/papers/{which}.pdf",
    summary="One paper of the case: for the lab, the patient, or before cutting",
    response_class=Response,
    responses=_file("application/pdf", "The paper as a PDF"),
)
def paper(
    bench: BenchOf,
    language: In,
    case_id: CaseId,
    which: Annotated[
        str, Path(max_length=40, description="prescription, patient, before-cutting or message")
    ],
    number: Number = None,
) -> Response:
    """Made from the answers; what is not there yet is worked out first. A prescription with blank fields says so."""
    name, data = printed_paper(bench, case_id, number, which, language)
    return Response(data, media_type="application/pdf", headers=_called(f"{name}.pdf"))


@router.get(
    "/cases/{id}/bundle.zip",
    summary="The case with its history and scans, to carry elsewhere",
    response_class=FileResponse,
    responses=_file("application/zip", "The bundle"),
)
def bundle(bench: BenchOf, case_id: CaseId) -> FileResponse:
    """The same case gives the same bytes."""
    with ExitStack() as held:
        folder = held.enter_context(passing_folder(bench.store))
        with bench.store.snapshot() as snapshot:
            name = file_name(snapshot.case(case_id).code)
        made = bench.store.export_bundle(case_id, folder / "bundle.zip")
        gone = BackgroundTask(held.pop_all().close)
    return FileResponse(made, media_type="application/zip", headers=_called(f"{name}.zip"), background=gone)


@router.get(
    "/cases/{id}/case.toml",
    summary="The case file, byte for byte",
    response_class=Response,
    responses=_file("application/toml", "The case file"),
)
def case_file(bench: BenchOf, case_id: CaseId, number: Number = None) -> Response:
    """As it was typed, with its remarks."""
    with bench.store.snapshot() as snapshot:
        found = snapshot.head(case_id) if number is None else snapshot.revision(case_id, number)
    return Response(found.text, media_type="application/toml", headers=_called("case.toml"))


@router.get(
    "/cases/{id}/export.zip",
    summary="Contacts and closing map for other programs",
    response_class=Response,
    responses=_file("application/zip", "CSV, JSON and coloured PLY"),
)
def export(
    bench: BenchOf,
    language: In,
    case_id: CaseId,
    number: Number = None,
    decimal_comma: Annotated[bool, Query(description="CSV with decimal commas and semicolons")] = False,
) -> Response:
    """Needs scans of both casts and their relation."""
    name, data = contacts_zip(bench, case_id, number, decimal_comma=decimal_comma)
    return Response(data, media_type="application/zip", headers=_called(f"{name}-contacts.zip"))


def _called(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"'}
