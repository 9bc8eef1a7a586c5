"""After a restore nothing is taken for another: numbers that were given are not given again, devices stay as they are."""

from __future__ import annotations

import io
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from mountproof.case.store import Store, restore
from mountproof.faults import FaultError


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store") as opened:
        yield opened
        assert opened.check() == ()


def begin(store: Store, code: str) -> int:
    with store.change("QP") as change:
        return change.begin(f'code = "{code}"'.encode()).case_id


def note(store: Store, text: str, based_on: int, case_id: int = 1) -> int:
    with store.change("QP") as change:
        return change.edit(case_id, {"note": text}, based_on).number


def rows(file: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(file)) as raw:
        return raw.execute(query).fetchall()


def test_a_window_that_was_open_before_a_restore_cannot_take_one_revision_for_another(
    store: Store, tmp_path: Path
) -> None:
    begin(store, "A")
    note(store, "in the backup", 1)
    store.backup(tmp_path / "backup")
    lost = [note(store, f"lost {n}", n) for n in (2, 3)]
    lost_case = begin(store, "lost")
    with store.snapshot() as seen:
        newest, writes = seen.latest_id(), seen.writes()
    store.restore(tmp_path / "backup", "RR")
    with store.snapshot() as seen:
        assert seen.writes() > writes, "a server notices it"
    for number in lost:
        with pytest.raises(FaultError) as refused:
            note(store, "typed in the old window", number)
        assert [fault.code for fault in refused.value.faults] == ["store.missing"]
    with pytest.raises(FaultError):
        note(store, "typed in the old window", 1, lost_case)
    assert note(store, "new", 2) == max(lost) + 1
    assert begin(store, "B") > lost_case
    with store.snapshot() as seen:
        assert [one.number for one in seen.history(1)] == [1, 2, max(lost) + 1]
        assert seen.latest_id() > newest
    # A second restore of the same backup goes above everything that was ever given.
    store.restore(tmp_path / "backup", "RR")
    assert note(store, "newer", 2) == max(lost) + 2
    assert rows(store.place.database, "SELECT kept, who FROM restores ORDER BY id") == [
        ("before-restore-1.sqlite", "RR"),
        ("before-restore-2.sqlite", "RR"),
    ]


def test_a_history_with_a_gap_is_undone_carried_and_checked(store: Store, tmp_path: Path) -> None:
    begin(store, "A")
    store.backup(tmp_path / "backup")
    for n in range(1, 4):
        note(store, f"lost {n}", n)
    lost = store.export_bundle(1, tmp_path / "lost.zip")
    store.restore(tmp_path / "backup", "RR")
    assert note(store, "kept", 1) == 5
    with store.change("QP") as change:
        assert change.undo(1, 5).number == 6
        with pytest.raises(FaultError):
            change.undo(1, 1)
    with store.snapshot() as seen:
        assert seen.case(1).note == ""
    bundle = store.export_bundle(1, tmp_path / "gap.zip")
    with Store(tmp_path / "other") as other:
        case_id = other.import_bundle(bundle, "NN")
        with other.snapshot() as seen:
            assert [one.number for one in seen.history(case_id)] == [1, 5, 6]
            (brought,) = seen.brought_in(case_id)
            assert (brought.first, brought.last, brought.who) == (1, 6, "NN")
        assert other.check() == ()
        assert other.export_bundle(case_id, tmp_path / "again.zip").read_bytes() == bundle.read_bytes()
        # What was lost by the restore went on in its own way.
        with pytest.raises(FaultError) as refused:
            other.import_bundle(lost, "NN")
        assert [fault.code for fault in refused.value.faults] == ["bundle.diverged"]


def test_what_a_restore_took_away_comes_back_from_a_bundle_as_it_was(store: Store, tmp_path: Path) -> None:
    begin(store, "A")
    store.backup(tmp_path / "backup")
    for n in range(1, 4):
        note(store, f"lost {n}", n)
    with store.snapshot() as seen:
        before = seen.history(1)
    lost = store.export_bundle(1, tmp_path / "lost.zip")
    store.restore(tmp_path / "backup", "RR")
    store.import_bundle(lost, "NN")
    with store.snapshot() as seen:
        assert [one._replace(id=0) for one in seen.history(1)] == [one._replace(id=0) for one in before]
        assert [(one.first, one.last, one.who) for one in seen.brought_in(1)] == [(2, 4, "NN")]
    assert note(store, "goes on", 4) == 5


def test_devices_are_after_a_restore_as_they_were_before_it(store: Store, tmp_path: Path) -> None:
    with store.change("QP") as change:
        stays = change.add_device("stays", "a" * 64)
        goes = change.add_device("goes", "b" * 64)
    store.backup(tmp_path / "backup")
    with store.change("QP") as change:
        change.revoke_device(goes.id)
        comes = change.add_device("comes", "c" * 64)
    store.restore(tmp_path / "backup", "RR")
    with store.snapshot() as seen:
        assert {one.name: one.revoked is None for one in seen.devices()} == {
            "stays": True,
            "goes": False,
            "comes": True,
        }
        assert seen.device_with("b" * 64) is None
        assert seen.device_with("c" * 64) == comes
        assert seen.device_with("a" * 64) == stays
    # A backup of another computer lets nobody in.
    with Store(tmp_path / "elsewhere") as other:
        other.restore(tmp_path / "backup", "RR")
        with other.snapshot() as seen:
            assert [one.revoked is None for one in seen.devices()] == [False, False]
            assert {one.revoked_by for one in seen.devices()} == {"RR"}


