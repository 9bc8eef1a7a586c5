"""Each attack that the page about access names, tried on a bench that runs."""

from __future__ import annotations

import datetime as dt
import http.client
import json
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from mountproof.surfaces.web import access_answer, access_limits, access_protocol
from mountproof.surfaces.web.access_codes import ALPHABET, LIFE, MOST_WRONG, MOST_WRONG_OF_ONE
from mountproof.surfaces.web.access_headers import CONTENT_POLICY
from mountproof.surfaces.web.access_rates import Rate, Rates
from mountproof.surfaces.web.access_tokens import cookie_name, new_token
from surfaces.web.access_bench import DESK, NETWORK, Served, client, desk_cookie, raw, served

METHODS = ("get", "post", "put", "delete", "patch")


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with served(tmp_path_factory.mktemp("access") / "store") as one:
        yield one


@pytest.fixture(autouse=True)
def fresh_buckets(bench: Served) -> None:
    """What one test used up is not missing in the next."""
    for rates in (bench.door.any_rate, bench.door.unknown_rate, bench.door.device_rate):
        rates._buckets.clear()


def refused(answer: httpx.Response, status: int, code: str) -> None:
    assert answer.status_code == status, answer.text
    (fault,) = answer.json()["faults"]
    assert fault["code"] == code
    assert fault["what"] and fault["todo"]


def every_call(bench: Served) -> list[tuple[str, str]]:
    """Return every method and address of the bench, with something in its places."""
    names = {"{arch}": "upper", "{name}": "x", "{question}": "pin", "{case_id}": "1", "{id}": "1"}
    found = []
    for path, calls in bench.app.openapi()["paths"].items():
        for place, name in names.items():
            path = path.replace(place, name)
        found += [(method.upper(), path) for method in calls]
    assert len(found) > 30
    return found


# --- who has no cookie, or a wrong one


def test_nothing_is_said_or_done_without_a_cookie(bench: Served) -> None:
    before = bench.desk.get("/api/cases").json()
    with bench.guest() as guest, client(f"http://{DESK}:{bench.port}") as other:
        for method, path in every_call(bench):
            bench.door.unknown_rate._buckets.clear()
            if (method, path) == ("POST", "/api/pair"):
                continue
            refused(guest.request(method, path, json={}), 401, "request.unpaired")
            refused(other.request(method, path, json={}), 401, "request.key")
    assert bench.desk.get("/api/cases").json() == before


@pytest.mark.parametrize(
    "path", ["/api", "/api/", "/api/nothing", "/api/cases/1/nothing", "/api//about", "/api/openapi.json"]
)
def test_nothing_below_the_address_of_the_api_is_open(bench: Served, path: str) -> None:
    with bench.guest() as guest:
        refused(guest.get(path), 401, "request.unpaired")


@pytest.mark.parametrize(
    "path", ["/API/about", "/%61pi/about", "/x/../api/about", "//api/about", "/api%2fabout", "/.//api/about"]
)
def test_other_ways_to_write_an_address_lead_nowhere(bench: Served, path: str) -> None:
    """Whatever the server makes of it: no answer of the bench without a cookie."""
    for host in (NETWORK, DESK):
        status, body = as_written(host, bench.port, "GET", path)
        assert status in (401, 404), path
        assert b"version" not in body


def test_a_forged_cookie_is_none(bench: Served) -> None:
    own = cookie_name(bench.port, tls=False)
    with bench.tablet() as (tablet, _), bench.guest() as guest:
        token = bench.token_of(tablet)
        changed = ("A" if token[0] != "A" else "B") + token[1:]
        for value in (
            new_token(),
            changed,
            token[:-1],
            token + "A",
            token.lower(),
            "",
            "null",
            "*",
            token * 50,
            "ü",
        ):
            if value == token:
                continue
            header = {"Cookie": f"{own}={value}".encode()}
            refused(guest.get("/api/about", headers=header), 401, "request.unpaired")
        for name in (
            f"{own}0",
            own.upper(),
            "mountproof-device",
            f"__Host-{own}",
            f"mountproof-{bench.port}",
        ):
            refused(guest.get("/api/about", headers={"Cookie": f"{name}={token}"}), 401, "request.unpaired")
        assert guest.get("/api/about", headers={"Cookie": f"{own}={token}"}).status_code == 200


