"""The whole flow on real crowns: files and placement in, first contact, sheet, report and exports out.

The open arches are real crowns (MIT licence) in a placement that was constructed for them; the tooth numbers beside
them come from whoever segmented the scans.
"""

from __future__ import annotations

import csv
import json
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from mountproof.answers.result import Answer, Sheet, Verdict
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case
from mountproof.geometry.contact import first_contact
from mountproof.geometry.surface import prepare
from mountproof.occlusion.numbering import number_faces
from mountproof.version import VERSION
from occlusion.open_arch_files import read_open_arch
from surfaces.cli_bench import matrix_text, prints, run

pytestmark = pytest.mark.open_arches

MISSING = [18, 28, 38, 48]


def case_text(placement: dict[str, Any], *, teeth_files: bool, missing: bool = True) -> str:
    lines = ['code = "OPEN-ARCHES"', 'mounted_on = "made"', "[dentition]"]
    lines += [f"missing = {MISSING}"] if missing else []
    for arch in ("upper", "lower"):
        lines += [
            "[[scans]]",
            f'arch = "{arch}"',
            f'file = "{arch}.obj"',
            'unit = "mm"',
            "sides_compared = true",
        ]
        lines += [f'teeth_file = "{arch}.csv"'] if teeth_files else []
        way = matrix_text(placement["frame_from_scan"])
        lines += [
            f"placement = {{ frame_from_scan = {way} }}"
            if arch == "upper"
            else "placement = { with_other_arch = true }"
        ]
    pose = matrix_text(placement["upper_from_lower_record"])
    return "\n".join(
        [
            *lines,
            "[records.made]",
            'kind = "CR"',
            f"upper_from_lower = {pose}",
            'relation_in = "frame coordinates"',
            "",
        ]
    )


