"""Points in time as the store keeps them: UTC, as text that sorts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

#: What tells the time; tests and restores give their own.
Clock = Callable[[], dt.datetime]


def utc_now() -> dt.datetime:
    """Return the time of this computer's clock, in UTC."""
    return dt.datetime.now(dt.UTC)


def to_text(time: dt.datetime) -> str:
    """Return a time as text, to the microsecond. ValueError for one that does not say its zone."""
    if time.tzinfo is None:
        raise ValueError("a time needs its zone")
    return time.astimezone(dt.UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def from_text(text: str) -> dt.datetime:
    """Return the time that ``to_text`` wrote. ValueError for other text."""
    time = dt.datetime.fromisoformat(text)
    if to_text(time) != text:
        raise ValueError("this time was not written here")
    return time
