"""The server as a process: quick to start, orderly to stop, nothing lost when it is killed, everybody told."""

from __future__ import annotations

import json
import signal
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest

from mountproof.case.store import Store
from surfaces.web.bench_client import Running, bring_in, edit, free_port, running


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Running, Path]]:
    folder = tmp_path_factory.mktemp("store")
    with running(folder) as found:
        yield found, folder


class Listener:
    """A stream of events, read by a thread of its own while the block runs."""

    def __init__(self, client: httpx.Client, last_id: str = "") -> None:
        self.events: list[tuple[str, dict[str, Any]]] = []
        self._client = client
        self._headers = {"Last-Event-ID": last_id} if last_id else {}
        self._ready = threading.Event()
        self._line: socket.socket | None = None
        self._thread = threading.Thread(target=self._read)

    def __enter__(self) -> Listener:
        self._thread.start()
        assert self._ready.wait(60.0)
        return self

    def __exit__(self, *_: object) -> None:
        assert self._line is not None
        with suppress(OSError):
            self._line.shutdown(socket.SHUT_RDWR)
        self._thread.join()

    def _read(self) -> None:
        name, data = "", {}
        with (
            suppress(httpx.HTTPError, httpx.StreamError),
            self._client.stream("GET", "/api/events", headers=self._headers) as response,
        ):
            assert response.status_code == 200
            self._line = response.extensions["network_stream"].get_extra_info("socket")
            for line in response.iter_lines():
                self._ready.set()
                if line.startswith("id: "):
                    name = line[4:]
                elif line.startswith("data: "):
                    data = json.loads(line[6:])
                elif not line and name:
                    self.events.append((name, data))
                    name = ""

    def wait_for(self, most_s: float = 60.0, **wanted: Any) -> tuple[str, dict[str, Any]]:
        end = time.monotonic() + most_s
        while time.monotonic() < end:
            for name, event in list(self.events):
                if all(event[key] == value for key, value in wanted.items()):
                    return name, event
            time.sleep(0.02)
        raise AssertionError((wanted, self.events))


def test_events_of_this_server_and_of_other_programs(server: tuple[Running, Path]) -> None:
    process, folder = server
    with process.client("QP") as tab, process.client("RS") as other:
        case_id = bring_in(tab)["case"]["id"]
        with Listener(other) as listener:
            assert edit(tab, case_id, 1, bench__powder_g=120).status_code == 200
            listener.wait_for(kind="revision", case_id=case_id, revision=2, who="QP")
            with Store(folder) as store, store.change("CLI") as change:
                change.edit(case_id, {"bench.water_ml": 31}, 2)
            name, _ = listener.wait_for(kind="revision", case_id=case_id, revision=3, who="CLI")
            assert edit(tab, case_id, 3, bench__powder_g=121).status_code == 200
            listener.wait_for(kind="revision", revision=4)
            told = [event["revision"] for _, event in listener.events if event["kind"] == "revision"]
            assert told == [2, 3, 4]
        with Listener(other, name) as again:
            again.wait_for(kind="revision", revision=4)
            assert not any(event["revision"] == 3 for _, event in again.events), "what was seen comes once"
        with Listener(other, "00000000-7") as late:
            late.wait_for(kind="anew")


def test_the_state_of_a_case_is_told(server: tuple[Running, Path]) -> None:
    process, _ = server
    with process.client() as tab:
        case_id = bring_in(tab)["case"]["id"]
        pour = {"cast": "lower", "powder_met_water": "2026-03-02T10:02:00+01:00"}
        edits = {"based_on": 1, "edits": [{"field": "pours.lower", "value": pour}]}
        with Listener(tab) as listener:
            tab.post(f"/api/cases/{case_id}/state", json={"state": "waiting"})
            listener.wait_for(kind="state", case_id=case_id, who="QP")
            answer = tab.post(f"/api/cases/{case_id}/edits", json=edits)
            assert answer.status_code == 200, answer.text
            listener.wait_for(kind="pours", case_id=case_id)
            tab.put("/api/profiles/no. 2", json={"entered": answer.json()["case"]["entered"]["instrument"]})
            listener.wait_for(kind="profiles")


def test_a_transfer_that_breaks_off_leaves_nothing(server: tuple[Running, Path]) -> None:
    process, folder = server
    with process.client() as tab:
        case_id = tab.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
        cookie = "; ".join(f"{one.name}={one.value}" for one in tab.cookies.jar)
        host = process.address.removeprefix("http://")
        port = int(host.rsplit(":", 1)[1])
        before = sum(1 for one in (folder / "scans").rglob("*") if one.is_file())
        with socket.create_connection(("127.0.0.1", port)) as line:
            line.sendall(
                f"PUT /api/cases/{case_id}/scans/upper?based_on=1&unit=mm&name=u.stl HTTP/1.1\r\nHost: {host}\r\n"
                f"X-Who: QP\r\nCookie: {cookie}\r\nContent-Length: 50000000\r\n\r\n".encode()
                + b"x" * 3_000_000
            )
            incoming = folder / "scans" / "incoming"
            _until(lambda: incoming.is_dir() and any(incoming.iterdir()))
        _until(lambda: not any(incoming.iterdir()))
        assert sum(1 for one in (folder / "scans").rglob("*") if one.is_file()) == before
        assert tab.get(f"/api/cases/{case_id}").json()["revision"] == 1


