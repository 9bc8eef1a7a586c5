"""The picture in space over HTTP: bytes that hold what the scene holds, the same numbers in list, table and tap."""

from __future__ import annotations

import asyncio
import gzip
import re
import time
from collections.abc import Callable, Iterator
from typing import Any
from xml.etree import ElementTree

import httpx
import numpy as np
import pytest

from answers import scene_case
from mountproof.surfaces.web.app import create_app

Send = Callable[..., httpx.Response]


@pytest.fixture(scope="module")
def send(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Send]:
    """A bench with the demo case and coarse casts as case 1; requests of the page of this computer."""
    folder = tmp_path_factory.mktemp("web")
    app = create_app(folder / "store", page={})
    cookies: dict[str, str] = {}

    def send(method: str, path: str, **more: Any) -> httpx.Response:
        async def one() -> httpx.Response:
            transport = httpx.ASGITransport(app=app)
            async with httpx.AsyncClient(
                transport=transport, base_url="http://127.0.0.1", cookies=cookies
            ) as client:
                answer = await client.request(
                    method, path, headers={"X-Who": "TS", **more.pop("headers", {})}, **more
                )
                cookies.update(client.cookies)
                return answer

        return asyncio.run(one())

    send("GET", f"/?key={app.state.key.word}")
    scene_case.write_casts(folder)
    text = re.sub(r"\[\[scans\]\][\s\S]*?(?=\n\[records)", "", scene_case.case_text())
    case = send("POST", "/api/cases/bring-in?name=case.toml", content=text.encode()).json()["case"]
    for arch in ("upper", "lower"):
        query = f"based_on={case['revision']}&unit=mm&name={arch}.stl"
        put = send("PUT", f"/api/cases/1/scans/{arch}?{query}", content=(folder / f"{arch}.stl").read_bytes())
        assert put.status_code == 200, put.text
        case = put.json()["case"]
    edits = [
        {"field": "scans.1.placement.frame_from_scan", "value": np.eye(4).tolist()},
        {"field": "scans.2.placement.with_other_arch", "value": True},
    ]
    body = {"based_on": case["revision"], "edits": edits, "what": "placed"}
    saved = send("POST", "/api/cases/1/edits", json=body)
    assert saved.status_code == 200, saved.text
    yield send
    app.state.bench.close()