def test_the_key_of_the_desk_opens_nothing_from_the_network(bench: Served) -> None:
    with bench.guest() as guest:
        refused(guest.get("/api/about", headers={"Cookie": desk_cookie(bench)}), 401, "request.unpaired")
        guest.get("/", params={"key": bench.app.state.key.word})
        refused(guest.get("/api/about"), 401, "request.unpaired")


def test_the_token_of_a_device_opens_nothing_at_the_desk(bench: Served) -> None:
    with bench.tablet() as (tablet, _), client(f"http://{DESK}:{bench.port}") as other:
        header = {"Cookie": f"{cookie_name(bench.port, tls=False)}={bench.token_of(tablet)}"}
        refused(other.get("/api/about", headers=header), 401, "request.key")


def test_headers_that_say_where_a_request_comes_from_are_not_believed(bench: Served) -> None:
    lies = {
        "X-Forwarded-For": "127.0.0.1", "Forwarded": "for=127.0.0.1;host=127.0.0.1", "X-Real-IP": "127.0.0.1",
        "X-Forwarded-Host": "127.0.0.1", "X-Forwarded-Proto": "https", "Cookie": desk_cookie(bench),
    }  # fmt: skip
    with bench.guest() as guest:
        refused(guest.get("/api/about", headers=lies), 401, "request.unpaired")


def test_the_opening_address_works_as_long_as_the_server_and_the_browsers_own_once(bench: Served) -> None:
    key, address = bench.app.state.key, f"http://{DESK}:{bench.port}"

    def lets_in(word: str) -> bool:
        with client(address) as one:
            answer = one.get("/", params={"key": word})
            assert answer.status_code == 303 and answer.headers["location"] == "/"
            assert answer.headers["cache-control"] == "no-store"
            return one.get("/api/about").status_code == 200

    assert lets_in(key.word) and lets_in(key.word)
    once = key.once()
    assert [lets_in(once), lets_in(once), lets_in(once)] == [True, False, False]
    assert not lets_in("") and not lets_in(new_token()) and not lets_in(key.secret)


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(bench: Served) -> None:
    with client(f"http://{DESK}:{bench.port}") as other, bench.guest() as guest:
        desk = other.get("/", params={"key": bench.app.state.key.word}).headers["set-cookie"]
        device = guest.post("/api/pair", json={"code": bench.code(), "name": "t"}).headers["set-cookie"]
    for one in (desk, device):
        parts = one.split("; ")
        assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(parts)
        assert str(bench.port) in parts[0].split("=")[0]
        assert not [part for part in parts if part.startswith("Domain")]
    assert "Max-Age" not in desk


# --- other pages in the same browser, and names that were made to lead here


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"},
        {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"},
    ],
)  # fmt: skip
def test_another_page_reads_and_changes_nothing(bench: Served, headers: dict[str, str]) -> None:
    """Also with the right cookie, which a browser sends along from another port of the same host."""
    before = bench.desk.get("/api/cases").json()
    for method, path in every_call(bench):
        refused(bench.desk.request(method, path, json={}, headers=headers), 403, "request.origin")
    asked = {**headers, "Access-Control-Request-Method": "POST", "Access-Control-Request-Headers": "x-who"}
    answer = bench.desk.options("/api/cases", headers={"Origin": "http://evil.example", **asked})
    refused(answer, 403, "request.origin")
    assert bench.desk.get("/api/cases").json() == before


def test_a_change_typed_into_the_address_line_is_none(bench: Served) -> None:
    refused(bench.desk.post("/api/cases", json={}, headers={"Sec-Fetch-Site": "none"}), 403, "request.origin")
    assert bench.desk.get("/api/about", headers={"Sec-Fetch-Site": "none"}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:{port}",
        "localhost.evil.example",
        "127.0.0.2:{port}",
        "0.0.0.0:{port}",
        "[::]",
    ],
)
@pytest.mark.parametrize("path", ["/api/cases", "/", "/index.html", "/api/pair"])
def test_a_name_that_was_made_to_lead_here(bench: Served, host: str, path: str) -> None:
    named = {"Host": host.format(port=bench.port)}
    refused(bench.desk.get(path, headers=named), 421, "request.host")


