"""What belongs to one scan: its surface as it lies in the file, where a tap falls on it, its tooth numbers."""

from __future__ import annotations

from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from mountproof.answers.scan_checks import entry_of, picked, raw_scan
from mountproof.answers.scan_units import unit_mm
from mountproof.case.digest import scan_digests
from mountproof.case.model import Arch, Case
from mountproof.case.scans import Scan
from mountproof.faults import FaultError
from mountproof.said import figure, joined, term
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number, Who
from mountproof.surfaces.web.bench import Bench, opened
from mountproof.surfaces.web.routes.scans import RAW
from mountproof.surfaces.web.routes.scene import BINARY, ShelfOf, headers, same, sent
from mountproof.surfaces.web.saved import saved
from mountproof.surfaces.web.scene_binary import RELIEF_MM, scan_bytes, scan_size, tag
from mountproof.surfaces.web.scene_shelf import Shelf
from mountproof.surfaces.web.scene_teeth_file import MOST_BYTES, put_teeth
from mountproof.surfaces.web.tongue import words
from mountproof.surfaces.web.upload import taken_in
from mountproof.surfaces.web.wire import MOST_ID, Conflicts, MeshOut, PickIn, PickOut, SavedOut

router = APIRouter(tags=["scans"])
_CONFLICT: dict[int | str, dict[str, Any]] = {
    409: {"model": Conflicts, "description": "Somebody else changed this scan; nothing was changed"}
}


@router.get("/cases/{id}/scans/{arch}/mesh", summary="The surface of one scan, to pick landmarks on")
def mesh(
    bench: BenchOf, shelf: ShelfOf, language: In, case_id: CaseId, arch: Arch, number: Number = None
) -> MeshOut:
    """As it lies in its file, before anything is moved."""
    case = _case(bench, case_id, number)
    scan, sha = _scan(shelf, case, arch)
    asked = "" if number is None else f"revision={number}&"
    return MeshOut(
        arch=arch.value,
        url=f"/api/cases/{case_id}/scans/{arch.value}/mesh.bin?{asked}of={sha[:16]}",
        vertices=len(scan.vertices),
        faces=len(scan.faces),
        bytes=scan_size(scan),
        relief_mm=RELIEF_MM,
        unit=words(term(entry_of(case, arch).unit.value), language),
    )


@router.get(
    "/cases/{id}/scans/{arch}/mesh.bin",
    summary="The arrays of that surface",
    response_class=Response,
    responses=BINARY,
)
def mesh_bytes(
    request: Request,
    bench: BenchOf,
    shelf: ShelfOf,
    case_id: CaseId,
    arch: Arch,
    number: Number = None,
    of: str = "",
) -> Response:
    """Arrays one after the other, as its description says."""
    case = _case(bench, case_id, number)
    entry = entry_of(case, arch)
    etag = tag(scan_digests(case)[entry.file], "scan", entry.unit.value)
    if same(request, etag):
        return Response(status_code=304, headers=headers(etag))
    scan, _ = _scan(shelf, case, arch)
    return sent(request, scan_bytes(scan, unit_mm(entry)), etag)


@router.post("/cases/{id}/scans/{arch}/pick", summary="Where a tap falls on a scan")
def pick(
    bench: BenchOf,
    shelf: ShelfOf,
    language: In,
    case_id: CaseId,
    arch: Arch,
    tap: PickIn,
    number: Number = None,
) -> PickOut:
    """In the numbers of the file, as a landmark is entered."""
    case = _case(bench, case_id, number)
    scan, _ = _scan(shelf, case, arch)
    x, y, z = (float(v) for v in picked(scan, tap.face, tap.weights, unit_mm(entry_of(case, arch))))
    shown = joined(", ", [figure(v) for v in (x, y, z)])
    return PickOut(point=(x, y, z), shown=words(shown, language))


@router.put(
    "/cases/{id}/scans/{arch}/teeth",
    summary="Put a list of tooth numbers beside a scan",
    responses=_CONFLICT,
    openapi_extra=RAW,
)
async def teeth_in(
    request: Request,
    bench: BenchOf,
    shelf: ShelfOf,
    language: In,
    who: Who,
    case_id: CaseId,
    arch: Arch,
    based_on: Annotated[int, Query(ge=1, le=MOST_ID, description="the revision that was seen")],
) -> SavedOut:
    """The raw CSV: one number of ISO 3950 for each triangle, 0 where it is no tooth. Kept whole or not at all."""

    def scan() -> Scan:
        return _scan(shelf, _case(bench, case_id, based_on), arch)[0]

    surface = await run_in_threadpool(scan)

    def take(body: BinaryIO) -> str:
        return bench.store.scans.add(body, most_bytes=MOST_BYTES).sha256

    sha256 = await taken_in(request, take)

    def put() -> SavedOut:
        put_teeth(bench, who, case_id, arch, based_on, scan=surface, sha256=sha256)
        return saved(bench, case_id, language)

    return await run_in_threadpool(put)


def _case(bench: Bench, case_id: int, number: int | None) -> Case:
    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    if found.faults:
        raise FaultError(found.faults)
    return found.case


def _scan(shelf: Shelf, case: Case, arch: Arch) -> tuple[Scan, str]:
    entry = entry_of(case, arch)
    sha = scan_digests(case)[entry.file]
    return shelf.scan(sha, lambda: raw_scan(case, arch)), sha
