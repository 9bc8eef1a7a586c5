"""Files in and out over HTTP: bundles, case files, the printed sheet, tables."""

from __future__ import annotations

import io
import threading
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from mountproof.case.store import Store
from mountproof.surfaces.demo_case import make_demo
from mountproof.surfaces.web.works import Works
from surfaces.web.bench_client import CASE, Client, bench, bring_in, edit


@pytest.fixture()
def client(tmp_path: Path) -> Iterator[Client]:
    with bench(tmp_path / "store") as client:
        yield client


def test_a_case_file_goes_in_and_out_byte_for_byte(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    answer = client.get(f"/api/cases/{case_id}/case.toml")
    assert answer.content == CASE.read_bytes()
    assert answer.headers["content-disposition"] == 'attachment; filename="case.toml"'
    edit(client, case_id, 1, bench__powder_g=120)
    assert client.get(f"/api/cases/{case_id}/case.toml", params={"revision": 1}).content == CASE.read_bytes()


def test_a_bundle_carries_a_case_with_its_history_elsewhere(client: Client, tmp_path: Path) -> None:
    case_id = bring_in(client)["case"]["id"]
    edit(client, case_id, 1, bench__powder_g=120)
    bundle = client.get(f"/api/cases/{case_id}/bundle.zip")
    assert bundle.status_code == 200 and bundle.headers["content-type"] == "application/zip"
    assert bundle.content == client.get(f"/api/cases/{case_id}/bundle.zip").content
    with bench(tmp_path / "other") as other:
        first = other.post("/api/cases", json={"code": "OTHER"}).json()["case"]["id"]
        came = bring_in(other, bundle.content)
        assert came["case"]["id"] != first and came["case"]["revision"] == 2
        assert len(other.get(f"/api/cases/{came['case']['id']}/history").json()) == 2
        assert bring_in(other, bundle.content)["case"]["id"] == came["case"]["id"], "the same case again"
        edit(other, came["case"]["id"], 2, bench__powder_g=121)
        edit(client, case_id, 2, bench__powder_g=122)
        newer = client.get(f"/api/cases/{case_id}/bundle.zip").content
        apart = other.post("/api/cases/bring-in", content=newer)
        assert apart.status_code == 422 and apart.json()["faults"][0]["code"] == "bundle.diverged"
        own = other.post("/api/cases/bring-in", params={"as_new": "true"}, content=newer)
        assert own.status_code == 200 and own.json()["case"]["id"] not in (first, came["case"]["id"])


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b"", "case.missing_field"),
        (b"code = 'A'\nmarks = 5\n", "case.wrong_type"),
        (b"\xff\xfe\x00c", "case.not_text"),
        (b"PK\x03\x04 no zip at all", "bundle.not_a_bundle"),
        (b"PK\x03\x04", "bundle.not_a_bundle"),
        (b"code = 'A'\n[[scans]]\narch = 'upper'\nfile = 'u.stl'\nunit = 'mm'\n", "case.reference"),
        (b"#" * 2_100_000, "case.too_large"),
    ],
)
def test_what_is_no_case_is_refused_and_nothing_is_kept(
    client: Client, tmp_path: Path, body: bytes, code: str
) -> None:
    answer = client.post("/api/cases/bring-in", params={"name": r"C:\somewhere\mine.zip"}, content=body)
    assert 400 <= answer.status_code < 500, answer.text
    assert code in {one["code"] for one in answer.json()["faults"]}, answer.text
    assert str(tmp_path) not in answer.text
    assert client.get("/api/cases").json()["cases"] == []
    incoming = tmp_path / "store" / "scans" / "incoming"
    assert not incoming.is_dir() or not any(incoming.iterdir())


def test_the_sheet_is_printed(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    answer = client.get(f"/api/cases/{case_id}/report.pdf")
    assert answer.content.startswith(b"%PDF-") and answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'attachment; filename="KESTREL-0417.pdf"'
    assert answer.content == client.get(f"/api/cases/{case_id}/report.pdf").content


def test_contacts_go_out_as_tables(tmp_path: Path) -> None:
    make_demo(tmp_path / "demo", triangles=12_000)
    with Store(tmp_path / "store") as store:
        case_id = store.import_folder(tmp_path / "demo", "QP").case_id
    with bench(tmp_path / "store") as client:
        answer = client.get(f"/api/cases/{case_id}/export.zip", params={"decimal_comma": "true"})
        assert answer.status_code == 200, answer.text
        with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
            names = archive.namelist()
            table = next(archive.read(name).decode() for name in names if name.endswith(".csv"))
        assert {name.rsplit(".", 1)[-1] for name in names} == {"csv", "json", "ply"}
        assert ";" in table and "," in table


def test_without_scans_there_is_nothing_to_export(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    answer = client.get(f"/api/cases/{case_id}/export.zip")
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["code"] == "export.nothing"
    assert "scan" in answer.json()["faults"][0]["todo"]


def test_a_name_of_any_kind_becomes_the_name_of_a_file(client: Client) -> None:
    made = client.post("/api/cases", json={"code": 'ä"; ../\u202e☃ x'}).json()
    answer = client.get(f"/api/cases/{made['case']['id']}/bundle.zip")
    assert answer.headers["content-disposition"].isascii()
    assert (
        "/" not in answer.headers["content-disposition"]
        and '"; ' not in answer.headers["content-disposition"]
    )


def test_the_demo_comes_with_its_casts(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(make_demo.__kwdefaults__, "triangles", 12_000)
    made = client.post("/api/cases", json={"demo": True})
    assert made.status_code == 200, made.text
    assert [one["file"] for one in made.json()["case"]["scans"]] == ["upper.stl", "lower.stl"]
    assert made.json()["sheet"]["work"]


def test_the_demo_can_be_stopped(client: Client, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from mountproof.phantom import arch

    whole = arch.build_arch
    begun, go = threading.Event(), threading.Event()

    def slow(*given: Any) -> Any:
        begun.set()
        assert go.wait(20.0)
        return whole(given[0], 5000)

    monkeypatch.setattr(arch, "build_arch", slow)
    names: list[str] = []
    monkeypatch.setattr(
        Works,
        "begin",
        lambda self, name, *rest, _begin=Works.begin: names.append(name) or _begin(self, name, *rest),
    )
    with ThreadPoolExecutor(1) as pool:
        answer = pool.submit(client.post, "/api/cases", json={"demo": True})
        assert begun.wait(20.0)
        assert client.delete(f"/api/work/{names[0]}").status_code == 200
        go.set()
        assert answer.result(20.0).status_code == 422
        assert answer.result().json()["faults"][0]["code"] == "work.stopped"
    assert client.get("/api/cases").json()["cases"] == []
    assert not list((tmp_path / "store").rglob("*.stl"))


def test_every_paper_is_a_pdf_in_the_language_asked_for(client: Client) -> None:
    case_id = bring_in(client)["case"]["id"]
    for which in ("prescription", "patient", "before-cutting", "message"):
        answer = client.get(f"/api/cases/{case_id}/papers/{which}.pdf", headers={"Accept-Language": "de"})
        assert answer.content.startswith(b"%PDF") and b"/Lang(de)" in answer.content
        assert f'-{which}.pdf"' in answer.headers["content-disposition"]
    refused = client.get(f"/api/cases/{case_id}/papers/invoice.pdf")
    assert 400 <= refused.status_code < 500 and refused.json()["faults"][0]["code"] == "paper.unknown"