@pytest.fixture(scope="module")
def shown(send: Send) -> dict[str, Any]:
    """The scene, once its answer is there."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        answer = send("GET", "/api/cases/1/scene")
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        if found["arches"]:
            return found
        assert found["work"]
        time.sleep(0.1)
    raise AssertionError("no scene")


def arrays(data: bytes, n: int, m: int) -> dict[str, np.ndarray]:
    """Cut the bytes of one arch as their description says."""
    at, out = 0, {}
    for name, kind, shape in (
        ("positions", "<f4", (n, 3)), ("turn", "<f4", (n,)), ("radius", "<f4", (n,)), ("faces", "<u4", (m, 3)),
        ("normals", "i1", (n, 4)), ("tooth", "u1", (n,)), ("state", "u1", (n,)),
    ):  # fmt: skip
        count = int(np.prod(shape))
        out[name] = np.frombuffer(data, kind, count, at).reshape(shape)
        at += count * np.dtype(kind).itemsize
    assert at == len(data)
    return out


def test_the_bytes_hold_the_surfaces(send: Send, shown: dict[str, Any]) -> None:
    assert [arch["arch"] for arch in shown["arches"]] == ["upper", "lower"]
    for arch in shown["arches"]:
        answer = send("GET", arch["url"])
        assert len(answer.content) == arch["bytes"]
        found = arrays(answer.content, arch["vertices"], arch["faces"])
        assert found["faces"].max() == arch["vertices"] - 1
        assert np.allclose(np.hypot(*found["positions"][:, :2].T), found["radius"], atol=1e-4)
        assert set(np.unique(found["state"])) <= {0, 1, 2}
        assert (found["turn"][found["state"] != 1] == 0).all()
        assert {16, 26} <= set(found["tooth"]) or {36, 46} <= set(found["tooth"])
        length = np.linalg.norm(found["normals"][:, :3], axis=1)
        assert (np.abs(length[length > 0] - 127) < 2).all()
        again = send("GET", arch["url"], headers={"If-None-Match": answer.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
    other = send("GET", shown["arches"][0]["url"], headers={"If-None-Match": '"other"'})
    assert other.status_code == 200


def test_the_smallest_gap_of_the_bytes_is_the_first_contact(send: Send, shown: dict[str, Any]) -> None:
    """What the shader draws at first contact touches there and nowhere overlaps, to the coarseness of the vertices."""
    closed = shown["steps"][shown["first"]]["closed_rad"]
    for arch in shown["arches"]:
        found = arrays(send("GET", arch["url"]).content, arch["vertices"], arch["faces"])
        left = ((found["turn"] - closed) * found["radius"])[found["state"] == 1]
        assert -1e-4 < left.min() < 0.25


def test_every_place_of_the_slider_says_the_same_as_the_list(send: Send, shown: dict[str, Any]) -> None:
    first = shown["first"]
    assert shown["now"]["step"] == first
    assert shown["now"] == send("GET", f"/api/cases/1/scene/stop/{first}").json()
    for step in (shown["stops"][0], shown["stops"][-1], 7):
        stop = send("GET", f"/api/cases/1/scene/stop/{step}").json()
        assert (stop["shown"], stop["pin"]) == (shown["steps"][step]["shown"], shown["steps"][step]["pin"])
        assert stop["closed_rad"] == shown["steps"][step]["closed_rad"]
        for site in stop["sites"]:
            assert site["along"] in site["words"] and site["point_shown"] in site["words"]
    gone = send("GET", f"/api/cases/1/scene/stop/{len(shown['steps'])}")
    assert gone.status_code >= 400
    assert gone.json()["faults"][0]["todo"]


def test_a_tap_and_its_faults(send: Send, shown: dict[str, Any]) -> None:
    face = {"arch": "upper", "face": 5, "weights": [0.2, 0.3, 0.5], "closed_rad": 0.01}
    there = send("POST", "/api/cases/1/scene/at", json=face).json()
    assert there["point_shown"] in there["words"]
    for wrong in ({"face": 10**8}, {"weights": [0, 0, 0]}, {"closed_rad": 9}):
        answer = send("POST", "/api/cases/1/scene/at", json={**face, **wrong})
        assert 400 <= answer.status_code < 500
        assert answer.json()["faults"][0]["todo"]


def test_the_other_language_has_its_own_signs(send: Send, shown: dict[str, Any]) -> None:
    german = send("GET", "/api/cases/1/scene?lang=de").json()
    assert re.search(r"\d,\d", german["steps"][0]["pin"])
    assert not re.search(r"\d\.\d", " ".join(site["words"] for site in german["now"]["sites"]))
    assert german["arches"] == shown["arches"]


def test_views_are_pictures_of_one_scale_with_sides_and_teeth(send: Send, shown: dict[str, Any]) -> None:
    wide = []
    for arch, tooth in (("upper", "16"), ("lower", "46")):
        answer = send("GET", f"/api/cases/1/scene/{arch}.svg?step={shown['stops'][-1]}")
        assert answer.headers["content-type"].startswith("image/svg+xml")
        root = ElementTree.fromstring(answer.content)
        said = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
        assert {"R", "L", tooth, "10 mm"} <= set(said)
        right, left = (
            next(t for t in root.iter("{http://www.w3.org/2000/svg}text") if t.text == s) for s in "RL"
        )
        assert float(right.get("x", "")) < float(left.get("x", ""))
        wide.append(root.get("width"))
        assert b"style=" not in answer.content
    assert wide[0] == wide[1]


def test_other_computers_get_the_bytes_made_smaller(
    monkeypatch: pytest.MonkeyPatch, send: Send, shown: dict[str, Any]
) -> None:
    from mountproof.surfaces.web.entry import Entry
    from mountproof.surfaces.web.routes import scene

    url = shown["arches"][0]["url"]
    plain = send("GET", url).content
    monkeypatch.setattr(scene, "entry_of", lambda _scope: Entry(False, "tablet"))
    squeezed = send("GET", url)
    assert squeezed.headers["content-encoding"] == "gzip"
    assert squeezed.content == plain
    assert int(squeezed.headers["content-length"]) < 0.75 * len(plain)
    assert gzip.decompress(scene.squeezed(plain)) == plain


def test_a_scan_as_it_lies_in_its_file_and_picks_on_it(send: Send) -> None:
    mesh = send("GET", "/api/cases/1/scans/lower/mesh").json()
    data = send("GET", mesh["url"]).content
    n, m = mesh["vertices"], mesh["faces"]
    assert len(data) == mesh["bytes"] == 16 * n + 12 * m
    positions = np.frombuffer(data, "<f4", 3 * n).reshape(n, 3)
    faces = np.frombuffer(data, "<u4", 3 * m, 12 * n).reshape(m, 3)
    for face in (0, 77, m - 1):
        pick = send("POST", "/api/cases/1/scans/lower/pick", json={"face": face, "weights": [1, 1, 2]}).json()
        expected = np.average(positions[faces[face]], axis=0, weights=[1, 1, 2])
        assert np.allclose(pick["point"], expected, atol=1e-3)
        assert pick["shown"] == ", ".join(f"{x:.12g}" for x in pick["point"])
    assert (
        send("POST", "/api/cases/1/scans/lower/pick", json={"face": m, "weights": [1, 1, 2]}).status_code
        >= 400
    )


def test_tooth_numbers_come_in_whole_or_not_at_all(send: Send) -> None:
    case = send("GET", "/api/cases/1").json()
    faces = send("GET", "/api/cases/1/scans/upper/mesh").json()["faces"]
    where = f"/api/cases/1/scans/upper/teeth?based_on={case['revision']}"
    for wrong in (b"16\n" * (faces - 1), b"99\n" * faces, b"\xff\xfe\x00"):
        answer = send("PUT", where, content=wrong)
        assert 400 <= answer.status_code < 500
        assert answer.json()["faults"][0]["todo"]
    assert send("GET", "/api/cases/1").json()["revision"] == case["revision"]
    saved = send("PUT", where, content=b"0\n" * faces)
    assert saved.status_code == 200, saved.text
    scan = saved.json()["case"]["entered"]["scans"][0]
    assert scan["teeth_file"] == "upper_teeth.csv"
    back = [{"field": "scans.1.teeth_file", "value": None}]
    body = {"based_on": saved.json()["case"]["revision"], "edits": back, "what": "out"}
    assert send("POST", "/api/cases/1/edits", json=body).status_code == 200


def motions(send: Send, case_id: int = 1, **more: Any) -> dict[str, Any]:
    """The movements of a case, once their answers are there."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        answer = send("GET", f"/api/cases/{case_id}/scene/motions", **more)
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        if found["movements"]:
            assert found["work"] is None
            return found
        assert found["work"]
        time.sleep(0.1)
    raise AssertionError("no movements")


