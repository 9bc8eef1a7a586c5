"""Every step from an older version is proven on a stored file of that version; the last test lists those without one."""

from __future__ import annotations

import io
import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from mountproof.case.digest import digest
from mountproof.case.store import CaseState, Store
from mountproof.case.store.engine import Database
from mountproof.case.store.migrate import migrate, steps
from mountproof.case.store.schema import STORE_VERSION, metadata
from mountproof.faults import FaultError

HERE = Path(__file__).parent
UPPER, LOWER = b"upper of SPARROW", b"lower of SPARROW"


def folder_with(version: int, tmp_path: Path) -> Path:
    shutil.copyfile(HERE / f"v{version}.sqlite", tmp_path / "cases.sqlite")
    return tmp_path


def rows(file: Path, table: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(file)) as raw:
        return raw.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()


def test_a_file_of_version_1_opens_and_is_what_it_was(tmp_path: Path) -> None:
    file = folder_with(1, tmp_path) / "cases.sqlite"
    tables = ("cases", "revisions", "changes", "scans", "revision_files", "states", "heads")
    before = {table: rows(file, table) for table in tables}
    assert sum(map(len, before.values())) > 20
    with Store(tmp_path) as store:
        store.scans.add(io.BytesIO(UPPER))
        store.scans.add(io.BytesIO(LOWER))
        assert store.check() == ()
        with store.snapshot() as seen:
            codes = {one.code: one for one in seen.cases(order="code").cases}
            assert list(codes) == ["FINCH-2", "SPARROW-7"]
            sparrow = codes["SPARROW-7"]
            assert sparrow.state is CaseState.WAITING
            history = seen.history(sparrow.case_id)
            assert [one.what for one in history] == ["begun", "changed", "changed", "undo of revision 2"]
            # The remark, the line ends and the undone note are as they were typed; only the lab differs.
            assert history[3].text == history[0].text.replace(b"Bench 1", b"Bench 2")
            assert b"# first of its kind\r\n" in history[3].text
            case = seen.case(sparrow.case_id)
            assert case.folder is not None
            assert (case.folder / "scans/lower.stl").read_bytes() == LOWER
            assert seen.accepted(sparrow.case_id) == ()
        # What version 2 added can be used on the old case, and the old one goes on.
        with store.change("NN") as change:
            change.accept(sparrow.case_id, "pin", digest(case, ("note",)), ("note",))
            assert change.out_of_date(sparrow.case_id) == ()
            assert change.edit(sparrow.case_id, {"note": "again"}, 4).number == 5
            assert [one.question for one in change.out_of_date(sparrow.case_id)] == ["pin"]
    after = {table: rows(file, table) for table in tables}
    for table in tables[:-1]:
        assert set(before[table]) <= set(after[table]), table
    # The file as it was stays beside it.
    assert rows(tmp_path / "kept" / "version-1.sqlite", "revisions") == before["revisions"]


def test_a_file_of_version_2_opens_and_is_what_it_was(tmp_path: Path) -> None:
    file = folder_with(2, tmp_path) / "cases.sqlite"
    tables = ("cases", "revisions", "changes", "scans", "revision_files", "states", "accepted", "heads")
    before = {table: rows(file, table) for table in tables}
    assert len(before["accepted"]) == 3
    with Store(tmp_path) as store:
        store.scans.add(io.BytesIO(UPPER))
        store.scans.add(io.BytesIO(LOWER))
        assert store.check() == ()
        assert {table: rows(file, table) for table in tables} == before, (
            "a step touches no row that was there"
        )
        with store.snapshot() as seen:
            finch = next(one for one in seen.cases().cases if one.code == "FINCH-2")
            (accepted,) = seen.accepted(finch.case_id)
            assert (accepted.question, accepted.who, accepted.number) == ("pin", "QP", 2)
            assert (seen.profiles(), seen.devices()) == ((), ())
        # What version 3 added can be used, and the old cases go on.
        pin = {"kind": "straight", "ahead_mm": "110 +- 0,5", "below_mm": 62}
        with store.change("NN") as change:
            assert change.keep_profile("bench 3", {"name": "no. 2", "pin": pin}).number == 1
            assert change.add_device("tablet", "0" * 64).paired_by == "NN"
            assert change.edit(finch.case_id, {"note": "again"}, 2).number == 3
    assert rows(tmp_path / "kept" / "version-2.sqlite", "revisions") == before["revisions"]


def test_a_step_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = folder_with(1, tmp_path) / "cases.sqlite"
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("CREATE TABLE accepted_by_case (stands_in_the_way INTEGER)")
    before = rows(file, "sqlite_schema")
    with pytest.raises(Exception, match="accepted_by_case"):
        Store(tmp_path)
    assert rows(file, "sqlite_schema") == before


def test_the_steps_make_exactly_the_tables_of_the_program(tmp_path: Path) -> None:
    database = Database(tmp_path / "a.sqlite")
    assert migrate(database) == (0, STORE_VERSION)
    assert migrate(database) == (STORE_VERSION, STORE_VERSION)
    with database.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    database.close()


def test_a_new_file_and_a_migrated_one_have_the_same_tables(tmp_path: Path) -> None:
    def schema(folder: Path) -> set[str]:
        with Store(folder):
            pass
        return {str(row[4]) for row in rows(folder / "cases.sqlite", "sqlite_schema")}

    new = schema(tmp_path / "new")
    for version in range(1, STORE_VERSION):
        old = tmp_path / str(version)
        old.mkdir()
        assert schema(folder_with(version, old)) == new


def test_a_newer_file_is_refused_and_left(tmp_path: Path) -> None:
    with Store(tmp_path):
        pass
    file = tmp_path / "cases.sqlite"
    with closing(sqlite3.connect(file)) as raw, raw:
        raw.execute("UPDATE alembic_version SET version_num = ?", (str(STORE_VERSION + 1),))
    before = file.read_bytes()
    with pytest.raises(FaultError) as refused:
        Store(tmp_path)
    assert [fault.code for fault in refused.value.faults] == ["store.newer"]
    assert file.read_bytes() == before


def test_no_step_uses_what_commits_by_itself() -> None:
    """``executescript`` inside an open transaction commits it; a step would be half done then."""
    source = Path(__file__).parents[3] / "src/mountproof/case/store"
    files = list(source.rglob("*.py"))
    assert len(files) > 20
    for file in files:
        assert "executescript" not in file.read_text(encoding="utf-8")
        if file.parent.name == "versions":
            assert "schema" not in re.findall(r"import (\w+)", file.read_text(encoding="utf-8"))


def test_every_step_has_a_stored_file_of_the_version_before() -> None:
    versions = [int(one) for one in steps()]
    assert versions == list(range(1, STORE_VERSION + 1))
    without = [v for v in versions[:-1] if not (HERE / f"v{v}.sqlite").is_file()]
    assert not without, f"versions without a stored file: {without}"
    for version in versions[:-1]:
        assert rows(HERE / f"v{version}.sqlite", "alembic_version") == [(str(version),)]
