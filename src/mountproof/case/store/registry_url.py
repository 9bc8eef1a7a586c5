"""Where a registry is kept: a file of this computer, or a PostgreSQL database by its address. Passwords are never shown."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final, NamedTuple

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from mountproof.case.store.faults import refuse
from mountproof.case.store.place import user_place
from mountproof.said import say

_POSTGRESQL: Final = ("postgresql", "postgresql+psycopg", "postgres")
#: A computer and a database. A password with signs that had to be written as %40 and so on would end up in the first.
_PLAIN: Final = re.compile(r"[\w.:-]*/[\w.-]+")
_HOW: Final = say("Name a file, or a database as postgresql://NAME@COMPUTER:PORT/DATABASE")


class Kept(NamedTuple):
    """The address of a registry, and the same for people to read, without any password."""

    url: URL
    shown: str


def kept_in(named: str) -> Kept:
    """Return the address that a file name or an address means; empty is the registry in the user's data folder.

    FaultError ``registry.address`` for an address of another kind; what was typed is not repeated, it may hold a password.
    """
    if "://" not in named:
        file = Path(named) if named else user_place().folder / "registry.sqlite"
        return Kept(URL.create("sqlite+pysqlite", database=str(file)), str(file))
    try:
        url = make_url(named)
        known = url.drivername in _POSTGRESQL and bool(
            _PLAIN.fullmatch(f"{url.host or ''}/{url.database or ''}")
        )
    except (ArgumentError, ValueError):
        known = False
    if not known:
        refuse("registry.address", say("this is no address of a registry"), _HOW)
    url = url.set(drivername="postgresql+psycopg")
    # Only computer and database: the part after ? may hold a password as well.
    return Kept(url, f"postgresql://{url.host or ''}{f':{url.port}' if url.port else ''}/{url.database}")
