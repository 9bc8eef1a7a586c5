"""Scans of records and further scans are read as scans of casts are, and what is odd about them is said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from case import scan_files as sf
from mountproof.answers.extra_scans import read_extra
from mountproof.answers.ledger import Ledger
from mountproof.case.files import load_case
from mountproof.case.model import Case
from mountproof.faults import FaultError

TEXT = """
code = "x"
[[casts.other_scans]]
arch = "upper"
file = "again.stl"
unit = "{unit}"
shows = "another cast"
[records.r]
kind = "CR"
scan = {{ file = "record.stl", unit = "{unit}", shows = "{shows}" }}
"""


def case_of(folder: Path, length: float, unit: str = "mm", shows: str = "the record") -> Case:
    scale = length / float(np.ptp(sf.CUBE_V[:, 0]))
    for name in ("again.stl", "record.stl"):
        (folder / name).write_bytes(sf.stl_binary(sf.CUBE_V * scale, sf.CUBE_F))
    (folder / "case.toml").write_text(TEXT.format(unit=unit, shows=shows))
    return load_case(folder)


def test_it_comes_in_millimetres_as_it_lies(tmp_path: Path) -> None:
    case = case_of(tmp_path, 6.0, "cm")
    scan = read_extra(case, case.casts.other_scans[0], Ledger("mounting"), "casts.other_scans.1")
    assert np.ptp(scan.vertices, axis=0) == pytest.approx([60.0] * 3)


def test_what_is_odd_is_said_of_both(tmp_path: Path) -> None:
    case = case_of(tmp_path, 60.0)
    whole = sf.CUBE_F[1:]
    (tmp_path / "again.stl").write_bytes(sf.stl_binary(sf.CUBE_V * 60.0 / np.ptp(sf.CUBE_V[:, 0]), whole))
    case, ledger = load_case(tmp_path), Ledger("mounting")
    read_extra(case, case.casts.other_scans[0], ledger, "casts.other_scans.1")
    assert any("again.stl" in note for note in ledger.notes)


def test_a_wrong_unit_is_refused_but_only_asked_of_a_piece(tmp_path: Path) -> None:
    case = case_of(tmp_path, 2.4, "mm")
    with pytest.raises(FaultError) as caught:
        read_extra(case, case.casts.other_scans[0], Ledger("mounting"), "casts.other_scans.1")
    assert (
        caught.value.faults[0].code.startswith("scan.unit_") and caught.value.faults[0].where == "again.stl"
    )
    ledger = Ledger("record")
    entry = case.records["r"].scan
    assert entry is not None
    assert len(read_extra(case, entry, ledger, "records.r.scan").faces) == len(sf.CUBE_F)
    assert [need.field for need in ledger.needs] == ["records.r.scan"]
    joined = case_of(tmp_path, 2.4, "mm", "the casts joined by it").records["r"].scan
    assert joined is not None
    with pytest.raises(FaultError):
        read_extra(load_case(tmp_path), joined, Ledger("record"), "records.r.scan")


def test_an_empty_or_broken_file_is_named(tmp_path: Path) -> None:
    case_of(tmp_path, 60.0)
    (tmp_path / "again.stl").write_bytes(b"solid x\nendsolid x\n")
    case = load_case(tmp_path)
    with pytest.raises(FaultError) as caught:
        read_extra(case, case.casts.other_scans[0], Ledger("mounting"), "casts.other_scans.1")
    assert caught.value.faults[0].code.startswith("scan.")


def test_a_changed_file_is_read_anew_and_an_unchanged_one_is_not(tmp_path: Path) -> None:
    case = case_of(tmp_path, 60.0)

    def read(case: Case) -> np.ndarray:
        return read_extra(case, case.casts.other_scans[0], Ledger("mounting"), "casts.other_scans.1").vertices

    first = read(case)
    assert read(load_case(tmp_path)) is first
    assert np.ptp(read(case_of(tmp_path, 70.0)), axis=0) == pytest.approx([70.0] * 3)
