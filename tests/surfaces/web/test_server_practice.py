"""What all cases come to together, asked over the network: read a little at a time, the numbers those of the answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from mountproof.answers.many_cases import many_cases
from mountproof.answers.progress import quiet
from mountproof.answers.store_rows import rows_of_store
from mountproof.case.store.find import opened
from mountproof.phantom.many import write_many
from mountproof.surfaces.web.routes import practice
from surfaces.web.bench_client import Client, bench, bring_in, edit

MANY = 8


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("practice")


@pytest.fixture(scope="module")
def client(place: Path):
    """A bench with eight invented cases, four of them of one course."""
    write_many(place / "cases", MANY, 11)
    with bench(place / "store") as found:
        for n, folder in enumerate(sorted((place / "cases").iterdir())):
            text = (folder / "case.toml").read_text()
            course = 'course = "spring"\n' if n >= 4 else ""
            lines = [line for line in text.splitlines() if not line.startswith("course =")]
            bring_in(found, (course + "\n".join(lines)).encode())
        yield found


def asked(client: Client, **more) -> list[dict]:
    """Every answer until all cases are read."""
    told: list[dict] = []
    while not told or told[-1]["together"] is None:
        told.append(client.get("/api/practice", **more).json())
        assert len(told) < 100
    return told


def test_cases_are_read_a_little_at_a_time_and_none_twice(client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(practice, "_READS_S", 0.0)
    steps = asked(client)
    assert [s["cases"] for s in steps] == [MANY] * len(steps) and len(steps) > 2
    read = [s["read"] for s in steps]
    assert read == sorted(read) and read[-1] == MANY
    monkeypatch.setattr(practice, "_READS_S", 60.0)
    assert len(asked(client)) == 1


def test_what_is_told_is_what_the_answers_tell(client, place: Path) -> None:
    together = asked(client)[-1]["together"]
    with opened(place / "store") as store:
        found = many_cases(rows_of_store(store, quiet).rows)
    assert together["sentences"] == list(found.sentences)
    assert [c["drawing"]["name"] for c in together["charts"]] == [f"chart-{c.key}" for c in found.charts]
    assert [t["title"] for t in together["tables"]] == [t.title for t in found.tables]
    assert len(together["clouds"]) == len(found.courses) > 0
    codes = {m["text"] for m in together["clouds"][0]["marks"] if m.get("text", "").startswith("P-")}
    assert codes == {s.code for s in found.courses[0].standings}
    assert together["left_out"] == []
    german = asked(client, headers={"Accept-Language": "de"})[-1]["together"]
    assert german["sentences"] != together["sentences"]


def test_a_case_that_changes_is_read_again(client) -> None:
    assert asked(client)[-1]["together"]["sentences"][0].startswith(f"Cases: {MANY - 4}.")
    every = [client.get(f"/api/cases/{one['id']}").json() for one in client.get("/api/cases").json()["cases"]]
    plain = next(one for one in every if not one["entered"].get("course"))
    assert edit(client, plain["id"], plain["revision"], course="autumn").status_code == 200
    assert asked(client)[-1]["together"]["sentences"][0].startswith(f"Cases: {MANY - 5}.")
