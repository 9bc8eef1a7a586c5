"""The picture in space: surfaces, places of the slider, what stands at a tapped place, pictures to print."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Path, Query, Request, Response

from mountproof.answers.result import Answer
from mountproof.case.tooth_numbers import system_of
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.answering import Opened
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Number
from mountproof.surfaces.web.bench import Bench, opened
from mountproof.surfaces.web.entry import entry_of
from mountproof.surfaces.web.scene_binary import scene_bytes, squeezed, tag
from mountproof.surfaces.web.scene_shelf import Made, Shelf, scene_digest
from mountproof.surfaces.web.shapes.scene import at_out, scene_out, stop_out, waiting_out
from mountproof.surfaces.web.tongue import speaker
from mountproof.surfaces.web.wire import AtIn, AtOut, SceneOut, StopOut

router = APIRouter(tags=["scene"])
ArchName = Annotated[Literal["upper", "lower"], Path(description="which cast")]
Of = Annotated[
    str, Query(max_length=64, description="what the scene said it was made from; keeps old bytes apart")
]
_WORKING = Fault(
    "scene.working",
    say("the answer to the contacts is still being made"),
    say("Wait until it is there, then look again"),
)
#: How a binary surface is described.
BINARY: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "Arrays as the scene says",
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    },
    304: {"description": "As it was"},
}
_PICTURE: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "The view",
        "content": {"image/svg+xml": {"schema": {"type": "string", "format": "binary"}}},
    },
    304: {"description": "As it was"},
}


async def _shelf(request: Request) -> Shelf:
    """Return what this application keeps of its pictures; made at the first request, on the one thread of the loop."""
    state = request.app.state
    if not hasattr(state, "shelf"):
        state.shelf = Shelf()
    shelf: Shelf = state.shelf
    return shelf


ShelfOf = Annotated[Shelf, Depends(_shelf)]


@router.get("/cases/{id}/scene", summary="The picture in space")
def scene(bench: BenchOf, shelf: ShelfOf, language: In, case_id: CaseId, number: Number = None) -> SceneOut:
    """Empty while the answer to the contacts is being made; then it says by which work, and an event tells when it is there."""
    found = opened_whole(bench, case_id, number)
    contacts, work = _contacts(bench, found)
    if contacts is None:
        return waiting_out(found.number, _WORKING.what, work, language)
    made = shelf.scene(found.case, contacts)
    return scene_out(
        made.scene, found.number, case_id, made.digest, contacts.needs, language, system_of(found.case)
    )


@router.get("/cases/{id}/scene/stop/{step}", summary="What is to be told at one place of the slider")
def stop(
    bench: BenchOf,
    shelf: ShelfOf,
    language: In,
    case_id: CaseId,
    step: Annotated[int, Path(ge=0, le=100_000, description="number of the place among the steps")],
    number: Number = None,
) -> StopOut:
    """Sites in the order in which they meet, and numbers for the contour lines."""
    found = opened_whole(bench, case_id, number)
    made = _made(bench, shelf, found)
    return stop_out(made.scene.stop(step), step, speaker(language, system_of(found.case)))


@router.post("/cases/{id}/scene/at", summary="What stands at a tapped place")
def at(
    bench: BenchOf, shelf: ShelfOf, language: In, case_id: CaseId, place: AtIn, number: Number = None
) -> AtOut:
    """Exact along closure, wherever it is."""
    found = opened_whole(bench, case_id, number)
    made = _made(bench, shelf, found)
    there = made.scene.at(place.arch, place.face, place.weights, place.closed_rad)
    return at_out(there, speaker(language, system_of(found.case)))


@router.get(
    "/cases/{id}/scene/{arch}.bin",
    summary="The surface of one cast",
    response_class=Response,
    responses=BINARY,
)
def surface(
    request: Request,
    bench: BenchOf,
    shelf: ShelfOf,
    case_id: CaseId,
    arch: ArchName,
    number: Number = None,
    of: Of = "",
) -> Response:
    """Arrays one after the other, as the scene says. Made smaller for other computers only: here that would cost more time."""
    found = opened_whole(bench, case_id, number)
    etag = tag(scene_digest(found.case), arch)
    if same(request, etag):
        return Response(status_code=304, headers=headers(etag))
    for one in _made(bench, shelf, found).scene.arches:
        if one.arch == arch:
            return sent(request, scene_bytes(one), etag)
    what = say("this cast does not stand in the picture")
    raise FaultError([Fault("scene.no_such_arch", what, say("Place its scan first"), got=arch)])


@router.get(
    "/cases/{id}/scene/{arch}.svg",
    summary="An occlusal view, to look at and to print",
    response_class=Response,
    responses=_PICTURE,
)
def picture(
    request: Request,
    bench: BenchOf,
    shelf: ShelfOf,
    case_id: CaseId,
    arch: ArchName,
    step: Annotated[
        int | None, Query(ge=0, le=100_000, description="place of the slider; first contact unless told")
    ] = None,
    number: Number = None,
    of: Of = "",
) -> Response:
    """The patient's right is on the left; both casts to one scale."""
    from mountproof.surfaces.web.scene_picture import occlusal_svg

    found = opened_whole(bench, case_id, number)
    made = _made(bench, shelf, found)
    place = step if step is not None else (made.scene.first or 0)
    etag = tag(made.digest, arch, str(place), "svg")
    if same(request, etag):
        return Response(status_code=304, headers=headers(etag))
    drawn = shelf.picture(etag, lambda: occlusal_svg(made.scene, arch, place))
    return Response(drawn, media_type="image/svg+xml", headers=headers(etag))


def opened_whole(bench: Bench, case_id: int, number: int | None) -> Opened:
    """Return a revision with its scans. FaultError where one of them is missing or damaged: there is no picture then."""
    with bench.store.snapshot() as snapshot:
        found = opened(snapshot, case_id, number)
    if found.faults:
        raise FaultError(found.faults)
    return found


def _contacts(bench: Bench, found: Opened) -> tuple[Answer | None, str | None]:
    """Return the answer to the contacts, or the name of the work on it."""
    asked = bench.answering.ask(found)
    return asked.sheet.answers.get("contacts"), asked.work


def _made(bench: Bench, shelf: Shelf, found: Opened) -> Made:
    contacts, _ = _contacts(bench, found)
    if contacts is None:
        raise FaultError([_WORKING])
    return shelf.scene(found.case, contacts)


def same(request: Request, etag: str) -> bool:
    """Tell whether the browser has these bytes already."""
    known = request.headers.get("if-none-match", "")
    return etag in [one.strip().removeprefix("W/") for one in known.split(",")]


def sent(request: Request, data: bytes, etag: str) -> Response:
    """Return bytes, made smaller where they go to another computer that takes them so."""
    told = headers(etag) | {"Vary": "Accept-Encoding"}
    if not entry_of(request.scope).here and "gzip" in request.headers.get("accept-encoding", ""):
        data, told["Content-Encoding"] = squeezed(data), "gzip"
    return Response(data, media_type="application/octet-stream", headers=told)


def headers(etag: str) -> dict[str, str]:
    """Return what goes with bytes that a browser may keep, and asks about each time."""
    return {"ETag": etag, "Cache-Control": "private, no-cache"}
