"""What every shape on the wire is made of, and how faults and conflicts travel."""

from __future__ import annotations

import datetime as dt

from pydantic import BaseModel, ConfigDict, Field

#: No number of a case or revision is larger: JavaScript counts exactly up to here.
MOST_ID = 2**53 - 1


class Wire(BaseModel):
    """One shape on the wire; nothing beside what is named here is taken."""

    model_config = ConfigDict(extra="forbid", frozen=True, json_schema_serialization_defaults_required=True)


class FaultOut(Wire):
    """One thing that is wrong, where, and what to do about it."""

    code: str
    what: str
    todo: str
    where: str = ""
    line: int | None = None
    field: str = ""
    got: str = ""
    allowed: str = ""


class Faults(Wire):
    """Every fault found in what was sent. Sent with every status from 400 on."""

    faults: list[FaultOut]


class ConflictOut(Wire):
    """One entry that somebody else changed meanwhile: both values, and who."""

    field: str
    base: str | None
    mine: str | None
    theirs: str | None
    who: str
    at: dt.datetime
    revision: int


class Conflicts(Wire):
    """Sent with status 409: nothing was changed."""

    faults: list[FaultOut]
    conflicts: list[ConflictOut]
    revision: int = Field(description="the newest revision")
