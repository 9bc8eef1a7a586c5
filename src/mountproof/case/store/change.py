"""One change of the store by one person: everything in it is kept, or nothing."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, func, insert, select, update

from mountproof.case.edits import Edits, in_order, is_new_item
from mountproof.case.model import Case
from mountproof.case.store import schema as t
from mountproof.case.store import why
from mountproof.case.store.devices import add_device, revoke_device, seen_device
from mountproof.case.store.differences import REMARKS, FieldChange, differences, file_differences
from mountproof.case.store.faults import refuse
from mountproof.case.store.file_names import checked_names, require_files
from mountproof.case.store.listing import NOTE_LETTERS, folded, search_text
from mountproof.case.store.profiles import keep_profile, take_out_profile
from mountproof.case.store.records import (
    Accepted,
    CaseState,
    Conflict,
    ConflictError,
    Device,
    Profile,
    Revision,
)
from mountproof.case.store.scans import ScanFolder
from mountproof.case.store.snapshot import Snapshot, Views
from mountproof.case.store.texts import (
    Written,
    case_digest,
    edited,
    read,
    text_digest,
    together,
    with_digests,
    written,
)
from mountproof.case.store.threeway import Clash, merged_files
from mountproof.case.store.times import to_text
from mountproof.faults import FaultError
from mountproof.said import say
from mountproof.version import VERSION

#: Names beside a case, and the SHA-256 of the stored file that each stands for; None takes the name out.
Files = Mapping[str, str | None]


class Change(Snapshot):
    """What can be asked and written in one go. Get one from ``Store.change``; it ends with that block."""

    def __init__(
        self, connection: Connection, views: Views, scans: ScanFolder, who: str, at: dt.datetime
    ) -> None:
        super().__init__(connection, views)
        self._scans, self._who, self._at = scans, who, at

    def begin(self, text: bytes | Case, files: Files | None = None, what: str = "begun") -> Revision:
        """Begin a case with its first revision. ``text`` is a case.toml, kept byte for byte, or a case.

        ``files`` are scans that were added before. FaultError with every fault in the text, and where a scan is
        named that is not among the files.
        """
        case_id = self._new_case(uuid.uuid4().hex)
        new = written(text) if isinstance(text, Case) else read(text)
        return self._append(case_id, None, new, _set({}, files or {}), what)

    def save(
        self,
        case_id: int,
        text: bytes | Case,
        based_on: int,
        files: Files | None = None,
        what: str = "changed",
    ) -> Revision:
        """Save another text of a case, made from its revision ``based_on``; return the revision that holds it.

        Where others saved in between, changes of different entries are brought together. ConflictError where
        the same entry was changed, with both values; FaultError where the text has faults, or where both changes
        do not fit together. Where nothing changed the newest revision is returned, and none is added.
        """
        base = self.revision(case_id, based_on)
        before = read(base.text)
        mine = written(text, before) if isinstance(text, Case) else read(text)
        return self._join(base, before, mine, _set(base.files, files or {}), what)

    def edit(self, case_id: int, fields: Edits, based_on: int, what: str = "changed") -> Revision:
        """Change some entries of a case, seen in its revision ``based_on``; remarks and layout stay.

        ``fields`` are dotted names and their values as ``mountproof.case.edits.edited_text`` takes them; the case is
        checked with all of them. Items added to lists (``foils.+``) come behind those that others added meanwhile. The
        rest is as for ``save``.
        """
        base = self.revision(case_id, based_on)
        before, edits = read(base.text), in_order(fields)
        items = tuple(one for one in edits if is_new_item(one[0]))
        if items and self.head(case_id).number != based_on:
            others = tuple(one for one in edits if one not in items)
            try:
                return self._join(base, before, edited(before, others), base.files, what, items)
            except ConflictError:
                raise
            except FaultError:
                pass  # an entry needs the new item: all of them are brought together as they are
        return self._join(base, before, edited(before, edits), base.files, what)

    def undo(self, case_id: int, number: int) -> Revision:
        """Take back what one revision changed, as a new revision; what came after stays.

        ConflictError where a later revision changed the same entries; FaultError ``store.missing`` for the first
        revision, before which there was nothing.
        """
        undone = self.revision(case_id, number)
        before = self._before(undone)
        if before is None:
            todo = say("Put the case away instead")
            refuse("store.missing", say("before the first revision there was nothing"), todo, got="1")
        return self._join(
            undone,
            read(undone.text),
            read(before.text),
            before.files,
            why.undone(number),
        )

    def accept(
        self, case_id: int, question: str, digest: str, reads: Iterable[str], seed: int = 0
    ) -> Accepted:
        """Note that the answer to ``question`` was accepted, seen on the newest revision.

        ``digest`` is the answer's own, of the parts of the case ``reads`` and ``seed``: by it the acceptance is
        known to be out of date later. KeyError for a part that is none.
        """
        head = self.head(case_id)
        parts = tuple(reads)
        for part in parts:
            if part not in Case.model_fields:
                raise KeyError(f"a case has no part {part!r}")
        self._note_acceptance(head, question, digest, parts, seed, 1)
        return Accepted(case_id, question, digest, parts, seed, head.number, self._who, self._at)

    def take_back(self, case_id: int, question: str) -> None:
        """Note that an acceptance stands no more; what was accepted before stays in the table."""
        head = self.head(case_id)
        for one in self.accepted(case_id):
            if one.question == question:
                self._note_acceptance(head, question, one.digest, one.reads, one.seed, 0)

    def set_state(self, case_id: int, state: CaseState) -> None:
        """Note where a case stands now. FaultError where there is no such case."""
        if self.state(case_id) == state:
            return
        self._execute(
            insert(t.states).values(
                case_id=case_id, state=state.value, who=self._who, at_utc=to_text(self._at)
            )
        )
        self._execute(update(t.heads).where(t.heads.c.case_id == case_id).values(state=state.value))

    def keep_profile(self, name: str, entered: Mapping[str, Any], based_on: int = 0) -> Profile:
        """Keep an instrument under a name, as a new revision made from revision ``based_on`` (0: a new name).

        ``entered`` is what stands under [instrument] in a case file, as JSON values. FaultError with every fault
        in it; ConflictError where somebody kept another one under this name meanwhile. Where nothing changed the
        newest revision is returned.
        """
        return keep_profile(self._connection, name, entered, based_on, self._who, self._at)

    def take_out_profile(self, name: str, based_on: int) -> None:
        """Take a profile out of the list; its revisions stay. Faults as ``keep_profile``."""
        take_out_profile(self._connection, name, based_on, self._who, self._at)

    def add_device(self, name: str, token_sha256: str) -> Device:
        """Note a device that was paired now, known by the SHA-256 of its token; return it with its new id.

        FaultError ``store.device`` for a name or a SHA-256 that is none.
        """
        return add_device(self._connection, name, token_sha256, self._who, self._at)

    def revoke_device(self, device_id: str) -> Device:
        """Note that a device may come in no more. FaultError ``store.missing`` where there is none with this id."""
        return revoke_device(self._connection, device_id, self._who, self._at)

    def seen_device(self, device_id: str) -> None:
        """Note that a device came in now; nothing is noted within a minute of the last time, or once revoked.

        A writer waits for others: look at ``Device.seen`` before, and only begin a change once in a while.
        """
        seen_device(self._connection, device_id, self._at)

    def _join(
        self,
        base: Revision,
        before: Written,
        mine: Written,
        files: dict[str, str],
        what: str,
        then: Edits = (),
    ) -> Revision:
        """Bring ``mine``, made from ``base``, together with the newest revision, and append what comes out.

        ``then`` is changed in what comes out.
        """
        head = self.head(base.case_id)
        if head.number == base.number:
            return self._append(base.case_id, head, mine, files, what)
        theirs = read(head.text)
        new, clashes = together(before, mine, theirs)
        both, file_clashes = merged_files(base.files, files, head.files)
        if clashes or file_clashes:
            raise ConflictError(self._conflicts(base, head, (*clashes, *file_clashes)))
        return self._append(base.case_id, head, edited(new, then) if then else new, both, what)

    def _append(
        self,
        case_id: int,
        parent: Revision | None,
        new: Written,
        files: Mapping[str, str],
        what: str,
    ) -> Revision:
        files = checked_names(files)
        if parent is not None and parent.text == new.data and parent.files == files:
            return parent
        require_files(new.case, files)
        self._keep_files(files, parent.files if parent else {})
        new = Written(new.data, with_digests(new.case, files))
        changes: tuple[FieldChange, ...] = ()
        if parent is not None:
            old = read(parent.text)
            changes = differences(old.case, new.case) + file_differences(parent.files, files)
            changes = changes or (FieldChange(REMARKS, None, None),)
        return self._write(case_id, parent, new, files, changes, what)

    def _write(
        self,
        case_id: int,
        parent: Revision | None,
        new: Written,
        files: Mapping[str, str],
        changes: tuple[FieldChange, ...],
        what: str,
    ) -> Revision:
        number = max(parent.number if parent else 0, self._given(case_id)) + 1
        digest = case_digest(new.case)
        revision_id = self._row(
            t.revisions,
            case_id=case_id,
            number=number,
            parent_id=parent.id if parent else None,
            who=self._who,
            at_utc=to_text(self._at),
            what=what,
            text=new.data,
            text_sha256=text_digest(new.data),
            digest=digest,
            program=VERSION,
        )
        rows = [
            {"revision_id": revision_id, "place": at, **one._asdict()}
            for at, one in enumerate(changes, start=1)
        ]
        self._many(t.changes, rows)
        self._many(
            t.revision_files,
            [{"revision_id": revision_id, "name": name, "sha256": sha} for name, sha in files.items()],
        )
        self._set_head(case_id, revision_id, number, new.case, to_text(self._at), parent is None)
        return Revision(
            revision_id,
            case_id,
            number,
            self._who,
            self._at,
            what,
            new.data,
            digest,
            VERSION,
            changes,
            dict(files),
        )

    def _given(self, case_id: int) -> int:
        """Return the highest number that revisions of this case had before a restore; 0 without one."""
        n = t.numbers_given.c
        found = self._connection.execute(select(func.max(n.number)).where(n.case_id == case_id)).scalar()
        return int(found or 0)

    def _set_head(
        self, case_id: int, revision_id: int, number: int, case: Case, at_utc: str, first: bool
    ) -> None:
        head = {
            "head_id": revision_id,
            "number": number,
            "code": case.code,
            "lab": case.lab,
            "note": case.note[:NOTE_LETTERS],
            "who": self._who,
            "changed_utc": at_utc,
            "sort_code": folded(case.code),
            "search": search_text(case.code, case.lab, case.note),
        }
        if not first:
            self._execute(update(t.heads).where(t.heads.c.case_id == case_id).values(head))
        else:
            state = CaseState.OPEN.value
            self._execute(
                insert(t.heads).values(head | {"case_id": case_id, "state": state, "begun_utc": at_utc})
            )

    def _keep_files(self, files: Mapping[str, str], known: Mapping[str, str]) -> None:
        """Note stored files that a revision begins to need. FaultError where one is not in the folder."""
        for sha256 in sorted({*files.values()} - {*known.values()}):
            if self._connection.execute(select(t.scans.c.bytes).where(t.scans.c.sha256 == sha256)).first():
                if self._scans.holds(sha256):
                    continue
            elif self._scans.holds(sha256):
                size = self._scans.path(sha256).stat().st_size
                self._execute(insert(t.scans).values(sha256=sha256, bytes=size, added_utc=to_text(self._at)))
                continue
            todo = say("Put the file in once more from where it came")
            refuse("store.file_missing", say("a file of this case is not stored"), todo, got=sha256)

    def _conflicts(self, base: Revision, head: Revision, clashes: Iterable[Clash]) -> list[Conflict]:
        """Say of each clash who changed the entry last."""
        since = self.history(base.case_id, base.number)
        found = []
        for clash in clashes:
            touched = (
                one
                for one in reversed(since)
                if any(_touches(change.field, clash.field) for change in one.changes)
            )
            by = next(touched, head)
            found.append(Conflict(*clash, by.who, by.at, by.number))
        return found

    def _new_case(self, uid: str) -> int:
        return self._row(t.cases, uid=uid, begun_utc=to_text(self._at))

    def _note_acceptance(
        self, head: Revision, question: str, digest: str, reads: tuple[str, ...], seed: int, stands: int
    ) -> None:
        self._row(
            t.accepted,
            case_id=head.case_id,
            revision_id=head.id,
            question=question,
            reads=json.dumps(reads),
            seed=seed,
            digest=digest,
            stands=stands,
            who=self._who,
            at_utc=to_text(self._at),
        )

    def _row(self, table: Any, **values: Any) -> int:
        key = self._connection.execute(insert(table).values(**values)).inserted_primary_key
        assert key is not None
        return int(key[0])

    def _many(self, table: Any, rows: list[dict[str, Any]]) -> None:
        if rows:
            self._connection.execute(insert(table), rows)

    def _execute(self, statement: Any) -> None:
        self._connection.execute(statement)


def _set(files: Mapping[str, str], changed: Files) -> dict[str, str]:
    chosen = {**files, **changed}
    return {name: sha256 for name, sha256 in chosen.items() if sha256 is not None}


def _touches(field: str, other: str) -> bool:
    return field == other or field.startswith(other + ".") or other.startswith(field + ".")
