"""What the store gives back: plain frozen values, nothing that needs the database any more."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from enum import StrEnum
from typing import Any, NamedTuple

from mountproof.case.store.differences import FieldChange
from mountproof.faults import Fault, FaultError
from mountproof.said import say


class CaseState(StrEnum):
    """Where a case stands on the bench."""

    OPEN = "open"
    WAITING = "waiting"
    DONE = "done"
    PUT_AWAY = "put away"


class Revision(NamedTuple):
    """One revision of a case. ``id`` grows with every revision of any case, ``number`` with those of this one.

    After a restore numbers go on above those that were given before it, so there may be gaps. ``at`` is what the
    clock said (UTC); a clock may have been set back, so order by ``number``. ``text`` is the whole case.toml, byte for
    byte; ``digest`` is of what is entered, whatever the layout; ``program`` the version that wrote it. ``files`` maps
    names beside the case file to the SHA-256 of what is stored.
    """

    id: int
    case_id: int
    number: int
    who: str
    at: dt.datetime
    what: str
    text: bytes
    digest: str
    program: str
    changes: tuple[FieldChange, ...]
    files: dict[str, str]


class Listed(NamedTuple):
    """A case as the list of cases shows it; times in UTC."""

    case_id: int
    uid: str
    number: int
    code: str
    lab: str
    note: str
    who: str
    state: CaseState
    begun: dt.datetime
    changed: dt.datetime

    def age_s(self, now: dt.datetime) -> float:
        """Return the seconds since the last change; 0 where the clock was set back since."""
        return max(0.0, (now - self.changed).total_seconds())


class Page(NamedTuple):
    """Some cases of the list; ``after`` asks for those that follow, None where there are none."""

    cases: tuple[Listed, ...]
    after: str | None


class Accepted(NamedTuple):
    """What a person accepted: the answer to a question, on the digest of what it had read."""

    case_id: int
    question: str
    digest: str
    reads: tuple[str, ...]
    seed: int
    number: int
    who: str
    at: dt.datetime


class Profile(NamedTuple):
    """One revision of an instrument profile: what was entered under [instrument], as entered (JSON values)."""

    name: str
    number: int
    entered: dict[str, Any]
    who: str
    at: dt.datetime


class Device(NamedTuple):
    """A paired tablet; ``token_sha256`` is all that is kept of its token. ``revoked`` is None while it may come in."""

    id: str
    name: str
    token_sha256: str
    paired: dt.datetime
    paired_by: str
    seen: dt.datetime | None
    revoked: dt.datetime | None
    revoked_by: str


class BroughtIn(NamedTuple):
    """Who took in a bundle; it brought the revisions ``first`` to ``last`` (``first`` None: all were here already)."""

    first: int | None
    last: int
    bundle_sha256: str
    who: str
    at: dt.datetime


class Touched(NamedTuple):
    """A revision that was written, without its text; ``id`` is what ``Snapshot.changed_since`` goes on from."""

    id: int
    case_id: int
    number: int
    who: str
    at: dt.datetime


class Conflict(NamedTuple):
    """One entry that somebody else changed meanwhile: before, mine, theirs as text (None: not there), and by whom."""

    field: str
    base: str | None
    mine: str | None
    theirs: str | None
    who: str
    at: dt.datetime
    number: int


class ConflictError(FaultError):
    """Entries that two people changed; nothing was written. ``conflicts`` has both values of each."""

    def __init__(self, conflicts: Sequence[Conflict], faults: Sequence[Fault] = ()) -> None:
        self.conflicts = tuple(conflicts)
        todo = say("Look at both values, then change the newest revision")
        super().__init__(
            [
                *(
                    Fault(
                        "store.conflict",
                        say(
                            "changed meanwhile by {who} in revision {number} to {value}",
                            who=c.who or say("somebody"),
                            number=c.number,
                            value=_shown(c.theirs),
                        ),
                        todo,
                        field=c.field,
                        got=_shown(c.mine),
                    )
                    for c in self.conflicts
                ),
                *faults,
            ]
        )


def _shown(text: str | None) -> str:
    if text is None:
        return say("nothing")
    line = " ".join(text.split())
    return line if len(line) <= 80 else line[:77] + "..."
