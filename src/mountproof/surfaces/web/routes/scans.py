"""Scans come in as a stream, and only when all of one is there it stands in the case."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool

from mountproof.case.model import Arch, ScanUnit
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Who
from mountproof.surfaces.web.saved import saved
from mountproof.surfaces.web.scans_in import kind_of, put_scan
from mountproof.surfaces.web.upload import taken_in
from mountproof.surfaces.web.wire import MOST_ID, Conflicts, SavedOut

router = APIRouter(tags=["scans"])
CONFLICT: dict[int | str, dict[str, Any]] = {
    409: {"model": Conflicts, "description": "Somebody else changed this scan; nothing was changed"}
}
#: How a raw body is described.
RAW = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


@router.put(
    "/cases/{id}/scans/{arch}",
    summary="Put the scan of one cast into a case",
    responses=CONFLICT,
    openapi_extra=RAW,
)
async def scan_in(
    request: Request,
    bench: BenchOf,
    language: In,
    who: Who,
    case_id: CaseId,
    arch: Arch,
    based_on: Annotated[int, Query(ge=1, le=MOST_ID, description="the revision that was seen")],
    unit: Annotated[ScanUnit, Query(description="unit of the numbers in the file")],
    name: Annotated[str, Query(max_length=300, description="name of the file; its ending tells the format")],
) -> SavedOut:
    """The raw file; kept whole or not at all. A scan of this cast that was there is replaced, and with another file its
    landmarks go, too. The checks of the scan run as work; events tell how far they are.
    """
    kind = kind_of(name)
    await run_in_threadpool(seen, bench, case_id, based_on)
    stored = await taken_in(request, bench.store.scans.add)

    def put() -> SavedOut:
        put_scan(bench, who, case_id, arch, based_on, unit=unit, kind=kind, sha256=stored.sha256)
        return saved(bench, case_id, language)

    return await run_in_threadpool(put)


def seen(bench: BenchOf, case_id: int, number: int) -> None:
    """Before a long transfer: is there such a revision at all?"""
    with bench.store.snapshot() as snapshot:
        snapshot.revision(case_id, number)
