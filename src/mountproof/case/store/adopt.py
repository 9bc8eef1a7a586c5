"""Put the history that a bundle brought into the store, as it was written elsewhere."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select, update

from mountproof.case.store import schema as t
from mountproof.case.store.bundle_parts import RevisionRow
from mountproof.case.store.bundle_read import Bundle
from mountproof.case.store.change import Change
from mountproof.case.store.faults import refuse
from mountproof.case.store.records import CaseState
from mountproof.case.store.texts import text_digest
from mountproof.case.store.times import to_text
from mountproof.said import say


def adopt(change: Change, bundle: Bundle, as_new: bool = False) -> int:
    """Add what a bundle holds and the store does not; return the case.

    A case that is here already goes on where the bundle has later revisions; nothing is added where the bundle has
    fewer. FaultError ``bundle.diverged`` where both went on in their own way; ``as_new`` makes it a case of its own.
    """
    case_id = None if as_new else change.case_id(bundle.uid)
    if case_id is None:
        known = change.case_id(bundle.uid) is not None
        case_id = change._new_case(uuid.uuid4().hex if known else bundle.uid)
        there = 0
    else:
        there = _in_common(change, case_id, bundle.revisions)
    for row in bundle.revisions[there:]:
        _revision(change, case_id, row)
    if bundle.revisions[there:]:
        last = bundle.revisions[-1]
        revision_id = _ids(change, case_id)[last.number]
        _head(change, case_id, revision_id, bundle)
    _states(change, case_id, bundle)
    _accepted(change, case_id, bundle)
    new = bundle.revisions[there:]
    change._row(
        t.brought_in,
        case_id=case_id,
        first=new[0].number if new else None,
        last=bundle.revisions[-1].number,
        bundle_sha256=bundle.sha256,
        who=change._who,
        at_utc=to_text(change._at),
    )
    return case_id


def _in_common(change: Change, case_id: int, rows: Sequence[RevisionRow]) -> int:
    history = change.history(case_id)
    for ours, row in zip(history, rows, strict=False):
        same = (ours.number, ours.who, to_text(ours.at)) == (row.number, row.who, row.at)
        same = same and ours.files == row.files
        if not same or text_digest(ours.text) != row.text_sha256:
            refuse(
                "bundle.diverged",
                say("the case went on here and in the bundle, each in its own way"),
                say("Take it in as a case of its own, then compare the two"),
                got=say("revision {number} by {who}", number=row.number, who=row.who),
                allowed=say("revision {number} by {who}", number=ours.number, who=ours.who),
            )
    return min(len(history), len(rows)) if len(rows) > len(history) else len(rows)


def _revision(change: Change, case_id: int, row: RevisionRow) -> None:
    change._keep_files(row.files, {})
    ids = _ids(change, case_id)
    revision_id = change._row(
        t.revisions,
        case_id=case_id,
        number=row.number,
        parent_id=None if row.parent is None else ids[row.parent],
        who=row.who,
        at_utc=row.at,
        what=row.what,
        text=row.text.encode(),
        text_sha256=row.text_sha256,
        digest=row.digest,
        program=row.program,
    )
    change._many(
        t.changes,
        [
            {"revision_id": revision_id, "place": at, **one.model_dump()}
            for at, one in enumerate(row.changes, start=1)
        ],
    )
    change._many(
        t.revision_files,
        [{"revision_id": revision_id, "name": name, "sha256": sha} for name, sha in row.files.items()],
    )


def _ids(change: Change, case_id: int) -> Mapping[int, int]:
    r = t.revisions.c
    found = change._connection.execute(select(r.number, r.id).where(r.case_id == case_id))
    return {row.number: row.id for row in found}


def _head(change: Change, case_id: int, revision_id: int, bundle: Bundle) -> None:
    last, first = bundle.revisions[-1], bundle.revisions[0]
    known = change._connection.execute(select(t.heads.c.case_id).where(t.heads.c.case_id == case_id)).first()
    change._set_head(case_id, revision_id, last.number, bundle.case, last.at, known is None)
    given = {"who": last.who, "begun_utc": first.at}
    change._execute(update(t.heads).where(t.heads.c.case_id == case_id).values(given))


def _states(change: Change, case_id: int, bundle: Bundle) -> None:
    """Add the states that follow on ours; where both set their own, ours stay."""
    query = select(t.states).where(t.states.c.case_id == case_id).order_by(t.states.c.id)
    ours = [(r.state, r.who, r.at_utc) for r in change._connection.execute(query)]
    theirs = [(r.state.value, r.who, r.at) for r in bundle.states]
    rest = _rest(ours, theirs)
    change._many(
        t.states, [{"case_id": case_id, "state": s, "who": who, "at_utc": at} for s, who, at in rest]
    )
    if rest:
        state = CaseState(rest[-1][0]).value
        change._execute(update(t.heads).where(t.heads.c.case_id == case_id).values(state=state))


def _accepted(change: Change, case_id: int, bundle: Bundle) -> None:

    ids = _ids(change, case_id)
    query = select(t.accepted).where(t.accepted.c.case_id == case_id).order_by(t.accepted.c.id)
    names = ("revision_id", "question", "reads", "seed", "digest", "stands", "who", "at_utc")
    ours = [tuple(getattr(r, name) for name in names) for r in change._connection.execute(query)]
    theirs = [
        (ids.get(r.number), r.question, json.dumps(r.reads), r.seed, r.digest, int(r.stands), r.who, r.at)
        for r in bundle.accepted
    ]
    rest = _rest(ours, theirs)
    change._many(t.accepted, [{"case_id": case_id, **dict(zip(names, row, strict=True))} for row in rest])


def _rest(ours: list[Any], theirs: list[Any]) -> list[Any]:
    return theirs[len(ours) :] if theirs[: len(ours)] == ours else []
