"""What all cases of the store come to together, as it travels."""

from __future__ import annotations

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire
from mountproof.surfaces.web.wire.pictures import DrawingOut
from mountproof.surfaces.web.wire.sheet import TableOut


class ChartOut(Wire):
    """One watched number over the cases: its picture and what is said of it."""

    sentences: list[str]
    drawing: DrawingOut


class LeftOutOut(Wire):
    """A case that could not be read, and why."""

    code: str
    why: str


class TogetherOut(Wire):
    """Everything told of many cases."""

    sentences: list[str]
    charts: list[ChartOut]
    clouds: list[DrawingOut] = Field(description="participants of each course, under codes")
    tables: list[TableOut]
    left_out: list[LeftOutOut]


class PracticeOut(Wire):
    """How many cases are read so far, of how many; all of it once every one is. Ask again until then."""

    read: int
    cases: int
    together: TogetherOut | None
