"""Limits of the clinician by which the means of a change are told, and thirds that were seen by eye."""

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from mountproof.case.base import Part, Tooth
from mountproof.case.numbers import Number


class Third(StrEnum):
    """Where a lower buccal cusp tip stands across the inner incline of the upper buccal cusp, from the groove outward."""

    INNER = "inner"
    MIDDLE = "middle"
    OUTER = "outer"


class Seen(Part):
    """Where the lower buccal cusps stand under some upper back teeth, by eye, at the height that is wanted."""

    teeth: Annotated[tuple[Tooth, ...], Field(min_length=1)] = Field(
        description="upper back teeth, in the numbering of the case", examples=[[16, 17]]
    )
    third: Third = Field(
        description="inner: at the groove; middle; outer: towards the upper buccal cusp tip",
        examples=["inner"],
    )


class Means(Part):
    """The clinician's own limits, each for one number; without them the numbers are told and nothing is said of them.

    What may come off a tooth or be added to it stands with the budgets of the change.
    """

    leave_open_mm: Number | None = Field(
        default=None,
        ge=0,
        le=20,
        description="leave: most that first contact may stand open over the height of MIP, at the pin",
        examples=[0.5],
    )
    subtract_teeth: int | None = Field(
        default=None, ge=0, le=32, description="subtract: most teeth that may lose something", examples=[6]
    )
    move_mm: Number | None = Field(
        default=None,
        ge=0,
        le=20,
        description="move: most that one tooth may be moved across the arch",
        examples=[1.5],
    )
    operate_mm: Number | None = Field(
        default=None,
        ge=0,
        le=40,
        description="operate: most that a whole arch may be moved, or widened on each side, across",
        examples=[3],
    )
    overjet_mm: Number | None = Field(
        default=None,
        ge=0,
        le=20,
        description="front: most overjet with which front teeth can still be made to meet",
        examples=[4],
    )
    seen: tuple[Seen, ...] = Field(
        default=(), description="thirds seen by eye on the casts, where no scan tells them"
    )
