"""Nothing that lets somebody in stands where others read: logs, the process list, files, faults."""

from __future__ import annotations

import hashlib
import logging
import os
import re
import sqlite3
import stat
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from mountproof.case.store import Store
from mountproof.surfaces.web import serve as serving
from mountproof.surfaces.web.access_headers import CONTENT_POLICY
from mountproof.surfaces.web.access_tokens import cookie_name, digest_of, new_token, token_in
from mountproof.surfaces.web.key import key_of
from surfaces.web.access_bench import NETWORK, client, desk_cookie, served
from surfaces.web.bench_client import free_port


def test_no_secret_is_written_down(tmp_path: Path) -> None:
    """A whole day in short, with everything that a server may say: the terminal shows the opening address alone."""
    store, port = tmp_path / "store", free_port()
    command = [
        sys.executable,
        "-c",
        "from mountproof.surfaces.cli import main; main()",
        "open",
        "--no-browser",
        "--lan",
    ]
    with (tmp_path / "out").open("w") as out, (tmp_path / "err").open("w") as err:
        process = subprocess.Popen(
            [*command, "--at", NETWORK, "--port", str(port), "--store", str(store)],
            stdout=out, stderr=err, env={**os.environ, "PYTHONASYNCIODEBUG": "1", "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        try:
            until = time.monotonic() + 60
            while "Ctrl+C" not in (tmp_path / "out").read_text() and time.monotonic() < until:
                time.sleep(0.05)
            (word,) = re.findall(r"key=(\S+)", (tmp_path / "out").read_text())
            command_line = Path(f"/proc/{process.pid}/cmdline").read_bytes()
            with client(f"http://127.0.0.1:{port}") as desk, client(f"http://{NETWORK}:{port}") as tablet:
                desk.get("/", params={"key": word})
                code = desk.post("/api/pairing").json()["code"]
                tablet.post("/api/pair", json={"code": "WRONG-ONE", "name": "tablet"})
                assert tablet.post("/api/pair", json={"code": code, "name": "tablet"}).status_code == 200
                token = tablet.cookies[cookie_name(port, tls=False)]
                assert tablet.get("/api/cases").status_code == 200
                tablet.get(f"/api/cases/{token}", headers={"X-Who": token})
                tablet.get("/api/about", headers={"Cookie": f"{cookie_name(port, tls=False)}={token}x"})
                with tablet.stream("GET", "/api/events") as events:
                    next(events.iter_lines())
                    device = desk.get("/api/devices").json()[0]["id"]
                    assert token not in desk.get("/api/devices").text
                    desk.delete(f"/api/devices/{device}")
                desk_secret = desk.cookies[f"mountproof-{port}"]
        finally:
            process.terminate()
            process.wait(20)
    written = (tmp_path / "out").read_text() + (tmp_path / "err").read_text()
    for secret in (token, desk_secret, code, code.replace("-", "")):
        assert secret not in written
        assert secret.encode() not in command_line
    assert written.count(word) == 1
    assert "Traceback" not in written
    kept = b"".join(
        path.read_bytes() for path in store.rglob("*") if path.is_file() and path.name != "web.key"
    )
    for secret in (token, desk_secret, word, code):
        assert secret.encode() not in kept
    assert digest_of(token).encode() in kept


def test_what_the_browser_is_started_with_is_good_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every user of a computer can read with what a program was started."""
    told: list[str] = []
    opened: list[str] = []

    class Stop(Exception):
        pass

    class Server(serving._Server):
        def run(self, sockets: object = None) -> None:
            self._ready()
            raise Stop

    monkeypatch.setattr(serving, "_Server", Server)
    with pytest.raises(Stop):
        serving.serve(tmp_path / "store", show=told.append, opener=opened.append)
    until = time.monotonic() + 5
    while not opened and time.monotonic() < until:
        time.sleep(0.01)
    (shown,) = [word for line in told for word in re.findall(r"key=(\S+)", line)]
    (once,) = re.findall(r"key=(\S+)", opened[0])
    assert once != shown


def test_the_key_and_the_store_are_the_owners_alone(tmp_path: Path) -> None:
    with Store(tmp_path / "store"):
        pass
    first = key_of(tmp_path / "store")
    file = tmp_path / "store" / "web.key"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert key_of(tmp_path / "store").secret == first.secret
    assert key_of(tmp_path / "store").word != first.word
    assert first.secret not in repr(first) and first.word not in repr(first)
    file.write_text("x" * 43 + "/../")
    assert key_of(tmp_path / "store").secret not in (first.secret, file.name)


def test_a_token_is_known_by_its_digest_only(tmp_path: Path) -> None:
    with served(tmp_path / "store") as bench, bench.tablet() as (tablet, _):
        token = bench.token_of(tablet)
        assert len(token) == 43
        with sqlite3.connect(f"file:{tmp_path}/store/cases.sqlite?mode=ro", uri=True) as database:
            (kept,) = database.execute("SELECT token_sha256 FROM devices").fetchone()
        database.close()
        assert kept == hashlib.sha256(token.encode()).hexdigest()


def test_tokens_are_read_from_cookies_and_nothing_else_is() -> None:
    token = new_token()
    assert token_in(f"a=b; device={token}; c=d", "device") == token
    for cookies in (
        "",
        "device",
        f"device={token}x",
        f"device={token[:-1]}",
        f"other={token}",
        f"device={token} x;",
        "\x00",
        "=;=;;",
    ):
        assert token_in(cookies, "device") is None
    assert len({new_token() for _ in range(100)}) == 100


def test_an_error_of_the_program_says_its_kind_and_no_more(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    def prepare(app: object) -> None:
        @app.get("/api/broken")  # type: ignore[attr-defined]
        def broken() -> None:
            raise RuntimeError("/home/somebody/secret and a password")

        app.router.routes.insert(0, app.router.routes.pop())  # type: ignore[attr-defined]

    with (
        caplog.at_level(logging.DEBUG),
        served(tmp_path / "store", prepare=prepare) as bench,
        bench.tablet() as (tablet, _),
    ):
        for one in (bench.desk, tablet):
            answer = one.get("/api/broken")
            assert answer.status_code == 500
            assert answer.headers["content-security-policy"] == CONTENT_POLICY
            (fault,) = answer.json()["faults"]
            assert fault["code"] == "program.broken"
            for detail in ("secret", "password", "Traceback", "routing.py", str(tmp_path)):
                assert detail not in answer.text
        token, cookie = bench.token_of(tablet), desk_cookie(bench)
    # Those who ask log on their side; here it is about what the server says.
    said = "".join(
        logging.Formatter().format(one)
        for one in caplog.records
        if not one.name.startswith(("http", "asyncio"))
    )
    assert "secret and a password" in said  # whoever runs the program reads it there
    assert token not in said and cookie.partition("=")[2] not in said


def test_other_devices_are_not_told_where_the_cases_lie(tmp_path: Path) -> None:
    with served(tmp_path / "store") as bench, bench.tablet() as (tablet, _):
        assert bench.desk.get("/api/about").json()["store"] == str(tmp_path / "store")
        about = tablet.get("/api/about").json()
        assert about["store"] == "" and about["here"] is False and about["lan"] is True
        for path in ("/api/cases/1", "/api/cases/1/bundle.zip", "/api/nothing", "/nothing"):
            assert str(tmp_path) not in tablet.get(path).text


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (["--cert", "bench.pem"], "Add --lan"),
        (["--lan", "--cert", "bench.pem"], "--cert and --key"),
        (["--lan", "--cert", "bench.pem", "--key", "bench.key"], "cannot be read"),
        (["--lan", "--at", "8.8.8.8"], "without a certificate"),
        (["--lan", "--at", "192.0.2.77"], "cannot listen at this address"),
    ],
)
def test_what_is_wrong_is_told_before_anything_is_served(
    tmp_path: Path, options: list[str], code: str
) -> None:
    command = [
        sys.executable,
        "-c",
        "from mountproof.surfaces.cli import main; main()",
        "open",
        "--no-browser",
    ]
    done = subprocess.run(
        [*command, "--store", str(tmp_path / "store"), *options],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=60,
    )
    assert done.returncode == 2
    assert code in " ".join((done.stdout + done.stderr).split())
    assert "key=" not in done.stdout
    assert not (tmp_path / "store").exists()


def test_a_page_opened_under_another_port_is_not_ours(tmp_path: Path) -> None:
    """Two benches on one computer: browsers send the cookies of both to both, and each takes its own."""
    with served(tmp_path / "one") as one, served(tmp_path / "two") as two:
        both = "; ".join((desk_cookie(one), desk_cookie(two)))
        for bench in (one, two):
            with client(f"http://127.0.0.1:{bench.port}") as browser:
                assert browser.get("/api/about", headers={"Cookie": both}).status_code == 200
        with client(f"http://127.0.0.1:{two.port}") as browser:
            assert browser.get("/api/about", headers={"Cookie": desk_cookie(one)}).status_code == 401
            swapped = desk_cookie(one).replace(str(one.port), str(two.port))
            assert browser.get("/api/about", headers={"Cookie": swapped}).status_code == 401


def test_the_picture_of_a_code_leads_to_the_page_with_it(tmp_path: Path) -> None:
    with served(tmp_path / "store") as bench:
        made = bench.desk.post("/api/pairing").json()
        assert made["address"] == bench.network and made["encrypted"] is False
        assert made["qr_svg"].startswith("<svg") and "<script" not in made["qr_svg"]
        assert re.fullmatch(r"[2-9A-HJ-NP-TV-Z]{4}-[2-9A-HJ-NP-TV-Z]{4}", made["code"])
        assert httpx.get(f"{made['address']}/").status_code in (200, 404)