def test_names_of_the_loopback_are_none_in_the_network(bench: Served) -> None:
    with bench.tablet() as (tablet, _):
        for host in ("127.0.0.1", "localhost", "[::1]", "evil.example"):
            refused(tablet.get("/api/about", headers={"Host": f"{host}:{bench.port}"}), 421, "request.host")


# --- guests who guess


def other_codes(code: str) -> Iterator[str]:
    at = 0
    while True:
        at += 1
        yield "".join(ALPHABET[(ALPHABET.index(sign) + at) % len(ALPHABET)] for sign in code.replace("-", ""))


def test_who_guesses_is_shut_out_and_the_tablet_still_comes_in(bench: Served) -> None:
    code = bench.code()
    wrong = other_codes(code)
    with bench.guest() as guest:
        for _ in range(MOST_WRONG_OF_ONE):
            refused(guest.post("/api/pair", json={"code": next(wrong), "name": "g"}), 401, "pair.code")
        refused(guest.post("/api/pair", json={"code": code, "name": "g"}), 401, "pair.code")
        assert "set-cookie" not in guest.post("/api/pair", json={"code": code, "name": "g"}).headers
    with bench.guest("127.0.0.9") as tablet:
        assert tablet.post("/api/pair", json={"code": code, "name": "t"}).status_code == 200


def test_guessing_from_many_addresses_closes_the_code(bench: Served) -> None:
    code = bench.code()
    wrong = other_codes(code)
    for at in range(MOST_WRONG):
        with bench.guest(f"127.0.1.{at + 1}") as guest:
            refused(guest.post("/api/pair", json={"code": next(wrong), "name": "g"}), 401, "pair.code")
    with bench.guest("127.0.2.1") as tablet:
        refused(tablet.post("/api/pair", json={"code": code, "name": "t"}), 401, "pair.code")
        assert tablet.post("/api/pair", json={"code": bench.code(), "name": "t"}).status_code == 200


def test_the_same_is_said_of_a_wrong_code_and_of_none(bench: Served) -> None:
    bench.desk.delete("/api/pairing")
    with bench.guest() as guest:
        none = guest.post("/api/pair", json={"code": "ABCD-EFGH", "name": "g"})
        code = bench.code()
        wrong = guest.post("/api/pair", json={"code": next(other_codes(code)), "name": "g"})
    assert none.json() == wrong.json()
    assert none.status_code == wrong.status_code == 401


