"""A web bench on a store of its own, asked in this process; and one as a process, asked over a socket."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import httpx
from anyio.from_thread import BlockingPortal, start_blocking_portal
from fastapi import FastAPI

from mountproof.surfaces.web.app import create_app

ADDRESS = "http://127.0.0.1:47810"
CASE = Path(__file__).parents[2] / "case" / "bench_case.toml"


@dataclass(frozen=True, slots=True)
class Client:
    """Asks an application in this process, from any thread; what the program does not catch is raised here."""

    portal: BlockingPortal
    asking: httpx.AsyncClient

    def request(self, method: str, url: str, **more: Any) -> httpx.Response:
        return self.portal.call(partial(self.asking.request, method, url, **more))

    def get(self, url: str, **more: Any) -> httpx.Response:
        return self.request("GET", url, **more)

    def post(self, url: str, **more: Any) -> httpx.Response:
        return self.request("POST", url, **more)

    def put(self, url: str, **more: Any) -> httpx.Response:
        return self.request("PUT", url, **more)

    def delete(self, url: str, **more: Any) -> httpx.Response:
        return self.request("DELETE", url, **more)


@contextmanager
def bench(folder: Path, **more: Any) -> Iterator[Client]:
    """Give a client that was let in to a bench on the store in ``folder``."""
    app = create_app(folder, **more)
    with strangers(app) as client:
        assert client.get("/", params={"key": app.state.key.word}).status_code == 303
        client.asking.headers["X-Who"] = "QP"
        yield client


@contextmanager
def strangers(app: FastAPI) -> Iterator[Client]:
    """Give a client that nobody let in."""
    with start_blocking_portal() as portal, portal.wrap_async_context_manager(_asked(app)) as asking:
        yield Client(portal, asking)


@asynccontextmanager
async def _asked(app: FastAPI) -> AsyncIterator[httpx.AsyncClient]:
    transport = httpx.ASGITransport(app=app, client=("127.0.0.1", 50_000))
    async with (
        app.router.lifespan_context(app),
        httpx.AsyncClient(transport=transport, base_url=ADDRESS, timeout=60.0) as asking,
    ):
        yield asking


def bring_in(client: Any, text: bytes | None = None) -> dict[str, Any]:
    """Bring in the bench case, or another text; return what came back."""
    answer = client.post("/api/cases/bring-in", content=CASE.read_bytes() if text is None else text)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def edit(client: Any, case_id: int, based_on: int, **fields: Any) -> httpx.Response:
    """Change entries; ``__`` in a name stands for a dot."""
    edits = [{"field": name.replace("__", "."), "value": value} for name, value in fields.items()]
    found: httpx.Response = client.post(
        f"/api/cases/{case_id}/edits", json={"based_on": based_on, "edits": edits}
    )
    return found


@dataclass(frozen=True, slots=True)
class Running:
    """A server as a process, and the address that it opened with."""

    process: subprocess.Popen[str]
    opening: str

    @property
    def address(self) -> str:
        return self.opening.split("/?")[0]

    @contextmanager
    def client(self, who: str = "QP") -> Iterator[httpx.Client]:
        """Give a client that was let in."""
        with httpx.Client(base_url=self.address, headers={"X-Who": who}, timeout=60.0) as client:
            assert client.get(self.opening).status_code == 303
            yield client


@contextmanager
def running(store: Path, *options: str, port: int | None = None) -> Iterator[Running]:
    """Run ``mountproof open`` on a free port unless told; it is stopped, by its id, when the block ends."""
    command = [sys.executable, "-c", "from mountproof.surfaces.cli import main; main()", "open"]
    process = subprocess.Popen(
        [*command, "--no-browser", "--port", str(port or free_port()), "--store", str(store), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )
    try:
        assert process.stdout is not None and process.stderr is not None
        line = process.stdout.readline()
        match = re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", line)
        assert match, line + process.stderr.read()
        yield Running(process, match.group())
    finally:
        process.kill()
        process.wait()
        for stream in (process.stdout, process.stderr):
            if stream is not None:
                stream.close()


def free_port() -> int:
    """Return a port that nobody uses now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port
