"""The eight answers of one revision, as they are read and as data."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum

from pydantic import Field

from mountproof.surfaces.web.wire.base import FaultOut, Wire


class QuantityOut(Wire):
    """A number of an answer: as data, and as it is read."""

    key: str
    label: str
    value: float | None
    unit: str
    u: float | None
    low: float | None
    high: float | None
    assumed: bool
    note: str
    shown: str = Field(description="value and unit as read")
    interval: str = Field(description="95 % interval as read; empty where there is none")
    u_shown: str = Field(description="standard uncertainty as read; empty where there is none")


class ReasonOut(Wire):
    """Why a verdict came out as it did."""

    why: str
    text: str
    field: str = Field(default="", description="the entry it is about, where it is about one")
    suggestion: str = Field(
        default="", description="what the entry may have been meant to be, as text to type"
    )


class NeedOut(Wire):
    """The next measurement that would settle an answer. ``field`` is where to enter it."""

    question: str
    reading: str
    why: str
    field: str


class AssumptionOut(Wire):
    """A value nobody measured."""

    what: str
    value: str
    source: str
    field: str


class TableOut(Wire):
    """A small table; cells as read."""

    title: str
    columns: list[str]
    rows: list[list[str]]
    note: str


class AcceptedOut(Wire):
    """What a person accepted, and whether it read something else than the case holds now."""

    who: str
    at: dt.datetime
    revision: int
    out_of_date: bool


class AnswerState(StrEnum):
    """Whether an answer is there. ``working``: it is being made, an event tells when it is there. ``stopped``: somebody
    cancelled it; POST .../work begins it again.
    """

    READY = "ready"
    WORKING = "working"
    STOPPED = "stopped"
    NOT_BUILT = "not built"


class AnswerOut(Wire):
    """One question and its answer."""

    key: str
    number: int
    question: str
    state: AnswerState
    headline: str
    verdict: str = Field(description="agrees, doubtful, does not agree or cannot tell")
    verdict_word: str = Field(description="the verdict in the language asked for")
    mark: str = Field(description="the sign beside the verdict word, so that colour never carries it alone")
    interval: str = Field(
        description="the 95 % interval of the number the answer turns on, as read, with its name; may be empty"
    )
    reasons: list[ReasonOut]
    quantities: list[QuantityOut]
    needs: list[NeedOut]
    assumptions: list[AssumptionOut]
    tables: list[TableOut]
    notes: list[str]
    cautions: list[str]
    sources: list[str]
    digest: str
    accepted: AcceptedOut | None


class GateOut(Wire):
    """A step of the procedure that is not met, or a gate passed over."""

    key: str
    words: str
    why: str
    field: str = Field(description="its entry in the case")


class SheetOut(Wire):
    """The eight answers of one revision of a case. ``revision`` is that which they were asked of; where edits are
    tried, that which these were made from.
    """

    case_id: int
    revision: int
    code: str
    answers: list[AnswerOut]
    next: list[NeedOut] = Field(description="what to measure next, the most useful first")
    questions: list[str] = Field(description="readings that want a second look")
    echoes: list[str] = Field(description="how entries that can be read two ways were read")
    faults: list[FaultOut]
    cautions: list[str]
    gates: list[GateOut]
    work: str | None = Field(
        description="name of the work that is going on for this sheet, to follow or to cancel"
    )
