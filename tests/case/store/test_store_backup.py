"""Backups while the store is in use, and what is refused on the way back."""

from __future__ import annotations

import io
import shutil
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from mountproof.case.store import Store
from mountproof.case.store.scans import ScanFolder
from mountproof.case.store.schema import STORE_VERSION
from mountproof.faults import FaultError

HERE = Path(__file__).parent


def codes(error: pytest.ExceptionInfo[FaultError]) -> list[str]:
    return [fault.code for fault in error.value.faults]


def add(store: Store, n: int) -> None:
    sha = store.scans.add(io.BytesIO(f"scan {n}".encode())).sha256
    with store.change("QP") as change:
        case_id = change.begin(f'code = "{n}"'.encode(), {"a.stl": sha}).case_id
        change.edit(case_id, {"note": "twice"}, 1)


def test_a_backup_made_while_somebody_writes_is_of_one_moment(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store:
        add(store, 0)
        stop, written = threading.Event(), [1]

        def write() -> None:
            while not stop.is_set():
                add(store, written[0])
                written[0] += 1

        writer = threading.Thread(target=write)
        writer.start()
        try:
            for n in range(5):
                before = written[0]
                store.backup(tmp_path / f"backup-{n}")
                assert (before, n) <= (written[0], n)
                with Store(tmp_path / f"backup-{n}") as copy:
                    assert copy.check() == ()
                    with copy.snapshot() as seen:
                        listed = seen.cases(most=500).cases
                    assert len(listed) >= before - 1
                    # Both revisions of a case or none: they were written in one change.
                    assert {one.number for one in listed} == {2}
        finally:
            stop.set()
            writer.join()
        assert written[0] > 5


def test_what_is_put_back_is_what_was_there_and_what_was_there_is_kept(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store, Store(tmp_path / "store") as other_window:
        add(store, 1)
        store.backup(tmp_path / "backup")
        add(store, 2)
        with store.snapshot() as before:
            kept = store.restore(tmp_path / "backup", "QP")
            assert len(before.cases().cases) == 2, "whoever was looking sees what was there"
        for window in (store, other_window):
            with window.snapshot() as seen:
                assert [one.code for one in seen.cases().cases] == ["1"]
        assert store.check() == ()
        with closing(sqlite3.connect(kept)) as raw:
            assert raw.execute("SELECT count(*) FROM cases").fetchone() == (2,)
        # The scan of the second case is nobody's now; it is shown and still there.
        assert len(store.orphans()) == 1
        add(other_window, 3)
        assert store.restore(tmp_path / "backup", "QP") != kept


def test_a_backup_brings_its_scans(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store:
        add(store, 1)
        store.backup(tmp_path / "backup")
    shutil.rmtree(tmp_path / "store")
    with Store(tmp_path / "store") as store:
        store.restore(tmp_path / "backup", "QP")
        assert store.check() == ()
    for file in (tmp_path / "backup" / "scans").rglob("*"):
        if file.is_file():
            file.unlink()
    with Store(tmp_path / "empty") as store:
        with pytest.raises(FaultError) as refused:
            store.restore(tmp_path / "backup", "QP")
        assert codes(refused) == ["store.file_missing"]
        with store.snapshot() as seen:
            assert seen.cases().cases == ()


def test_a_backup_of_an_older_version_is_brought_to_this_one(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store:
        add(store, 1)
        for version in range(1, STORE_VERSION):
            old = tmp_path / f"old {version}"
            (old / "scans").mkdir(parents=True)
            shutil.copyfile(HERE / f"v{version}.sqlite", old / "cases.sqlite")
            for data in (b"upper of SPARROW", b"lower of SPARROW"):
                ScanFolder(old / "scans").add(io.BytesIO(data))
            before = (old / "cases.sqlite").read_bytes()
            store.restore(old, "QP")
            assert store.check() == ()
            with store.snapshot() as seen:
                assert [one.code for one in seen.cases(order="code").cases] == ["FINCH-2", "SPARROW-7"]
            assert (old / "cases.sqlite").read_bytes() == before
            assert sorted(file.name for file in old.iterdir()) == ["cases.sqlite", "scans"]


def test_backups_of_newer_versions_are_refused(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store:
        add(store, 1)
        store.backup(tmp_path / "new")
        with closing(sqlite3.connect(tmp_path / "new" / "cases.sqlite")) as raw, raw:
            raw.execute("UPDATE alembic_version SET version_num = ?", (STORE_VERSION + 1,))
        with pytest.raises(FaultError) as refused:
            store.restore(tmp_path / "new", "QP")
        assert codes(refused) == ["store.newer"]
        with pytest.raises(FaultError) as refused:
            store.restore(tmp_path / "nothing", "QP")
        assert codes(refused) == ["store.not_a_store"]
        with store.snapshot() as seen:
            assert [one.code for one in seen.cases().cases] == ["1"]
        assert not list((tmp_path / "store" / "kept").glob("*")) if store.place.kept.exists() else True


def test_a_damaged_backup_and_another_programs_file_are_refused(tmp_path: Path) -> None:
    with Store(tmp_path / "store") as store:
        for n in range(30):
            add(store, n)
        store.backup(tmp_path / "backup")
        file = tmp_path / "backup" / "cases.sqlite"
        good = file.read_bytes()
        bad = bytearray(good)
        bad[8192 : len(bad) // 2] = bytes(len(bad) // 2 - 8192)
        for data, code in ((bytes(bad), "store.damaged"), (b"no database" * 99, "store.damaged")):
            file.write_bytes(data)
            with pytest.raises(FaultError) as refused:
                store.restore(tmp_path / "backup", "QP")
            assert codes(refused) == [code]
        file.unlink()
        with closing(sqlite3.connect(file)) as raw:
            raw.execute("CREATE TABLE notes (text)")
        with pytest.raises(FaultError) as refused:
            store.restore(tmp_path / "backup", "QP")
        assert codes(refused) == ["store.not_a_store"]
        assert store.check() == ()
        with store.snapshot() as seen:
            assert len(seen.cases().cases) == 30
