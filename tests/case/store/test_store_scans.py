"""Stored scans: once each, whole or not there, never another than what was put in."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

import pytest

from mountproof.case.store import Scan, Store
from mountproof.case.store.file_names import checked_name, checked_names
from mountproof.case.store.scans import ScanFolder
from mountproof.faults import FaultError

CASE = b"""code = "TERN-1"
[[scans]]
arch = "upper"
file = "./upper.stl"
unit = "mm"
placement = { frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]] }
"""


def codes(error: pytest.ExceptionInfo[FaultError]) -> list[str]:
    return [fault.code for fault in error.value.faults]


def test_each_is_kept_once_under_what_it_holds(tmp_path: Path) -> None:
    scans = ScanFolder(tmp_path)
    data = bytes(range(256)) * 20_000
    sha = hashlib.sha256(data).hexdigest()
    assert scans.add(io.BytesIO(data)) == Scan(sha, len(data), True)
    assert scans.add(io.BytesIO(data)) == Scan(sha, len(data), False)
    assert list(scans.everything()) == [sha]
    assert list(scans.leftovers()) == []
    with scans.open(sha) as stream:
        assert stream.read() == data
    assert scans.path(sha).stat().st_mode & 0o222 == 0


def test_a_changed_one_is_found_on_reading_and_mended_by_the_same_file(tmp_path: Path) -> None:
    scans = ScanFolder(tmp_path)
    sha = scans.add(io.BytesIO(b"as it was")).sha256
    file = scans.path(sha)
    file.chmod(0o644)
    file.write_bytes(b"as it isn")
    with pytest.raises(FaultError) as refused, scans.open(sha):
        pass
    assert codes(refused) == ["store.file_damaged"]
    assert scans.add(io.BytesIO(b"as it was")).new
    with scans.open(sha) as stream:
        assert stream.read() == b"as it was"
    file.unlink()
    with pytest.raises(FaultError) as refused, scans.open(sha):
        pass
    assert codes(refused) == ["store.file_missing"]
    for name in ("", "../" + sha, sha.upper(), sha + "\n"):
        with pytest.raises(ValueError, match="hexadecimal"):
            scans.path(name)


class Breaks(io.RawIOBase):
    """Gives some bytes, then fails as a connection does."""

    given = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        self.given += 1
        if self.given > 3:
            raise ConnectionResetError("gone")
        buffer[:10] = b"0123456789"
        return 10


def test_what_does_not_come_in_whole_is_not_there(tmp_path: Path) -> None:
    scans = ScanFolder(tmp_path)
    with pytest.raises(FaultError) as refused:
        scans.add(io.BytesIO(b"x" * 100), most_bytes=99)
    assert codes(refused) == ["store.too_large"]
    with pytest.raises(FaultError) as refused:
        scans.add(io.BytesIO(b"x"), expected="0" * 64)
    assert codes(refused) == ["store.file_damaged"]
    with pytest.raises(FaultError) as refused:
        scans.add(io.BufferedReader(Breaks()))
    assert codes(refused) == ["store.not_written"]
    assert list(scans.everything()) == []
    assert list(scans.leftovers()) == []


def test_a_case_needs_its_scans_and_gets_them_back(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        with pytest.raises(FaultError) as refused, store.change("QP") as change:
            change.begin(CASE)
        assert [(f.code, f.field) for f in refused.value.faults] == [("case.reference", "scans.1.file")]
        with pytest.raises(FaultError) as refused, store.change("QP") as change:
            change.begin(CASE, {"upper.stl": "0" * 64})
        assert codes(refused) == ["store.file_missing"]
        one, two = (store.scans.add(io.BytesIO(data)).sha256 for data in (b"first", b"second"))
        assert [stray.sha256 for stray in store.orphans()] == sorted([one, two])
        with store.change("QP") as change:
            case_id = change.begin(CASE, {"upper.stl": one}).case_id
            new = change.save(case_id, CASE, 1, {"upper.stl": two})
            assert [(c.field, c.old, c.new) for c in new.changes] == [('files."upper.stl"', one, two)]
            assert new.digest != change.revision(case_id, 1).digest
            cases = [change.case(case_id, number) for number in (1, 2)]
        assert store.orphans() == ()
        folders = [case.folder for case in cases]
        assert [(f / "upper.stl").read_bytes() for f in folders if f] == [b"first", b"second"]
        # The folders are made again when somebody removed what is in them.
        assert folders[0] is not None
        (folders[0] / "upper.stl").unlink()
        with store.snapshot() as seen:
            again = seen.case(case_id, 1).folder
        assert again == folders[0]
        assert (folders[0] / "upper.stl").read_bytes() == b"first"
        assert store.check() == ()
        assert sorted(p.name for p in store.place.views.iterdir()) == sorted({f.name for f in folders if f})


def test_what_nobody_needs_is_shown_and_removed_only_when_told(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        shas = [store.scans.add(io.BytesIO(data)).sha256 for data in (b"used", b"not used")]
        (tmp_path / "scans" / "incoming" / "tmpleft").write_bytes(b"half")
        found = store.orphans()
        assert [(one.sha256, one.bytes) for one in found if one.sha256 is None] == [(None, 4)]
        assert len(found) == 3
        assert [s.sha256 for s in store.orphans(older_than_s=3600) if s.sha256 is None] == []
        with store.change("QP") as change:
            change.begin(CASE, {"upper.stl": shas[0]})
        # One of them is needed by now: it stays.
        assert store.discard(found, "QP") == 2
        assert list(store.scans.everything()) == [shas[0]]
        assert store.orphans() == ()
        assert store.check() == ()


def test_damage_is_told_by_the_checkup(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        sha = store.scans.add(io.BytesIO(b"used")).sha256
        with store.change("QP") as change:
            case_id = change.begin(CASE, {"upper.stl": sha}).case_id
        file = store.scans.path(sha)
        file.chmod(0o644)
        file.write_bytes(b"usee")
        assert [fault.code for fault in store.check()] == ["store.file_damaged"]
        with pytest.raises(FaultError) as refused:
            store.export_folder(case_id, tmp_path / "out")
        assert codes(refused) == ["store.file_damaged"]
        assert not (tmp_path / "out" / "case.toml").exists()
        file.unlink()
        assert [fault.code for fault in store.check()] == ["store.file_missing"]


def test_names_that_some_system_cannot_write_are_refused() -> None:
    for name in ("a.stl", "scans/a b.stl", "ä/ß.stl", "conical.stl", ".x"):
        assert checked_name(name) == name
    bad = [
        "",
        "/a",
        "a/",
        "../a",
        "a/../b",
        "./a",
        "a//b",
        "C:a",
        "a\\b",
        "nul",
        "NUL.stl",
        "x/com1.txt",
        "a\n",
    ]
    bad += ["a.", "a ", "case.toml", "CASE.toml", "case.toml/x", "x" * 201, "\ud800", "a*b"]
    for name in bad:
        with pytest.raises(FaultError):
            checked_name(name)
    for names in (("a", "A"), ("a", "a/b"), ("A/c", "a/b"), ("A", "a/b")):
        with pytest.raises(FaultError):
            checked_names(dict.fromkeys(names, ""))
    assert list(checked_names({"b/a": "", "b/c": "", "a": ""})) == ["a", "b/a", "b/c"]


EXTRA = b"""code = "TERN-2"
[[casts.other_scans]]
arch = "upper"
file = "again.stl"
unit = "mm"
shows = "another cast"
[records."record 1"]
kind = "CR"
[records."record 1".scan]
file = "sub/record.stl"
unit = "mm"
shows = "the record"
"""


def test_scans_of_records_and_further_scans_go_in_and_out_as_the_others_do(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    (folder / "sub").mkdir(parents=True)
    (folder / "case.toml").write_bytes(EXTRA)
    (folder / "again.stl").write_bytes(b"one")
    (folder / "sub" / "record.stl").write_bytes(b"two")
    with Store(tmp_path / "store") as store:
        case_id = store.import_folder(folder, "QP").case_id
        goal = store.export_folder(case_id, tmp_path / "out").parent
        bundle = store.export_bundle(case_id, tmp_path / "b.zip")
        assert store.orphans() == () and store.check() == ()
    assert (goal / "sub" / "record.stl").read_bytes() == b"two" and (
        goal / "again.stl"
    ).read_bytes() == b"one"
    with Store(tmp_path / "other") as other:
        again = other.import_bundle(bundle, "QP")
        goal = other.export_folder(again, tmp_path / "out2").parent
    assert (goal / "sub" / "record.stl").read_bytes() == b"two" and (
        goal / "again.stl"
    ).read_bytes() == b"one"


def test_a_case_cannot_be_saved_without_the_scans_of_its_records(tmp_path: Path) -> None:
    with Store(tmp_path) as store, pytest.raises(FaultError) as refused, store.change("QP") as change:
        change.begin(EXTRA, {})
    assert [fault.field for fault in refused.value.faults] == [
        'records."record 1".scan.file',
        "casts.other_scans.1.file",
    ]
