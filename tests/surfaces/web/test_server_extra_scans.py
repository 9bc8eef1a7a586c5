"""Scans of records and further scans of an arch over HTTP."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from surfaces.web.bench_client import Client, bench


@pytest.fixture()
def client(tmp_path: Path) -> Iterator[Client]:
    with bench(tmp_path) as client:
        yield client


def a_case(client: Client) -> int:
    case_id: int = client.post("/api/cases", json={"code": "A"}).json()["case"]["id"]
    edits = [{"field": 'records."record 1"', "value": {"kind": "CR"}}]
    done = client.post(f"/api/cases/{case_id}/edits", json={"based_on": 1, "edits": edits, "what": "x"})
    assert done.status_code == 200, done.text
    return case_id


def put(client: Client, case_id: int, door: str, data: bytes, **more: Any) -> Any:
    asked = {"based_on": 2, "unit": "mm", "name": "Erika Mustermann.STL", **more}
    return client.put(f"/api/cases/{case_id}/scans/{door}", params=asked, content=data)


def names(saved: Any) -> list[str]:
    assert saved.status_code == 200, saved.text
    return [one["name"] for one in saved.json()["case"]["files"]]


def test_the_scan_of_a_record_comes_in_and_is_replaced(client: Client) -> None:
    case_id = a_case(client)
    record = {"record": "record 1", "shows": "the record"}
    first = put(client, case_id, "record", b"solid one", **record)
    assert names(first) == ["record1.stl"]
    entered = first.json()["case"]["entered"]["records"]["record 1"]["scan"]
    assert entered == {"file": "record1.stl", "unit": "mm", "shows": "the record"}
    text = client.get(f"/api/cases/{case_id}/case.toml").text
    assert "Mustermann" not in text and "record1.stl" in text
    again = put(
        client, case_id, "record", b"solid two", based_on=3, **(record | {"shows": "the casts joined by it"})
    )
    assert names(again) == ["record1.stl"]
    assert again.json()["case"]["entered"]["records"]["record 1"]["scan"]["shows"] == "the casts joined by it"
    assert again.json()["case"]["files"] != first.json()["case"]["files"]


def test_the_same_file_keeps_its_points(client: Client) -> None:
    case_id = a_case(client)
    record = {"record": "record 1", "shows": "the record"}
    put(client, case_id, "record", b"solid one", **record)
    edits = [{"field": 'records."record 1".scan.lies_on', "value": ["upper"]}]
    client.post(f"/api/cases/{case_id}/edits", json={"based_on": 3, "edits": edits, "what": "x"})
    same = put(client, case_id, "record", b"solid one", based_on=4, **(record | {"unit": "cm"}))
    scan = same.json()["case"]["entered"]["records"]["record 1"]["scan"]
    assert (scan["lies_on"], scan["unit"]) == (["upper"], "cm")
    other = put(client, case_id, "record", b"solid two", based_on=5, **record)
    assert "lies_on" not in other.json()["case"]["entered"]["records"]["record 1"]["scan"]


def test_an_unknown_record_is_refused(client: Client) -> None:
    case_id = a_case(client)
    refused = put(client, case_id, "record", b"solid", record="record 7", shows="the record")
    assert refused.status_code == 422 and refused.json()["faults"][0]["code"] == "case.reference"
    assert client.get(f"/api/cases/{case_id}").json()["revision"] == 2


def test_further_scans_stand_beside_each_other(client: Client) -> None:
    case_id = a_case(client)
    again = {"arch": "upper", "shows": "another cast"}
    assert names(put(client, case_id, "again", b"solid one", **again)) == ["upper_again.stl"]
    both = put(client, case_id, "again", b"solid two", based_on=3, **again)
    assert names(both) == ["upper_again.stl", "upper_again_2.stl"]
    assert [one["file"] for one in both.json()["case"]["entered"]["casts"]["other_scans"]] == names(both)
    odd = put(client, case_id, "again", b"x", based_on=4, arch="upper", shows="the moon")
    assert odd.status_code == 422


def test_what_the_forms_send_of_the_new_entries_is_taken_as_typed(client: Client) -> None:
    case_id = a_case(client)
    edits = [
        {
            "field": "casts.widths.+",
            "value": {"arch": "upper", "between": ["16", "26"], "in_mouth_mm": ["52,30", "52.35"]},
        },
        {"field": "proof.attempts.+", "value": {"record": "record 1", "why": "it agreed"}},
        {"field": "proof.split_casts.+", "value": {"record": "record 1"}},
        {"field": "few_teeth.index_fits", "value": False},
        {"field": "doubt.luting_mm", "value": "0,06"},
        {"field": "doubt.stabilised", "value": True},
        {"field": "doubt.source.luting_mm", "value": "own 14 cases"},
        {"field": "facebow.axis", "value": "ear rods"},
        {"field": "facebow.front_height_mm", "value": "61,0"},
        {"field": 'records."record 1".stops.+', "value": {"ahead_mm": "60", "right_mm": "25", "tooth": "16"}},
        {"field": 'records."record 1".perforated_at', "value": ["17"]},
    ]
    done = client.post(f"/api/cases/{case_id}/edits", json={"based_on": 2, "edits": edits})
    assert done.status_code == 200, done.text
    gap = {"ahead_mm": "60", "right_mm": "-25", "holds_um": "100"}
    more = [{"field": "proof.split_casts.1.gaps.+", "value": gap}]
    done = client.post(f"/api/cases/{case_id}/edits", json={"based_on": 3, "edits": more})
    assert done.status_code == 200, done.text
    from mountproof.case.files import parse_case

    case = parse_case(client.get(f"/api/cases/{case_id}/case.toml").text)
    assert case.casts.widths[0].between == (16, 26)
    assert case.casts.widths[0].in_mouth_mm == (52.30, 52.35)
    assert case.proof.split_casts[0].gaps[0].holds_um == 100
    assert case.doubt.luting_mm == 0.06 and case.doubt.stabilised
    assert case.doubt.source == {"luting_mm": "own 14 cases"}
    assert case.few_teeth.index_fits is False and case.facebow.front_height_mm == 61
    assert case.records["record 1"].stops[0].tooth == 16 and case.records["record 1"].perforated_at == (17,)


def test_every_new_entry_has_a_label_and_a_kind_that_a_form_can_show(client: Client) -> None:
    known = {one["path"]: one for one in client.get("/api/fields").json()}
    kinds = {
        "casts.widths.*.between": "row",
        "casts.widths.*.in_mouth_mm": "row",
        "casts.other_scans.*.points.*.scan": "point",
        "records.*.scan.lies_on": "row",
        "records.*.perforated_at": "teeth",
        "records.*.upper_from_lower": "list",
        "few_teeth.index_fits": "flag",
        "facebow.axis": "choice",
    }
    assert {path: known[path]["kind"] for path in kinds} == kinds
    assert known["facebow.axis_u_mm"]["label"] == "how well the axis is known"
