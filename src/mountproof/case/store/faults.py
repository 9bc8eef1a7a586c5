"""What can go wrong with a store, by name; and how errors of the database and the disk come by these names."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

from sqlalchemy.exc import DBAPIError

from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import cut, say

#: Every kind of fault of the store and of bundles, by its code, as it stands on the page about the store.
CODES = {
    "store.busy": say("Somebody else was writing for longer than the time to wait; nothing was changed."),
    "store.conflict": say("Somebody else changed the same entry meanwhile; nothing was changed."),
    "store.damaged": say("The database file is damaged."),
    "store.device": say("A device cannot be paired with this name or token."),
    "store.disk_full": say("The disk is full; nothing was changed."),
    "store.file_damaged": say("A stored scan is not what was put in."),
    "store.file_missing": say("A stored scan is not there."),
    "store.file_name": say("A name of a scan or file cannot be used."),
    "store.in_use": say("A backup was to be made where a store is."),
    "store.missing": say("There is no such case, revision, profile or device."),
    "store.newer": say("The store was written by a newer version of this program."),
    "store.none": say("There is no store of cases yet."),
    "store.not_a_store": say("The file or folder is no store of this program."),
    "store.not_written": say("The disk or the folder did not take what was written; nothing was changed."),
    "store.profile": say("A profile cannot be kept under this name."),
    "store.read_only": say("The store may not be written to."),
    "store.several": say("Several cases have this code."),
    "store.too_large": say("A file or folder is larger than anything in a case."),
    "bundle.contents": say("A bundle holds something that does not fit together."),
    "bundle.diverged": say("The case went on here and in the bundle, each in its own way."),
    "bundle.hash": say("A file in a bundle is not what its list of contents says."),
    "bundle.link": say("A bundle holds a link or another special file."),
    "bundle.locked": say("A bundle is locked with a password."),
    "bundle.name": say("A bundle holds a file with a name that it may not have."),
    "bundle.newer": say("The bundle was written by a newer version of this program."),
    "bundle.not_a_bundle": say("The file is no bundle of this program."),
    "bundle.overlap": say("Two files of a bundle stand in the same place of it."),
    "bundle.too_large": say("A bundle unpacks to more than it may."),
    "bundle.too_many": say("A bundle holds more files than it may."),
    "bundle.twice": say("A bundle holds two files of one name."),
}

_WAIT = say("Wait until the other window or command is done, then repeat this")
_ROOM = say("Make room on the disk, then repeat this")
_MAY = say("Check whether you may write to the folder, or name another one")
_PUT_BACK = say("Put back the last backup, or ask for help before anything else is written")
_DISK = say("Check whether the disk is there and has room, then repeat this")

#: Named errors of SQLite, longest match first.
_BY_SQLITE = (
    ("SQLITE_READONLY", "store.read_only", say("the store may not be written to"), _MAY),
    ("SQLITE_CANTOPEN", "store.read_only", say("the database cannot be opened for writing"), _MAY),
    ("SQLITE_PERM", "store.read_only", say("the store may not be written to"), _MAY),
    ("SQLITE_BUSY", "store.busy", say("somebody else is writing to the store"), _WAIT),
    ("SQLITE_LOCKED", "store.busy", say("somebody else is writing to the store"), _WAIT),
    ("SQLITE_FULL", "store.disk_full", say("the disk is full; nothing was changed"), _ROOM),
    ("SQLITE_CORRUPT", "store.damaged", say("the database file is damaged"), _PUT_BACK),
    ("SQLITE_NOTADB", "store.damaged", say("the file is no database"), _PUT_BACK),
    ("SQLITE_IOERR", "store.not_written", say("the disk did not take it; nothing was changed"), _DISK),
)
_BY_ERRNO = {
    errno.ENOSPC: ("store.disk_full", say("the disk is full; nothing was changed"), _ROOM),
    errno.EDQUOT: ("store.disk_full", say("your share of the disk is full; nothing was changed"), _ROOM),
    errno.EFBIG: ("store.disk_full", say("the file may not grow further; nothing was changed"), _ROOM),
    errno.EROFS: ("store.read_only", say("the disk may only be read"), _MAY),
    errno.EACCES: ("store.read_only", say("the store may not be written to"), _MAY),
    errno.EPERM: ("store.read_only", say("the store may not be written to"), _MAY),
}


def refuse(
    code: str, what: str, todo: str, where: str = "", field: str = "", got: str = "", allowed: str = ""
) -> NoReturn:
    """Raise FaultError with one fault of the store; texts as in Fault, cut so that they can be read."""
    raise FaultError([Fault(code, what, todo, where[-200:], None, field, cut(got, 120), allowed)])


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
            (
                "store.not_written",
                say("the disk refused ({why})", why=refusal(error)),
                _DISK,
            ),
        )
        raise FaultError([Fault(code, what, todo, str(error.filename or where)[-200:])]) from error


def _sqlite(cause: sqlite3.Error, error: Exception, where: str) -> None:
    name = getattr(cause, "sqlite_errorname", "") or ""
    for start, code, what, todo in _BY_SQLITE:
        if name.startswith(start):
            raise FaultError([Fault(code, what, todo, where[-200:])]) from error