def test_whoever_writes_during_a_restore_finds_it_in_the_new_or_in_the_kept_database(
    store: Store, tmp_path: Path
) -> None:
    for n in range(40):
        begin(store, f"{n}")
    store.backup(tmp_path / "backup")
    written: list[tuple[int, str]] = []
    stop = threading.Event()

    def write() -> None:
        with Store(store.place.folder, wait_s=60) as other:
            n = 0
            while not stop.is_set():
                n += 1
                with other.change("W") as change:
                    done = change.edit(1, {"note": f"{n}"}, change.head(1).number)
                written.append((done.number, f"{n}"))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        kept = [store.restore(tmp_path / "backup", "RR") for _ in range(4)]
    finally:
        stop.set()
        writer.join()
    query = "SELECT number, text FROM revisions WHERE case_id = 1"
    there = [
        (number, bytes(text)) for file in (*kept, store.place.database) for number, text in rows(file, query)
    ]
    for number, text in written:
        assert any(found == number and f'"{text}"'.encode() in data for found, data in there), (number, text)
    assert len({number for number, _ in written}) == len(written), "no number was given twice"


def test_from_the_moment_the_old_is_kept_nobody_else_can_write(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begin(store, "A")
    store.backup(tmp_path / "backup")
    real, told = restore._carry_over, list[str]()

    def tried(*given: object) -> None:
        with Store(store.place.folder, wait_s=0.05) as other:
            with pytest.raises(FaultError) as refused:
                note(other, "in between", 1)
            told.extend(fault.code for fault in refused.value.faults)
            with other.snapshot() as seen:
                told.append(seen.case(1).code)
        real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(restore, "_carry_over", tried)
    store.restore(tmp_path / "backup", "RR")
    assert told == ["store.busy", "A"]


def test_a_restore_that_is_stopped_half_way_leaves_the_old(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begin(store, "A")
    store.backup(tmp_path / "backup")
    note(store, "newer", 1)
    monkeypatch.setattr(restore, "_carry_over", lambda *_: 1 // 0)
    with pytest.raises(ZeroDivisionError):
        store.restore(tmp_path / "backup", "RR")
    with store.snapshot() as seen:
        assert seen.head(1).number == 2
    assert note(store, "goes on", 2) == 3


def damage(file: Path, at: int, many: int = 1) -> None:
    """Make some pages of a database unreadable."""
    data = bytearray(file.read_bytes())
    size = 4096
    data[at // size * size : (at // size + many) * size] = b"\xa5" * (many * size)
    file.write_bytes(bytes(data))


@pytest.mark.parametrize("where", ["a revision", "everything"])
def test_a_damaged_database_is_replaced_and_numbers_leave_room(tmp_path: Path, where: str) -> None:
    folder, backup = tmp_path / "store", tmp_path / "backup"
    with Store(folder) as store:
        for n in range(30):
            begin(store, f"{n}")
        store.backup(backup)
        note(store, "lost", 1)
        with store.change("QP") as change:
            change.add_device("tablet", "a" * 64)
    file = folder / "cases.sqlite"
    if where == "everything":
        damage(file, 0, 9)
    else:
        damage(file, file.read_bytes().index(b'code = "15"'))
    damaged = file.read_bytes()
    if where == "everything":
        with pytest.raises(FaultError) as refused:
            Store(folder)
        assert [fault.code for fault in refused.value.faults] == ["store.damaged"]
        (tmp_path / "none").mkdir()
        with pytest.raises(FaultError):
            Store.recover(folder, tmp_path / "none", "RR")
        assert file.read_bytes() == damaged
        kept = Store.recover(folder, backup, "RR")
        assert kept.read_bytes() == damaged
    else:
        with Store(folder) as store:
            assert store.check() != ()
            store.restore(backup, "RR")
    with Store(folder) as store:
        assert store.check() == ()
        number, case_id = note(store, "new", 1), begin(store, "new")
        with store.snapshot() as seen:
            allowed = [one.name for one in seen.devices() if one.revoked is None]
        if where == "everything":
            assert (number > 1000, case_id > 1_000_000, allowed) == (True, True, [])
        else:  # what was given can still be read: the list of numbers is not where the damage is
            assert (number, case_id, allowed) == (3, 31, ["tablet"])


def test_a_restore_that_cannot_be_done_leaves_everything(store: Store, tmp_path: Path) -> None:
    sha = store.scans.add(io.BytesIO(b"a scan")).sha256
    with store.change("QP") as change:
        change.begin(b'code = "A"', {"a.stl": sha})
    store.backup(tmp_path / "backup")
    note(store, "newer", 1)
    before = list(rows(store.place.database, "SELECT * FROM revisions"))
    with pytest.raises(ValueError, match="who"):
        store.restore(tmp_path / "backup", " ")
    with closing(sqlite3.connect(store.place.database, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with Store(store.place.folder, wait_s=0.05) as impatient, pytest.raises(FaultError) as refused:
            impatient.restore(tmp_path / "backup", "RR")
        assert [fault.code for fault in refused.value.faults] == ["store.busy"]
        other.execute("ROLLBACK")
    assert list(rows(store.place.database, "SELECT * FROM revisions")) == before
    assert [file.suffix for file in store.place.kept.iterdir() if not file.name.startswith("before")] == []
