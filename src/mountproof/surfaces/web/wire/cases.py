"""The list of cases, and one revision of a case as it was entered."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import Field, JsonValue

from mountproof.case.store.records import CaseState as CaseState
from mountproof.surfaces.web.wire.base import Wire
from mountproof.surfaces.web.wire.scans import ScanOut


class ListedOut(Wire):
    """One line of the list of cases."""

    id: int
    code: str
    lab: str
    note: str
    state: CaseState
    revision: int
    who: str
    begun: dt.datetime
    changed: dt.datetime
    age: str = Field(description="how long ago it was changed, as read")


class PageOut(Wire):
    """A page of the list; ``next`` asks for the one behind it."""

    cases: list[ListedOut]
    next: str | None


class FileOut(Wire):
    """A file beside the case."""

    name: str
    sha256: str
    bytes: int


class CellOut(Wire):
    """One cell of the table of marks: its repeats as typed, and what is asked about it, if anything."""

    field: str = Field(description="name of the entry, to change it")
    shown: str = Field(description="the repeats as typed, joined by /; empty where nothing was read")
    repeats: list[float]
    asked: str = Field(description="a question about this reading; empty where there is none")
    suggestion: str = Field(
        default="", description="a reading that would fit the others, as text to type; or empty"
    )


class MarkRowOut(Wire):
    """One pair of marks."""

    pair: str
    field: str = Field(description="name of the row, to take it out")
    cells: list[CellOut]


class MarkStateOut(Wire):
    """One state of the casts (or one seating of a record): a column. ``kind`` is empty for a seating."""

    name: str
    kind: str
    kind_words: str
    record: str | None
    note: str


class MarkGridOut(Wire):
    """The table of marks by states, or the seatings of one record."""

    table: Literal["readings_mm", "reseat_mm"]
    states: list[MarkStateOut]
    rows: list[MarkRowOut]


class CaseOut(Wire):
    """One revision of a case: what was entered, as entered."""

    id: int
    revision: int
    code: str
    state: CaseState
    who: str
    at: dt.datetime
    numbering: Literal["iso3950", "universal"]
    newest: bool = Field(description="whether this is the newest revision; only that one is changed")
    entered: dict[str, JsonValue] = Field(
        description="the case file as data. As typed: a number with a decimal point is a text, so that 38.10 stays"
        " 38.10; whole numbers are numbers; dates and times are texts"
    )
    marks: list[MarkGridOut]
    files: list[FileOut]
    scans: list[ScanOut]
