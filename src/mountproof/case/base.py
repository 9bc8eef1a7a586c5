"""What every part of a case is made of: frozen parts, names, tooth numbers, clock times, matrices."""

import datetime as dt
import re
from enum import StrEnum
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from mountproof.case.numbers import Number
from mountproof.case.unreadable import Unreadable
from mountproof.said import say

#: Version of the case file; raised when a field changes its meaning.
SCHEMA_VERSION = 1


class Part(BaseModel):
    """Base of every part of a case: frozen, strict about unknown names."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, defer_build=True)


def _tooth(value: Any) -> Any:
    if isinstance(value, str) and value.strip().isascii() and value.strip().isdigit():
        value = int(value)
    if not isinstance(value, int) or isinstance(value, bool):
        raise Unreadable(say("a tooth number is needed here, such as 16"))
    if not 0 <= value <= 99:
        raise Unreadable(say("{value} is no tooth number", value=value), say("one or two digits are needed"))
    return value


_CLOCK = re.compile(r"^\d{1,2}:\d{2}(:\d{2})?$")


def _clock(value: Any) -> Any:
    if isinstance(value, dt.time) and value.tzinfo is None:
        return value
    if isinstance(value, str) and _CLOCK.match(value.strip()):
        hour, minute, second = (int(part) for part in f"{value.strip()}:00".split(":")[:3])
        try:
            return dt.time(hour, minute, second)
        except ValueError:
            raise Unreadable(say("{text!r} is no time of day", text=value)) from None
    raise Unreadable(say('a time of day is needed here, in quotation marks, such as "10:02"'))


def _day(value: Any) -> Any:
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value.strip())
        except ValueError:
            pass
    raise Unreadable(say("a date is needed here, year first, such as 2026-03-02"))


#: A clock that is set to another century is set wrongly; and sums with moments must stay inside the calendar.
_YEARS = (1970, 2999)


def _moment(value: Any) -> Any:
    if isinstance(value, str):
        try:
            value = dt.datetime.fromisoformat(value.strip())
        except ValueError:
            value = None
    if not isinstance(value, dt.datetime) or value.utcoffset() is None:
        raise Unreadable(
            say("a day and time with its offset is needed here, such as 2026-03-02T10:02:00+01:00")
        )
    if not _YEARS[0] <= value.year <= _YEARS[1]:
        raise Unreadable(say("this year cannot be"), say("put the day right"))
    return value.replace(microsecond=0)


def _flag(value: Any) -> Any:
    if isinstance(value, bool):
        return value
    raise Unreadable(say("true or false is needed here, without quotation marks"))


Row = tuple[Number, Number, Number, Number]
Matrix = Annotated[
    tuple[Row, Row, Row, Row],
    Field(description="4 rows of 4 numbers, the last row 0, 0, 0, 1; lengths in mm"),
]
Point = Annotated[
    tuple[Number, Number, Number],
    Field(description="x, y, z in the units of the scan file"),
]
Name = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[^\x00-\x1f\x7f]+$")]
#: A tooth number as the user wrote it, in the numbering of the case.
Tooth = Annotated[int, BeforeValidator(_tooth)]
#: A time of day without date, as read from the clock on the wall.
ClockTime = Annotated[dt.time, BeforeValidator(_clock)]
Day = Annotated[dt.date, BeforeValidator(_day)]
#: A moment that means the same everywhere: day, time of day and its offset from UTC; to the second.
Moment = Annotated[dt.datetime, BeforeValidator(_moment)]
Flag = Annotated[bool, BeforeValidator(_flag)]


class Numbering(StrEnum):
    """How teeth are numbered in this case. Never inferred: the systems share numbers."""

    ISO_3950 = "iso3950"
    UNIVERSAL = "universal"


class Arch(StrEnum):
    """Upper or lower."""

    UPPER = "upper"
    LOWER = "lower"
