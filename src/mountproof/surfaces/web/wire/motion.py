"""The movements of the picture in space: positions that were worked out, and what meets at each."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire
from mountproof.surfaces.web.wire.scene import Point
from mountproof.surfaces.web.wire.sheet import NeedOut

Row = tuple[float, float, float, float]
Matrix = tuple[Row, Row, Row, Row]


class MotionPlaceOut(Wire):
    """A pair of teeth at one position: it meets, or what is left of its gap."""

    kind: Literal["meets", "near"]
    pair: str = Field(description="upper and lower tooth as read")
    gap: str = Field(description="gap along closing as read")
    gap_mm: float
    point_mm: Point = Field(description="on the upper")
    lower_point_mm: Point = Field(description="on the lower, as the record holds it")


class ToothGapOut(Wire):
    """The least gap of one tooth, as read."""

    tooth: str
    gap: str


class MotionStepOut(Wire):
    """One position that was worked out."""

    amount_mm: float = Field(description="as the movement counts it")
    label: str = Field(description="the amount in words, with its unit")
    line: str = Field(description="what is seen, in one sentence")
    upper_from_lower: Matrix = Field(
        description="rigid, rows, mm: the lower as its scan is placed, in the frame"
    )
    moved: Matrix = Field(description="rigid, rows, mm: the lower against where the record holds it")
    closed_rad: float | None = Field(
        description="where the position is nothing but closing about the hinge: by how much; bands of gap hold there"
    )
    places: list[MotionPlaceOut] = Field(description="what meets, then what is nearest")
    gaps: list[ToothGapOut] = Field(description="tooth by tooth; empty where the answers have none")


class MovementOut(Wire):
    """One movement of the lower. Between two of its positions nothing was worked out."""

    key: Literal["closing", "slide", "ahead", "right", "left"]
    title: str
    about: str = Field(description="what the amounts count")
    steps: list[MotionStepOut] = Field(
        description="in their order; empty where the movement cannot be worked out"
    )
    needs: list[NeedOut] = Field(description="what is missing for it, or for more of it")
    notes: list[str]


class MotionsOut(Wire):
    """The movements of a case; none while its answers are being made."""

    revision: int
    movements: list[MovementOut]
    work: str | None = Field(
        description="name of the work on them, to follow or to cancel; answers to contacts and guidance then tell by an event"
    )
