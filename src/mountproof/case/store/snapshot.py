"""What can be asked of the store, all of it as it was at one moment."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, RowMapping, Select, func, select

from mountproof.case.digest import digest
from mountproof.case.files import parse_case
from mountproof.case.model import Case
from mountproof.case.store import schema as t
from mountproof.case.store.devices import device_with, every_device
from mountproof.case.store.differences import FieldChange
from mountproof.case.store.faults import refuse
from mountproof.case.store.listing import listed, page, with_code
from mountproof.case.store.profiles import every_profile, one_profile
from mountproof.case.store.records import (
    Accepted,
    BroughtIn,
    CaseState,
    Device,
    Listed,
    Page,
    Profile,
    Revision,
    Touched,
)
from mountproof.case.store.texts import plain_text, with_digests
from mountproof.case.store.times import from_text
from mountproof.case.text_file import CASE_FILE
from mountproof.said import say

#: Makes a folder in which stored files stand under the names given.
Views = Callable[[Mapping[str, str]], Path]
#: The longest page of the list.
_MOST = 500


class Snapshot:
    """The store at one moment. Get one from ``Store.snapshot``; it ends with that block."""

    def __init__(self, connection: Connection, views: Views) -> None:
        self._connection = connection
        self._views = views

    def cases(
        self,
        search: str = "",
        state: CaseState | None = None,
        order: str = "changed",
        after: str | None = None,
        most: int = 50,
    ) -> Page:
        """Return a page of the list of cases.

        ``search``: words that must all stand in the code, the lab or the note, in any case of letters. ``order``:
        ``changed`` (last change first) or ``code``. ``after``: that of the page before. ``most``: 1 to 500.
        ValueError for an order, a number or an ``after`` that is none.
        """
        return page(self._connection, search, state, order, after, most)

    def every_case(self) -> Iterator[Listed]:
        """Yield all cases in the order of their codes, page by page."""
        after = None
        while True:
            found = self.cases(order="code", after=after, most=_MOST)
            yield from found.cases
            after = found.after
            if after is None:
                return

    def count(self) -> int:
        """Return how many cases there are."""
        return int(self._connection.execute(select(func.count()).select_from(t.heads)).scalar_one())

    def listed(self, case_id: int) -> Listed | None:
        """Return one case as the list shows it; None where there is no such case."""
        return listed(self._connection, case_id)

    def with_code(self, code: str) -> tuple[Listed, ...]:
        """Return the cases that have this code (in any case of letters), in the order in which they were begun."""
        return with_code(self._connection, code)

    def case_id(self, uid: str) -> int | None:
        """Return the id of the case that has this lasting name (the same in every store), or None."""
        found = self._connection.execute(select(t.cases.c.id).where(t.cases.c.uid == uid)).scalar()
        return None if found is None else int(found)

    def uid(self, case_id: int) -> str:
        """Return the lasting name of a case, the same in every store. FaultError where there is no such case."""
        found = self._connection.execute(select(t.cases.c.uid).where(t.cases.c.id == case_id)).scalar()
        return _no_case(case_id) if found is None else str(found)

    def head(self, case_id: int) -> Revision:
        """Return the newest revision of a case. FaultError ``store.missing`` where there is no such case."""
        rows = self._revisions(_of(case_id).order_by(t.revisions.c.number.desc()).limit(1))
        return rows[0] if rows else _no_case(case_id)

    def revision(self, case_id: int, number: int) -> Revision:
        """Return one revision of a case. FaultError ``store.missing`` where there is none of this number."""
        rows = self._revisions(_of(case_id).where(t.revisions.c.number == number))
        return rows[0] if rows else _no_revision(case_id, number)

    def history(self, case_id: int, since: int = 0) -> tuple[Revision, ...]:
        """Return the revisions of a case with numbers above ``since``, oldest first."""
        query = _of(case_id).where(t.revisions.c.number > since).order_by(t.revisions.c.number)
        return self._revisions(query)

    def case(self, case_id: int, number: int | None = None) -> Case:
        """Return the case of a revision (the newest unless told), its scans in a folder of their own.

        FaultError where there is none, a scan is missing or damaged, or this program finds faults in the text.
        """
        found = self.head(case_id) if number is None else self.revision(case_id, number)
        folder = self._views(found.files) if found.files else None
        return with_digests(parse_case(plain_text(found.text), CASE_FILE, folder), found.files)

    def state(self, case_id: int) -> CaseState:
        """Return where a case stands. FaultError where there is no such case."""
        found = self._connection.execute(select(t.heads.c.state).where(t.heads.c.case_id == case_id)).scalar()
        return _no_case(case_id) if found is None else CaseState(found)

    def accepted(self, case_id: int) -> tuple[Accepted, ...]:
        """Return what stands accepted in a case, the newest for each question, in the order of acceptance."""
        query = (
            select(t.accepted, t.revisions.c.number)
            .join(t.revisions, t.revisions.c.id == t.accepted.c.revision_id)
            .where(t.accepted.c.case_id == case_id)
            .order_by(t.accepted.c.id)
        )
        newest: dict[str, Accepted] = {}
        for row in self._connection.execute(query).mappings():
            newest.pop(row["question"], None)
            if row["stands"]:
                newest[row["question"]] = _accepted(row)
        return tuple(newest.values())

    def out_of_date(self, case_id: int, case: Case | None = None) -> tuple[Accepted, ...]:
        """Return what stands accepted and read something else than ``case`` holds (the newest revision unless given).

        The digest of the parts that each answer had read is made anew, with this program's version, and compared.
        """
        found = self.accepted(case_id)
        if not found:
            return ()
        if case is None:
            head = self.head(case_id)
            case = with_digests(parse_case(plain_text(head.text)), head.files)
        return tuple(one for one in found if _current(case, one) != one.digest)

    def brought_in(self, case_id: int) -> tuple[BroughtIn, ...]:
        """Return who took in bundles of a case here, and which revisions came with each, oldest first."""
        query = select(t.brought_in).where(t.brought_in.c.case_id == case_id).order_by(t.brought_in.c.id)
        return tuple(
            BroughtIn(row.first, row.last, row.bundle_sha256, row.who, from_text(row.at_utc))
            for row in self._connection.execute(query)
        )

    def latest_id(self) -> int:
        """Return the id of the newest revision of any case; 0 in a store without one."""
        return int(self._connection.execute(select(func.max(t.revisions.c.id))).scalar() or 0)

    def changed_since(self, revision_id: int, most: int = 500) -> tuple[Touched, ...]:
        """Return the first ``most`` revisions of any case written after the one with this id, oldest first."""
        r = t.revisions.c
        query = select(r.id, r.case_id, r.number, r.who, r.at_utc).where(r.id > revision_id)
        rows = self._connection.execute(query.order_by(r.id).limit(most))
        return tuple(Touched(*row[:4], from_text(row.at_utc)) for row in rows)

    def writes(self) -> int:
        """Return a number that is another one after every kept change of anything but when a device was seen.

        One quick question to the database: a server polls it to notice what a command line wrote, then asks
        ``changed_since``, states, acceptances, profiles or devices.
        """
        return int(
            self._connection.exec_driver_sql("SELECT COALESCE(sum(seq), 0) FROM sqlite_sequence").scalar_one()
        )

    def profiles(self) -> tuple[Profile, ...]:
        """Return the newest revision of every instrument profile, by name."""
        return every_profile(self._connection)

    def profile(self, name: str, number: int | None = None) -> Profile:
        """Return a revision of a profile, the newest unless told. FaultError ``store.missing`` where there is none."""
        return one_profile(self._connection, name, number)

    def devices(self) -> tuple[Device, ...]:
        """Return every device that was ever paired, in that order, those revoked too."""
        return every_device(self._connection)

    def device_with(self, token_sha256: str) -> Device | None:
        """Return the device that has the token with this SHA-256 and may still come in, or None."""
        return device_with(self._connection, token_sha256)

    def _before(self, revision: Revision) -> Revision | None:
        """Return the revision that another one was made from; None for the first. Numbers may have gaps."""
        r = t.revisions.c
        query = _of(revision.case_id).where(r.number < revision.number).order_by(r.number.desc()).limit(1)
        return next(iter(self._revisions(query)), None)

    def _revisions(self, query: Select[Any]) -> tuple[Revision, ...]:
        rows = self._connection.execute(query).mappings().all()
        changes: dict[int, list[FieldChange]] = {row["id"]: [] for row in rows}
        files: dict[int, dict[str, str]] = {row["id"]: {} for row in rows}
        for ids in _in_portions([row["id"] for row in rows]):
            c = t.changes.c
            inner = select(t.changes).where(c.revision_id.in_(ids)).order_by(c.revision_id, c.place)
            for row in self._connection.execute(inner):
                changes[row.revision_id].append(FieldChange(row.field, row.old, row.new))
            f = t.revision_files.c
            other = select(t.revision_files).where(f.revision_id.in_(ids)).order_by(f.name)
            for row in self._connection.execute(other):
                files[row.revision_id][row.name] = row.sha256
        return tuple(_revision(row, changes[row["id"]], files[row["id"]]) for row in rows)


def _current(case: Case, one: Accepted) -> str:
    known = tuple(part for part in one.reads if part in Case.model_fields)
    return digest(case, known, one.seed) if known == one.reads else ""


def _of(case_id: int) -> Select[Any]:
    return select(t.revisions).where(t.revisions.c.case_id == case_id)


def _revision(row: RowMapping, changes: list[FieldChange], files: dict[str, str]) -> Revision:
    return Revision(
        row["id"],
        row["case_id"],
        row["number"],
        row["who"],
        from_text(row["at_utc"]),
        row["what"],
        bytes(row["text"]),
        row["digest"],
        row["program"],
        tuple(changes),
        files,
    )


def _accepted(row: RowMapping) -> Accepted:
    return Accepted(
        row["case_id"],
        row["question"],
        row["digest"],
        tuple(json.loads(row["reads"])),
        row["seed"],
        row["number"],
        row["who"],
        from_text(row["at_utc"]),
    )


def _in_portions(ids: list[int]) -> list[list[int]]:
    """SQLite takes a limited number of values in one question."""
    return [ids[at : at + 500] for at in range(0, len(ids), 500)]


def _no_case(case_id: int) -> Any:
    refuse(
        "store.missing",
        say("there is no such case"),
        say("Choose one from the list of cases"),
        got=str(case_id),
    )


def _no_revision(case_id: int, number: int) -> Any:
    todo = say("Choose one from the history of the case")
    refuse(
        "store.missing",
        say("there is no such revision"),
        todo,
        say("case {id}", id=case_id),
        got=str(number),
    )
