"""Instrument profiles: an articulator with its calibration and its own steps, kept beside the cases.

Revisions are only ever added, as for cases: a profile is the newest of its name.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from mountproof.case.finding import dotted
from mountproof.case.store import schema as t
from mountproof.case.store.faults import refuse
from mountproof.case.store.records import Conflict, ConflictError, Profile
from mountproof.case.store.times import from_text, to_text
from mountproof.case.survey import survey
from mountproof.case.syntax import Parsed
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.version import VERSION

_MOST_LETTERS = 64
_MOST_TEXT = 200_000


def every_profile(connection: Connection) -> tuple[Profile, ...]:
    """Return the newest revision of every profile that was not taken out, by name."""
    newest: dict[str, Row[Any]] = {}
    for row in connection.execute(select(t.profiles).order_by(t.profiles.c.name, t.profiles.c.number)):
        newest[row.name] = row
    return tuple(_profile(row) for row in newest.values() if row.entered is not None)


def one_profile(connection: Connection, name: str, number: int | None) -> Profile:
    """Return a revision of a profile, the newest unless told; FaultError where there is none."""
    row = _row(connection, name, number)
    if row is None or row.entered is None:
        todo = say("Choose one from the list of profiles")
        refuse(
            "store.missing",
            say("there is no such profile"),
            todo,
            got=name if number is None else f"{name}, {number}",
        )
    return _profile(row)


def keep_profile(
    connection: Connection, name: str, entered: Mapping[str, Any], based_on: int, who: str, at: dt.datetime
) -> Profile:
    """Add a revision of a profile; see ``Change.keep_profile``."""
    name = _checked_name(name)
    text = _checked_text(entered)
    head = _row(connection, name, None)
    if head is not None and head.entered is not None and json.loads(head.entered) == json.loads(text):
        return _profile(head)
    _require_newest(connection, name, based_on, head, json.loads(text))
    return _profile(_add(connection, name, text, head, who, at))


def take_out_profile(connection: Connection, name: str, based_on: int, who: str, at: dt.datetime) -> None:
    """Add a revision that says that the profile is there no more; see ``Change.take_out_profile``."""
    one_profile(connection, name, None)
    head = _row(connection, name, None)
    _require_newest(connection, name, based_on, head, {})
    _add(connection, name, None, head, who, at)


def _add(
    connection: Connection, name: str, text: str | None, head: Row[Any] | None, who: str, at: dt.datetime
) -> Row[Any]:
    number = 1 if head is None else head.number + 1
    given = {"name": name, "number": number, "who": who, "at_utc": to_text(at), "entered": text}
    connection.execute(insert(t.profiles).values(**given, program=VERSION))
    row = _row(connection, name, number)
    assert row is not None
    return row


def _row(connection: Connection, name: str, number: int | None) -> Row[Any] | None:
    p = t.profiles.c
    query = select(t.profiles).where(p.name == name).order_by(p.number.desc()).limit(1)
    return connection.execute(query if number is None else query.where(p.number == number)).first()


def _profile(row: Row[Any]) -> Profile:
    return Profile(row.name, row.number, json.loads(row.entered), row.who, from_text(row.at_utc))


def _checked_name(name: str) -> str:
    name = name.strip()
    if not name or len(name) > _MOST_LETTERS or not name.isprintable():
        refuse(
            "store.profile",
            say("this cannot be the name of a profile"),
            say("Give it a short name, such as the one written on the instrument"),
            got=name,
            allowed=say("1 to {most} letters", most=_MOST_LETTERS),
        )
    return name


def _checked_text(entered: Mapping[str, Any]) -> str:
    """Return what was entered as JSON, when it is an instrument as a case file has it."""
    case, findings = survey(Parsed({"code": "-", "instrument": dict(entered)}, (), frozenset()), None)
    if case is None or findings:
        raise FaultError(
            [Fault(f.code, f.what, f.todo, "", None, dotted(f.path), f.got, f.allowed) for f in findings]
        )
    try:
        text = json.dumps(entered, ensure_ascii=False, allow_nan=False)
    except (TypeError, ValueError):
        refuse(
            "store.profile",
            say("a value is no text, number, list or table"),
            say("Enter it as in the case file"),
        )
    if len(text) > _MOST_TEXT:
        refuse(
            "store.profile",
            say("this is more than an instrument"),
            say("Keep only what is entered under [instrument]"),
        )
    return text


def _require_newest(
    connection: Connection, name: str, based_on: int, head: Row[Any] | None, mine: dict[str, Any]
) -> None:
    """Raise ConflictError where the newest revision is not the one that was seen; each differing entry is named."""
    newest = 0 if head is None else head.number
    if newest == based_on or (based_on == 0 and head is not None and head.entered is None):
        return
    if head is None:
        todo = say("Choose one from the list of profiles")
        refuse("store.missing", say("there is no such profile"), todo, got=name)
    seen = _row(connection, name, based_on)
    base, theirs, ours = (
        dict(_leaves((), one))
        for one in (
            json.loads(seen.entered) if seen is not None and seen.entered else {},
            json.loads(head.entered) if head.entered else {},
            mine,
        )
    )
    names = [n for n in dict.fromkeys([*theirs, *ours, *base]) if theirs.get(n) != ours.get(n)]
    raise ConflictError(
        [
            Conflict(n, base.get(n), ours.get(n), theirs.get(n), head.who, from_text(head.at_utc), newest)
            for n in names
        ]
    )


def _leaves(path: tuple[str | int, ...], entry: Any) -> Iterator[tuple[str, str]]:
    """Yield the name and the text of every entry; a list is one."""
    if isinstance(entry, dict):
        for name, inner in entry.items():
            yield from _leaves((*path, name), inner)
    else:
        yield dotted(("instrument", *path)), json.dumps(entry, ensure_ascii=False)
