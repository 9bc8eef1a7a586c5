"""Changes of a case: what is sent, what comes back, and the history."""

from __future__ import annotations

import datetime as dt

from pydantic import Field, JsonValue

from mountproof.surfaces.web.wire.base import MOST_ID, Wire
from mountproof.surfaces.web.wire.cases import CaseOut, CaseState
from mountproof.surfaces.web.wire.sheet import SheetOut


class EditIn(Wire):
    """One entry to change. ``value`` as typed (text is read as in the case file), null takes the entry out.

    A cell of a table of marks: ``marks.readings_mm.PAIR.STATE``; rows and columns that are not there are added.
    An item at the end of a list: ``foils.+``.
    """

    field: str = Field(min_length=1, max_length=300)
    value: JsonValue


class EditsIn(Wire):
    """Entries to change together, seen in revision ``based_on``."""

    based_on: int = Field(ge=1, le=MOST_ID)
    edits: list[EditIn] = Field(min_length=1, max_length=500)
    what: str = Field(default="", max_length=200)


class SavedOut(Wire):
    """What came of a change: the case and its sheet as they are now."""

    case: CaseOut
    sheet: SheetOut


class RevisionOut(Wire):
    """One revision in the history of a case."""

    number: int
    who: str
    at: dt.datetime
    what: str
    changes: list[ChangeOut]


class ChangeOut(Wire):
    """One entry that a revision changed."""

    field: str
    old: str | None
    new: str | None


class NewCaseIn(Wire):
    """A new case. ``demo``: the invented demo case with its casts."""

    code: str = Field(default="", max_length=100)
    demo: bool = False


class TryOut(Wire):
    """What edits would do; nothing was saved."""

    case: CaseOut
    sheet: SheetOut


class UndoIn(Wire):
    """The number of the revision to take back; what came after it stays."""

    number: int = Field(ge=1, le=MOST_ID)


class StateIn(Wire):
    """Where the case stands now."""

    state: CaseState


class AcceptIn(Wire):
    """An answer that a person accepts, by the digest of what it read."""

    question: str = Field(max_length=40)
    digest: str = Field(min_length=64, max_length=64)
