"""The page itself, and the door to it: the address that the program opens."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import APIRouter, HTTPException, Request, Response
from fastapi.responses import RedirectResponse

from mountproof.surfaces.web.access_hosts import port_of
from mountproof.surfaces.web.key import Key
from mountproof.surfaces.web.page_files import PageFile

_LASTING = "private, max-age=31536000, immutable"


def page_router(files: Mapping[str, PageFile], key: Key) -> APIRouter:
    """Return the routes of the page. ``/?key=...`` gives the browser its cookie and goes on to the page."""
    router = APIRouter(include_in_schema=False)

    @router.get("/{name:path}")
    async def page(request: Request, name: str) -> Response:
        opening = request.query_params.get("key")
        if name == "" and opening is not None:
            answer = RedirectResponse("/", 303, headers={"Cache-Control": "no-store"})
            if key.opens(opening):
                answer.headers.append(
                    "Set-Cookie", key.cookie(port_of(request.headers.get("host", ""), request.url.scheme))
                )
            return answer
        file = files.get(f"/{name}" if name else "/index.html")
        if file is None and name.startswith("api/"):
            raise HTTPException(404)
        if file is None:
            return Response("There is nothing at this address.", 404, media_type="text/plain; charset=utf-8")
        headers = {"ETag": file.tag, "Cache-Control": _LASTING if file.lasting else "no-cache"}
        if request.headers.get("if-none-match") == file.tag:
            return Response(status_code=304, headers=headers)
        return Response(file.data, media_type=file.kind, headers=headers)

    return router