def _until(true: Any, most_s: float = 60.0) -> None:
    end = time.monotonic() + most_s
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_two_tabs_and_a_command_line_lose_nothing(server: tuple[Running, Path]) -> None:
    """Each enters its own readings, as fast as it can, based on what it saw last."""
    process, folder = server
    with process.client() as first:
        case_id = bring_in(first)["case"]["id"]
    rounds = 6

    def tab(who: str, pair: str, mm: float) -> None:
        with process.client(who) as client:
            seen = 1
            for at in range(rounds):
                answer = edit(
                    client, case_id, seen, **{f"marks.readings_mm.{pair}.B": f"{mm + at / 100:.2f}"}
                )
                assert answer.status_code == 200, answer.text
                seen = answer.json()["case"]["revision"]

    def command_line() -> None:
        seen = 1
        with Store(folder) as store:
            for at in range(rounds):
                with store.change("CLI") as change:
                    change.edit(case_id, {"marks.readings_mm.UL-LL.B": [38.20 + at / 100]}, seen)
                    seen = change.head(case_id).number

    errors: list[BaseException] = []

    def guarded(run: Any, *args: Any) -> None:
        try:
            run(*args)
        except BaseException as error:
            errors.append(error)

    threads = [
        threading.Thread(target=guarded, args=(tab, "QP", "UR-LR", 38.0)),
        threading.Thread(target=guarded, args=(tab, "RS", "UA-LA", 42.5)),
        threading.Thread(target=guarded, args=(command_line,)),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not errors
    with Store(folder) as store, store.snapshot() as snapshot:
        case = snapshot.case(case_id)
        history = snapshot.history(case_id)
    assert case.marks is not None
    typed = {"UR-LR": 38.0, "UA-LA": 42.5, "UL-LL": 38.20}
    for pair, mm in typed.items():
        assert case.marks.readings_mm.get(pair, "B") == (pytest.approx(mm + (rounds - 1) / 100),)
        written = [c.new for one in history for c in one.changes if c.field == f"marks.readings_mm.{pair}.B"]
        assert [float(one) for one in written if one] == pytest.approx(
            [mm + at / 100 for at in range(rounds)]
        )


def test_a_killed_server_loses_nothing_that_was_answered(tmp_path: Path) -> None:
    kept: dict[str, Any] = {}
    with running(tmp_path) as process, process.client() as tab:
        case_id = bring_in(tab)["case"]["id"]
        cookie = dict(tab.cookies)

        def type_on() -> None:
            try:
                for at in range(1, 200):
                    answer = edit(tab, case_id, at, bench__powder_g=f"12{at}.5")
                    kept["revision"] = answer.json()["case"]["revision"]
            except (httpx.HTTPError, OSError, ValueError):
                pass

        thread = threading.Thread(target=type_on)
        thread.start()
        _until(lambda: kept.get("revision", 0) >= 4)
        process.process.send_signal(signal.SIGKILL)
        thread.join()
    port = process.address.rsplit(":", 1)[1]
    with (
        running(tmp_path, port=int(port)) as again,
        httpx.Client(base_url=again.address, cookies=cookie, timeout=30.0) as tab,
    ):
        found = tab.get(f"/api/cases/{case_id}")
        assert found.status_code == 200, "the page that is open goes on with the cookie it has"
        assert kept["revision"] <= found.json()["revision"] <= kept["revision"] + 1
        changes = tab.get(f"/api/cases/{case_id}/history").json()
        assert [one["number"] for one in changes] == list(range(found.json()["revision"], 0, -1))
    with Store(tmp_path) as store:
        assert store.check() == ()


def test_it_stops_at_once_though_somebody_listens(tmp_path: Path) -> None:
    with running(tmp_path) as process, process.client() as tab, Listener(tab):
        begun = time.monotonic()
        process.process.send_signal(signal.SIGINT)
        assert process.process.wait(30.0) == 0
        assert time.monotonic() - begun < 15.0
        assert process.process.stdout is not None and process.process.stderr is not None
        assert "Stopped." in process.process.stdout.read()
        assert process.process.stderr.read() == ""


def test_answers_are_not_held_back(server: tuple[Running, Path]) -> None:
    """A system holds small parts back for 40 ms unless told: the fastest of many must not have waited for that."""
    process, _ = server
    with process.client() as tab:
        waits = []
        for _ in range(40):
            begun = time.monotonic()
            assert tab.get("/api/about").status_code == 200
            waits.append(time.monotonic() - begun)
    assert min(waits) < 0.030


def test_a_port_that_is_taken_is_said(tmp_path: Path) -> None:
    port = free_port()
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", port))
        taken.listen()
        with (
            pytest.raises(AssertionError, match="nother program uses this port"),
            running(tmp_path, port=port),
        ):
            pass


def test_it_is_ready_soon(tmp_path: Path) -> None:
    """Far more than it takes on a quiet machine; the figure itself stands on the page about the web bench."""
    for _ in range(2):
        begun = time.monotonic()
        with running(tmp_path) as process, process.client() as tab:
            assert tab.get("/").status_code == 200
            assert tab.get("/api/cases").status_code == 200
            took = time.monotonic() - begun
    assert took < 30.0
