"""Everything that can be wrong with a scan, at the command line: told, never repaired in silence, nothing touched."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from case import scan_files as sf
from mountproof.case.scans import _scan
from mountproof.phantom.truth import record_pose
from surfaces import cli_bench as cb
from surfaces.cli_bench import (
    IDENTITY,
    Change,
    matrix_text,
    prints,
    refused,
    run,
    scan_case,
    scan_text,
    squeezed,
)

MIRROR = np.diag([1.0, 1.0, -1.0, 1.0])


def scaled(by: float) -> Change:
    return lambda v, f: (v * by, f)


def told(folder: Path, *words: str) -> dict[str, Any]:
    """Ask for the contacts of a case whose scans can be used, and return the answer; nothing may be touched."""
    before = prints(folder)
    ran, plain = run("answer", folder, "contacts", "--json"), run("answer", folder, "contacts")
    assert ran.status == plain.status and ran.status in (0, 3, 4, 5), (ran.status, plain.err)
    assert prints(folder) == before
    sheet = ran.json
    assert sheet["faults"] == []
    for word in words:
        assert squeezed(word) in squeezed(plain.out), (word, plain.out)
    assert not cb.INSIDE.search(plain.out + plain.err) and not cb.FORBIDDEN.search(plain.out)
    answer: dict[str, Any] = sheet["answers"]["contacts"]
    return answer


# --- what is there to compare with: both scans as they should be -----------------------------------------------------


def test_scans_without_fault_are_answered_at_the_tooth_that_was_made_to_meet_first(tmp_path: Path) -> None:
    answer = told(scan_case(tmp_path / "c"), "15 / 45")
    assert answer["headline"].startswith("First contact in CR at 15 / 45")
    assert not [r for r in answer["reasons"] if r["why"] == "between"]


# --- files that are no usable mesh ------------------------------------------------------------------------------------

V, F = sf.CUBE_V, sf.CUBE_F


def bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("_rels/.rels", sf.RELS.format(target="3D/scan.model"))
        package.writestr("3D/scan.model", b" " * 300_000_000)
    return out.getvalue()


BROKEN: dict[str, tuple[str, bytes, str, str]] = {
    "empty file": (".stl", b"", "scan.empty", "the file is empty"),
    "no triangles": (".stl", sf.stl_binary(V, F[:0]), "scan.empty", "no triangle"),
    "no numbers": (".stl", sf.stl_binary(np.where(np.arange(24).reshape(8, 3) == 7, np.nan, V), F), "scan.not_finite", "nan"),
    "cut off": (".stl", sf.stl_binary(V, F)[:400], "scan.truncated", "promises 12 triangles"),
    "a picture": (".stl", b"\x89PNG\r\n\x1a\n" + bytes(300), "scan.not_a_mesh", "picture"),
    "a document": (".obj", b"%PDF-1.7\n" + bytes(300), "scan.not_a_mesh", "document"),
    "a table": (".stl", b"tooth,contact\n16,yes\n", "scan.not_a_mesh", "none of the scan formats"),
    "a corner that is not there": (".obj", sf.obj(V, np.where(F == 7, 99, F)), "scan.index_out_of_range", ""),
    "far out": (".stl", sf.stl_binary(V * 1e12, F), "scan.absurd_coordinates", ""),
    "hostile zip": (".3mf", bomb(), "scan.", ""),
    "huge": (".stl", b" " * 80 + (2**32 - 1).to_bytes(4, "little") + bytes(50), "scan.", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_files_that_are_no_usable_scan(tmp_path: Path, name: str) -> None:
    ending, data, code, words = BROKEN[name]
    folder = scan_case(tmp_path / "c", scan_text(names=(f"bad{ending}", "lower.stl")))
    (folder / f"bad{ending}").write_bytes(data)
    before = prints(folder)
    plain, as_json = run("answer", folder), run("answer", folder, "--json")
    assert plain.status == as_json.status == 2
    assert prints(folder) == before
    sheet = as_json.json
    (fault,) = sheet["faults"]
    assert (
        fault["code"].startswith(code)
        and fault["where"] == f"bad{ending}"
        and words in fault["what"] + fault["got"]
    )
    assert squeezed(fault["todo"].rstrip(".")) in squeezed(plain.err) and f"bad{ending}" in plain.err
    assert not cb.INSIDE.search(plain.err) and not cb.FORBIDDEN.search(plain.err)
    # The other questions are answered all the same, and the contacts say why they are not.
    assert squeezed("Not answered: bad") in squeezed(plain.out)
    assert sheet["answers"]["contacts"]["verdict"] == "cannot tell"
    assert sheet["answers"]["stone"]["headline"]


def test_two_bad_scans_are_told_together_and_nothing_is_exported(tmp_path: Path) -> None:
    folder = scan_case(tmp_path / "c", upper=b"", lower=b"%PDF-1.7\n")
    faults = refused(folder, "scan.empty")
    assert {f["where"] for f in faults} == {"upper.stl", "lower.stl"}
    refused(folder, "scan.empty", command=("export", folder, tmp_path / "out"))
    assert not (tmp_path / "out").exists()


def test_more_triangles_than_can_be_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_scan, "MAX_TRIANGLES", 1000)
    # scans of their own: what was read of the others before is kept
    folder = scan_case(tmp_path / "c", upper=lambda v, f: (v + np.array([0.0, 0.25, 0.0]), f))
    faults = refused(folder, "scan.too_large")
    assert "1000" in str(faults[0]).replace(" ", "")


# --- placements that move teeth ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("matrix", "code"),
    [
        (MIRROR, "scan.transform_mirrored"),
        (np.diag([1.2, 1.2, 1.2, 1.0]), "scan.transform_"),
        (
            np.eye(4) + 0.05 * np.eye(4, k=1)[:, [0, 1, 2, 3]] * np.array([[1], [0], [0], [0]]),
            "scan.transform_",
        ),
        (np.zeros((4, 4)) + np.diag([0, 0, 0, 1]), "scan.transform_"),
    ],
    ids=["mirrored", "scaled", "sheared", "flat"],
)
def test_a_matrix_that_is_no_rigid_motion(tmp_path: Path, matrix: np.ndarray, code: str) -> None:
    folder = scan_case(tmp_path / "c", scan_text(upper=f"frame_from_scan = {matrix_text(matrix)}"))
    before = prints(folder)
    plain, as_json = run("answer", folder), run("answer", folder, "--json")
    assert plain.status == as_json.status == 2 and prints(folder) == before
    faults = as_json.json["faults"]
    assert faults and all(f["code"].startswith(code) for f in faults)
    assert "upper" in plain.err and "To do:" in plain.err


def test_a_record_that_mirrors_or_stretches_is_refused(tmp_path: Path) -> None:
    for pose in (MIRROR @ record_pose(1), record_pose(1) @ np.diag([1.1, 1.1, 1.1, 1.0])):
        folder = scan_case(tmp_path / "c", scan_text(pose=pose))
        ran = run("answer", folder, "contacts")
        assert ran.status == 2, ran.out
        assert "case.toml · records.record 1.upper_from_lower" in ran.err


# --- units --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "words", "one_mm"),
    [
        ("inch", "inches", 1 / 25.4),
        ("metre", "metres", 0.001),
        ("cm", "centimetres", 0.1),
        ("um", "micrometres", 1000.0),
    ],
)
def test_a_wrong_unit_is_never_scaled_away_in_silence(
    tmp_path: Path, unit: str, words: str, one_mm: float
) -> None:
    """Numbers in another unit, said to be mm: told with the unit they look like, and no contact is claimed."""
    folder = scan_case(tmp_path / "c", upper=scaled(one_mm), lower=scaled(one_mm))
    before = prints(folder)
    ran = run("answer", folder, "contacts", "--json")
    plain = run("answer", folder, "contacts")
    assert prints(folder) == before
    assert words in plain.out + plain.err
    sheet = ran.json
    answer = sheet["answers"]["contacts"]
    assert answer["verdict"] in ("cannot tell", "doubtful")
    assert ran.status in (2, 3, 5)
    if ran.status == 2:
        assert any(f["code"].startswith("scan.unit_") for f in sheet["faults"])
    # Said rightly, the same files are answered as the millimetre ones are.
    (folder / "case.toml").write_text(scan_text(unit=unit))
    assert told(folder, "15 / 45")["headline"].startswith("First contact in CR at 15 / 45")


# --- which is which -------------------------------------------------------------------------------------------------------


def test_exchanged_arches(tmp_path: Path) -> None:
    folder = scan_case(tmp_path / "c", scan_text(names=("lower.stl", "upper.stl")))
    ran = run("answer", folder, "contacts")
    assert ran.status != 0 and "exchanged" in ran.out + ran.err


def test_a_mirrored_mesh_is_asked_about_until_somebody_has_compared_the_sides(tmp_path: Path) -> None:
    folder = scan_case(tmp_path / "c", scan_text(extra=("", "")))
    answer = told(folder)
    needs = " ".join(n["reading"] + n["why"] for n in answer["needs"])
    assert "mirrored" in needs and "right is right" in needs
    settled = told(scan_case(tmp_path / "d"))
    assert "mirrored" not in " ".join(n["reading"] + n["why"] for n in settled["needs"])


def test_exchanged_sides_show_where_the_teeth_are_numbered(tmp_path: Path) -> None:
    flipped = {t: t + (10 if t // 10 in (1, 3) else -10) for t in (*range(11, 49),)}
    folder = scan_case(
        tmp_path / "c",
        scan_text(extra=('teeth_file = "u.csv"', 'teeth_file = "l.csv"')),
    )
    for arch, name in (("upper", "u.csv"), ("lower", "l.csv")):
        teeth = cb.cast(arch).teeth
        (folder / name).write_text("".join(f"{flipped.get(int(t), 0)}\n" for t in teeth))
    ran = run("answer", folder, "contacts", "--json")
    plain = run("answer", folder, "contacts")
    assert ran.status == 2 and "Right and left of the upper scan are exchanged" in " ".join(plain.err.split())
    assert {f["code"] for f in ran.json["faults"]} == {"scan.sides_swapped"}


def test_a_scan_on_its_head(tmp_path: Path) -> None:
    over = np.diag([1.0, -1.0, -1.0, 1.0])
    over[1, 3] = -70.0
    folder = scan_case(
        tmp_path / "c", scan_text(upper=f"frame_from_scan = {matrix_text(over)}", lower=IDENTITY)
    )
    ran = run("answer", folder, "contacts")
    assert ran.status != 0 and "teeth of the upper scan point up" in " ".join((ran.out + ran.err).split())


def test_the_same_scan_twice(tmp_path: Path) -> None:
    folder = scan_case(tmp_path / "c", scan_text(names=("upper.stl", "upper.stl")))
    refused(folder, "scan.same_scan_twice")


def test_arches_that_do_not_lie_opposite_each_other(tmp_path: Path) -> None:
    away = np.eye(4)
    away[2, 3] = 300.0
    folder = scan_case(tmp_path / "c", scan_text(lower=f"frame_from_scan = {matrix_text(away)}"))
    ran = run("answer", folder, "contacts")
    assert ran.status in (2, 3, 5) and "15 / 45" not in ran.out


# --- oddities that are told and left alone --------------------------------------------------------------------------------


def with_debris(v: np.ndarray, f: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.vstack([v, v.mean(axis=0) + [0, 60, 0] + 0.3 * V]), np.vstack([f, F + len(v)])


def with_hole_in_the_base(v: np.ndarray, f: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    centre = v[f].mean(axis=1)
    # The farthest from the teeth: the top of the upper base.
    order = np.argsort(-centre[:, 1])
    return v, np.delete(f, order[:6], axis=0)


def with_a_fold(v: np.ndarray, f: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    top = int(np.argmax(v[:, 1]))
    a, b, _ = f[np.any(f == top, axis=1)][0]
    return np.vstack([v, v[a] + [0.0, 5.0, 0.0]]), np.vstack([f, [[a, b, len(v)]]])


@pytest.mark.parametrize(
    ("change", "words"),
    [(with_debris, "loose piece"), (with_hole_in_the_base, "hole"), (with_a_fold, "three or more triangles")],
    ids=["debris", "hole", "not manifold"],
)
def test_oddities_are_told_and_change_nothing(tmp_path: Path, change: Change, words: str) -> None:
    clean = told(scan_case(tmp_path / "clean"))
    answer = told(scan_case(tmp_path / "odd", upper=change), words)
    closing = {q["key"]: q["value"] for q in clean["quantities"]}["closing"]
    assert {q["key"]: q["value"] for q in answer["quantities"]}["closing"] == pytest.approx(
        closing, abs=1e-12
    )


def test_a_hole_at_the_first_contact_takes_the_claim_away(tmp_path: Path) -> None:
    """Without the hole 15 / 45 meets first. With its place cut out nobody may say what meets first, nor 'no contact'."""
    folder = scan_case(tmp_path / "c")
    whole = told(folder)
    assert whole["headline"].startswith("First contact in CR at 15 / 45")
    run("export", folder, tmp_path / "out")
    import json

    first = json.loads((tmp_path / "out" / "contacts.json").read_text())
    at = first_point(first)

    def punched(v: np.ndarray, f: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        near = np.linalg.norm(v[f].mean(axis=1) - at, axis=1) < 2.0
        assert near.any()
        return v, f[~near]

    answer = told(scan_case(tmp_path / "holed", upper=punched), "a hole at 15 / 45 may hide it")
    assert answer["verdict"] == "cannot tell"
    assert answer["headline"].startswith("What meets first cannot be told: a hole at 15 / 45")
    assert "unknown-surface" in {r["why"] for r in answer["reasons"]}
    assert any("shows the surface at 15 / 45" in n["reading"] for n in answer["needs"])
    foil = next(t for t in answer["tables"] if t["title"].startswith("Foil by tooth"))
    row = next(r for r in foil["rows"] if r[0] == "15")
    assert "unknown" in row and "free" not in row
    # A foil that held there in the mouth does not contradict a scan that shows nothing there.
    foils = '[[foils]]\nwhere = "mouth"\nrelation = "CR"\nthickness_um = 8\nheld = [15]\n'
    held = told(scan_case(tmp_path / "foil", scan_text(foils=foils), upper=punched))
    assert held["verdict"] == "cannot tell"


def first_point(exported: dict[str, Any]) -> np.ndarray:
    """Where the upper meets first, from the exported contacts."""
    pairs = exported["pairs"]
    return np.array(pairs[0]["upper_point_mm"])
