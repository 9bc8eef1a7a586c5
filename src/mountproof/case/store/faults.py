"""What can go wrong with a store, by name; and how errors of the database and the disk come by these names."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

from sqlalchemy.exc import DBAPIError

from mountproof.faults import Fault, FaultError

#: Every kind of fault of the store and of bundles, by its code, as it stands on the page about the store.
CODES = {
    "store.busy": "Somebody else was writing for longer than the time to wait; nothing was changed.",
    "store.conflict": "Somebody else changed the same entry meanwhile; nothing was changed.",
    "store.damaged": "The database file is damaged.",
    "store.device": "A device cannot be paired with this name or token.",
    "store.disk_full": "The disk is full; nothing was changed.",
    "store.file_damaged": "A stored scan is not what was put in.",
    "store.file_missing": "A stored scan is not there.",
    "store.file_name": "A name of a scan or file cannot be used.",
    "store.missing": "There is no such case, revision, profile or device.",
    "store.newer": "The store was written by a newer version of this program.",
    "store.not_a_store": "The file or folder is no store of this program.",
    "store.not_written": "The disk or the folder did not take what was written; nothing was changed.",
    "store.profile": "A profile cannot be kept under this name.",
    "store.read_only": "The store may not be written to.",
    "store.too_large": "A file or folder is larger than anything in a case.",
    "bundle.contents": "A bundle holds something that does not fit together.",
    "bundle.diverged": "The case went on here and in the bundle, each in its own way.",
    "bundle.hash": "A file in a bundle is not what its list of contents says.",
    "bundle.link": "A bundle holds a link or another special file.",
    "bundle.locked": "A bundle is locked with a password.",
    "bundle.name": "A bundle holds a file with a name that it may not have.",
    "bundle.newer": "The bundle was written by a newer version of this program.",
    "bundle.not_a_bundle": "The file is no bundle of this program.",
    "bundle.overlap": "Two files of a bundle stand in the same place of it.",
    "bundle.too_large": "A bundle unpacks to more than it may.",
    "bundle.too_many": "A bundle holds more files than it may.",
    "bundle.twice": "A bundle holds two files of one name.",
}

_WAIT = "Wait until the other window or command is done, then repeat this"
_ROOM = "Make room on the disk, then repeat this"
_MAY = "Check whether you may write to the folder, or name another one"
_PUT_BACK = "Put back the last backup, or ask for help before anything else is written"
_DISK = "Check whether the disk is there and has room, then repeat this"

#: Named errors of SQLite, longest match first.
_BY_SQLITE = (
    ("SQLITE_READONLY", "store.read_only", "the store may not be written to", _MAY),
    ("SQLITE_CANTOPEN", "store.read_only", "the database cannot be opened for writing", _MAY),
    ("SQLITE_PERM", "store.read_only", "the store may not be written to", _MAY),
    ("SQLITE_BUSY", "store.busy", "somebody else is writing to the store", _WAIT),
    ("SQLITE_LOCKED", "store.busy", "somebody else is writing to the store", _WAIT),
    ("SQLITE_FULL", "store.disk_full", "the disk is full; nothing was changed", _ROOM),
    ("SQLITE_CORRUPT", "store.damaged", "the database file is damaged", _PUT_BACK),
    ("SQLITE_NOTADB", "store.damaged", "the file is no database", _PUT_BACK),
    ("SQLITE_IOERR", "store.not_written", "the disk did not take it; nothing was changed", _DISK),
)
_BY_ERRNO = {
    errno.ENOSPC: ("store.disk_full", "the disk is full; nothing was changed", _ROOM),
    errno.EDQUOT: ("store.disk_full", "your share of the disk is full; nothing was changed", _ROOM),
    errno.EFBIG: ("store.disk_full", "the file may not grow further; nothing was changed", _ROOM),
    errno.EROFS: ("store.read_only", "the disk may only be read", _MAY),
    errno.EACCES: ("store.read_only", "the store may not be written to", _MAY),
    errno.EPERM: ("store.read_only", "the store may not be written to", _MAY),
}


def refuse(
    code: str, what: str, todo: str, where: str = "", field: str = "", got: str = "", allowed: str = ""
) -> NoReturn:
    """Raise FaultError with one fault of the store; texts as in Fault, cut so that they can be read."""
    clean = "".join(c if c.isprintable() else "?" for c in got)
    raise FaultError(
        [
            Fault(
                code, what, todo, where[-200:], None, field, clean[:117] + "..." * (len(clean) > 117), allowed
            )
        ]
    )


@contextmanager
def named(where: str | Path) -> Iterator[None]:
    """Turn errors of the database and the disk inside into FaultError; ``where`` is the file they are about.

    Broken promises of the program itself (a row that must not be changed, a value of a wrong type) pass as they are.
    """
    try:
        yield
    except DBAPIError as error:
        cause = error.orig
        if isinstance(cause, sqlite3.Error):
            _sqlite(cause, error, str(where))
        raise
    except sqlite3.Error as error:
        _sqlite(error, error, str(where))
        raise
    except OSError as error:
        code, what, todo = _BY_ERRNO.get(
            error.errno or 0,
            ("store.not_written", f"the disk refused ({error.strerror or 'unknown reason'})", _DISK),
        )
        raise FaultError([Fault(code, what, todo, str(error.filename or where)[-200:])]) from error


def _sqlite(cause: sqlite3.Error, error: Exception, where: str) -> None:
    name = getattr(cause, "sqlite_errorname", "") or ""
    for start, code, what, todo in _BY_SQLITE:
        if name.startswith(start):
            raise FaultError([Fault(code, what, todo, where[-200:])]) from error