def test_movements_travel_with_poses_places_and_one_line_in_both_languages(
    send: Send, shown: dict[str, Any]
) -> None:
    found = motions(send)
    assert [m["key"] for m in found["movements"]] == ["closing", "slide", "ahead", "right", "left"]
    german = motions(send, headers={"Accept-Language": "de"})
    for one, other in zip(found["movements"], german["movements"], strict=True):
        assert one["title"] != other["title"] and one["steps"] and one["about"]
        for step, told in zip(one["steps"], other["steps"], strict=True):
            assert step["moved"] == told["moved"] and step["line"] != told["line"]
            assert step["label"].lower() in step["line"].lower()
            moved = np.array(step["moved"])
            assert moved[:3, :3].T @ moved[:3, :3] == pytest.approx(np.eye(3), abs=1e-9)
            assert moved[3].tolist() == [0.0, 0.0, 0.0, 1.0]
            for place in step["places"]:
                assert place["pair"] and place["gap"]
                if place["kind"] == "meets":
                    low = moved @ [*place["lower_point_mm"], 1.0]
                    assert low[:3] == pytest.approx(place["point_mm"], abs=1e-4)
    closing = found["movements"][0]["steps"]
    # the same first contact as the closing slider's, to the same table
    assert closing[-1]["closed_rad"] == shown["steps"][shown["first"]]["closed_rad"]
    first = shown["now"]["sites"][0]
    assert closing[-1]["places"][0]["pair"] == f"{first['upper_tooth']} / {first['lower_tooth']}"


def test_movements_that_cannot_be_worked_out_say_which_entry_is_missing(send: Send) -> None:
    case_id = send("POST", "/api/cases", json={"code": "STILL"}).json()["case"]["id"]
    for movement in motions(send, case_id)["movements"]:
        assert movement["steps"] == []
        assert {"scans"} <= {need["field"] for need in movement["needs"]}
        assert all(need["reading"] and need["why"] for need in movement["needs"])
    assert send("GET", "/api/cases/999/scene/motions").status_code == 404


def test_a_case_without_scans_has_its_lines_and_says_what_it_needs(send: Send) -> None:
    case_id = send("POST", "/api/cases", json={"code": "BARE"}).json()["case"]["id"]
    found = send("GET", f"/api/cases/{case_id}/scene").json()
    assert found["arches"] == [] and found["steps"] == [] and found["now"] is None
    assert [line["kind"] for line in found["lines"]] == ["hinge", "plane"]
    assert found["needs"]
    for path in ("scene/upper.bin", "scene/upper.svg", "scene/stop/0", "scans/upper/mesh"):
        answer = send("GET", f"/api/cases/{case_id}/{path}")
        assert 400 <= answer.status_code < 500, path
        assert answer.json()["faults"][0]["todo"]
