"""What the clinician allows and wants of a change: budgets, teeth left out, and how a trial on duplicates runs."""

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from mountproof.case.base import Flag, Name, Part, Tooth
from mountproof.case.means import Means
from mountproof.case.numbers import Number

Teeth = Annotated[tuple[Tooth, ...], Field(min_length=1)]


class Reshape(StrEnum):
    """Whose teeth are reshaped where two overlap."""

    BOTH = "both"
    UPPER = "upper"
    LOWER = "lower"


class StopAt(StrEnum):
    """The height at which a trial ends."""

    MIP = "mip"
    FRONT = "front"
    PIN = "pin"


class Budget(Part):
    """How much may come off some teeth at most, each, across the surface: the clinician's own number."""

    teeth: Teeth = Field(description="teeth, in the numbering of the case", examples=[[16, 46]])
    most_mm: Number = Field(
        ge=0, le=5, description="most that may come off each of them, across the surface", examples=[0.3]
    )
    most_on_mm: Number | None = Field(
        default=None,
        ge=0,
        le=5,
        description="most that may be added to each of them, along closure",
        examples=[0.5],
    )


class Excluded(Part):
    """Teeth that keep their shape, and why."""

    teeth: Teeth = Field(description="teeth, in the numbering of the case", examples=[[24]])
    reason: str = Field(
        min_length=1,
        max_length=200,
        description="why they keep their shape",
        examples=["worn through to dentine"],
    )


class Stop(Part):
    """Where a trial ends: at a height, and after so many rounds at the latest."""

    at: StopAt | None = Field(
        default=None,
        description="mip: the height of MIP; front: until the front teeth meet; pin: a height of the pin that you give",
        examples=["mip"],
    )
    pin_mm: Number | None = Field(
        default=None,
        ge=-20,
        le=20,
        description="where it ends at the pin: mm that the pin stays open over MIP, or over first contact where MIP is not known",
        examples=[0.5],
    )
    most_rounds: int | None = Field(
        default=None, ge=1, le=200, description="no more rounds than this; not given: 40", examples=[40]
    )


class Branch(Part):
    """A second way of the same trial: so many rounds of the first way are kept, then it goes on by these entries."""

    name: Name = Field(description="what you call this way", examples=["upper only"])
    after: int = Field(
        default=0,
        ge=0,
        le=200,
        description="rounds of the first way that are kept; later ones are undone",
        examples=[3],
    )
    reshape: Reshape | None = Field(
        default=None, description="who is reshaped from there on", examples=["upper"]
    )
    step_mm: Number | None = Field(
        default=None, ge=0.01, le=0.5, description="what one round takes off from there on", examples=[0.03]
    )
    excluded: tuple[Tooth, ...] = Field(
        default=(),
        description="teeth that keep their shape from there on, beside those of the first way",
        examples=[[15]],
    )


class Change(Part):
    """What may be changed, and how it is tried on duplicates. No limit is claimed where nobody enters one."""

    budgets: tuple[Budget, ...] = Field(
        default=(), description="most that may come off, by teeth; a tooth without a budget sets no limit"
    )
    excluded: tuple[Excluded, ...] = Field(
        default=(), description="teeth that keep their shape; implants keep it anyhow"
    )
    restored: tuple[Tooth, ...] = Field(
        default=(),
        description="teeth that carry a restoration; they keep their shape unless restorations may be reshaped too",
        examples=[[36]],
    )
    reshape_restored: Flag = Field(
        default=False, description="true when restorations may be reshaped as well"
    )
    reshape: Reshape | None = Field(
        default=None,
        description="who is reshaped where two teeth overlap: both (half each, also where nothing is given), upper or lower",
        examples=["both"],
    )
    step_mm: Number | None = Field(
        default=None, ge=0.01, le=0.5, description="what one round of a trial takes off, across the surface",
        examples=[0.05],
    )  # fmt: skip
    stop: Stop = Field(default_factory=Stop)
    branches: tuple[Branch, ...] = Field(
        default=(), description="other ways of the same trial, told beside the first to compare"
    )
    most_off_mm: Number | None = Field(
        default=None,
        ge=0,
        le=5,
        description="most that may come off any tooth without a budget of its own, across the surface",
        examples=[0.4],
    )
    most_on_mm: Number | None = Field(
        default=None,
        ge=0,
        le=5,
        description="most that may be added to any tooth without a budget of its own, along closure",
        examples=[0.6],
    )
    fill: Flag = Field(
        default=False,
        description="true when the trial ends by building up, on the duplicates, what stays open, as far as may be added",
    )
    means: Means = Field(
        default_factory=Means,
        description="limits by which leaving, subtracting, adding, moving and operating are told",
    )
