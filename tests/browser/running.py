"""A server process with its store, and the page built for it."""

from __future__ import annotations

import os
import selectors
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

ROOT = Path(__file__).resolve().parents[2]
_START_S = 60.0
_STOP_S = 10.0


@dataclass(frozen=True)
class Bench:
    """A server that runs. ``api`` is let in like the page; ``opening`` is the address that lets a browser in."""

    address: str
    opening: str
    store: Path
    api: httpx.Client

    def send(self, method: str, path: str, **more: Any) -> Any:
        """Return the JSON of an answer; any status from 400 on fails the test with its faults."""
        answer = self.api.request(method, path, **more)
        assert answer.status_code < 400, f"{method} {path}: {answer.status_code} {answer.text[:2000]}"
        return answer.json()

    def new_case(self, code: str = "", *, demo: bool = False) -> int:
        """Begin a case (the invented demo case with its casts where asked) and return its number."""
        return int(self.send("POST", "/api/cases", json={"code": code, "demo": demo})["case"]["id"])

    def edit(self, case_id: int, fields: Mapping[str, str | None]) -> Any:
        """Enter values as a person would have typed them, into the newest revision; return what was saved."""
        seen = self.send("GET", f"/api/cases/{case_id}")["revision"]
        edits = [{"field": field, "value": value} for field, value in fields.items()]
        body = {"based_on": seen, "edits": edits, "what": "entered"}
        return self.send("POST", f"/api/cases/{case_id}/edits", json=body)


def built_page(folder: Path) -> Path:
    """Build the page from its sources into a folder of its own, so that no test sees an old one."""
    web = ROOT / "web"
    vite = web / "node_modules" / ".bin" / "vite"
    if not vite.exists() or shutil.which("node") is None:
        raise AssertionError("the page cannot be built: install Node 20 or newer, then run `npm ci` in web/")
    made = subprocess.run(
        [str(vite), "build", "--outDir", str(folder), "--emptyOutDir", "--logLevel", "error"],
        cwd=web, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert made.returncode == 0, f"the page cannot be built:\n{made.stdout}\n{made.stderr}"
    return folder


@contextmanager
def running_bench(store: Path, page: Path, *options: str) -> Iterator[Bench]:
    """Run a server while the block runs, with ``--lan`` for tablets, too; its complaints fail the block."""
    log = store.parent / f"{store.name}.log"
    with log.open("w+", encoding="utf-8") as complaints:
        process = subprocess.Popen(
            [sys.executable, str(Path(__file__).with_name("serve_bench.py")), str(store), str(page), *options],
            stdout=subprocess.PIPE, stderr=complaints, text=True, cwd=ROOT,
            # As the command line does: more threads of the algebra only get in each other's way.
            env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "OPENBLAS_NUM_THREADS": "1"},
        )  # fmt: skip
        try:
            opening = _first_line(process, log)
            address = opening.partition("/?")[0]
            with httpx.Client(base_url=address, headers={"X-Who": "TS"}, timeout=120) as api:
                api.get(opening)
                yield Bench(address, opening, store, api)
        finally:
            _stop(process)
    said = log.read_text(encoding="utf-8")
    assert "Traceback" not in said, f"the server went wrong:\n{said}"


def _first_line(process: subprocess.Popen[str], log: Path) -> str:
    assert process.stdout is not None
    with selectors.DefaultSelector() as waiting:
        waiting.register(process.stdout, selectors.EVENT_READ)
        came = waiting.select(_START_S)
    line = process.stdout.readline().strip() if came else ""
    assert line.startswith("http://127.0.0.1:"), f"no server:\n{log.read_text(encoding='utf-8')}"
    _reachable(line.partition("/?")[0])
    return line


def _reachable(address: str) -> None:
    until = time.monotonic() + _START_S
    while time.monotonic() < until:
        try:
            httpx.get(address, timeout=5)
        except httpx.TransportError:
            time.sleep(0.05)
        else:
            return
    raise AssertionError("the server did not answer")


def _stop(process: subprocess.Popen[str]) -> None:
    process.send_signal(signal.SIGTERM)
    try:
        process.wait(_STOP_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    if process.stdout is not None:
        process.stdout.close()
