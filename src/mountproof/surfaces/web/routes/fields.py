"""What is known of every entry of a case, for the forms; and what runs here."""

from __future__ import annotations

from fastapi import APIRouter, Request

from mountproof.surfaces.web.asked import BenchOf, In
from mountproof.surfaces.web.entry import entry_of
from mountproof.surfaces.web.shapes.fields import fields_out
from mountproof.surfaces.web.tongue import LANGUAGES
from mountproof.surfaces.web.wire import AboutOut, FieldOut
from mountproof.version import VERSION

router = APIRouter(tags=["about"])


@router.get("/fields", summary="Every entry a case can have")
def fields(language: In) -> list[FieldOut]:
    """Labels, descriptions, units, bounds, choices and examples, from the model of the case itself."""
    return list(fields_out(language))


@router.get("/about", summary="What runs here")
async def about(request: Request, bench: BenchOf) -> AboutOut:
    """Version, languages, and where the cases are kept."""
    here = entry_of(request.scope).here
    return AboutOut(
        version=VERSION,
        languages=list(LANGUAGES),
        lan=request.app.state.door.lan is not None,
        here=here,
        store=str(bench.store.place.folder) if here else "",
    )
