"""Fields, languages, profiles, the procedure, pours, and what the server says of itself."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from mountproof.case.fields import spot
from mountproof.case.model import Case
from mountproof.case.store import Store
from mountproof.surfaces.web.described import addresses, described
from surfaces.web.bench_client import Client, bench, bring_in, edit

OPENAPI = Path(__file__).parents[3] / "docs" / "openapi.json"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with bench(tmp_path_factory.mktemp("store")) as client:
        yield client


def test_the_published_description_is_the_server_s_own() -> None:
    text = described()
    again = "run tools/web-types and look at the difference"
    assert OPENAPI.read_text(encoding="utf-8") == text, again
    assert OPENAPI.with_name("web-addresses.md").read_text(encoding="utf-8") == addresses(text), again


def test_every_address_says_what_it_is_for_and_how_it_fails() -> None:
    described = json.loads(OPENAPI.read_text(encoding="utf-8"))
    methods = [(path, one) for path, all_of in described["paths"].items() for one in all_of.values()]
    assert len(methods) > 30
    for path, one in methods:
        assert len(one["summary"]) > 5 and one["description"] and one["tags"], path
        assert one["responses"]["4XX"]["content"]["application/json"]["schema"]["$ref"].endswith("/Faults"), (
            path
        )
        assert not any(status.startswith("5") for status in one["responses"])


def test_every_entry_of_a_case_has_its_words(client: Client) -> None:
    fields = client.get("/api/fields").json()
    assert len(fields) > 150 and len({one["path"] for one in fields}) == len(fields)
    for one in fields:
        assert one["label"], one
        assert one["what"], one
        assert (one["kind"] == "choice") == bool(one["choices"])
    by_path = {one["path"]: one for one in fields}
    pin = by_path["instrument.pin.ahead_mm"]
    assert (pin["kind"], pin["unit"], pin["low"], pin["high"], pin["needed"]) == (
        "measured",
        "mm",
        20,
        250,
        True,
    )
    assert by_path["marks.places.*.arch"]["choices"][0]["value"] == "upper"
    assert by_path["foils.*.held"]["kind"] == "teeth"
    assert by_path["scans.*.placement.landmarks.*.scan"]["kind"] == "point"
    assert by_path["bench.powder_met_water"]["kind"] == "time"
    assert by_path["date"]["kind"] == "date"
    assert by_path["pours.*.powder_met_water"]["kind"] == "moment"
    assert by_path["limits.reseat_sd.decent"]["unit"] == "mm"
    for path in by_path:
        parts: list[str | int] = [0 if part == "*" else part for part in path.split(".")]
        assert spot(Case, tuple(parts)).field is not None, path


@pytest.mark.parametrize(
    ("asked", "language"),
    [
        ({"lang": "de"}, "de"), ({"lang": "en"}, "en"), ({"lang": "xx"}, "en"), ({}, "en"), ({"lang": "de-AT"}, "de"),
    ],
)  # fmt: skip
def test_texts_come_in_the_language_asked_for(client: Client, asked: dict[str, str], language: str) -> None:
    case_id = bring_in(client)["case"]["id"]
    sheet = client.get(f"/api/cases/{case_id}/sheet", params=asked).json()
    headline = sheet["answers"][0]["headline"]
    assert ("4,2 mm" in headline) == (language == "de") and ("4.2 mm" in headline) == (language == "en")
    shown = sheet["answers"][0]["quantities"][0]["shown"]
    assert ("," in shown) == (language == "de")


@pytest.mark.parametrize(
    ("header", "language"),
    [
        ("de-DE,de;q=0.9,en;q=0.8", "de"),
        ("en-GB,de;q=0.5", "en"),
        ("fr,de;q=0.2,en;q=0.3", "en"),
        (";;q=x,,", "en"),
    ],
)
def test_the_language_of_the_browser_is_taken(client: Client, header: str, language: str) -> None:
    faults = client.get("/api/cases/99", headers={"Accept-Language": header})
    assert faults.status_code == 404
    case_id = bring_in(client)["case"]["id"]
    sheet = client.get(f"/api/cases/{case_id}/sheet", headers={"Accept-Language": header}).json()
    assert ("," in sheet["answers"][0]["quantities"][0]["shown"]) == (language == "de")


def test_what_runs_here(client: Client) -> None:
    about = client.get("/api/about").json()
    assert about["here"] is True and about["lan"] is False and about["store"]
    assert about["languages"] == ["en", "de"]


def test_profiles_are_kept_conflict_and_are_used(client: Client) -> None:
    made = bring_in(client)["case"]
    entered = made["entered"]["instrument"]
    kept = client.put("/api/profiles/no. 2", json={"entered": entered})
    assert kept.status_code == 200 and kept.json()["revision"] == 1, kept.text
    changed = {**entered, "play_mm": "0.04"}
    assert client.put("/api/profiles/no. 2", json={"entered": changed, "based_on": 1}).json()["revision"] == 2
    late = client.put("/api/profiles/no. 2", json={"entered": {**entered, "play_mm": 0.05}, "based_on": 1})
    assert late.status_code == 409 and late.json()["faults"]
    wrong = client.put("/api/profiles/other", json={"entered": {"name": "x", "pin": {"kind": "bent"}}})
    assert wrong.status_code == 422 and wrong.json()["faults"]
    assert [one["name"] for one in client.get("/api/profiles").json()] == ["no. 2"]
    fresh = client.post("/api/cases", json={"code": "B"}).json()["case"]
    used = client.post(f"/api/cases/{fresh['id']}/profile", json={"name": "no. 2", "based_on": 1})
    assert used.status_code == 200, used.text
    assert used.json()["case"]["entered"]["instrument"]["play_mm"] == "0.04"
    assert used.json()["case"]["entered"]["instrument"]["pin"]["ahead_mm"] == "110 +- 0,5"
    assert (
        client.post(f"/api/cases/{fresh['id']}/profile", json={"name": "none", "based_on": 1}).status_code
        == 404
    )
    assert client.delete("/api/profiles/no. 2", params={"based_on": 2}).json() == []


def test_the_procedure_is_ticked_by_edits(client: Client) -> None:
    made = client.post("/api/cases", json={"code": "C"}).json()["case"]
    steps = client.get(f"/api/cases/{made['id']}/procedure").json()
    assert len(steps) >= 15 and {one["state"] for one in steps} == {"to come"}
    first = steps[0]
    saved = edit(client, made["id"], 1, **{f"{first['field']}.met": True, f"{first['field']}.by": "QP"})
    assert saved.status_code == 200, saved.text
    again = client.get(f"/api/cases/{made['id']}/procedure").json()
    assert again[0]["met"] is True and again[0]["by"] == "QP" and again[0]["state"] in ("met", "asked")
    assert all(one["words"] for one in again)


def test_pours_of_all_cases_in_the_order_of_what_comes_next(tmp_path: Path) -> None:
    now = dt.datetime.now(dt.UTC).replace(microsecond=0)
    sheet = {"mix_s": 40, "work_min": 2.5, "set_min": 5, "release_min": 45}

    def pour(client: Client, code: str, ago_min: float, **more: Any) -> int:
        case_id: int = client.post("/api/cases", json={"code": code}).json()["case"]["id"]
        met = (now - dt.timedelta(minutes=ago_min)).isoformat()
        entry = {"cast": "lower", "powder_met_water": met, **sheet, **more}
        edits = [{"field": "pours.first", "value": entry}]
        answer = client.post(f"/api/cases/{case_id}/edits", json={"based_on": 1, "edits": edits})
        assert answer.status_code == 200, answer.text
        return case_id

    with bench(tmp_path) as client:
        over = (now - dt.timedelta(minutes=50)).isoformat()
        pour(client, "RELEASED", 100, hands_off=(now - dt.timedelta(minutes=97)).isoformat(), released=over)
        pour(client, "LATER", 10, hands_off=(now - dt.timedelta(minutes=8)).isoformat())
        soon = pour(client, "SOON", 43, hands_off=(now - dt.timedelta(minutes=41)).isoformat())
        client.post("/api/cases", json={"code": "NO POUR"})
        away = pour(client, "AWAY", 10)
        client.post(f"/api/cases/{away}/state", json={"state": "put away"})
        found = client.get("/api/pours").json()
        assert [one["code"] for one in found["pours"]] == ["SOON", "LATER"]
        first = found["pours"][0]
        assert first["next"]["key"] == "release" and first["case_id"] == soon and first["late"] is None
        assert first["field"] == "pours.first" and first["revision"] == 2
        release = dt.datetime.fromisoformat(first["next"]["at"])
        assert release == now + dt.timedelta(minutes=2)
        assert [one["key"] for one in first["marks"]] == ["mix", "poured", "hands_off", "set", "release"]
    with Store(tmp_path) as store:
        assert store.check() == ()


def test_the_page_and_nothing_beside_it_is_served(client: Client) -> None:
    page = client.get("/")
    assert page.status_code == 200 and "text/html" in page.headers["content-type"]
    assert client.get("/", headers={"If-None-Match": page.headers["etag"]}).status_code == 304
    for path in (
        "/server.py",
        "/..%2f..%2fapp.py",
        "/%2e%2e/app.py",
        "/.vite/manifest.json",
        "//etc/passwd",
    ):
        assert client.get(path).status_code == 404, path
    assert client.get("/api/nothing").status_code == 404
    assert client.get("/api/nothing").json()["faults"][0]["code"] == "page.missing"
    assert client.request("PATCH", "/api/cases").status_code == 405
