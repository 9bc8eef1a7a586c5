"""The one owner of connections and transactions. Nothing outside of this module begins or ends one.

Writers begin with BEGIN IMMEDIATE, so that a second one waits instead of failing half-way; readers begin with BEGIN
and a first look, so that all they see is of one moment. Inside a process writers queue on a lock first: SQLite's own
waiting is by polling and gives nobody a turn.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.pool import QueuePool

from mountproof.case.store.faults import named, refuse
from mountproof.case.store.schema import APPLICATION_ID, STORE_VERSION
from mountproof.said import say

#: How long a writer waits for another one unless told.
WAIT_S = 10.0
_WRITES = "mountproof_writes"
_NO_STORE = say("Name a folder that holds a store, or an empty one to begin a store in")


class Database:
    """The database file of one store: its connections, its readers and its one writer."""

    def __init__(self, file: Path, wait_s: float = WAIT_S) -> None:
        self.file, self.wait_s = file, wait_s
        self._turn = threading.Lock()
        self._writer: int | None = None
        with named(file):
            _begin_file(file, wait_s)
        self._engine = _engine(file, wait_s)
        try:
            self._checked()
        except BaseException:
            self.close()
            raise

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees the store as it is now, whatever others write meanwhile."""
        with named(self.file), self._engine.connect() as connection, connection.begin():
            connection.exec_driver_sql("SELECT 1 FROM sqlite_schema LIMIT 1").fetchall()
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give the one connection that may write; all of it is kept on leaving, nothing where something is raised.

        FaultError ``store.busy`` where another writer takes longer than ``wait_s``. RuntimeError for a second one
        inside the first.
        """
        with self.alone(), named(self.file), self._engine.connect() as plain:
            connection = plain.execution_options(**{_WRITES: True})
            with connection.begin():
                yield connection

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Keep other writers of this process out; faults as ``writing``."""
        if self._writer == threading.get_ident():
            raise RuntimeError("a change is open already in this thread")
        if not self._turn.acquire(timeout=self.wait_s):
            refuse(
                "store.busy",
                say("somebody else is writing to the store"),
                say("Wait, then repeat this"),
                str(self.file),
            )
        try:
            self._writer = threading.get_ident()
            yield
        finally:
            self._writer = None
            self._turn.release()

    def version(self) -> int:
        """Return the version of the tables in the file; 0 for a file that holds none yet."""
        with self.reading() as connection:
            return table_version(connection)

    def close(self) -> None:
        """Close every connection; the last one to leave folds the write-ahead file into the database."""
        self._engine.dispose()

    def _checked(self) -> None:
        with self.reading() as connection:
            ours = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
            tables = connection.exec_driver_sql("SELECT count(*) FROM sqlite_schema").scalar_one()
            mode = connection.exec_driver_sql("PRAGMA journal_mode").scalar_one()
            keys = connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one()
            version = table_version(connection)
        if tables and ours != APPLICATION_ID:
            refuse(
                "store.not_a_store",
                say("this database belongs to another program"),
                _NO_STORE,
                str(self.file),
            )
        if mode != "wal" or keys != 1:
            what = say("this disk does not let several programs share a database")
            refuse(
                "store.not_written",
                what,
                say("Keep the store on a disk of this computer"),
                str(self.file),
                got=mode,
            )
        if version > STORE_VERSION:
            newer(self.file, version)


def newer(file: Path, version: int) -> None:
    """Raise FaultError ``store.newer``: the tables in ``file`` are of a later ``version`` than this program's."""
    refuse(
        "store.newer",
        say("the store was written by a newer version of this program"),
        say("Use that version"),
        str(file),
        got=say("version {version}", version=version),
        allowed=say("up to version {version}", version=STORE_VERSION),
    )


def table_version(connection: Connection) -> int:
    """Return the version of the tables that a connection sees; 0 where there are none."""
    there = "SELECT count(*) FROM sqlite_schema WHERE name = 'alembic_version'"
    if not connection.exec_driver_sql(there).scalar_one():
        return 0
    text = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    return int(text) if text is not None and str(text).isdecimal() else 0


def _begin_file(file: Path, wait_s: float) -> None:
    """Make the folder and set what a database file keeps: the write-ahead log. Nothing else is written here."""
    file.parent.mkdir(parents=True, exist_ok=True)
    if not file.parent.is_dir() or file.is_dir():
        refuse("store.not_a_store", say("this is no store"), _NO_STORE, str(file))
    end = time.monotonic() + wait_s
    while True:
        raw = sqlite3.connect(file, timeout=wait_s, isolation_level=None)
        try:
            ours = raw.execute("PRAGMA application_id").fetchone()[0]
            empty = not raw.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
            if not empty and ours != APPLICATION_ID:
                refuse(
                    "store.not_a_store", say("this database belongs to another program"), _NO_STORE, str(file)
                )
            raw.execute("PRAGMA journal_mode = WAL").fetchone()
            return
        except sqlite3.OperationalError as error:
            # Changing the mode needs the file alone; SQLite does not wait for that by itself.
            if not error.sqlite_errorname.startswith("SQLITE_BUSY") or time.monotonic() > end:
                raise
            time.sleep(0.01)
        finally:
            raw.close()


def _engine(file: Path, wait_s: float) -> Engine:
    engine = create_engine(
        URL.create("sqlite+pysqlite", database=str(file)),
        connect_args={"timeout": wait_s, "check_same_thread": False},
        poolclass=QueuePool,
        pool_size=4,
        max_overflow=-1,
    )

    @event.listens_for(engine, "connect")
    def _connected(raw: Any, _record: Any) -> None:
        raw.isolation_level = (
            None  # Python's own way to begin would make every first reader's write fail at once
        )
        for pragma in (
            "foreign_keys = ON",
            "synchronous = FULL",
            "recursive_triggers = ON",
            "trusted_schema = OFF",
        ):
            raw.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(_WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
