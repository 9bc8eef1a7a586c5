"""The second server, for guests: other sockets, perhaps TLS, the same application."""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Iterator
from typing import Any

import uvicorn

from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.access_lan import Plan
from mountproof.surfaces.web.access_limits import MOST_HEAD
from mountproof.surfaces.web.access_protocol import Protocol

#: What both servers have in common. Nothing is logged of requests that came through: addresses may hold secrets. No
#: header is believed in saying where a request comes from.
COMMON: dict[str, Any] = {
    "log_level": "warning",
    "access_log": False,
    "server_header": False,
    "proxy_headers": False,
    "ws": "none",
    "http": Protocol,
    "h11_max_incomplete_event_size": MOST_HEAD,
}


class Guests(uvicorn.Server):
    """Runs beside the server of this computer, in the same loop; begins after it and ends before it."""

    def __init__(self, app: Any, planned: Plan, sockets: list[socket.socket], last_s: int) -> None:
        own = planned.certificate
        tls: dict[str, Any] = (
            {} if own is None else {"ssl_context_factory": lambda _config, _usual: own.context}
        )
        super().__init__(
            uvicorn.Config(app, lifespan="off", timeout_graceful_shutdown=last_s, **COMMON, **tls)
        )
        self._sockets = sockets
        self._task: asyncio.Task[None] | None = None

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave Ctrl+C to the other server."""
        yield

    async def begin(self) -> None:
        """Begin to answer."""
        self._task = asyncio.create_task(self.serve(sockets=self._sockets))
        while not (self.started or self._task.done()):
            await asyncio.sleep(0.01)

    async def end(self) -> None:
        """Answer no more, and come back when all has ended."""
        self.should_exit = True
        if self._task is not None:
            await self._task


def listening_at(planned: Plan, port: int) -> list[socket.socket]:
    """Return sockets at the addresses of a plan. FaultError ``lan.address`` where one of them cannot be used."""
    found: list[socket.socket] = []
    for address in planned.addresses:
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        try:
            found.append(socket.create_server((address, port), family=family, backlog=128))
            # Answers go out at once, not held back 40 ms for the next part; connections take this over.
            found[-1].setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        except OSError as error:
            for one in found:
                one.close()
            what = say("this computer cannot listen at this address ({why})", why=error.strerror or "")
            todo = say("Name an address of this computer with --at, or another port with --port")
            raise FaultError([Fault("lan.address", what, todo, got=f"{address}, {port}")]) from error
    return found
