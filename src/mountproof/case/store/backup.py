"""Copies of a store while it is in use, and the way back."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from mountproof.case.atomic import sync_folder
from mountproof.case.store.engine import WAIT_S, newer
from mountproof.case.store.faults import named, refuse
from mountproof.case.store.place import Place
from mountproof.case.store.scans import ScanFolder
from mountproof.case.store.schema import APPLICATION_ID, STORE_VERSION

_OTHER = "Name a folder that a backup was made in"


def copy_database(source: Path, goal: Path, wait_s: float = WAIT_S) -> Path:
    """Copy a database as it is at one moment, others reading and writing meanwhile, and return the copy.

    The copy is one file, whole or not there. FaultError where the source cannot be read or the copy not written.
    """
    passing = goal.with_name(f".{goal.name}.part")
    with named(goal):
        passing.unlink(missing_ok=True)
        try:
            with (
                closing(sqlite3.connect(source, timeout=wait_s)) as old,
                closing(sqlite3.connect(passing)) as new,
            ):
                _pages(old, new, wait_s)
                new.execute("PRAGMA journal_mode = DELETE").fetchone()
            _sync(passing)
            passing.replace(goal)
            sync_folder(goal.parent)
        finally:
            passing.unlink(missing_ok=True)
    return goal


def make_backup(place: Place, folder: Path) -> Path:
    """Copy the database and every stored file of a store to ``folder``; return it.

    Files that are there already and have the size that they should are not copied again. FaultError where something
    is damaged or cannot be written.
    """
    goal = Place(folder)
    with named(folder):
        folder.mkdir(parents=True, exist_ok=True)
    copy_database(place.database, goal.database)
    with _looking_at(goal.database) as copy:
        needed = _needed(copy)
    _copy_files(needed, ScanFolder(place.scans), ScanFolder(goal.scans))
    return folder


def put_back(place: Place, folder: Path, wait_s: float = WAIT_S) -> Path:
    """Put a backup in the place of a store's database; return where the one that was there is kept.

    Whoever uses the store meanwhile sees the old or the new, nothing between. FaultError where the backup is
    damaged, lacks a scan, or was written by a newer program (``store.newer``), and where the tables of this store are
    newer than those of the backup (``store.restore``); nothing is changed then.
    """
    source = Place(folder)
    if not source.database.is_file():
        refuse("store.not_a_store", "this folder holds no backup", _OTHER, str(folder))
    with _looking_at(source.database) as copy, named(source.database):
        version = _checked(copy, source.database)
        _compare(place, version)
        _copy_files(_needed(copy), ScanFolder(source.scans), ScanFolder(place.scans))
        place.kept.mkdir(parents=True, exist_ok=True)
        kept = copy_database(place.database, _free(place.kept), wait_s)
        with closing(sqlite3.connect(place.database, timeout=wait_s)) as new:
            _pages(copy, new, wait_s)
    return kept


@contextmanager
def _looking_at(file: Path) -> Iterator[sqlite3.Connection]:
    """A connection that cannot write, and leaves nothing beside the file."""
    with named(file), closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as copy:
        yield copy


def _checked(copy: sqlite3.Connection, file: Path) -> int:
    if copy.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        refuse("store.not_a_store", "this database belongs to another program", _OTHER, str(file))
    found = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        refuse("store.damaged", "the backup is damaged", "Name another backup", str(file), got=str(found))
    version = int(copy.execute("SELECT version_num FROM alembic_version").fetchone()[0])
    if version > STORE_VERSION:
        newer(file, version)
    return version


def _compare(place: Place, version: int) -> None:
    with _looking_at(place.database) as now:
        ours = int(now.execute("SELECT version_num FROM alembic_version").fetchone()[0])
    if ours > version:
        refuse(
            "store.restore",
            "the tables of this store are newer than those of the backup",
            "Open the backup as a store of its own: it is brought to this version there",
            str(place.database),
            got=f"version {version}",
            allowed=f"version {ours}",
        )


def _needed(copy: sqlite3.Connection) -> list[str]:
    return [row[0] for row in copy.execute("SELECT DISTINCT sha256 FROM revision_files ORDER BY sha256")]


def _copy_files(needed: list[str], source: ScanFolder, goal: ScanFolder) -> None:
    for sha256 in needed:
        there, here = goal.path(sha256), source.path(sha256)
        if there.is_file() and (not here.is_file() or there.stat().st_size == here.stat().st_size):
            continue
        with source.open(sha256) as stream:
            goal.add(stream, sha256)


def _pages(old: sqlite3.Connection, new: sqlite3.Connection, wait_s: float) -> None:
    """Copy page by page in one step; a writer that stands in the way is waited for, not for ever."""
    end = time.monotonic() + wait_s

    def waited(status: int, _left: int, _all: int) -> None:
        if status != sqlite3.SQLITE_DONE and time.monotonic() > end:
            refuse("store.busy", "somebody else is writing to the store", "Wait, then repeat this")

    old.backup(new, progress=waited, sleep=0.02)


def _free(folder: Path) -> Path:
    taken = {file.stem for file in folder.glob("before-restore-*.sqlite")}
    number = next(n for n in range(1, len(taken) + 2) if f"before-restore-{n}" not in taken)
    return folder / f"before-restore-{number}.sqlite"


def _sync(file: Path) -> None:
    handle = os.open(file, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
