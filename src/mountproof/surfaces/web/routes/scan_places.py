"""Landmarks on a scan: its surface as it lies in the file, and where a tap falls on it."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from mountproof.answers.scan_checks import entry_of, picked, raw_scan
from mountproof.answers.scans import unit_mm
from mountproof.case.digest import scan_digests
from mountproof.case.model import Arch, Case
from mountproof.case.scans import Scan
from mountproof.faults import FaultError
from mountproof.said import figure, joined, term
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number
from mountproof.surfaces.web.bench import Bench, opened
from mountproof.surfaces.web.routes.scene import BINARY, ShelfOf, headers, same, sent
from mountproof.surfaces.web.scene_binary import RELIEF_MM, scan_bytes, scan_size, tag
from mountproof.surfaces.web.scene_shelf import Shelf
from mountproof.surfaces.web.tongue import words
from mountproof.surfaces.web.wire import MeshOut, PickIn, PickOut

router = APIRouter(tags=["scans"])


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
