"""Nothing outside the data folder is read or written through the server, whatever is asked of it."""

from __future__ import annotations

import http.client
import io
import json
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from case.store.test_store_bundle import HOSTILE, filled, parts_of
from mountproof.case.store import Store
from mountproof.faults import FaultError
from mountproof.surfaces.demo_case import make_demo
from mountproof.surfaces.web.access_folders import passing_folder, require_inside
from mountproof.surfaces.web.app import create_app
from surfaces.web.access_bench import DESK, Served, desk_cookie, served
from surfaces.web.bench_client import Client, bench
from surfaces.web.opened_files import opened_files, outside

SECRET = "the secret of another folder"


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a secret in it, and the store beside."""
    folder = tmp_path_factory.mktemp("home")
    (folder / "secret.stl").write_text(SECRET)
    (folder / "case.toml").write_text(f'code = "{SECRET}"\n')
    return folder


@pytest.fixture(scope="module")
def asked(home: Path) -> Iterator[Client]:
    """A bench with the demo case, its two scans, and nothing else."""
    with bench(home / "store") as client:
        make_demo(home / "demo", triangles=6_000)
        with Store(home / "store") as store:
            store.import_folder(home / "demo", "QP")
        client.get("/api/cases/1/report.pdf")
        yield client


def odd_names(home: str = "") -> list[str]:
    """Return names that lead elsewhere where nobody looks at them."""
    up = [
        "../secret.stl",
        "../../secret.stl",
        "..\\secret.stl",
        "/etc/passwd",
        "file:///etc/passwd",
        "~/x",
        "C:\\x",
        "\\\\host\\x",
    ]
    inner = [
        "a/../../secret.stl",
        "./../secret.stl",
        "....//secret.stl",
        "%2e%2e/secret.stl",
        "..%2fsecret.stl",
        "..%00/x",
        "secret.stl\x00.png",
    ]
    own = [
        "web.key",
        "cases.sqlite",
        "../web.key",
        "..",
        ".",
        "",
        " ",
        "con",
        "nul.stl",
        "a" * 300,
        "case.toml",
        "incoming/x",
    ]
    return [*up, *inner, *own, f"{home}/secret.stl", f"{home}/store/web.key"]


def as_written(served_bench: Served, method: str, path: str) -> tuple[int, bytes]:
    line = http.client.HTTPConnection(DESK, served_bench.port, timeout=30)
    try:
        line.putrequest(method, path, skip_accept_encoding=True)
        line.putheader("Cookie", desk_cookie(served_bench))
        line.putheader("X-Who", "TS")
        line.endheaders()
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


def test_no_address_leads_out_of_the_page_or_the_store(tmp_path: Path) -> None:
    """Every place in every address, written in every way, on a real server."""
    (tmp_path / "secret.stl").write_text(SECRET)
    with served(tmp_path / "store") as one:
        key = (tmp_path / "store" / "web.key").read_text()
        one.desk.post("/api/cases", json={"code": "ONE"})
        ways = []
        for name in odd_names(str(tmp_path)):
            texts = (name, quote(name, safe=""), quote(quote(name, safe=""), safe=""), quote(name))
            ways += [text for text in texts if text.isascii() and text.isprintable() and " " not in text]
        paths = [path for path in one.app.openapi()["paths"] if "{" in path]
        assert len(paths) > 20
        with opened_files() as found:
            for at, text in enumerate(ways):
                for path in ("/{x}", "/assets/{x}", "/api/{x}", paths[at % len(paths)]):
                    whole = path.replace("{arch}", "upper") if at % 2 else path
                    while "{" in whole:
                        start, stop = whole.index("{"), whole.index("}")
                        whole = whole[:start] + text + whole[stop + 1 :]
                    if len(whole) > 8000 or whole.startswith("/api/events"):
                        continue
                    status, body = as_written(one, "GET", whole)
                    assert status < 500, (whole, body)
                    assert (
                        SECRET.encode() not in body and key.encode() not in body and b"root:" not in body
                    ), whole
        assert not outside(found, tmp_path / "store")


@pytest.mark.parametrize("field", ["scans.1.file", "scans.1.teeth_file"])
def test_no_entry_of_a_case_leads_out(asked: Client, home: Path, field: str) -> None:
    """Names of files typed into a case: refused, or a file of the case that is not there; never one of another folder."""
    seen = asked.get("/api/cases/1").json()["revision"]
    with opened_files() as found:
        for name in odd_names(str(home)):
            body = {"based_on": seen, "edits": [{"field": field, "value": name}]}
            for call in ("edits", "try"):
                answer = asked.post(f"/api/cases/1/{call}", json=body)
                assert answer.status_code < 500, (name, answer.text)
                assert SECRET not in answer.text
                if answer.status_code < 400 and call == "edits":
                    assert asked.get("/api/cases/1/bundle.zip").status_code < 500
                    assert SECRET.encode() not in asked.get("/api/cases/1/bundle.zip").content
                    number = answer.json()["case"]["revision"]
                    if number != seen:
                        asked.post("/api/cases/1/undo", json={"number": number})
                        seen = asked.get("/api/cases/1").json()["revision"]
    assert not outside(found, home / "store")


def test_no_file_that_is_brought_in_leads_out(asked: Client, home: Path) -> None:
    """A case.toml that names files elsewhere, under file names that lead elsewhere."""
    before = sorted(path for path in home.rglob("*") if not path.is_relative_to(home / "store"))
    with opened_files() as found:
        for name in odd_names(str(home)):
            text = f'code = "X"\n[[scans]]\narch = "upper"\nunit = "mm"\nfile = {json.dumps(name)}\n'
            answer = asked.post("/api/cases/bring-in", params={"name": name}, content=text.encode())
            assert answer.status_code < 500, (name, answer.text)
            assert SECRET not in answer.text
            put = {"based_on": 1, "unit": "mm", "name": f"{name}.stl"}
            answer = asked.put("/api/cases/1/scans/upper", params=put, content=b"solid nothing\nendsolid\n")
            assert answer.status_code < 500, (name, answer.text)
    assert not outside(found, home / "store")
    assert sorted(path for path in home.rglob("*") if not path.is_relative_to(home / "store")) == before


@pytest.mark.parametrize("name", ["path up", "path up inside", "absolute", "drive", "backslash", "symlink", "device", "bomb",
                                  "file name up", "uid", "sizes that lie", "flipped bit", "too many"])  # fmt: skip
def test_no_hostile_bundle_leads_out(asked: Client, home: Path, tmp_path: Path, name: str) -> None:
    with filled(tmp_path / "other") as store:
        parts = parts_of(store.export_bundle(2, tmp_path / "good.zip"))
    before = {path for path in home.rglob("*") if not path.is_relative_to(home / "store")}
    cases = asked.get("/api/cases").json()
    with opened_files() as found:
        answer = asked.post(
            "/api/cases/bring-in", params={"name": "../../evil.zip"}, content=HOSTILE[name][1](parts)
        )
    assert 400 <= answer.status_code < 500, answer.text
    assert answer.json()["faults"][0]["code"] == HOSTILE[name][0]
    assert not outside(found, home / "store")
    assert {path for path in home.rglob("*") if not path.is_relative_to(home / "store")} == before
    assert asked.get("/api/cases").json() == cases
    assert not list((home / "store" / "scans" / "incoming").iterdir())


def test_links_in_the_data_folder_lead_nowhere(home: Path, tmp_path: Path) -> None:
    """A stored scan that was made a link to another file is not given out, by whichever way it is asked for."""
    with bench(tmp_path / "store") as client:
        with Store(tmp_path / "store") as store:
            case = store.import_folder(home / "demo", "QP").case_id
            with store.snapshot() as snapshot:
                files = snapshot.head(case).files
            for sha256 in files.values():
                place = store.scans.path(sha256)
                secret = tmp_path / f"{sha256[:6]}.stl"
                secret.write_bytes(SECRET.encode().ljust(place.stat().st_size, b"."))
                place.unlink()
                place.symlink_to(secret)
            for view in store.place.views.glob("*/*.stl"):
                target = tmp_path / f"{files[view.name][:6]}.stl"
                view.unlink()
                view.symlink_to(target)
        for path in (
            "bundle.zip",
            "scans/upper/mesh",
            "scans/upper/mesh.bin",
            "scene",
            "scene/motions",
            "export.zip",
            "report.pdf",
            "sheet",
        ):
            answer = client.get(f"/api/cases/{case}/{path}")
            assert answer.status_code < 500, (path, answer.text)
            assert SECRET.encode() not in answer.content
            assert answer.status_code >= 400 or path in ("report.pdf", "sheet", "scene", "scene/motions"), (
                path
            )


@pytest.mark.parametrize("name", ["scans", "views", "scans/ab", "cases.sqlite"])
def test_a_store_with_a_link_out_of_it_is_not_served(tmp_path: Path, name: str) -> None:
    with Store(tmp_path / "store") as store:
        place = store.place
    elsewhere = tmp_path / "elsewhere"
    link = place.folder / name
    if link.exists():
        link.rename(elsewhere)
    else:
        elsewhere.mkdir()
        link.parent.mkdir(exist_ok=True)
    link.symlink_to(elsewhere)
    with pytest.raises(FaultError) as caught:
        create_app(place.folder)
    assert caught.value.faults[0].code == "store.link"
    link.unlink()
    elsewhere.rename(link)
    require_inside(place)


def test_a_link_to_the_whole_folder_is_the_users_own_affair(tmp_path: Path) -> None:
    with Store(tmp_path / "store"):
        pass
    (tmp_path / "link").symlink_to(tmp_path / "store")
    with bench(tmp_path / "link") as client:
        assert client.get("/api/cases").status_code == 200


def test_what_passes_through_the_disk_is_the_owners_alone_and_goes(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store:
        with passing_folder(store) as folder:
            assert folder.is_relative_to(store.place.folder)
            assert folder.stat().st_mode & 0o077 == 0
            (folder / "x").write_text("x")
        assert not folder.exists()


# --- whatever is asked, at random

NAMES = st.one_of(
    st.sampled_from(odd_names()),
    st.text(max_size=12),
    st.sampled_from(["1", "2", "upper", "lower", "pin", "0.5"]),
)
JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-5, 9), st.floats(allow_nan=False), NAMES),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)


def zipped(name: str, data: bytes) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w") as archive:
        archive.writestr(name.replace("\x00", "?") or "x", data)
    return sink.getvalue()


FILES = st.one_of(
    st.binary(max_size=60),
    NAMES.map(lambda name: f"code = {json.dumps(name)}\n".encode("utf-8", "replace")),
    st.builds(zipped, NAMES.filter(lambda name: name.isprintable()), st.binary(max_size=20)),
    st.just(
        b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid a\n"
    ),
)


def shapes(app: Any, name: str) -> dict[str, Any]:
    """Return the entries of a body by name, as the description of the server has them."""
    found: dict[str, Any] = app.openapi()["components"]["schemas"][name].get("properties", {})
    return found


@st.composite
def requests(
    draw: st.DrawFn, paths: dict[str, Any], app: Any
) -> tuple[str, str, dict[str, str], dict[str, Any]]:
    path = draw(st.sampled_from([one for one in sorted(paths) if one not in ("/api/events", "/api/pair")]))
    method = draw(st.sampled_from(sorted(paths[path])))
    about = paths[path][method]
    query = {}
    for one in about.get("parameters", ()):
        if one["in"] == "path":
            value = draw(st.one_of(st.just("1"), NAMES) if one["name"] == "id" else NAMES)
            path = path.replace("{" + one["name"] + "}", quote(value.encode("utf-8", "replace"), safe=""))
        elif one["in"] == "query" and draw(st.booleans()):
            query[one["name"]] = draw(NAMES).encode("utf-8", "replace").decode()
    body = about.get("requestBody", {}).get("content", {})
    if "application/json" in body:
        entries = shapes(app, body["application/json"]["schema"]["$ref"].rpartition("/")[2])
        value = draw(st.one_of(JSON, st.fixed_dictionaries(dict.fromkeys(entries, JSON))))
        return (
            method,
            path,
            query,
            {"content": json.dumps(value).encode(), "headers": {"Content-Type": "application/json"}},
        )
    return method, path, query, {"content": draw(FILES)} if body else {}


def test_no_request_touches_a_file_elsewhere(asked: Client, home: Path) -> None:
    app = asked.asking._transport.app  # type: ignore[attr-defined]
    paths = app.openapi()["paths"]

    @settings(max_examples=250, suppress_health_check=[HealthCheck.too_slow])
    @given(requests(paths, app))
    def whatever(asks: tuple[str, str, dict[str, str], dict[str, Any]]) -> None:
        method, path, query, body = asks
        with opened_files() as found:
            try:
                answer = asked.request(method.upper(), path, params=query, **body)
            except httpx.InvalidURL:
                return
            assert answer.status_code < 500, answer.text
        assert not outside(found, home / "store")
        assert SECRET.encode() not in answer.content

    whatever()
    with opened_files() as found:
        time.sleep(1.0)
    assert not outside(found, home / "store")


def test_what_listens_for_files_hears_them(home: Path, tmp_path: Path) -> None:
    """The tests above prove nothing where nobody hears."""
    with opened_files() as found, bench(tmp_path / "store") as client:

        @client.asking._transport.app.get("/api/leak")  # type: ignore[attr-defined]
        def leak() -> str:
            (tmp_path / "made").write_text("x")
            return (home / "secret.stl").read_text()

        app = client.asking._transport.app  # type: ignore[attr-defined]
        app.router.routes.insert(0, app.router.routes.pop())
        assert SECRET in client.get("/api/leak").text
    found = outside(found, tmp_path / "store")
    assert {(one.path, one.writes) for one in found} == {
        (tmp_path / "made", True),
        (home / "secret.stl", False),
    }
    with opened_files() as linked:
        (tmp_path / "store" / "link").symlink_to(home / "secret.stl")
        (tmp_path / "store" / "link").read_text()
    assert [one.event for one in outside(linked, tmp_path / "store")][-1] == "open"
