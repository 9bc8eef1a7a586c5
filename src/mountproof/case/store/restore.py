"""Put a backup in the place of a store's database, while others use it; nothing that was given away is given again.

What stands in the store is kept as a file. Numbers of cases and revisions that were given since the backup are not
given to others: a window that was open before cannot take one for another. Devices that were revoked stay revoked, and
those that may come in now still may.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
import time
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

from mountproof.case.store.backup import copy_database, copy_files, looking_at, needed_files
from mountproof.case.store.engine import WAIT_S, Database, newer
from mountproof.case.store.faults import named, refuse
from mountproof.case.store.migrate import migrate
from mountproof.case.store.place import Place
from mountproof.case.store.scans import ScanFolder
from mountproof.case.store.schema import APPLICATION_ID, STORE_VERSION
from mountproof.said import say

_OTHER = say("Name a folder that a backup was made in")
_PASSING = ".restore-"
_LONG_AGO_S = 3600.0
#: How often a restore looks whether nobody else writes.
_LOOK_AGAIN_S = 0.003
#: Left out where the database that is replaced is too damaged to say which numbers it gave.
_ROOM_CASE, _ROOM_STORE = 1_000, 1_000_000


class Restore(NamedTuple):
    """Who puts a backup back, and when (UTC as text)."""

    who: str
    at_utc: str


def put_back(
    place: Place, folder: Path, restore: Restore, wait_s: float = WAIT_S, known: bool = True
) -> Path:
    """Put a backup in the place of a store's database; return where the one that was there is kept.

    Whoever uses the store meanwhile sees the old or the new, nothing between; others who write wait until it is done. A
    backup of an older version is brought to this one on the way. ``known`` is False where nothing tells which numbers
    were given; much room is left then. FaultError where the backup is damaged, lacks a scan, or was written by a newer
    program (``store.newer``), and ``store.busy`` where somebody else writes for too long; nothing is changed then.
    """
    source = Place(folder)
    if not source.database.is_file():
        refuse("store.not_a_store", say("this folder holds no backup"), _OTHER, str(folder))
    with looking_at(source.database) as copy:
        _check(copy, source.database)
        copy_files(needed_files(copy), ScanFolder(source.scans), ScanFolder(place.scans))
    with named(place.folder):
        place.kept.mkdir(parents=True, exist_ok=True)
        kept = _free(place.kept, "before-restore")
        _tidy(place.kept)
        with tempfile.TemporaryDirectory(prefix=_PASSING, dir=place.kept) as name:
            new = _brought_up(copy_database(source.database, Path(name) / "cases.sqlite"))
            _replace(place.database, new, kept, restore, known, wait_s)
    return kept


def put_back_over_damaged(place: Place, folder: Path, restore: Restore, wait_s: float = WAIT_S) -> Path:
    """Put a backup in the place of a database that cannot be opened any more; return where that is kept.

    Close everything that uses the store before. Faults as ``put_back``; the damaged database is back in its place then.
    """
    with named(place.folder):
        place.kept.mkdir(parents=True, exist_ok=True)
        aside = _free(place.kept, "damaged")
        moved = [(place.database, aside)]
        for end in ("-wal", "-shm"):
            log = place.database.with_name(place.database.name + end)
            moved += [(log, aside.with_name(aside.name + end))] if log.exists() else []
        for there, goal in moved:
            there.rename(goal)
    try:
        with closing(Database(place.database, wait_s)) as empty:
            migrate(empty)
        put_back(place, folder, restore, wait_s, known=False).unlink()
    except BaseException:
        with named(place.folder):
            for there, goal in moved:
                there.unlink(missing_ok=True)
                goal.rename(there)
        raise
    return aside


def _replace(database: Path, new: Path, kept: Path, restore: Restore, known: bool, wait_s: float) -> None:
    """Keep what is there, then replace it page by page in one step."""
    with (
        # Its own way to wait asks seldom, and would never find the short gaps that a busy writer leaves.
        closing(sqlite3.connect(database, timeout=0.0)) as there,
        closing(sqlite3.connect(new, timeout=wait_s)) as coming,
    ):
        end = time.monotonic() + wait_s
        locked = [False]

        def step(status: int, _left: int, _all: int) -> None:
            if status not in (sqlite3.SQLITE_OK, sqlite3.SQLITE_DONE):
                if time.monotonic() > end:
                    refuse(
                        "store.busy",
                        say("somebody else is writing to the store"),
                        say("Wait, then repeat this"),
                    )
            elif not locked[0]:
                # From the first page on nobody else can write, and readers still see what was there. What is
                # written into the backup now by its own connection is copied, too.
                locked[0] = True
                copy_database(database, kept, wait_s)
                with coming:
                    _carry_over(kept, coming, restore, known)

        coming.backup(there, pages=1, progress=step, sleep=_LOOK_AGAIN_S)


def _carry_over(kept: Path, new: sqlite3.Connection, restore: Restore, known: bool) -> None:
    """Write into a backup what must not be lost by putting it back: numbers that were given, devices."""
    with looking_at(kept) as old:
        try:
            if not known:
                raise sqlite3.DatabaseError
            given, sequences = _given(old), _rows(old, "SELECT name, seq FROM sqlite_sequence")
            devices = _rows(old, "SELECT id, name, token_sha256, who, paired_utc FROM devices")
            revoked = _rows(old, "SELECT id, who, at_utc FROM devices_revoked")
            restores = _rows(old, "SELECT id, kept, who, at_utc FROM restores")
        except sqlite3.DatabaseError:
            given, sequences, devices, revoked, restores = None, None, None, [], []
    here = _rows(new, "SELECT case_id, max(number) FROM revisions GROUP BY case_id")
    if sequences is None:
        sequences = [(t, n + _ROOM_STORE) for t, n in _rows(new, "SELECT name, seq FROM sqlite_sequence")]
    for table, seq in sequences:
        new.execute("UPDATE sqlite_sequence SET seq = max(seq, ?) WHERE name = ?", (seq, table))
        new.execute(
            "INSERT INTO sqlite_sequence (name, seq) SELECT ?, ? "
            "WHERE NOT EXISTS (SELECT 1 FROM sqlite_sequence WHERE name = ?)",
            (table, seq, table),
        )
    new.executemany(
        "INSERT INTO restores (id, kept, who, at_utc) SELECT ?, ?, ?, ? "
        "WHERE NOT EXISTS (SELECT 1 FROM restores WHERE id = ?)",
        [(*row, row[0]) for row in restores],
    )
    this = new.execute(
        "INSERT INTO restores (kept, who, at_utc) VALUES (?, ?, ?)", (kept.name, restore.who, restore.at_utc)
    ).lastrowid
    numbers = {
        case: given.get(case, 0) if given is not None else number + _ROOM_CASE for case, number in here
    }
    rows = [(this, case, numbers[case]) for case, number in here if numbers[case] > number]
    new.executemany("INSERT INTO numbers_given (restore_id, case_id, number) VALUES (?, ?, ?)", rows)
    _devices(new, devices, revoked, restore)


def _given(old: sqlite3.Connection) -> dict[int, int]:
    """Return the highest number that was given to a revision of each case."""
    query = (
        "SELECT case_id, max(number) FROM (SELECT case_id, number FROM revisions "
        "UNION ALL SELECT case_id, number FROM numbers_given) GROUP BY case_id"
    )
    return dict(_rows(old, query))


def _devices(
    new: sqlite3.Connection,
    devices: list[tuple[str, ...]] | None,
    revoked: list[tuple[str, ...]],
    restore: Restore,
) -> None:
    """Let those in that may come in now, and nobody else; ``devices`` None: nobody, for it cannot be read."""
    new.executemany(
        "INSERT INTO devices (id, name, token_sha256, who, paired_utc) SELECT ?, ?, ?, ?, ? "
        "WHERE NOT EXISTS (SELECT 1 FROM devices WHERE id = ? OR token_sha256 = ?)",
        [(*row, row[0], row[2]) for row in devices or []],
    )
    gone = {row[0]: row for row in revoked}
    known = {row[0] for row in devices or []}
    there = {row[0] for row in _rows(new, "SELECT id FROM devices_revoked")}
    for (device,) in _rows(new, "SELECT id FROM devices"):
        if device not in there and (device in gone or device not in known):
            row = gone.get(device, (device, restore.who, restore.at_utc))
            new.execute("INSERT INTO devices_revoked (id, who, at_utc) VALUES (?, ?, ?)", row)


def _rows(connection: sqlite3.Connection, query: str) -> list[tuple[Any, ...]]:
    return connection.execute(query).fetchall()


def _check(copy: sqlite3.Connection, file: Path) -> None:
    if copy.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        refuse("store.not_a_store", say("this database belongs to another program"), _OTHER, str(file))
    found = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        refuse(
            "store.damaged",
            say("the backup is damaged"),
            say("Name another backup"),
            str(file),
            got=str(found),
        )
    version = int(copy.execute("SELECT version_num FROM alembic_version").fetchone()[0])
    if version > STORE_VERSION:
        newer(file, version)


def _brought_up(passing: Path) -> Path:
    """Bring the copy of a backup to this version, as one plain file; return it."""
    database = Database(passing)
    try:
        migrate(database)
    finally:
        database.close()
    with closing(sqlite3.connect(passing)) as raw:
        raw.execute("PRAGMA journal_mode = DELETE").fetchone()
    return passing


def _tidy(folder: Path) -> None:
    """Remove what a restore left that was stopped long ago."""
    for left in folder.glob(f"{_PASSING}*"):
        if time.time() - left.stat().st_mtime > _LONG_AGO_S:
            shutil.rmtree(left, ignore_errors=True)


def _free(folder: Path, what: str) -> Path:
    taken = {file.stem for file in folder.glob(f"{what}-*.sqlite")}
    number = next(n for n in range(1, len(taken) + 2) if f"{what}-{n}" not in taken)
    return folder / f"{what}-{number}.sqlite"
