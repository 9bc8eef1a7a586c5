"""Devices that were paired with this computer: known by the SHA-256 of their token, and revoked for good."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from typing import Any

from sqlalchemy import Connection, Row, Select, insert, select
from sqlalchemy.dialects.sqlite import insert as insert_or_update

from mountproof.case.store import schema as t
from mountproof.case.store.faults import refuse
from mountproof.case.store.records import Device
from mountproof.case.store.times import from_text, to_text
from mountproof.said import say

_MOST_LETTERS = 64
_DIGEST = re.compile(r"[0-9a-f]{64}")
#: How long after it was noted that a device came in this is noted again.
_SEEN_AGAIN = dt.timedelta(minutes=1)


def every_device(connection: Connection) -> tuple[Device, ...]:
    """Return every device that was ever paired, in that order."""
    return tuple(_device(row) for row in connection.execute(_query().order_by(t.devices.c.key)))


def device_with(connection: Connection, token_sha256: str) -> Device | None:
    """Return the device with this token that was not revoked, or None."""
    row = connection.execute(
        _query().where(t.devices.c.token_sha256 == token_sha256, t.devices_revoked.c.id.is_(None))
    ).first()
    return None if row is None else _device(row)


def add_device(connection: Connection, name: str, token_sha256: str, who: str, at: dt.datetime) -> Device:
    """Add a device; see ``Change.add_device``."""
    name = name.strip()
    if not name or len(name) > _MOST_LETTERS or not name.isprintable():
        todo, allowed = (
            say("Give it a short name, such as where it stands"),
            say("1 to {most} letters", most=_MOST_LETTERS),
        )
        refuse("store.device", say("this cannot be the name of a device"), todo, got=name, allowed=allowed)
    known = select(t.devices.c.id).where(t.devices.c.token_sha256 == token_sha256)
    if not _DIGEST.fullmatch(token_sha256) or connection.execute(known).first():
        refuse(
            "store.device",
            say("a device with this token cannot be paired"),
            say("Ask for a new code and pair it again"),
        )
    given = {"id": uuid.uuid4().hex, "name": name, "token_sha256": token_sha256, "who": who}
    connection.execute(insert(t.devices).values(**given, paired_utc=to_text(at)))
    return _one(connection, given["id"])


def revoke_device(connection: Connection, device_id: str, who: str, at: dt.datetime) -> Device:
    """Note that a device may come in no more; the first time stands. See ``Change.revoke_device``."""
    found = _one(connection, device_id)
    if found.revoked is not None:
        return found
    connection.execute(insert(t.devices_revoked).values(id=device_id, who=who, at_utc=to_text(at)))
    return _one(connection, device_id)


def seen_device(connection: Connection, device_id: str, at: dt.datetime) -> None:
    """Note when a device came in; see ``Change.seen_device``."""
    found = _one(connection, device_id)
    if found.revoked is not None or (found.seen is not None and abs(at - found.seen) < _SEEN_AGAIN):
        return
    row = {"id": device_id, "at_utc": to_text(at)}
    connection.execute(
        insert_or_update(t.devices_seen).values(row).on_conflict_do_update(index_elements=["id"], set_=row)
    )


def _query() -> Select[Any]:
    d, r, s = t.devices, t.devices_revoked, t.devices_seen
    columns = (
        d,
        s.c.at_utc.label("seen_utc"),
        r.c.at_utc.label("revoked_utc"),
        r.c.who.label("revoked_by"),
    )
    joined = d.outerjoin(r, r.c.id == d.c.id).outerjoin(s, s.c.id == d.c.id)
    return select(*columns).select_from(joined)


def _one(connection: Connection, device_id: str) -> Device:
    row = connection.execute(_query().where(t.devices.c.id == device_id)).first()
    if row is None:
        refuse(
            "store.missing",
            say("there is no such device"),
            say("Choose one from the list of devices"),
            got=device_id,
        )
    return _device(row)


def _device(row: Row[Any]) -> Device:
    return Device(
        row.id,
        row.name,
        row.token_sha256,
        from_text(row.paired_utc),
        row.who,
        None if row.seen_utc is None else from_text(row.seen_utc),
        None if row.revoked_utc is None else from_text(row.revoked_utc),
        row.revoked_by or "",
    )
