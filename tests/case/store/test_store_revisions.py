"""Revisions: nothing is overwritten, changes of different entries come together, those of one entry are reported."""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError

from mountproof.answers.sheet import answer
from mountproof.answers.words import BY_KEY
from mountproof.case.files import load_case
from mountproof.case.store import CaseState, ConflictError, Store
from mountproof.case.store.differences import REMARKS, FieldChange
from mountproof.faults import FaultError

BENCH = (Path(__file__).parents[1] / "bench_case.toml").read_bytes()
WREN = (
    b'\xef\xbb\xbf# WREN-3, an invented case\r\ncode = "WREN-3"   # code\r\nlab = "L"\r\n\r\nnote = "n"\r\n'
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store") as opened:
        yield opened
        assert opened.check() == ()


def begin(store: Store, text: bytes = BENCH) -> int:
    with store.change("QP") as change:
        return change.begin(text).case_id


def edit(store: Store, case_id: int, based_on: int, who: str = "QP", **fields: object) -> int:
    with store.change(who) as change:
        return change.edit(case_id, {k.replace("__", "."): v for k, v in fields.items()}, based_on).number


def head(store: Store, case_id: int) -> bytes:
    with store.snapshot() as seen:
        return seen.head(case_id).text


def test_every_text_is_kept_byte_for_byte(store: Store) -> None:
    case_id = begin(store, WREN)
    texts = [WREN]
    for number in range(1, 6):
        text = WREN.replace(b'"n"', f'"{number}"  # remark {number}'.encode())
        with store.change("NN") as change:
            assert change.save(case_id, text, number).number == number + 1
        texts.append(text)
    with store.snapshot() as seen:
        history = seen.history(case_id)
        assert [one.text for one in history] == texts
        assert [one.number for one in history] == [1, 2, 3, 4, 5, 6]
        assert len({one.digest for one in history}) == 6
        assert history[1].changes == (FieldChange("note", '"n"', '"1"'),)
        assert seen.case(case_id, 3).note == "2"


def test_a_remark_alone_is_a_revision_and_nothing_entered_changes(store: Store) -> None:
    case_id = begin(store, WREN)
    with store.change("QP") as change:
        new = change.save(case_id, WREN + b"# a remark\r\n", 1)
        assert new.changes == (FieldChange(REMARKS, None, None),)
        assert new.digest == change.revision(case_id, 1).digest
        assert change.save(case_id, WREN + b"# a remark\r\n", 2) == change.head(case_id)
        assert change.head(case_id).number == 2


def test_changes_of_different_entries_come_together(store: Store) -> None:
    case_id = begin(store)
    edit(store, case_id, 1, note="from one window")
    edit(store, case_id, 1, lab="from another")
    edit(store, case_id, 1, instrument__pin__zero_reads=0.5)
    with store.snapshot() as seen:
        case = seen.case(case_id)
        assert (case.note, case.lab) == ("from one window", "from another")
        assert case.instrument is not None
        assert case.instrument.pin is not None
        assert case.instrument.pin.zero_reads == 0.5
        assert [one.changes[0].field for one in seen.history(case_id, 1)] == [
            "note",
            "lab",
            "instrument.pin.zero_reads",
        ]
        assert all(len(one.changes) == 1 for one in seen.history(case_id, 1))


def test_cells_of_one_row_come_together(store: Store) -> None:
    case_id = begin(store)
    with store.snapshot() as seen:
        marks = seen.case(case_id).marks
    assert marks is not None
    pair = next(iter(marks.readings_mm.rows))
    one, other = marks.readings_mm.states[:2]
    for state, value in ((one, 37.25), (other, 38.75)):
        with store.change("QP") as change:
            change.edit(case_id, {f'marks.readings_mm."{pair}".{state}': value}, 1)
    with store.snapshot() as seen:
        now = seen.case(case_id).marks
        assert now is not None
        assert now.readings_mm.get(pair, one) == (37.25,)
        assert now.readings_mm.get(pair, other) == (38.75,)


def test_a_change_of_the_same_entry_is_reported_and_not_written(store: Store) -> None:
    case_id = begin(store, WREN)
    edit(store, case_id, 1, "AA", note="theirs")
    edit(store, case_id, 2, "BB", lab="elsewhere")
    with pytest.raises(ConflictError) as refused:
        edit(store, case_id, 1, "CC", note="mine", by="CC")
    (one,) = refused.value.conflicts
    assert (one.field, one.base, one.mine, one.theirs) == ("note", '"n"', '"mine"', '"theirs"')
    assert (one.who, one.number) == ("AA", 2)
    (fault,) = refused.value.faults
    assert (fault.code, fault.field) == ("store.conflict", "note")
    assert "AA" in str(fault)
    assert '"theirs"' in str(fault)
    with store.snapshot() as seen:
        assert seen.head(case_id).number == 3
        assert seen.case(case_id).by == ""
    # The same value from both is no conflict, and no revision.
    assert edit(store, case_id, 1, "DD", note="theirs") == 3


def test_remarks_of_both_are_kept_or_reported(store: Store) -> None:
    case_id = begin(store, WREN)
    edit(store, case_id, 1, "AA", note="theirs")
    with store.change("BB") as change:
        new = change.save(case_id, WREN.replace(b"# code", b"# my remark"), 1)
        assert b"# my remark" in new.text
        assert b'note = "theirs"' in new.text
        with pytest.raises(ConflictError) as refused:
            change.save(case_id, WREN.replace(b'note = "n"', b'note = "n"  # mine'), 1)
    assert [one.field for one in refused.value.conflicts] == [REMARKS]


def test_changes_that_do_not_fit_together_are_refused(store: Store) -> None:
    text = b'code = "A"\n[records."one"]\nkind = "CR"\n'
    case_id = begin(store, text)
    with store.change("AA") as change:
        change.edit(case_id, {"mounted_on": "one"}, 1)
    with pytest.raises(FaultError) as refused, store.change("BB") as change:
        change.save(case_id, b'code = "A"\n', 1)
    assert "case.reference" in {fault.code for fault in refused.value.faults}
    with store.snapshot() as seen:
        assert seen.head(case_id).number == 2


def test_undo_is_a_new_revision(store: Store) -> None:
    case_id = begin(store, WREN)
    edit(store, case_id, 1, note="2")
    with store.change("QP") as change:
        undone = change.undo(case_id, 2)
        assert (undone.number, undone.text, undone.what) == (3, WREN, "undo of revision 2")
        assert change.undo(case_id, 3).text == change.revision(case_id, 2).text
        assert [one.number for one in change.history(case_id)] == [1, 2, 3, 4]
        with pytest.raises(FaultError):
            change.undo(case_id, 1)


def test_undo_of_an_earlier_revision_keeps_what_came_after(store: Store) -> None:
    case_id = begin(store, WREN)
    edit(store, case_id, 1, note="2")
    edit(store, case_id, 2, lab="3")
    with store.change("QP") as change:
        assert change.undo(case_id, 2).text == WREN.replace(b'"L"', b'"3"')
    edit(store, case_id, 4, lab="5")
    with store.change("QP") as change, pytest.raises(ConflictError) as refused:
        change.undo(case_id, 3)
    assert [one.field for one in refused.value.conflicts] == ["lab"]


def test_a_clock_set_back_does_not_reorder(tmp_path: Path) -> None:
    times = iter(dt.datetime(2026, 3, day, tzinfo=dt.UTC) for day in (20, 10, 15, 1))
    with Store(tmp_path, clock=lambda: next(times)) as store:
        first, second = begin(store, b'code = "FIRST"'), begin(store, b'code = "SECOND"')
        edit(store, first, 1, note="a")
        edit(store, first, 2, note="b")
        with store.snapshot() as seen:
            history = seen.history(first)
            assert [one.at.day for one in history] == [20, 15, 1]
            assert [one.number for one in history] == [1, 2, 3]
            listed = seen.cases().cases
            assert [one.case_id for one in listed] == [first, second]
            assert listed[0].age_s(dt.datetime(2026, 2, 1, tzinfo=dt.UTC)) == 0
            assert listed[0].age_s(dt.datetime(2026, 3, 2, tzinfo=dt.UTC)) == 86400


def test_the_database_itself_refuses_to_change_a_row(store: Store) -> None:
    case_id = begin(store, WREN)
    edit(store, case_id, 1, note="2")
    with store.change("QP") as change:
        change.accept(case_id, "pin", "0" * 64, ("note",))
        change.set_state(case_id, CaseState.DONE)
    tables = ("cases", "revisions", "changes", "states", "accepted")
    for table in tables:
        for statement in (f"UPDATE {table} SET rowid = rowid", f"DELETE FROM {table}"):
            with pytest.raises(IntegrityError), store.change("QP") as change:
                change._connection.exec_driver_sql(statement)
    with closing(sqlite3.connect(store.place.database)) as raw:
        raw.execute("PRAGMA recursive_triggers = ON")
        for table in tables:
            with pytest.raises(sqlite3.IntegrityError):
                raw.execute(f"REPLACE INTO {table} SELECT * FROM {table}")


def test_a_change_is_kept_whole_or_not_at_all(store: Store) -> None:
    case_id = begin(store, WREN)
    with pytest.raises(KeyError), store.change("QP") as change:
        change.edit(case_id, {"note": "half"}, 1)
        change.begin(b'code = "OTHER"')
        change.accept(case_id, "pin", "0" * 64, ("no such part",))
    with store.snapshot() as seen:
        assert seen.head(case_id).number == 1
        assert len(seen.cases().cases) == 1


def test_a_snapshot_stays_as_it_was(store: Store) -> None:
    case_id = begin(store, WREN)
    with store.snapshot() as seen:
        edit(store, case_id, 1, note="2")
        begin(store, b'code = "OTHER"')
        assert seen.head(case_id).number == 1
        assert len(seen.cases().cases) == 1
    assert b'"2"' in head(store, case_id)


def test_a_text_with_faults_is_refused_with_all_of_them(store: Store) -> None:
    for text in (b'code = "A"\nnotes = 1\ndate = "x"\n', b"\xff\xfe", b"code = 'A'\0", b"x" * 2_000_001):
        with pytest.raises(FaultError) as refused, store.change("QP") as change:
            change.begin(text)
        assert all(fault.code.startswith("case.") for fault in refused.value.faults)
    with store.snapshot() as seen:
        assert seen.cases().cases == ()
        for ask in (seen.head, seen.state, seen.uid):
            with pytest.raises(FaultError):
                ask(7)
        with pytest.raises(FaultError):
            seen.revision(7, 1)


def test_nobody_and_a_change_inside_a_change_are_mistakes_of_the_program(store: Store) -> None:
    with pytest.raises(ValueError, match="who"), store.change("  "):
        pass
    with store.change("QP"), pytest.raises(RuntimeError), store.change("QP"):
        pass


def test_an_accepted_answer_is_out_of_date_when_what_it_read_changes(store: Store) -> None:
    case_id = begin(store)
    with store.snapshot() as seen:
        case = seen.case(case_id)
    sheet = answer(case, ["pin", "stone"])
    with store.change("QP") as change:
        for key in ("pin", "stone"):
            change.accept(case_id, key, sheet[key].digest, BY_KEY[key].reads)
        assert change.out_of_date(case_id) == ()
        assert [one.question for one in change.accepted(case_id)] == ["pin", "stone"]
    edit(store, case_id, 1, note="says nothing about the pin")
    with store.snapshot() as seen:
        assert seen.out_of_date(case_id) == ()
    assert "note" not in BY_KEY["pin"].reads
    edit(store, case_id, 2, instrument__pin__zero_reads=0.5)
    with store.snapshot() as seen:
        late = {one.question: one for one in seen.out_of_date(case_id)}
        assert "pin" in late
        assert (late["pin"].who, late["pin"].number, late["pin"].digest) == ("QP", 1, sheet["pin"].digest)
        # It is not out of date for the case that it was accepted on.
        assert seen.out_of_date(case_id, case) == ()
    with store.change("NN") as change:
        change.undo(case_id, 3)
        assert change.out_of_date(case_id) == ()
        change.take_back(case_id, "pin")
        assert [one.question for one in change.accepted(case_id)] == ["stone"]


def test_a_case_made_in_memory_keeps_the_remarks_of_the_text_before(store: Store) -> None:
    case_id = begin(store, WREN)
    with store.snapshot() as seen:
        case = seen.case(case_id)
    with store.change("QP") as change:
        new = change.save(case_id, case.model_copy(update={"lab": "elsewhere"}), 1)
        assert new.text == WREN.replace(b'"L"', b'"elsewhere"')
        assert change.begin(case).digest == change.revision(case_id, 1).digest


def test_folders_come_in_and_go_out_byte_for_byte(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "in"
    (folder / "earlier").mkdir(parents=True)
    (folder / "case.toml").write_bytes(WREN)
    (folder / "earlier" / "case-0001.toml").write_bytes(b"not = even a case")
    (folder / "photo of the bench.jpg").write_bytes(b"\xff\xd8")
    (folder / ".hidden").write_bytes(b"")
    first = store.import_folder(folder, "QP")
    assert store.export_folder(first.case_id, tmp_path / "out") == tmp_path / "out" / "case.toml"
    assert _contents(tmp_path / "out") == _contents(folder, hidden=False)
    assert load_case(tmp_path / "out").code == "WREN-3"
    (folder / "photo of the bench.jpg").unlink()
    (folder / "case.toml").write_bytes(WREN + b"# later\n")
    second = store.import_folder(folder, "QP", first.case_id)
    assert (second.number, [one.field for one in second.changes]) == (2, ['files."photo of the bench.jpg"'])
    store.export_folder(first.case_id, tmp_path / "out")
    assert (tmp_path / "out" / "case.toml").read_bytes() == WREN + b"# later\n"
    assert (tmp_path / "out" / "photo of the bench.jpg").exists(), "nothing of a person's is removed"
    store.export_folder(first.case_id, tmp_path / "first", 1)
    assert (tmp_path / "first" / "case.toml").read_bytes() == WREN


def test_links_in_folders_are_refused(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "case.toml").write_bytes(WREN)
    (folder / "link").symlink_to("/etc/hostname")
    with pytest.raises(FaultError) as refused:
        store.import_folder(folder, "QP")
    assert [fault.code for fault in refused.value.faults] == ["store.file_name"]
    (folder / "link").unlink()
    first = store.import_folder(folder, "QP")
    (tmp_path / "out").mkdir()
    (tmp_path / "victim").write_bytes(b"mine")
    (tmp_path / "out" / "case.toml").symlink_to(tmp_path / "victim")
    with pytest.raises(FaultError):
        store.export_folder(first.case_id, tmp_path / "out")
    assert (tmp_path / "victim").read_bytes() == b"mine"


def _contents(folder: Path, hidden: bool = True) -> dict[str, bytes]:
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file() and (hidden or not file.name.startswith("."))
    }
