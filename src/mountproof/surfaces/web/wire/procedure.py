"""Steps of the procedure, pours, and instruments kept beside the cases."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import Field, JsonValue

from mountproof.surfaces.web.wire.base import MOST_ID, Wire


class StepOut(Wire):
    """One step of the procedure. ``field`` is its entry in the case: ``FIELD.met``, ``FIELD.note`` are ticked and noted."""

    key: str
    field: str
    stage: Literal["upper", "between", "lower", "after"]
    stage_words: str
    words: str
    why: str
    closes: str = Field(description="what a gate keeps shut until it is met; empty for others")
    gate: bool
    own: Literal["", "instrument", "case"] = Field(description="whose step it is; empty for a usual one")
    state: Literal["to come", "met", "not met", "passed over", "asked", "left out"]
    state_words: str
    met: bool | None
    left_out: bool
    at: dt.datetime | None
    at_shown: str
    by: str
    note: str
    found: str = Field(description="what the case itself holds of it")
    asked: str = Field(
        description="why the gate stays shut, with the answer that says so; empty where it does not"
    )


class PourMarkOut(Wire):
    """One moment of a pour: when, what to do, and by whose word."""

    key: Literal["mix", "poured", "hands_off", "set", "release"]
    words: str
    at: dt.datetime
    at_shown: str
    source: str
    assumed: bool


class PourOut(Wire):
    """One pour of one cast: absolute moments only. ``field`` is its entry in the case."""

    case_id: int
    revision: int = Field(description="the newest revision of the case, for edits")
    code: str
    key: str
    field: str
    cast: Literal["upper", "lower"]
    number: int
    words: str
    begun: dt.datetime
    begun_shown: str
    marks: list[PourMarkOut]
    next: PourMarkOut | None = Field(description="the next moment to come, by the server's clock")
    late: PourMarkOut | None = Field(description="the moment that waits for a person; null where none does")
    hands_off: dt.datetime | None
    ended: dt.datetime | None = Field(description="when it was released")
    by: str
    note: str
    asked: list[str] = Field(description="what does not fit together in it")


class PoursOut(Wire):
    """All pours that go on, over all cases, in the order in which they are to be seen to. ``now`` is the server's clock."""

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
