"""The application: routes, faults, who comes in, and what they share."""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import APIRouter, FastAPI
from fastapi.openapi.utils import get_openapi

from mountproof.case.store import Store
from mountproof.surfaces.web import access_routes, faulty
from mountproof.surfaces.web.access import Access
from mountproof.surfaces.web.access_devices import Devices
from mountproof.surfaces.web.access_door import Door, Lan
from mountproof.surfaces.web.access_folders import require_inside
from mountproof.surfaces.web.bench import make_bench
from mountproof.surfaces.web.key import Key, key_of
from mountproof.surfaces.web.page_files import PageFile, page_files
from mountproof.surfaces.web.routes import (
    cases,
    edits,
    events,
    extra_scans,
    fields,
    files,
    message,
    motion,
    pictures,
    practice,
    procedure,
    profiles,
    scan_places,
    scans,
    scene,
    sheet,
)
from mountproof.surfaces.web.routes.page import page_router
from mountproof.surfaces.web.wire import Faults
from mountproof.surfaces.web.wire.every import every_shape
from mountproof.version import VERSION

#: Every part of the bench has its routes in one of these; a new part adds its own here.
ROUTERS: tuple[APIRouter, ...] = (
    fields.router,
    cases.router,
    edits.router,
    sheet.router,
    extra_scans.router,
    scans.router,
    scan_places.router,
    motion.router,
    scene.router,
    pictures.router,
    practice.router,
    message.router,
    files.router,
    profiles.router,
    events.router,
    access_routes.router,
    procedure.router,
)
_ANY_FAULT: dict[int | str, dict[str, Any]] = {
    "4XX": {
        "description": "What is wrong, where, and what to do",
        "content": {"application/json": {"schema": {"$ref": f"#/components/schemas/{Faults.__name__}"}}},
    }
}


def create_app(
    store_folder: Path | None = None,
    *,
    store: Store | None = None,
    key: Key | None = None,
    lan: Lan | None = None,
    page: Mapping[str, PageFile] | None = None,
) -> FastAPI:
    """Return the web bench on a store: that of the user unless a folder or an open store is given.

    Only this computer comes in, and with ``lan`` the devices that were paired. ``page`` are the files of the page. The
    store is closed when the application stops. FaultError where the store cannot be opened.
    """
    opened = store if store is not None else Store(store_folder)
    require_inside(opened.place)
    bench = make_bench(opened)
    lock = key_of(opened.place.folder) if key is None else key

    @asynccontextmanager
    async def running(_app: FastAPI) -> AsyncIterator[None]:
        async with bench.watch.running():
            yield
        bench.close()

    app = FastAPI(
        title="mountproof",
        version=VERSION,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=running,
        separate_input_output_schemas=False,
    )
    door = Door(lock, Devices(opened), lan)
    app.state.bench, app.state.key, app.state.door = bench, lock, door
    faulty.install(app)
    for router in ROUTERS:
        app.include_router(router, prefix="/api", responses=_ANY_FAULT)
    app.include_router(page_router(page_files() if page is None else page, lock))
    app.add_middleware(Access, door=door)
    app.openapi = lambda: _described(app)  # type: ignore[method-assign]
    return app


def _described(app: FastAPI) -> dict[str, Any]:
    """Return the description of every route, with every shape on the wire, those of events included."""
    if app.openapi_schema is None:
        found = get_openapi(
            title=app.title,
            version=app.version,
            description="The web bench of mountproof. Every fault comes with a status from 400 to 499.",
            routes=app.routes,
        )
        shapes = found.setdefault("components", {}).setdefault("schemas", {})
        for name, shape in every_shape().items():
            shapes.setdefault(name, shape)
        found["components"]["schemas"] = dict(sorted(shapes.items()))
        app.openapi_schema = found
    return app.openapi_schema
