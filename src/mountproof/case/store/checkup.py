"""Look whether everything in a store is as it was written; nothing is changed or mended."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Connection, select

from mountproof.case.store import schema as t
from mountproof.case.store.scans import ScanFolder, Stray
from mountproof.case.store.texts import text_digest
from mountproof.faults import Fault, FaultError
from mountproof.said import say

_BACK = say("Put back the last backup, or ask for help before anything else is written")


def checkup(connection: Connection, scans: ScanFolder, where: str) -> Iterator[Fault]:
    """Yield everything that is not as it was written: pages, references, texts, order, the list, stored files."""
    for row in connection.exec_driver_sql("PRAGMA integrity_check"):
        if row[0] != "ok":
            yield _damaged(say("the database file is damaged"), where, str(row[0]))
    for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield _damaged(say("a row refers to one that is not there"), where, str(row[0]))
    yield from _revisions(connection, where)
    yield from _files(connection, scans)


def strays(connection: Connection, scans: ScanFolder, older_than_s: float) -> Iterator[Stray]:
    """Yield stored files that no revision names, and what stopped uploads left."""
    needed = set(connection.execute(select(t.revision_files.c.sha256).distinct()).scalars())
    for sha256 in scans.everything():
        if sha256 not in needed:
            file = scans.path(sha256)
            yield Stray(file, file.stat().st_size, sha256)
    yield from scans.leftovers(older_than_s)


def _revisions(connection: Connection, where: str) -> Iterator[Fault]:
    r, newest, number = t.revisions.c, dict[int, tuple[int, int]](), 0
    query = select(r.id, r.case_id, r.number, r.parent_id, r.text, r.text_sha256).order_by(
        r.case_id, r.number
    )
    for row in connection.execute(query):
        before, number = newest.get(row.case_id, (None, 0))
        if row.number <= number or (row.number != 1 and before is None) or row.parent_id != before:
            yield _damaged(
                say("a revision does not follow the one before"),
                where,
                say("case {id}", id=row.case_id),
            )
        if text_digest(bytes(row.text)) != row.text_sha256:
            yield _damaged(
                say("the text of a revision is not what was written"), where, say("revision {id}", id=row.id)
            )
        newest[row.case_id] = (row.id, row.number)
    h = t.heads.c
    listed = {
        row.case_id: (row.head_id, row.number)
        for row in connection.execute(select(h.case_id, h.head_id, h.number))
    }
    there = set(connection.execute(select(t.cases.c.id)).scalars())
    if listed != newest or there != newest.keys():
        yield _damaged(say("the list of cases does not show the newest revisions"), where, "")


def _files(connection: Connection, scans: ScanFolder) -> Iterator[Fault]:
    for sha256 in connection.execute(select(t.revision_files.c.sha256).distinct()).scalars():
        try:
            scans.verified(sha256)
        except FaultError as error:
            yield from error.faults


def _damaged(what: str, where: str, got: str) -> Fault:
    return Fault("store.damaged", what, _BACK, where, got=got)
