"""The list of cases: search, state, order, and pages that stay in place while cases are added."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, RowMapping, Select, func, select, tuple_

from mountproof.case.store import schema as t
from mountproof.case.store.records import CaseState, Listed, Page
from mountproof.case.store.times import from_text

_MOST = 500
#: A longer note is cut in the list; it is searched whole.
NOTE_LETTERS = 200


def page(
    connection: Connection, search: str, state: CaseState | None, order: str, after: str | None, most: int
) -> Page:
    """Return a page of the list of cases; see ``Snapshot.cases``."""
    if order not in ("changed", "code"):
        raise ValueError("the order is 'changed' or 'code'")
    if not 1 <= most <= _MOST:
        raise ValueError(f"a page has 1 to {_MOST} cases")
    h = t.heads.c
    query = _listing().limit(most + 1)
    for word in folded(search).split():
        query = query.where(func.instr(h.search, word) > 0)
    if state is not None:
        query = query.where(h.state == state.value)
    if order == "changed":
        query = query.order_by(h.head_id.desc())
        if after is not None:
            query = query.where(h.head_id < _key(after, (int,))[0])
    else:
        query = query.order_by(h.sort_code, h.case_id)
        if after is not None:
            query = query.where(tuple_(h.sort_code, h.case_id) > tuple_(*_key(after, (str, int))))
    rows = connection.execute(query).mappings().all()
    more = len(rows) > most
    rows = rows[:most]
    last = rows[-1] if more else None
    keys = ("head_id",) if order == "changed" else ("sort_code", "case_id")
    return Page(
        tuple(_listed(row) for row in rows), None if last is None else json.dumps([last[key] for key in keys])
    )


def listed(connection: Connection, case_id: int) -> Listed | None:
    """Return one case as the list shows it, or None."""
    row = connection.execute(_listing().where(t.heads.c.case_id == case_id)).mappings().first()
    return None if row is None else _listed(row)


def with_code(connection: Connection, code: str) -> tuple[Listed, ...]:
    """Return the cases with this code, case of letters set aside, in the order in which they were begun."""
    h = t.heads.c
    rows = connection.execute(_listing().where(h.sort_code == folded(code)).order_by(h.case_id)).mappings()
    return tuple(_listed(row) for row in rows)


def _listing() -> Select[Any]:
    return select(t.heads, t.cases.c.uid).join(t.cases, t.cases.c.id == t.heads.c.case_id)


def folded(text: str) -> str:
    """Return text as it is searched and sorted: case of letters set aside."""
    return text.casefold()


def search_text(code: str, lab: str, note: str) -> str:
    """Return what the search looks through: code, lab and note, on lines of their own."""
    return folded("\n".join((code, lab, note)))


def _key(after: str, kinds: tuple[type, ...]) -> list[Any]:
    try:
        key = json.loads(after)
    except (ValueError, RecursionError):
        key = None
    good = isinstance(key, list) and len(key) == len(kinds)
    if not good or any(type(k) is not kind for k, kind in zip(key, kinds, strict=True)):
        raise ValueError("this page does not continue another one of this order")
    if any(isinstance(k, int) and abs(k) >= 2**63 for k in key):
        raise ValueError("this page does not continue another one of this order")
    return list(key)


def _listed(row: RowMapping) -> Listed:
    return Listed(
        row["case_id"],
        row["uid"],
        row["number"],
        row["code"],
        row["lab"],
        row["note"],
        row["who"],
        CaseState(row["state"]),
        from_text(row["begun_utc"]),
        from_text(row["changed_utc"]),
    )
