"""What was written to a store since somebody looked last, whoever wrote it."""

from __future__ import annotations

from typing import Literal, NamedTuple

from sqlalchemy import Select, Table, func, select

from mountproof.case.store import schema as t
from mountproof.case.store.snapshot import Snapshot

Kind = Literal["revision", "pours", "state", "profiles", "devices", "anew"]
#: With more than this it is easier to ask for everything again.
_MOST = 200


class Latest(NamedTuple):
    """The last row of every table that grows."""

    revision: int
    state: int
    accepted: int
    profile: int
    device: int
    revoked: int
    restore: int


class News(NamedTuple):
    """One thing that was written. ``anew``: so much, or a backup put back, that everything is to be asked for again."""

    kind: Kind
    case_id: int | None = None
    number: int | None = None
    who: str = ""
    question: str = ""


def latest(snapshot: Snapshot) -> Latest:
    """Return the last row of every table that grows: equal to an earlier one where nothing was written since."""

    tables = (t.revisions, t.states, t.accepted, t.profiles, t.devices, t.devices_revoked, t.restores)
    row = snapshot._connection.execute(select(*(_last(one).scalar_subquery() for one in tables))).one()
    return Latest(*(int(one or 0) for one in row))


def _last(table: Table) -> Select[tuple[int | None]]:
    return select(func.max(next(iter(table.primary_key.columns))))


def news(snapshot: Snapshot, since: Latest) -> tuple[News, ...]:
    """Return what was written since, in the order of writing within each kind."""
    now = latest(snapshot)
    if now == since:
        return ()
    grown = [new - old for new, old in zip(now, since, strict=True)]
    if now.restore != since.restore or min(grown) < 0 or sum(grown) > _MOST:
        return (News("anew"),)
    return (
        *_revisions(snapshot, since.revision),
        *_states(snapshot, since),
        *([News("profiles")] if now.profile > since.profile else []),
        *([News("devices")] if (now.device, now.revoked) != (since.device, since.revoked) else []),
    )


def _revisions(snapshot: Snapshot, since: int) -> list[News]:
    r, c = t.revisions.c, t.changes.c
    ask = snapshot._connection.execute
    poured = set(
        ask(select(c.revision_id).where(c.revision_id > since, c.field.like("pours%")).distinct()).scalars()
    )
    rows = ask(select(r.id, r.case_id, r.number, r.who).where(r.id > since).order_by(r.id)).all()
    found = [News("revision", row.case_id, row.number, row.who) for row in rows]
    return found + [News("pours", row.case_id, row.number, row.who) for row in rows if row.id in poured]


def _states(snapshot: Snapshot, since: Latest) -> list[News]:
    s, a = t.states.c, t.accepted.c
    ask = snapshot._connection.execute
    return [
        *(
            News("state", row.case_id, None, row.who)
            for row in ask(select(s.case_id, s.who).where(s.id > since.state).order_by(s.id))
        ),
        *(
            News("state", row.case_id, None, row.who, row.question)
            for row in ask(select(a.case_id, a.who, a.question).where(a.id > since.accepted).order_by(a.id))
        ),
    ]