@pytest.fixture(scope="module")
def folder(open_arches: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    place = tmp_path_factory.mktemp("open") / "case"
    place.mkdir()
    for arch in ("upper", "lower"):
        shutil.copy(open_arches / f"case0_{arch}.obj", place / f"{arch}.obj")
        shutil.copy(open_arches / f"case0_{arch}_faceFDI.csv", place / f"{arch}.csv")
    yield place


@pytest.fixture(scope="module")
def placement(open_arches: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((open_arches / "placement.json").read_text())
    return found


@pytest.fixture(scope="module")
def told(folder: Path, placement: dict[str, Any]) -> tuple[Sheet, float]:
    """The sheet by the numbers of the CSV, and the seconds of a second run (the kernels are compiled by the first)."""
    (folder / "case.toml").write_text(case_text(placement, teeth_files=True))
    answer(load_case(folder))
    start = time.perf_counter()
    sheet = answer(load_case(folder))
    return sheet, time.perf_counter() - start


def contacts(sheet: Sheet) -> Answer:
    assert not sheet.faults
    return sheet["contacts"]


def test_first_contact_is_the_kernels_own(told: tuple[Sheet, float], open_arches: Path) -> None:
    """By the program: files, readers, placement, checks, answer. By hand: the text of the files straight to the kernel."""
    upper_v, upper_f, upper_teeth = read_open_arch(open_arches, "upper")
    lower_v, lower_f, lower_teeth = read_open_arch(open_arches, "lower", "record")
    own = first_contact(prepare(upper_v, upper_f, arch="upper"), prepare(lower_v, lower_f, arch="lower"))
    assert own is not None
    found, seconds = contacts(told[0]), told[1]
    assert np.radians(found["closing"].value) == pytest.approx(own.closing_rad, abs=1e-9)
    pair = found.evidence.table.pairs[0]
    np.testing.assert_allclose(pair.upper_point_mm, own.point_mm, atol=1e-6)
    assert (pair.upper_tooth, pair.lower_tooth) == (upper_teeth[own.upper_face], lower_teeth[own.lower_face])
    assert f"{pair.upper_tooth} / {pair.lower_tooth}" in found.headline
    sys.stdout.write(
        f"open arches, {len(upper_f)} + {len(lower_f)} triangles, whole sheet in {seconds:.2f} s\n"
    )


def test_the_constructed_record_is_an_opening_of_which_most_is_closed_again(
    told: tuple[Sheet, float], placement: dict[str, Any]
) -> None:
    """The record was made by opening a closed pose by 2.2 degrees: the teeth meet before or about where it was closed."""
    closing = contacts(told[0])["closing"].value
    assert 0.5 * placement["record_opening_deg"] < closing < placement["record_opening_deg"] + 0.5


@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_the_programs_tooth_numbers_are_those_of_the_csv(open_arches: Path, arch: str) -> None:
    v, f, truth = read_open_arch(open_arches, arch)
    assert (number_faces(v, f, arch, MISSING).labels == truth).all()  # type: ignore[arg-type]


def test_with_its_own_numbers_the_program_says_the_same(
    told: tuple[Sheet, float], folder: Path, placement: dict[str, Any], tmp_path: Path
) -> None:
    other = shutil.copytree(folder, tmp_path / "own")
    (other / "case.toml").write_text(case_text(placement, teeth_files=False))
    own = contacts(answer(load_case(other), ["contacts"]))
    by_csv = contacts(told[0])
    assert own.headline == by_csv.headline
    assert own.verdict is by_csv.verdict
    assert [q.value for q in own.quantities] == [q.value for q in by_csv.quantities]
    assert own.tables == by_csv.tables


def test_where_missing_teeth_are_not_told_nothing_is_claimed_for_a_tooth_without_a_number(
    told: tuple[Sheet, float], folder: Path, placement: dict[str, Any], tmp_path: Path
) -> None:
    """Fourteen crowns, sixteen teeth expected: the second molars may be third ones, and the first contact is on one."""
    other = shutil.copytree(folder, tmp_path / "own")
    (other / "case.toml").write_text(case_text(placement, teeth_files=False, missing=False))
    found = contacts(answer(load_case(other), ["contacts"]))
    assert found.headline.startswith("Something without a tooth number meets first")
    assert found.verdict is Verdict.DOUBTFUL
    assert found["closing"].value == contacts(told[0])["closing"].value
    assert any("tooth numbers" in need.reading for need in found.needs)


def test_sheet_report_and_exports_through_the_command_line(
    told: tuple[Sheet, float], folder: Path, tmp_path: Path
) -> None:
    before = prints(folder)
    start = time.perf_counter()
    plain = run("answer", folder)
    assert told[0]["contacts"].headline.split(";")[0][:50] in " ".join(plain.out.split())
    as_json = run("answer", folder, "contacts", "--json")
    assert as_json.json["answers"]["contacts"]["headline"] == told[0]["contacts"].headline
    assert as_json.json["answers"]["contacts"]["digest"] == told[0]["contacts"].digest
    report = run("report", folder, "--out", tmp_path / "sheet.pdf", "--json")
    assert report.json["report"] == str(tmp_path / "sheet.pdf")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")
    out = tmp_path / "export"
    listed = run("export", folder, out, "--json").json["files"]
    assert sorted(Path(p).name for p in listed) == [
        "closing-map.csv", "contacts.csv", "contacts.json", "lower.ply", "sites.csv", "upper.ply",
    ]  # fmt: skip
    assert prints(folder) == before
    exported = json.loads((out / "contacts.json").read_text())
    pair = told[0]["contacts"].evidence.table.pairs[0]
    assert exported["pairs"][0]["upper_point_mm"] == pytest.approx(pair.upper_point_mm.tolist(), abs=0)
    with (out / "contacts.csv").open(newline="") as stream:
        rows = list(csv.reader(stream))
    assert any(str(pair.upper_tooth) in row and str(pair.lower_tooth) in row for row in rows)
    assert VERSION in exported["made by"]
    sys.stdout.write(f"answer twice, report and export: {time.perf_counter() - start:.1f} s\n")


def test_moving_the_lower_by_its_record_is_the_pose_the_answer_used(
    told: tuple[Sheet, float], open_arches: Path, placement: dict[str, Any]
) -> None:
    evidence = contacts(told[0]).evidence
    np.testing.assert_allclose(evidence.upper_from_lower, placement["upper_from_lower_record"], atol=1e-11)
    lower_v, _, _ = read_open_arch(open_arches, "lower", "record")
    np.testing.assert_allclose(evidence.sited.lower.vertices_mm, lower_v, atol=1e-9)


def test_a_lower_closed_by_half_a_degree_closes_half_a_degree_less(
    told: tuple[Sheet, float], folder: Path, placement: dict[str, Any], tmp_path: Path
) -> None:
    other = shutil.copytree(folder, tmp_path / "closer")
    c, s = np.cos(np.radians(0.5)), np.sin(np.radians(0.5))
    turn = np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]])
    closer = {**placement, "upper_from_lower_record": turn @ np.array(placement["upper_from_lower_record"])}
    (other / "case.toml").write_text(case_text(closer, teeth_files=True))
    found, before = contacts(answer(load_case(other), ["contacts"])), contacts(told[0])
    assert found["closing"].value == pytest.approx(before["closing"].value - 0.5, abs=1e-8)
    assert found.headline == before.headline
