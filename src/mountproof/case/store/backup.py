"""Copies of a store while it is in use."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from mountproof.case.atomic import sync_folder
from mountproof.case.store.engine import WAIT_S
from mountproof.case.store.faults import named, refuse
from mountproof.case.store.place import Place
from mountproof.case.store.scans import ScanFolder
from mountproof.said import say


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
        if _in_use(goal.database):
            todo = say("Name a new folder, or that of an earlier backup")
            refuse("store.in_use", say("a store is in this folder, not a backup"), todo, str(folder))
    copy_database(place.database, goal.database)
    with looking_at(goal.database) as copy:
        needed = needed_files(copy)
    copy_files(needed, ScanFolder(place.scans), ScanFolder(goal.scans))
    return folder


def _in_use(database: Path) -> bool:
    """Tell whether a file is the database of a store that somebody works with; a backup has no write-ahead log."""
    if not database.exists():
        return False
    with database.open("rb") as stream:
        head = stream.read(20)
    return head.startswith(b"SQLite format 3\0") and head[18:20] == b"\x02\x02"


@contextmanager
def looking_at(file: Path) -> Iterator[sqlite3.Connection]:
    """Give a connection that cannot write, and leaves nothing beside the file."""
    with named(file), closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as copy:
        yield copy


def needed_files(copy: sqlite3.Connection) -> list[str]:
    """Return the SHA-256 of every stored file that some revision needs."""
    return [row[0] for row in copy.execute("SELECT DISTINCT sha256 FROM revision_files ORDER BY sha256")]


def copy_files(needed: list[str], source: ScanFolder, goal: ScanFolder) -> None:
    """Copy stored files that are not there already, each compared with its SHA-256."""
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
            refuse("store.busy", say("somebody else is writing to the store"), say("Wait, then repeat this"))

    old.backup(new, progress=waited, sleep=0.02)


def _sync(file: Path) -> None:
    handle = os.open(file, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
