"""What every request must pass before anything of it is read: one layer around the application.

In this order: how often it asks, whether it was meant for this server and sent by our page, how large it is, and who it
comes from. The computer that keeps the cases shows a key, and only connections within that computer may; a paired device
shows its token, and comes in through the network. The same layer puts its headers on every answer, and turns what goes
wrong behind it into a fault without details. docs/theory/access.md says against whom.
"""

from __future__ import annotations

import asyncio
import logging
import math
from contextlib import suppress

from anyio import BrokenResourceError
from fastapi import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from mountproof.surfaces.web import access_faults as faults
from mountproof.surfaces.web.access_answer import Answer, NobodyReads, Unwelcome
from mountproof.surfaces.web.access_devices import Visit
from mountproof.surfaces.web.access_door import Caller, Door, Refused, admitted, caller_of, is_api
from mountproof.surfaces.web.access_limits import Body, most_bytes
from mountproof.surfaces.web.entry import vouch
from mountproof.surfaces.web.faulty import broken, faults_response

_LOG = logging.getLogger("mountproof.web")
#: How often a request that lasts looks whether its device may still come in: another program may have revoked it.
_LOOK_S = 3.0


def _stream_closed(error: BaseException) -> bool:
    """Tell whether an error only says that a flow of events was sent on after its reader had gone.

    The library that keeps such flows alive may be about to pass on the last event when its end is torn down.
    """
    if isinstance(error, BaseExceptionGroup):
        return all(_stream_closed(one) for one in error.exceptions)
    return isinstance(error, BrokenResourceError)


class Access:
    """The layer itself."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self._app, self._door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or answer it here."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        caller = caller_of(scope)
        answer = Answer(send, api=is_api(scope), apart=caller.here or caller.tls)
        try:
            entry = await admitted(self._door, scope, caller)
            if entry is not None:
                vouch(scope, entry)
            if entry is None or not entry.device:
                await self._answered(scope, Body(receive, _most(scope)), answer)
                return
            with self._door.visits.visit(entry.device) as visit:
                await self._while_welcome(scope, receive, answer, visit, caller)
        except Refused as refused:
            await _refuse(scope, receive, answer, refused)

    async def _answered(self, scope: Scope, body: Body, answer: Answer) -> None:
        """Let the application answer. Refused where the body was stopped, and nothing else was said yet."""
        answer.held = lambda: body.stopped is not None
        try:
            await self._app(scope, body, answer)
        except NobodyReads:
            return
        except Unwelcome:
            raise Refused(faults.UNPAIRED, 401) from None
        except Exception as error:
            if answer.started and _stream_closed(error):
                return
            _LOG.error("the program itself went wrong", exc_info=error)
            if not answer.started and body.stopped is None:
                await broken(Request(scope, body), error)(scope, body, answer)
        if not answer.started and body.stopped is not None:
            raise _stopped(body, scope)

    async def _while_welcome(
        self, scope: Scope, receive: Receive, answer: Answer, visit: Visit, caller: Caller
    ) -> None:
        """Let the application answer a device. What goes on without end is ended once the device is revoked."""
        answer.unwelcome = lambda: visit.ended
        body = Body(receive, _most(scope), unwanted=lambda: visit.ended)
        task = asyncio.ensure_future(self._answered(scope, body, answer))
        watch = asyncio.ensure_future(self._until_revoked(visit, caller))
        try:
            await asyncio.wait({task, watch}, return_when=asyncio.FIRST_COMPLETED)
            if not task.done() and answer.endless:
                task.cancel()
            with suppress(asyncio.CancelledError):
                await task
        finally:
            task.cancel()
            watch.cancel()
        if answer.started and not answer.over:
            await answer({"type": "http.response.body", "body": b"", "more_body": False})

    async def _until_revoked(self, visit: Visit, caller: Caller) -> None:
        over, loop = asyncio.Event(), asyncio.get_running_loop()

        def tell() -> None:
            loop.call_soon_threadsafe(over.set)

        visit.then = tell
        while not visit.ended:
            with suppress(TimeoutError):
                await asyncio.wait_for(over.wait(), _LOOK_S)
            devices = self._door.devices
            if await asyncio.to_thread(devices.with_token, caller.token or "") is None:
                visit.ended = True


def _most(scope: Scope) -> int:
    return most_bytes(scope["method"], scope["path"])


def _stopped(body: Body, scope: Scope) -> Refused:
    if body.stopped == "large":
        return Refused(faults.too_large(_most(scope)), 413)
    return Refused(faults.UNPAIRED, 401) if body.stopped == "ended" else Refused(faults.SLOW, 408)


async def _refuse(scope: Scope, receive: Receive, answer: Answer, refused: Refused) -> None:
    said = faults_response(Request(scope, receive), [refused.fault], refused.status)
    if refused.wait_s > 0:
        said.headers["Retry-After"] = str(math.ceil(refused.wait_s))
    if scope["method"] not in ("GET", "HEAD"):
        said.headers["Connection"] = "close"  # what is still on its way is not read
    answer.held = lambda: False
    await said(scope, receive, answer)
