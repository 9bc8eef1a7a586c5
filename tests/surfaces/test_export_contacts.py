"""Contact sites, closing map and coloured casts: what another program reads is what was found."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.faults import FaultError
from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contacts_by_label
from mountproof.geometry.surface import moved, prepare
from mountproof.occlusion.sites import at_closure, place_teeth
from mountproof.surfaces.export import export_contacts
from mountproof.surfaces.export.tables import contacts_json, map_csv, pairs_csv, sites_csv
from mountproof.surfaces.palette import BANDS, TOOTH
from surfaces.make_sheet import make_answers, make_case

NAMES = ["contacts.csv", "sites.csv", "closing-map.csv", "contacts.json", "upper.ply", "lower.ply"]


def _sheet_of_bumps(towards: float, level: float, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A patch of bumps 60 to 70 mm ahead of the hinge, -6 to 6 mm beside the middle; teeth by side."""
    x, z = np.meshgrid(np.linspace(60, 70, 31), np.linspace(-6, 6, 37), indexing="ij")
    rng = np.random.default_rng(seed)
    y = level + towards * (0.8 * np.cos(1.3 * x) * np.cos(1.1 * z) + 0.05 * rng.random(x.shape))
    vertices = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    i = np.arange(30 * 36)
    a = (i // 36) * 37 + i % 36
    faces = np.concatenate([np.stack([a, a + 1, a + 37], 1), np.stack([a + 1, a + 38, a + 37], 1)]).astype(
        np.int32
    )
    right = vertices[faces].mean(axis=1)[:, 2] > 0
    return vertices, faces, right


@pytest.fixture(scope="module")
def evidence() -> ContactEvidence:
    up_v, up_f, up_right = _sheet_of_bumps(-1.0, -40.0, 1)
    low_v, low_f, low_right = _sheet_of_bumps(1.0, -44.0, 2)
    up_teeth = np.where(up_right, 16, 26).astype(np.int32)
    low_teeth = np.where(low_right, 46, 36).astype(np.int32)
    pose = np.eye(4)
    pose[:3, 3] = [0.1, -0.25, 0.2]
    upper = prepare(up_v, up_f, arch="upper")
    lower = moved(prepare(low_v, low_f, arch="lower"), pose)
    pairs = first_contacts_by_label(upper, lower, up_teeth, low_teeth, within_rad=0.2)
    chart = closing_map(upper, lower, cell_mm=0.2)
    sited = place_teeth(chart, upper, lower, up_teeth, low_teeth, pairs)
    table = at_closure(sited, pairs[0].contact.closing_rad)
    return ContactEvidence(sited, table, up_teeth, low_teeth, pose, ("", ""))


def _read(content: bytes, comma: bool) -> list[dict[str, str]]:
    rows = list(csv.DictReader(io.StringIO(content.decode()), delimiter=";" if comma else ","))
    return [{k: v.replace(",", ".") if comma else v for k, v in row.items()} for row in rows]


@pytest.mark.parametrize("comma", [False, True])
def test_tooth_pairs_come_back_from_csv(evidence: ContactEvidence, comma: bool) -> None:
    rows = _read(pairs_csv(evidence.table, decimal_comma=comma), comma)
    assert len(rows) == len(evidence.table.pairs) >= 2
    for row, pair in zip(rows, evidence.table.pairs, strict=True):
        assert int(row["upper tooth (ISO 3950)"]) == pair.upper_tooth
        assert int(row["lower tooth (ISO 3950)"]) == pair.lower_tooth
        assert float(row["closing to contact (rad)"]) == pytest.approx(pair.closing_rad, abs=1e-8)
        assert float(row["gap left along closure (mm)"]) == pytest.approx(
            pair.remaining_along_closure_mm, abs=1e-6
        )
        point = [float(row[f"lower {axis}"]) for axis in ("x ahead (mm)", "y above (mm)", "z right (mm)")]
        assert point == pytest.approx(pair.lower_point_mm, abs=1e-6)
    assert float(rows[0]["gap left along closure (mm)"]) == 0.0


@pytest.mark.parametrize("comma", [False, True])
def test_sites_come_back_from_csv(evidence: ContactEvidence, comma: bool) -> None:
    rows = _read(sites_csv(evidence.table, decimal_comma=comma), comma)
    assert len(rows) == len(evidence.table.sites) > 3
    for row, site in zip(rows, evidence.table.sites, strict=True):
        assert float(row["foil (µm)"]) == site.foil_um
        assert float(row["smallest gap along closure (mm)"]) == pytest.approx(
            site.gap_along_closure_mm, abs=1e-6
        )
        assert float(row["area along closure (mm2)"]) == pytest.approx(site.area_mm2, abs=1e-4)
        assert row["runs into a hole"] == ("yes" if site.open_edge else "no")


@pytest.mark.parametrize("comma", [False, True])
def test_the_map_comes_back_cell_by_cell(evidence: ContactEvidence, comma: bool) -> None:
    sited, closed = evidence.sited, evidence.table.closed_rad
    chart = sited.closing
    gap = chart.gap_mm(closed)
    rows = _read(map_csv(sited, closed, decimal_comma=comma), comma)
    assert len(rows) == np.count_nonzero(np.isfinite(gap) | chart.unknown)
    back = np.full(gap.shape, np.nan)
    for row in rows:
        i = round((float(row["r from hinge axis (mm)"]) - chart.r0_mm) / chart.cell_mm - 0.5)
        j = round((float(row["z right (mm)"]) - chart.z0_mm) / chart.cell_mm - 0.5)
        text = row["gap along closure (mm)"]
        back[i, j] = float(text) if text else np.nan
        assert (row["unknown (a hole of a scan)"] == "yes") == bool(chart.unknown[i, j])
    assert np.nanmax(np.abs(back - gap)) <= 5.1e-7
    assert (np.isnan(back) == np.isnan(gap)).all()


def test_json_brings_everything_back_within_a_micrometre(evidence: ContactEvidence) -> None:
    content = json.loads(
        contacts_json(
            evidence.table,
            evidence.sited.closing,
            evidence.upper_from_lower,
            code="K",
            digest="d",
            version="v",
        )
    )
    assert (content["frame"]["length"], content["frame"]["teeth"]) == ("mm", "ISO 3950")
    assert content["upper_from_lower"] == evidence.upper_from_lower.tolist()
    for found, pair in zip(content["pairs"], evidence.table.pairs, strict=True):
        for name in pair._fields:
            value = getattr(pair, name)
            assert found[name] == (value.tolist() if isinstance(value, np.ndarray) else value), name
    for found, site in zip(content["sites"], evidence.table.sites, strict=True):
        assert np.abs(np.array(found["upper_point_mm"]) - site.upper_point_mm).max() <= 1e-3
        assert np.abs(np.array(found["upper_point_mm"]) - site.upper_point_mm).max() == 0.0


def test_another_program_can_close_the_casts_from_the_file(evidence: ContactEvidence) -> None:
    """The frame, the pose and the angle in the file are enough: the place on the lower, closed, is that on the upper."""
    content = json.loads(
        contacts_json(
            evidence.table, evidence.sited.closing, evidence.upper_from_lower, code="", digest="", version=""
        )
    )
    for pair in content["pairs"]:
        c, s = np.cos(pair["closing_rad"]), np.sin(pair["closing_rad"])
        x, y, z = pair["lower_point_mm"]
        assert [c * x - s * y, s * x + c * y, z] == pytest.approx(pair["upper_point_mm"], abs=1e-9)


@pytest.fixture(scope="module")
def folder(evidence: ContactEvidence, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("out") / "new" / "folder"
    answer = replace(make_answers()["contacts"], evidence=evidence)
    files = export_contacts(answer, make_case(), target, decimal_comma=True, version="v")
    assert [f.name for f in files] == NAMES
    assert sorted(p.name for p in target.iterdir()) == sorted(NAMES)
    return target


@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_casts_are_coloured_by_the_gap_of_each_vertex(
    folder: Path, evidence: ContactEvidence, arch: str
) -> None:
    mesh = trimesh.load(folder / f"{arch}.ply", process=False)
    surface = getattr(evidence.sited, arch)
    assert np.asarray(mesh.vertices) == pytest.approx(surface.vertices_mm, abs=1e-5)
    assert (np.asarray(mesh.faces) == surface.faces).all()
    colours = [tuple(c) for c in np.asarray(mesh.visual.vertex_colors)[:, :3].tolist()]
    gaps = evidence.vertex_gaps.upper_mm if arch == "upper" else evidence.vertex_gaps.lower_mm
    palette = [tuple(b.rgb) for b in BANDS]
    seen = set()
    for colour, gap, (x, y, _) in zip(colours, gaps, surface.vertices_mm, strict=True):
        left = gap - evidence.table.closed_rad * float(np.hypot(x, y))
        expected = tuple(TOOTH)
        for rank in range(len(evidence.band_edges_mm) - 1, -1, -1):
            if left <= evidence.band_edges_mm[rank]:
                expected = palette[rank]
        assert colour == expected
        seen.add(colour)
    assert len(seen) == len(BANDS) + 1


def test_the_coloured_file_says_unit_frame_pose_and_palette(folder: Path) -> None:
    head = (folder / "lower.ply").read_bytes().split(b"end_header")[0].decode("ascii")
    for words in (
        "comment unit mm",
        "z to the patient's right",
        "lower arch, in the pose of the record",
        "case KESTREL-0417",
        "up to 0.04 mm",
        "lapaz",
    ):
        assert words in head


def test_the_same_contacts_make_the_same_bytes(
    folder: Path, evidence: ContactEvidence, tmp_path: Path
) -> None:
    answer = replace(make_answers()["contacts"], evidence=evidence)
    export_contacts(answer, make_case(), tmp_path, decimal_comma=True, version="v")
    for name in NAMES:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()


def test_without_scans_the_export_says_what_to_enter(tmp_path: Path) -> None:
    with pytest.raises(FaultError, match="no closing map") as caught:
        export_contacts(make_answers()["contacts"], make_case(), tmp_path / "x", version="v")
    assert caught.value.faults[0].todo == "Enter a scan of each cast"
    assert not (tmp_path / "x").exists()


def test_a_folder_that_cannot_be_made_is_named(evidence: ContactEvidence, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    answer = replace(make_answers()["contacts"], evidence=evidence)
    with pytest.raises(FaultError, match="cannot be made"):
        export_contacts(answer, make_case(), tmp_path / "file" / "sub", version="v")
