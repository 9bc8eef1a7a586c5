"""The body of a request as a file that a thread reads, a portion at a time: a large scan is never in memory whole."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import BinaryIO, TypeVar, cast

import anyio.from_thread
import anyio.to_thread
from fastapi import Request
from starlette.requests import ClientDisconnect

from mountproof.faults import FaultError
from mountproof.surfaces.web.faulty import BROKEN_OFF

T = TypeVar("T")
#: Transfers that may wait for a slow line at once; every other request has threads of its own.
_AT_ONCE = 8
_LIMITER = anyio.CapacityLimiter(_AT_ONCE)


async def taken_in(request: Request, take: Callable[[BinaryIO], T]) -> T:
    """Return what ``take`` makes, in a thread, of the body of a request; it reads the body like a file.

    FaultError ``request.broken_off`` where the transfer ends too soon.
    """
    body = cast(BinaryIO, _Body(request))
    return await anyio.to_thread.run_sync(take, body, limiter=_LIMITER)


class _Body(io.RawIOBase):
    """What a request still sends."""

    def __init__(self, request: Request) -> None:
        self._chunks = request.stream()
        self._rest = b""
        self._over = False

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        """Return at most ``size`` bytes (all that are left where it is negative); nothing at the end."""
        whole = []
        while not self._over and (size < 0 or not self._rest):
            self._rest = anyio.from_thread.run(self._next)
            if size < 0:
                whole.append(self._rest)
        if size < 0:
            self._rest = b""
            return b"".join(whole)
        found, self._rest = self._rest[:size], self._rest[size:]
        return found

    async def _next(self) -> bytes:
        try:
            return await anext(self._chunks)
        except StopAsyncIteration:
            self._over = True
            return b""
        except ClientDisconnect as error:
            raise FaultError([BROKEN_OFF]) from error
