"""Everything that goes wrong leaves as faults with a status from 400 to 499: what, where, what to do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from mountproof.case.store import ConflictError
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.asked import language_of_request
from mountproof.surfaces.web.shapes.basics import entry_text, fault_out
from mountproof.surfaces.web.wire import ConflictOut, Conflicts, Faults

#: Kinds of fault that have a status of their own; every other one is 422: understood, and not usable as it is.
STATUS = {
    "store.missing": 404,
    "page.missing": 404,
    "work.missing": 404,
    "profile.missing": 404,
    "store.busy": 423,
    "store.too_large": 413,
    "case.too_large": 413,
    "bundle.too_large": 413,
    "request.too_large": 413,
    "request.key": 401,
    "pair.code": 401,
    "pair.desk": 403,
    "request.origin": 403,
    "request.who": 400,
    "request.broken_off": 400,
    "request.not_readable": 400,
    "answer.changed": 409,
}


class ChangedError(FaultError):
    """What a person saw is not what stands there now; nothing was changed. Sent as 409 with the newest revision."""

    def __init__(self, faults: Sequence[Fault], revision: int) -> None:
        super().__init__(faults)
        self.revision = revision


def faults_response(request: Request, faults: Sequence[Fault], status: int | None = None) -> JSONResponse:
    """Return faults as they travel, in the language of the request."""
    language = language_of_request(request)
    body = Faults(faults=[fault_out(one, language) for one in faults])
    return JSONResponse(
        body.model_dump(mode="json"), STATUS.get(faults[0].code, 422) if status is None else status
    )


def conflicts_response(request: Request, error: ConflictError | ChangedError) -> JSONResponse:
    """Return both values of every entry that two people changed."""
    language = language_of_request(request)
    conflicts = error.conflicts if isinstance(error, ConflictError) else ()
    body = Conflicts(
        faults=[fault_out(one, language) for one in error.faults],
        conflicts=[
            ConflictOut(
                field=one.field,
                base=entry_text(one.base),
                mine=entry_text(one.mine),
                theirs=entry_text(one.theirs),
                who=one.who,
                at=one.at,
                revision=one.number,
            )
            for one in conflicts
        ],
        revision=error.revision
        if isinstance(error, ChangedError)
        else max((c.number for c in conflicts), default=0),
    )
    return JSONResponse(body.model_dump(mode="json"), 409)


def install(app: FastAPI) -> None:
    """Let every error of the application leave as faults."""

    @app.exception_handler(FaultError)
    async def _fault(request: Request, error: FaultError) -> JSONResponse:
        if isinstance(error, ConflictError | ChangedError):
            return conflicts_response(request, error)
        return faults_response(request, error.faults)

    @app.exception_handler(RequestValidationError)
    async def _not_valid(request: Request, error: RequestValidationError) -> JSONResponse:
        return faults_response(request, [_written(one) for one in error.errors()][:100], 422)

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> JSONResponse:
        fault = _HTTP.get(error.status_code) or Fault(
            "request.refused",
            say("this was not taken"),
            say("Open the page again, then repeat this"),
            got=str(error.detail),
        )
        answer = faults_response(request, [fault], error.status_code)
        answer.headers.update(error.headers or {})
        return answer

    @app.exception_handler(ClientDisconnect)
    async def _gone(request: Request, error: ClientDisconnect) -> JSONResponse:
        return faults_response(request, [BROKEN_OFF])


def broken(request: Request, error: Exception) -> JSONResponse:
    """Return what is said of an error of the program itself: its kind and no more."""
    what = say("the program itself went wrong ({kind})", kind=type(error).__name__)
    todo = say("Nothing was changed; repeat this, and report what the terminal shows if it happens again")
    return faults_response(request, [Fault("program.broken", what, todo)], 500)


BROKEN_OFF = Fault(
    "request.broken_off",
    say("the transfer broke off; nothing of it was kept"),
    say("Send the file once more"),
)
_HTTP = {
    400: Fault(
        "request.not_readable",
        say("what was sent cannot be read"),
        say("Open the page again, then repeat this"),
    ),
    404: Fault("page.missing", say("there is nothing at this address"), say("Begin at the list of cases")),
    405: Fault(
        "request.method", say("this address does not take that"), say("Open the page again, then repeat this")
    ),
}


def _written(error: Any) -> Fault:
    """Say in words what a value in a request must be."""
    place = [str(part) for part in error["loc"] if part not in ("body", "query", "path", "header")]
    got = error.get("input")
    shown = "" if isinstance(got, dict | list) else str(got)[:80]
    return Fault(
        "request.value",
        say("what was sent does not fit"),
        say("Put it right and send it again"),
        field=".".join(place)[:120],
        got="".join(c if c.isprintable() else "?" for c in shown),
        allowed=str(error.get("msg", ""))[:200],
    )
