"""Scans over HTTP: the stream in, checks and answers as work, stopping, what a newer revision changes."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from mountproof.answers.known import cache_key
from mountproof.case.store import Store
from mountproof.surfaces.demo_case import make_demo
from surfaces.web.bench_client import Client, bench, edit


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    make_demo(folder, triangles=12_000)
    return folder


@pytest.fixture()
def client(tmp_path: Path) -> Iterator[Client]:
    with bench(tmp_path) as client:
        yield client


def demo_case(folder: Path, demo: Path) -> int:
    with Store(folder) as store:
        return store.import_folder(demo, "QP").case_id


def until(ask: Callable[[], Any], true: Callable[[Any], bool], most_s: float = 240.0) -> Any:
    end = time.monotonic() + most_s
    while not true(found := ask()):
        assert time.monotonic() < end, found
        time.sleep(0.05)
    return found


def states(sheet: dict[str, Any]) -> dict[str, str]:
    return {one["key"]: one["state"] for one in sheet["answers"]}


def whole(sheet: dict[str, Any]) -> bool:
    return "working" not in states(sheet).values()


def put(client: Client, case_id: int, arch: str, data: bytes, **more: Any) -> Any:
    asked = {"based_on": 1, "unit": "mm", "name": f"Erika Mustermann {arch}.STL", **more}
    return client.put(f"/api/cases/{case_id}/scans/{arch}", params=asked, content=data)


def test_bench_answers_are_there_at_once_and_the_others_follow(tmp_path: Path, demo: Path) -> None:
    case_id = demo_case(tmp_path, demo)
    with bench(tmp_path) as client:
        first = client.get(f"/api/cases/{case_id}/sheet").json()
        assert {states(first)[key] for key in ("pin", "stone", "record", "mounting")} == {"ready"}
        assert states(first)["contacts"] == "working" and first["work"]
        assert client.get(f"/api/cases/{case_id}/sheet").json()["work"] == first["work"], "one work, not two"
        done = until(lambda: client.get(f"/api/cases/{case_id}/sheet").json(), whole)
        contacts = next(one for one in done["answers"] if one["key"] == "contacts")
        assert contacts["state"] == "ready" and "First contact" in contacts["headline"]
        assert client.get(f"/api/work/{first['work']}").json()["state"] == "done"
        again = client.get(f"/api/cases/{case_id}/sheet").json()
        assert again["work"] is None and whole(again)


def test_what_a_change_does_not_touch_is_not_answered_anew(tmp_path: Path, demo: Path) -> None:
    case_id = demo_case(tmp_path, demo)
    with bench(tmp_path) as client:
        done = until(lambda: client.get(f"/api/cases/{case_id}/sheet").json(), whole)
        saved = edit(client, case_id, done["revision"], note="looked at again").json()
        assert whole(saved["sheet"]) and saved["sheet"]["work"] is None
        # what is mixed bears on what rests on the mounting, not on pin and record
        mixed = states(edit(client, case_id, done["revision"] + 1, bench__powder_g=131).json()["sheet"])
        assert mixed["pin"] == mixed["record"] == "ready" and mixed["doubt"] == "working"


def test_work_goes_over_to_a_newer_revision(tmp_path: Path, demo: Path) -> None:
    case_id = demo_case(tmp_path, demo)
    with bench(tmp_path) as client:
        client.get(f"/api/cases/{case_id}/sheet")
        assert edit(client, case_id, 1, record_repeat_mm="0.21").status_code == 200
        done = until(lambda: client.get(f"/api/cases/{case_id}/sheet").json(), whole)
        with Store(tmp_path) as store, store.snapshot() as snapshot:
            wanted = cache_key(snapshot.case(case_id), "contacts")
        contacts = next(one for one in done["answers"] if one["key"] == "contacts")
        assert wanted == f"contacts {contacts['digest']}"


def test_work_can_be_stopped_and_begun_again(tmp_path: Path, demo: Path) -> None:
    case_id = demo_case(tmp_path, demo)
    with bench(tmp_path) as client:
        name = client.get(f"/api/cases/{case_id}/sheet").json()["work"]
        assert client.delete(f"/api/work/{name}").status_code == 200
        until(lambda: client.get(f"/api/work/{name}").json(), lambda w: w["state"] == "cancelled")
        stopped = client.get(f"/api/cases/{case_id}/sheet").json()
        assert states(stopped)["contacts"] == "stopped" and stopped["work"] is None
        again = client.post(f"/api/cases/{case_id}/sheet").json()
        assert states(again)["contacts"] == "working" and again["work"] != name
        until(lambda: client.get(f"/api/cases/{case_id}/sheet").json(), whole)


def test_unknown_work_is_not_found(client: Client) -> None:
    for ask in (client.get, client.delete):
        answer = ask("/api/work/answers-1-1")
        assert answer.status_code == 404 and answer.json()["faults"][0]["code"] == "work.missing"


def test_a_scan_comes_in_and_is_checked(client: Client, demo: Path, tmp_path: Path) -> None:
    case_id = client.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
    data = (demo / "upper.stl").read_bytes()
    saved = put(client, case_id, "upper", data)
    assert saved.status_code == 200, saved.text
    scan = saved.json()["case"]["scans"][0]
    assert (scan["arch"], scan["file"], scan["place"], scan["placed"]) == ("upper", "upper.stl", 1, "")
    assert saved.json()["case"]["files"] == [
        {"name": "upper.stl", "sha256": saved.json()["case"]["files"][0]["sha256"], "bytes": len(data)}
    ]
    assert "Mustermann" not in client.get(f"/api/cases/{case_id}/case.toml").text
    checked = until(
        lambda: client.get(f"/api/cases/{case_id}").json()["scans"][0], lambda scan: bool(scan["checked"])
    )
    assert checked["triangles"] == pytest.approx(12_000, rel=0.2)
    assert all(one["words"] for one in checked["findings"])
    both = put(client, case_id, "lower", (demo / "lower.stl").read_bytes(), based_on=2).json()
    assert [one["arch"] for one in both["case"]["scans"]] == ["upper", "lower"]


def test_the_scan_of_a_cast_is_replaced_with_all_that_stood_in_its_numbers(
    tmp_path: Path, demo: Path
) -> None:
    case_id = demo_case(tmp_path, demo)
    with bench(tmp_path) as client:
        same = put(client, case_id, "upper", (demo / "upper.stl").read_bytes())
        assert same.status_code == 200 and same.json()["case"]["scans"][0]["placed"], (
            "the same file stays placed"
        )
        other = put(
            client,
            case_id,
            "upper",
            (demo / "lower.stl").read_bytes(),
            based_on=same.json()["case"]["revision"],
        )
        assert other.status_code == 200, other.text
        assert other.json()["case"]["scans"][0]["placed"] == ""
        assert len(other.json()["case"]["files"]) == 2


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"name": "upper.exe"}, 422, "request.file_kind"),
        ({"name": "upper"}, 422, "request.file_kind"),
        ({"name": "../../upper.stl/"}, 422, "request.file_kind"),
        ({"based_on": 7}, 404, "store.missing"),
        ({"unit": "ell"}, 422, "request.value"),
        ({"unit": None}, 422, "request.value"),
    ],
)
def test_what_cannot_be_a_scan_is_refused_before_anything_is_kept(
    client: Client, change: dict[str, Any], status: int, code: str
) -> None:
    case_id = client.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
    asked = {"based_on": 1, "unit": "mm", "name": "upper.stl", **change}
    answer = client.put(
        f"/api/cases/{case_id}/scans/upper",
        params={name: value for name, value in asked.items() if value is not None},
        content=b"solid",
    )
    assert answer.status_code == status, answer.text
    assert answer.json()["faults"][0]["code"] == code
    assert client.get(f"/api/cases/{case_id}").json()["revision"] == 1


def test_names_never_lead_anywhere(client: Client, tmp_path: Path) -> None:
    case_id = client.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
    before = {file for file in tmp_path.rglob("*") if "incoming" not in file.parts}
    answer = put(client, case_id, "upper", b"nonsense", name="../../../../tmp/evil.stl")
    assert answer.status_code == 200
    new = set(tmp_path.rglob("*")) - before
    assert all("evil" not in str(file) for file in new)
    assert answer.json()["case"]["files"][0]["name"] == "upper.stl"
    scan = until(lambda: client.get(f"/api/cases/{case_id}").json()["scans"][0], lambda s: bool(s["checked"]))
    assert scan["triangles"] is None and scan["findings"][0]["weight"] == "stop"


def test_a_file_beyond_the_limit_leaves_nothing(
    client: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from mountproof.case.store.scans import ScanFolder

    whole = ScanFolder.add
    monkeypatch.setattr(ScanFolder, "add", lambda self, source: whole(self, source, most_bytes=100_000))
    case_id = client.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
    answer = put(client, case_id, "upper", b"x" * 200_000)
    assert answer.status_code == 413 and answer.json()["faults"][0]["code"] == "store.too_large"
    assert [file for file in (tmp_path / "scans").rglob("*") if file.is_file()] == []


def test_a_full_disk_leaves_nothing_and_says_so(
    client: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import errno

    from mountproof.case.store import scans

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(scans, "_copied", full)
    case_id = client.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
    answer = put(client, case_id, "upper", b"x" * 1000)
    assert answer.status_code == 422 and answer.json()["faults"][0]["code"] == "store.disk_full"
    assert str(tmp_path) not in answer.text
    assert [file for file in (tmp_path / "scans").rglob("*") if file.is_file()] == []


def test_a_missing_scan_keeps_only_its_own_questions_from_being_answered(tmp_path: Path, demo: Path) -> None:
    case_id = demo_case(tmp_path, demo)
    for file in [one for one in (tmp_path / "scans").rglob("*") if one.is_file()]:
        file.unlink()
    with bench(tmp_path) as client:
        sheet = client.get(f"/api/cases/{case_id}/sheet").json()
        assert states(sheet)["pin"] == "ready" and whole(sheet)
        assert sheet["faults"][0]["code"] == "store.file_missing"
        contacts = next(one for one in sheet["answers"] if one["key"] == "contacts")
        assert contacts["verdict"] == "cannot tell" and contacts["needs"]
        assert client.get(f"/api/cases/{case_id}").status_code == 200
        assert edit(client, case_id, 1, bench__powder_g=131).status_code == 200


def test_other_requests_go_on_while_scans_are_answered(tmp_path: Path, demo: Path) -> None:
    case_id = demo_case(tmp_path, demo)
    with bench(tmp_path) as client:
        other = client.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
        client.get(f"/api/cases/{case_id}/sheet")
        stop = threading.Event()
        answered: list[int] = []

        def ask() -> None:
            while not stop.is_set():
                answered.append(client.get(f"/api/cases/{other}/sheet").status_code)

        thread = threading.Thread(target=ask)
        thread.start()
        until(lambda: client.get(f"/api/cases/{case_id}/sheet").json(), whole)
        stop.set()
        thread.join()
        assert len(answered) > 3 and set(answered) == {200}
