"""HTTP for guests: no more connections than a bench needs, no head of a request that never ends, ours on every answer."""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from mountproof.surfaces.web.access_headers import with_headers
from mountproof.surfaces.web.access_hosts import comes_from_here
from mountproof.surfaces.web.access_rates import network_of

#: The head of a request has to be there within this, counted from its first byte or from the connection.
HEAD_S = 10.0
#: Connections of one address of the network, and of all.
MOST_OF_ONE, MOST_OF_ALL = 40, 160


class Protocol(H11Protocol):
    """uvicorn's own, with an end to its patience."""

    _patience: asyncio.TimerHandle | None = None
    network = ""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, unless there are enough of them."""
        super().connection_made(transport)
        if self.server is not None and not comes_from_here(self.server[0]):
            self.network = network_of(self.client[0] if self.client else "")
            others = [one for one in self.connections if isinstance(one, Protocol) and one.network]
            alike = sum(one.network == self.network for one in others)
            if alike > MOST_OF_ONE or len(others) > MOST_OF_ALL:
                transport.abort()
                return
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Read on; while no head is whole, it has to come soon."""
        super().data_received(data)
        if self.conn.their_state is h11.IDLE and not self.transport.is_closing():
            self._wait()
        else:
            self._waited()

    def connection_lost(self, exc: Exception | None) -> None:
        """Let go."""
        self._waited()
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        """Answer what is no HTTP, with our headers; say nothing where an answer is under way."""
        try:
            plain: list[tuple[bytes, bytes]] = [
                (b"content-type", b"text/plain; charset=utf-8"),
                (b"connection", b"close"),
            ]
            headers: Any = with_headers(plain, kept=False, apart=False)
            for event in (
                h11.Response(status_code=400, headers=headers, reason=b"Bad Request"),
                h11.Data(data=msg.encode("ascii")),
                h11.EndOfMessage(),
            ):
                self.transport.write(self.conn.send(event) or b"")
        except h11.LocalProtocolError:
            pass
        self.transport.close()

    def _wait(self) -> None:
        if self._patience is None:
            self._patience = self.loop.call_later(HEAD_S, self._no_more)

    def _waited(self) -> None:
        if self._patience is not None:
            self._patience.cancel()
            self._patience = None

    def _no_more(self) -> None:
        self._patience = None
        if self.conn.their_state is h11.IDLE:
            self.transport.abort()
