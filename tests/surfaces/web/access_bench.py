"""A bench that tablets may reach, on real sockets of the loopback: 127.0.0.1 is the desk, 127.0.0.2 the network.

The program takes 127.0.0.1 and ::1 for this computer only; every other address is foreign to it, and so it can be tried
here without a network.
"""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import uvicorn
from fastapi import FastAPI

from mountproof.surfaces.web.access_door import Door, Lan
from mountproof.surfaces.web.access_headers import CONTENT_POLICY
from mountproof.surfaces.web.access_hosts import port_of
from mountproof.surfaces.web.access_serve import COMMON
from mountproof.surfaces.web.access_tokens import cookie_name
from mountproof.surfaces.web.app import create_app

DESK, NETWORK = "127.0.0.1", "127.0.0.2"
#: Headers of whoever the tests pretend to be.
WHO = {"X-Who": "TS"}


def watched(response: httpx.Response) -> None:
    """Every answer, whatever it is: content policy, no way in for other origins, nothing kept of a case."""
    headers = response.headers
    assert headers.get("content-security-policy") == CONTENT_POLICY, response.url
    assert headers.get("x-content-type-options") == "nosniff"
    assert headers.get("cross-origin-resource-policy") == "same-origin"
    assert headers.get("referrer-policy") == "no-referrer"
    assert not [name for name in headers if name.startswith("access-control-")]
    assert "server" not in headers
    if response.request.url.path.startswith("/api/"):
        assert headers["cache-control"] in ("no-store", "private, no-cache"), response.url


def client(address: str, **more: Any) -> httpx.Client:
    """Return a client whose every answer is watched."""
    return httpx.Client(
        base_url=address, headers=WHO, timeout=30, event_hooks={"response": [watched]}, **more
    )


@dataclass(frozen=True)
class Served:
    """A bench on two sockets. ``desk`` is let in; ``guest()`` makes clients that are not."""

    app: FastAPI
    port: int
    store: Path
    desk: httpx.Client

    @property
    def door(self) -> Door:
        door: Door = self.app.state.door
        return door

    @property
    def network(self) -> str:
        return f"http://{NETWORK}:{self.port}"

    @contextmanager
    def guest(self, of: str = NETWORK, **more: Any) -> Iterator[httpx.Client]:
        """Give a client in the network, at address ``of``, that nobody let in."""
        with client(self.network, transport=httpx.HTTPTransport(local_address=of), **more) as one:
            yield one

    def code(self) -> str:
        """Make a code at the desk."""
        made = self.desk.post("/api/pairing")
        assert made.status_code == 200, made.text
        return str(made.json()["code"])

    @contextmanager
    def tablet(self, name: str = "bench tablet") -> Iterator[tuple[httpx.Client, str]]:
        """Give a paired device and its number in the list."""
        with self.guest() as one:
            done = one.post("/api/pair", json={"code": self.code(), "name": name})
            assert done.status_code == 200, done.text
            yield one, done.json()["id"]

    def token_of(self, tablet: httpx.Client) -> str:
        """Return the token in a tablet's cookie."""
        found = tablet.cookies.get(cookie_name(self.port, tls=False))
        assert found is not None
        return found


@contextmanager
def served(
    store: Path, *, lan: bool = True, prepare: Callable[[FastAPI], None] = lambda app: None
) -> Iterator[Served]:
    """Serve a bench in a thread while the block runs. ``prepare`` may change the application before."""
    with socket.create_server((DESK, 0)) as desk, socket.socket() as network:
        port = desk.getsockname()[1]
        network.bind((NETWORK, port))
        for one in (desk, network):
            one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        reach = Lan(frozenset({NETWORK}), f"http://{NETWORK}:{port}", tls=False)
        app = create_app(store, lan=reach if lan else None)
        prepare(app)
        server = uvicorn.Server(uvicorn.Config(app, lifespan="on", timeout_graceful_shutdown=1, **COMMON))
        thread = threading.Thread(
            target=lambda: asyncio.run(server.serve(sockets=[desk, network])), daemon=True
        )
        thread.start()
        while not server.started:
            assert thread.is_alive()
            thread.join(0.01)
        try:
            with client(f"http://{DESK}:{port}") as at_desk:
                assert at_desk.get("/", params={"key": app.state.key.word}).status_code == 303
                yield Served(app, port, store, at_desk)
        finally:
            app.state.bench.hub.close()
            server.should_exit = True
            thread.join(10)
            assert not thread.is_alive()


def raw(address: tuple[str, int], data: bytes, *, more: bytes = b"", wait_s: float = 5.0) -> bytes:
    """Send bytes as they are, and return all that comes back until the other side hangs up."""
    with socket.create_connection(address, timeout=wait_s) as line:
        line.sendall(data)
        if more:
            line.sendall(more)
        found = b""
        try:
            while part := line.recv(65536):
                found += part
        except (TimeoutError, ConnectionResetError):
            pass
        return found


def desk_cookie(bench: Served) -> str:
    """Return the Cookie header of the desk."""
    return "; ".join(f"{one.name}={one.value}" for one in bench.desk.cookies.jar)


__all__ = ["DESK", "NETWORK", "Served", "client", "desk_cookie", "port_of", "raw", "served", "watched"]
