"""Scans of records and further scans of an arch come in as the scans of the casts do."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool

from mountproof.case.model import Arch, OtherOf, RecordShown, ScanUnit
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Who
from mountproof.surfaces.web.extra_scans_in import put_further_scan, put_record_scan
from mountproof.surfaces.web.routes.scans import CONFLICT, RAW, seen
from mountproof.surfaces.web.saved import saved
from mountproof.surfaces.web.scans_in import kind_of
from mountproof.surfaces.web.upload import taken_in
from mountproof.surfaces.web.wire import MOST_ID, SavedOut

router = APIRouter(tags=["scans"])
_BASED_ON = Query(ge=1, le=MOST_ID, description="the revision that was seen")
_UNIT = Query(description="unit of the numbers in the file")
_NAME = Query(max_length=300, description="name of the file; its ending tells the format")


@router.put(
    "/cases/{id}/scans/record",
    summary="Put the scan of one record into a case",
    responses=CONFLICT,
    openapi_extra=RAW,
)
async def record_scan_in(
    request: Request,
    bench: BenchOf,
    language: In,
    who: Who,
    case_id: CaseId,
    based_on: Annotated[int, _BASED_ON],
    record: Annotated[str, Query(max_length=200, description="name of the record in the case")],
    shows: Annotated[RecordShown, Query(description="what was scanned")],
    unit: Annotated[ScanUnit, _UNIT],
    name: Annotated[str, _NAME],
) -> SavedOut:
    """The raw file; kept whole or not at all. Another file takes the place of one that was there, and its points go."""
    kind = kind_of(name)
    await run_in_threadpool(seen, bench, case_id, based_on)
    stored = await taken_in(request, bench.store.scans.add)

    def put() -> SavedOut:
        put_record_scan(
            bench, who, case_id, record, based_on, shows=shows, unit=unit, kind=kind, sha256=stored.sha256
        )
        return saved(bench, case_id, language)

    return await run_in_threadpool(put)


@router.put(
    "/cases/{id}/scans/again",
    summary="Add a further scan of one arch to a case",
    responses=CONFLICT,
    openapi_extra=RAW,
)
async def further_scan_in(
    request: Request,
    bench: BenchOf,
    language: In,
    who: Who,
    case_id: CaseId,
    based_on: Annotated[int, _BASED_ON],
    arch: Annotated[Arch, Query(description="which arch was scanned")],
    shows: Annotated[OtherOf, Query(description="what it shows")],
    unit: Annotated[ScanUnit, _UNIT],
    name: Annotated[str, _NAME],
) -> SavedOut:
    """The raw file; kept whole or not at all. It is held against the scan of this arch that the case has."""
    kind = kind_of(name)
    await run_in_threadpool(seen, bench, case_id, based_on)
    stored = await taken_in(request, bench.store.scans.add)

    def put() -> SavedOut:
        put_further_scan(
            bench, who, case_id, arch, based_on, shows=shows, unit=unit, kind=kind, sha256=stored.sha256
        )
        return saved(bench, case_id, language)

    return await run_in_threadpool(put)
