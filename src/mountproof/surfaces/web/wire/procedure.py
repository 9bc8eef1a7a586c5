"""Steps of the procedure, pours, and instruments kept beside the cases."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import Field, JsonValue

from mountproof.surfaces.web.wire.base import MOST_ID, Wire


class StepOut(Wire):
    """One step of the procedure. ``key`` is its place in the case file's ``procedure``."""

    key: str
    stage: str
    stage_words: str
    words: str
    why: str
    gate: bool
    own: bool = Field(description="true for a step that belongs to the instrument or to the case")
    met: bool | None
    at: dt.datetime | None
    at_shown: str
    by: str
    note: str
    asked: str = Field(
        description="why the gate stays shut, with the answer that says so; empty where it does not"
    )


class PourOut(Wire):
    """One pour of one cast: absolute moments only. ``next`` is what comes next and when."""

    case_id: int
    code: str
    key: str
    cast: Literal["upper", "lower"]
    words: str
    begun: dt.datetime
    marks: list[PourMarkOut]
    ended: dt.datetime | None


class PourMarkOut(Wire):
    """One moment of a pour: when, what to do, and by whose word."""

    key: str
    words: str
    at: dt.datetime
    at_shown: str
    source: str
    assumed: bool


class PoursOut(Wire):
    """All pours that go on, over all cases, in the order of what comes next. ``now`` is the server's clock."""

    now: dt.datetime
    pours: list[PourOut]


class ProfileOut(Wire):
    """An instrument with its calibration and its own steps, kept beside the cases."""

    name: str
    entered: dict[str, JsonValue]
    revision: int
    who: str
    at: dt.datetime


class ProfileIn(Wire):
    """What to keep under a name; ``entered`` as under [instrument] in the case file."""

    entered: dict[str, JsonValue]
    based_on: int = Field(default=0, ge=0, le=MOST_ID)


class ProfileUseIn(Wire):
    """The kept instrument to put into a case, seen in revision ``based_on``."""

    name: str = Field(min_length=1, max_length=100)
    based_on: int = Field(ge=1, le=MOST_ID)