def test_who_asks_too_often_waits(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    for rates in (bench.door.unknown_rate, bench.door.any_rate):
        monkeypatch.setattr(rates, "_rate", Rate(20, 0.01))
    with bench.guest() as guest:
        answers = [guest.get("/api/about") for _ in range(25)]
        assert [one.status_code for one in answers] == [401] * 20 + [429] * 5
        refused(answers[-1], 429, "request.too_often")
        assert int(answers[-1].headers["retry-after"]) >= 1
        with bench.guest("127.0.0.9") as other:
            assert other.get("/api/about").status_code == 401
    assert bench.desk.get("/api/about").status_code == 200


def test_a_device_that_asks_too_often_waits_alone(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench.door.device_rate, "_rate", Rate(20, 1))
    with bench.tablet() as (first, _), bench.tablet() as (second, _):
        assert [first.get("/api/about").status_code for _ in range(25)][-1] == 429
        assert second.get("/api/about").status_code == 200


# --- codes


def test_a_code_pairs_one_device(bench: Served) -> None:
    code = bench.code()
    with bench.guest() as first, bench.guest("127.0.0.9") as second:
        assert first.post("/api/pair", json={"code": code.lower(), "name": "first"}).status_code == 200
        refused(second.post("/api/pair", json={"code": code, "name": "second"}), 401, "pair.code")
        refused(first.post("/api/pair", json={"code": code, "name": "first"}), 401, "pair.code")


def test_of_two_at_once_one_is_paired(bench: Served) -> None:
    code, start, statuses = bench.code(), threading.Barrier(6), []

    def one(at: int) -> None:
        with bench.guest(f"127.0.3.{at + 1}") as guest:
            start.wait()
            statuses.append(guest.post("/api/pair", json={"code": code, "name": f"t{at}"}).status_code)

    threads = [threading.Thread(target=one, args=(at,)) for at in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses) == [200, 401, 401, 401, 401, 401]


@pytest.mark.parametrize(
    ("steady_s", "day_s"),
    [(LIFE.total_seconds(), 0), (0, LIFE.total_seconds()), (LIFE.total_seconds(), -3600), (0, -3600)],
)
def test_an_old_code_and_a_clock_that_was_set(
    bench: Served, monkeypatch: pytest.MonkeyPatch, steady_s: float, day_s: float
) -> None:
    code, pairing = bench.code(), bench.door.pairing
    steady, clock = pairing._steady, pairing._clock
    monkeypatch.setattr(pairing, "_steady", lambda: steady() + steady_s)
    monkeypatch.setattr(pairing, "_clock", lambda: clock() + dt.timedelta(seconds=day_s))
    with bench.guest() as guest:
        refused(guest.post("/api/pair", json={"code": code, "name": "t"}), 401, "pair.code")


def test_only_the_desk_makes_codes_and_takes_other_devices_out(bench: Served) -> None:
    with bench.tablet("one") as (one, own), bench.tablet("other") as (_, other):
        refused(one.post("/api/pairing"), 403, "pair.desk")
        refused(one.delete("/api/pairing"), 403, "pair.desk")
        refused(one.delete(f"/api/devices/{other}"), 403, "pair.desk")
        assert [(d["id"], d["here"]) for d in one.get("/api/devices").json()] == [(own, True)]
        ids = [d["id"] for d in bench.desk.get("/api/devices").json()]
        assert {own, other} <= set(ids)
        assert one.delete(f"/api/devices/{own}").json() == []
        refused(one.get("/api/devices"), 401, "request.unpaired")
        left = [d["id"] for d in bench.desk.get("/api/devices").json()]
        assert own not in left and other in left


def test_without_a_network_there_is_nothing_to_pair(tmp_path: Path) -> None:
    with served(tmp_path / "store", lan=False) as alone:
        refused(alone.desk.post("/api/pairing"), 422, "pair.lan")
        refused(alone.desk.post("/api/pair", json={"code": "ABCD-EFGH", "name": "t"}), 422, "pair.lan")
        with alone.guest() as guest:
            refused(guest.get("/api/about"), 421, "request.host")
            refused(guest.get("/"), 421, "request.host")


def test_a_device_that_is_paired_again_is_in_the_list_once(bench: Served) -> None:
    with bench.tablet("again") as (tablet, first):
        old = bench.token_of(tablet)
        done = tablet.post("/api/pair", json={"code": bench.code(), "name": "again"})
        second = done.json()["id"]
        ids = [d["id"] for d in bench.desk.get("/api/devices").json()]
        assert second in ids and first not in ids
        header = {"Cookie": f"{cookie_name(bench.port, tls=False)}={old}"}
        with bench.guest() as guest:
            refused(guest.get("/api/about", headers=header), 401, "request.unpaired")
        assert tablet.get("/api/about").status_code == 200


def test_a_device_is_forgotten_after_its_time(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    with bench.tablet("old") as (tablet, own):
        clock = bench.door.devices._clock
        monkeypatch.setattr(bench.door.devices, "_clock", lambda: clock() + dt.timedelta(days=181))
        refused(tablet.get("/api/about"), 401, "request.unpaired")
        assert own not in [d["id"] for d in bench.desk.get("/api/devices").json()]


@pytest.mark.parametrize("name", ["", "  ", "a\nb\x00", "\u202eold", "x" * 61])
def test_a_name_that_is_none_uses_no_code_up(bench: Served, name: str) -> None:
    code = bench.code()
    with bench.guest() as guest:
        assert guest.post("/api/pair", json={"code": code, "name": name}).status_code == 422
        assert guest.post("/api/pair", json={"code": code, "name": "tablet"}).status_code == 200


# --- stolen, and revoked


def test_a_stolen_cookie_is_worth_nothing_once_revoked(bench: Served) -> None:
    with bench.tablet() as (tablet, own), bench.guest("127.0.0.9") as thief:
        header = {"Cookie": f"{cookie_name(bench.port, tls=False)}={bench.token_of(tablet)}"}
        assert thief.get("/api/about", headers=header).status_code == 200
        assert own not in [d["id"] for d in bench.desk.delete(f"/api/devices/{own}").json()]
        for one in (tablet, thief):
            refused(one.get("/api/about", headers=header), 401, "request.unpaired")


def test_an_unknown_device_cannot_be_revoked(bench: Served) -> None:
    assert bench.desk.delete("/api/devices/no-such").status_code == 404


@contextmanager
def stream(tablet: httpx.Client) -> Iterator[Iterator[str]]:
    with tablet.stream("GET", "/api/events") as events:
        assert events.status_code == 200
        lines = events.iter_lines()
        assert next(lines).startswith(": ")
        yield lines


def test_the_streams_of_a_revoked_device_end_at_once_and_those_of_others_go_on(bench: Served) -> None:
    with (
        bench.tablet("one") as (one, own),
        bench.tablet("two") as (two, _),
        stream(one) as first,
        stream(two) as second,
    ):
        start = time.monotonic()
        bench.desk.delete(f"/api/devices/{own}")
        rest = list(first)
        assert time.monotonic() - start < 2
        assert not [line for line in rest if line.startswith("data:") and '"devices"' not in line]
        case = bench.desk.post("/api/cases", json={"code": "SEEN"}).json()["case"]["id"]
        heard = (json.loads(line[5:]) for line in second if line.startswith("data:"))
        assert next(one for one in heard if one["kind"] == "revision")["case_id"] == case


def test_the_streams_end_also_where_another_program_revoked(
    bench: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mountproof.surfaces.web.access._LOOK_S", 0.1)
    with bench.tablet() as (tablet, own), stream(tablet) as events:
        with bench.app.state.bench.store.change("elsewhere") as change:
            change.revoke_device(own)
        start = time.monotonic()
        list(events)
        assert time.monotonic() - start < 2


def test_what_a_revoked_device_is_sending_is_dropped(bench: Served) -> None:
    before = bench.desk.get("/api/cases").json()
    with bench.tablet() as (tablet, own):
        sent = threading.Event()

        def body() -> Iterator[bytes]:
            yield b'schema_version = 1\ncode = "LATE"\n'
            sent.wait(5)
            for _ in range(20):
                time.sleep(0.02)
                yield b"# more\n"

        def revoke() -> None:
            time.sleep(0.3)
            bench.desk.delete(f"/api/devices/{own}")
            sent.set()

        thread = threading.Thread(target=revoke)
        thread.start()
        try:
            answer = tablet.post("/api/cases/bring-in", content=body())
            refused(answer, 401, "request.unpaired")
        except httpx.TransportError:
            pass  # hung up on while it was still sending
        thread.join()
    assert bench.desk.get("/api/cases").json() == before


def test_a_device_has_no_more_than_so_much_open(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mountproof.surfaces.web.access_door._MOST_OPEN", 3)
    with bench.tablet() as (tablet, own), stream(tablet), stream(tablet), stream(tablet):
        refused(tablet.get("/api/about"), 429, "request.too_often")
    until = time.monotonic() + 5
    while bench.door.visits.count(own) and time.monotonic() < until:
        time.sleep(0.02)
    assert bench.door.visits.count(own) == 0
    assert bench.door.visits._open == {}


# --- too large, too slow, not HTTP


def sends_chunks(total: int, size: int = 65536) -> Iterator[bytes]:
    for _ in range(total // size + 1):
        yield b" " * size


@pytest.mark.parametrize("path", ["/api/cases", "/api/cases/1/edits", "/api/pair"])
def test_a_body_that_says_it_is_too_large(bench: Served, path: str) -> None:
    most = access_limits.most_bytes("POST", path)
    head = f"POST {path} HTTP/1.1\r\nHost: {DESK}:{bench.port}\r\nCookie: {desk_cookie(bench)}\r\n"
    said = raw((DESK, bench.port), f"{head}Content-Length: {most + 1}\r\n\r\n".encode())
    assert said.startswith(b"HTTP/1.1 413 ")
    assert b'"code":"request.too_large"' in said
    assert CONTENT_POLICY.encode() in said
    assert b"connection: close" in said


@pytest.mark.parametrize("path", ["/api/cases", "/api/cases/1/edits"])
def test_a_body_that_does_not_say_and_is_too_large(bench: Served, path: str) -> None:
    try:
        answer = bench.desk.post(path, content=sends_chunks(access_limits.MOST_BODY))
    except httpx.TransportError:
        return  # hung up on while it was still sending
    refused(answer, 413, "request.too_large")


def test_a_body_that_does_not_say_and_is_too_large_is_told(bench: Served) -> None:
    """Where little more is on its way than may be, the fault arrives."""
    with bench.guest() as guest:
        answer = guest.post("/api/pair", content=iter([b" " * 1500, b" " * 1500]))
        refused(answer, 413, "request.too_large")


def test_a_length_that_is_none(bench: Served) -> None:
    head = f"POST /api/cases HTTP/1.1\r\nHost: {DESK}:{bench.port}\r\nCookie: {desk_cookie(bench)}\r\n"
    for length in ("-1", "1e9", "x", "1, 2", "99999999999999999999999999"):
        said = raw((DESK, bench.port), f"{head}Content-Length: {length}\r\n\r\n".encode(), wait_s=1)
        assert said == b"" or said.startswith((b"HTTP/1.1 400 ", b"HTTP/1.1 413 ")), length
        assert not said or CONTENT_POLICY.encode() in said


def test_two_lengths_smuggle_nothing(bench: Served) -> None:
    head = f"POST /api/cases HTTP/1.1\r\nHost: {DESK}:{bench.port}\r\nCookie: {desk_cookie(bench)}\r\n"
    said = raw(
        (DESK, bench.port),
        f"{head}Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /api/about HTTP/1.1\r\n\r\n".encode(),
        wait_s=1,
    )
    assert b'"version"' not in said


def test_a_body_that_comes_too_slowly(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access_limits, "PART_S", 0.2)
    monkeypatch.setattr(
        access_limits.Body.__init__,
        "__kwdefaults__",
        {**access_limits.Body.__init__.__kwdefaults__, "part_s": 0.2},
    )
    head = f"POST /api/cases HTTP/1.1\r\nHost: {DESK}:{bench.port}\r\nCookie: {desk_cookie(bench)}\r\nContent-Length: 50\r\n\r\n"
    start = time.monotonic()
    said = raw((DESK, bench.port), head.encode(), more=b'{"code"')
    assert time.monotonic() - start < 2
    assert said.startswith(b"HTTP/1.1 408 ")
    assert b'"code":"request.slow"' in said


def test_the_head_of_a_request_has_to_come(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access_protocol, "HEAD_S", 0.3)
    for start in (b"", b"G", b"GET / HTTP/1.1\r\nHost: a\r\n"):
        began = time.monotonic()
        said = raw((NETWORK, bench.port), start, wait_s=3)
        assert time.monotonic() - began < 2, start
        assert said == b""


def test_a_head_that_comes_drop_by_drop(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access_protocol, "HEAD_S", 0.4)
    with socket.create_connection((NETWORK, bench.port), timeout=3) as line:
        line.sendall(b"GET / HTTP/1.1\r\n")
        began = time.monotonic()
        with pytest.raises(OSError):
            while time.monotonic() - began < 3:
                line.sendall(b"X-Drop: 1\r\n")
                time.sleep(0.05)
        assert time.monotonic() - began < 2


def test_one_address_has_no_more_than_so_many_connections(
    bench: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(access_protocol, "MOST_OF_ONE", 5)
    lines = [socket.create_connection((NETWORK, bench.port), timeout=3) for _ in range(8)]
    try:
        time.sleep(0.2)
        ended = 0
        for line in lines:
            line.setblocking(False)
            try:
                ended += line.recv(1) == b""
            except BlockingIOError:
                pass
            except ConnectionResetError:
                ended += 1
        assert ended == 3
        with bench.guest("127.0.0.9") as other:
            assert other.get("/").status_code == 200
        assert bench.desk.get("/api/about").status_code == 200
    finally:
        for line in lines:
            line.close()


def test_who_does_not_take_an_answer_is_given_up(bench: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access_answer, "SEND_S", 0.3)
    case = bench.desk.post("/api/cases", json={"code": "LONG"}).json()["case"]["id"]
    with bench.tablet() as (tablet, own):
        cookie = f"{cookie_name(bench.port, tls=False)}={bench.token_of(tablet)}"
        with socket.socket() as line:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            line.connect((NETWORK, bench.port))
            ask = (
                f"GET /api/cases/{case} HTTP/1.1\r\nHost: {NETWORK}:{bench.port}\r\nCookie: {cookie}\r\n\r\n"
            )
            line.sendall(ask.encode() * 200)
            until = time.monotonic() + 5
            while time.monotonic() < until:
                time.sleep(0.1)
                if bench.door.visits.count(own) == 0:
                    break
            assert bench.door.visits.count(own) == 0


@pytest.mark.parametrize(
    "garbage",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(64), b"HELO bench\r\n\r\n", b"GET /\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n", b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"GET / HTTP/1.1\r\nBad Header: 1\r\n\r\n", b"GET / HTTP/1.1\r\nX: a\x00b\r\n\r\n",
    ],
)  # fmt: skip
def test_what_is_no_http(bench: Served, garbage: bytes) -> None:
    for host in (DESK, NETWORK):
        said = raw((host, bench.port), garbage, wait_s=2)
        # Some of it is HTTP to the server, only not meant for it.
        assert said.startswith((b"HTTP/1.1 400 ", b"HTTP/1.1 421 ")), said[:80]
        assert CONTENT_POLICY.encode() in said
        assert b"Traceback" not in said and b"h11" not in said


def test_a_head_that_is_too_long(bench: Served) -> None:
    long = {"X-Long": "a" * (access_limits.MOST_HEAD - 1000)}
    assert bench.desk.get("/api/about", headers=long).status_code in (200, 431)
    longer = {"X-Long": "a" * (access_limits.MOST_HEAD + 1)}
    assert bench.desk.get("/api/about", headers=longer).status_code in (400, 431)
    said = raw((NETWORK, bench.port), b"GET /" + b"a" * 300_000, wait_s=2)
    assert said == b"" or said.startswith(b"HTTP/1.1 400 ")


def test_no_other_protocol_is_spoken(bench: Served) -> None:
    head = (
        f"GET /api/events HTTP/1.1\r\nHost: {DESK}:{bench.port}\r\nCookie: {desk_cookie(bench)}\r\nUpgrade: websocket\r\n"
        "Connection: Upgrade\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\nSec-WebSocket-Version: 13\r\n\r\n"
    )
    said = raw((DESK, bench.port), head.encode(), wait_s=0.5)
    assert not said.startswith(b"HTTP/1.1 101")


def as_written(host: str, port: int, method: str, path: str, **more: Any) -> tuple[int, bytes]:
    """Ask for an address exactly as it is written."""
    line = http.client.HTTPConnection(host, port, timeout=10)
    try:
        line.putrequest(method, path, skip_accept_encoding=True)
        for name, value in more.items():
            line.putheader(name.replace("_", "-"), value)
        line.endheaders()
        answer = line.getresponse()
        assert answer.headers["content-security-policy"] == CONTENT_POLICY
        return answer.status, answer.read()
    finally:
        line.close()


def test_buckets_are_those_of_the_tests(bench: Served) -> None:
    """The tests above empty the buckets between them: they have to be those that count."""
    assert isinstance(bench.door.any_rate, Rates) and isinstance(bench.door.unknown_rate, Rates)
    with bench.guest() as guest:
        guest.get("/api/about")
    assert len(bench.door.any_rate) == len(bench.door.unknown_rate) == 1
