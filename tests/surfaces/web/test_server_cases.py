"""Cases over HTTP: the list, new ones, edits as typed, history, undo, states, acceptances."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from mountproof.case.store import Store
from surfaces.web.bench_client import CASE, Client, bench, bring_in, edit


@pytest.fixture()
def client(tmp_path: Path) -> Iterator[Client]:
    with bench(tmp_path) as client:
        yield client


def answers(sheet: dict[str, Any]) -> dict[str, Any]:
    return {one["key"]: one for one in sheet["answers"]}


def test_a_new_case_has_its_code_and_eight_answers(client: Client) -> None:
    made = client.post("/api/cases", json={"code": "  HERON-1 "}).json()
    assert made["case"]["code"] == "HERON-1"
    assert made["case"]["entered"] == {"schema_version": 1, "code": "HERON-1"}
    assert [one["number"] for one in made["sheet"]["answers"]] == [1, 2, 3, 4, 5, 6, 7, 8]
    assert made["sheet"]["work"] is None
    assert made["sheet"]["next"]
    states = {key: one["state"] for key, one in answers(made["sheet"]).items()}
    assert set(states.values()) <= {"ready", "not built"}
    assert states["pin"] == "ready"


def test_a_new_case_without_a_code_gets_one(client: Client) -> None:
    assert len(client.post("/api/cases", json={}).json()["case"]["code"]) >= 10


@pytest.mark.parametrize("code", ["a\nb", "x" * 65, "\x00"])
def test_a_code_that_is_none_is_a_fault(client: Client, code: str) -> None:
    answer = client.post("/api/cases", json={"code": code})
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["todo"]
    assert client.get("/api/cases").json()["cases"] == []


def test_the_list_searches_sorts_and_goes_on(client: Client) -> None:
    for code in ("HERON-1", "egret 2", "HERON-3", "kestrel"):
        client.post("/api/cases", json={"code": code})
    newest = client.get("/api/cases").json()
    assert [one["code"] for one in newest["cases"]] == ["kestrel", "HERON-3", "egret 2", "HERON-1"]
    assert newest["next"] is None and newest["cases"][0]["age"] == "just now"
    by_code = client.get("/api/cases", params={"order": "code", "most": 3}).json()
    assert [one["code"] for one in by_code["cases"]] == ["egret 2", "HERON-1", "HERON-3"]
    rest = client.get("/api/cases", params={"order": "code", "most": 3, "after": by_code["next"]}).json()
    assert [one["code"] for one in rest["cases"]] == ["kestrel"]
    assert [
        one["code"] for one in client.get("/api/cases", params={"search": "heron 3"}).json()["cases"]
    ] == ["HERON-3"]
    assert client.get("/api/cases", params={"after": "[1,2"}).status_code == 422


def test_edits_are_kept_as_typed(client: Client) -> None:
    made = bring_in(client)
    case_id = made["case"]["id"]
    saved = edit(client, case_id, 1, bench__powder_g="120,50", caliper__resolution_mm="0.050").json()
    assert saved["case"]["revision"] == 2
    assert saved["case"]["entered"]["bench"]["powder_g"] == "120,50"
    assert saved["case"]["entered"]["caliper"]["resolution_mm"] == "0.050"
    text = client.get(f"/api/cases/{case_id}/case.toml").text
    remarks = [line for line in CASE.read_text().splitlines() if line.startswith("#")]
    assert all(line in text for line in remarks)


def test_a_cell_is_kept_as_typed_and_its_answers_follow(client: Client) -> None:
    made = bring_in(client)
    case_id = made["case"]["id"]
    saved = edit(client, case_id, 1, **{"marks.readings_mm.UR-LR.B": "38,15/38.20"}).json()
    cell = cell_of(saved["case"], "UR-LR", "B")
    assert cell["repeats"] == [38.15, 38.2]
    assert cell["shown"].replace(",", ".") == "38.15/38.20"
    before, after = answers(made["sheet"])["pin"], answers(saved["sheet"])["pin"]
    assert before["digest"] != after["digest"]
    assert answers(made["sheet"])["stone"] == answers(saved["sheet"])["stone"]


def cell_of(case: dict[str, Any], pair: str, state: str) -> dict[str, Any]:
    grid = case["marks"][0]
    at = [one["name"] for one in grid["states"]].index(state)
    row = next(one for one in grid["rows"] if one["pair"] == pair)
    found: dict[str, Any] = row["cells"][at]
    return found


def test_the_name_of_a_cell_is_the_entry_to_change(client: Client) -> None:
    case = bring_in(client)["case"]
    for row in case["marks"][0]["rows"][:3]:
        field = row["cells"][1]["field"]
        answer = client.post(
            f"/api/cases/{case['id']}/edits",
            json={"based_on": case["revision"], "edits": [{"field": field, "value": None}]},
        )
        assert answer.status_code == 200, answer.text
        case = answer.json()["case"]
        assert cell_of(case, row["pair"], "B")["shown"] == ""


def test_an_entry_that_does_not_fit_changes_nothing(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    answer = edit(client, case_id, 1, bench__powder_g=-5, bench__water_ml=30)
    assert answer.status_code == 422
    fault = answer.json()["faults"][0]
    assert fault["field"] == "bench.powder_g" and fault["todo"] and fault["allowed"]
    assert client.get(f"/api/cases/{case_id}").json()["revision"] == 1


def test_trying_saves_nothing_and_asks_about_a_doubtful_cell(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    body = {"based_on": 1, "edits": [{"field": "marks.readings_mm.UR-LR.B", "value": "83.05"}]}
    tried = client.post(f"/api/cases/{case_id}/try", json=body)
    assert tried.status_code == 200, tried.text
    cell = cell_of(tried.json()["case"], "UR-LR", "B")
    assert cell["asked"] and cell["suggestion"] == "38.05"
    assert cell_of(tried.json()["case"], "UA-LA", "B")["asked"] == ""
    reason = next(r for a in tried.json()["sheet"]["answers"] for r in a["reasons"] if r["field"])
    assert reason["field"] == "marks.readings_mm.UR-LR.B" == cell["field"]
    assert client.get(f"/api/cases/{case_id}").json()["revision"] == 1
    assert cell_of(client.get(f"/api/cases/{case_id}").json(), "UR-LR", "B")["asked"] == ""


def test_the_same_entry_changed_twice_is_a_conflict_with_both_values(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    assert edit(client, case_id, 1, bench__powder_g=120).status_code == 200
    other = edit(client, case_id, 1, bench__water_ml=30)
    assert other.status_code == 200 and other.json()["case"]["entered"]["bench"]["powder_g"] == 120
    same = edit(client, case_id, 1, bench__powder_g=130)
    assert same.status_code == 409
    conflict = same.json()["conflicts"][0]
    assert (conflict["mine"], conflict["theirs"], conflict["base"]) == ("130", "120", "116")
    assert conflict["who"] == "QP" and same.json()["revision"] == 2
    assert same.json()["faults"]


def test_history_and_undo(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    edit(client, case_id, 1, bench__powder_g=120)
    edit(client, case_id, 2, bench__water_ml=30)
    history = client.get(f"/api/cases/{case_id}/history").json()
    assert [one["number"] for one in history] == [3, 2, 1]
    assert history[1]["changes"] == [{"field": "bench.powder_g", "old": "116", "new": "120"}]
    undone = client.post(f"/api/cases/{case_id}/undo", json={"number": 2}).json()
    assert float(undone["case"]["entered"]["bench"]["powder_g"]) == 116
    assert undone["case"]["entered"]["bench"]["water_ml"] == 30
    assert client.post(f"/api/cases/{case_id}/undo", json={"number": 1}).status_code == 404
    old = client.get(f"/api/cases/{case_id}", params={"revision": 2}).json()
    assert old["entered"]["bench"]["powder_g"] == 120 and not old["newest"]
    assert client.get(f"/api/cases/{case_id}", params={"revision": 99}).status_code == 404


def test_states(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    saved = client.post(f"/api/cases/{case_id}/state", json={"state": "put away"}).json()
    assert saved["case"]["state"] == "put away"
    assert client.get("/api/cases", params={"state": "open"}).json()["cases"] == []
    assert len(client.get("/api/cases", params={"state": "put away"}).json()["cases"]) == 1
    assert client.post(f"/api/cases/{case_id}/state", json={"state": "lost"}).status_code == 422


def test_what_was_accepted_goes_out_of_date(client: Client) -> None:
    made = bring_in(client)
    case_id, digest = made["case"]["id"], answers(made["sheet"])["pin"]["digest"]
    body = {"question": "pin", "digest": digest}
    accepted = client.post(f"/api/cases/{case_id}/accept", json=body).json()
    assert answers(accepted["sheet"])["pin"]["accepted"]["out_of_date"] is False
    edited = edit(client, case_id, 1, **{"marks.readings_mm.UR-LR.B": 38.2}).json()
    assert answers(edited["sheet"])["pin"]["accepted"]["out_of_date"] is True
    late = client.post(f"/api/cases/{case_id}/accept", json=body)
    assert late.status_code == 409 and late.json()["revision"] == 2 and late.json()["conflicts"] == []
    back = client.delete(f"/api/cases/{case_id}/accept/pin").json()
    assert answers(back["sheet"])["pin"]["accepted"] is None
    assert client.delete(f"/api/cases/{case_id}/accept/nothing").status_code == 422


def test_what_this_version_does_not_answer_cannot_be_accepted(client: Client) -> None:
    made = bring_in(client)
    for key, one in answers(made["sheet"]).items():
        body = {"question": key, "digest": one["digest"]}
        status = client.post(f"/api/cases/{made['case']['id']}/accept", json=body).status_code
        assert status == (200 if one["state"] == "ready" else 409), key


@pytest.mark.parametrize(
    "path",
    ["", "/sheet", "/history", "/procedure", "/report.pdf", "/bundle.zip", "/case.toml", "/export.zip"],
)
@pytest.mark.parametrize("case_id", [99, 2**53 - 1])
def test_an_unknown_case_is_not_found(client: Client, path: str, case_id: int) -> None:
    answer = client.get(f"/api/cases/{case_id}{path}")
    assert answer.status_code == 404
    assert answer.json()["faults"][0]["code"] == "store.missing"


@pytest.mark.parametrize("path", ["0", "-1", "x", str(2**53), "1.5"])
def test_a_number_that_is_none_is_a_fault(client: Client, path: str) -> None:
    answer = client.get(f"/api/cases/{path}")
    assert answer.status_code == 422 and answer.json()["faults"][0]["code"] == "request.value"


@pytest.mark.parametrize("who", ["", "%20", "x" * 65, "%00", "%0A"])
def test_a_change_needs_to_say_who_makes_it(client: Client, who: str) -> None:
    answer = client.post("/api/cases", json={"code": "A"}, headers={"X-Who": who})
    assert answer.status_code == 400 and answer.json()["faults"][0]["code"] == "request.who"


def test_who_may_be_written_in_any_letters(client: Client) -> None:
    made = client.post("/api/cases", json={"code": "A"}, headers={"X-Who": "%C3%96.%20M%C3%BCller"}).json()
    assert made["case"]["who"] == "Ö. Müller"


def test_nothing_is_lost_when_the_server_starts_again(tmp_path: Path) -> None:
    with bench(tmp_path) as client:
        case_id = bring_in(client)["case"]["id"]
        edit(client, case_id, 1, bench__powder_g="120,5")
    with bench(tmp_path) as client:
        assert client.get(f"/api/cases/{case_id}").json()["entered"]["bench"]["powder_g"] == "120,5"
    with Store(tmp_path) as store:
        assert store.check() == ()


def test_a_question_that_breaks_the_program_keeps_only_itself_back(
    client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    from mountproof.answers import stone

    def breaks(*_: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(stone, "answer", breaks)
    with caplog.at_level("ERROR", "mountproof.web"):
        made = bring_in(client)
    found = answers(made["sheet"])
    assert found["stone"]["verdict"] == "cannot tell" and "ZeroDivisionError" in found["stone"]["headline"]
    assert found["pin"]["verdict"] != "cannot tell" and found["mounting"]["quantities"]
    assert [one["code"] for one in made["sheet"]["faults"]] == ["program.broken"]
    assert "question stone" in caplog.text
