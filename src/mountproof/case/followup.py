"""What the mouth showed afterwards: what was delivered, how long it was adjusted, where, and which teeth met."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Day, Flag, Part, Tooth
from mountproof.case.numbers import Number


class Delivered(StrEnum):
    """What was delivered at a visit."""

    DEVICE = "device"
    PROVISIONAL = "provisional"
    FINAL = "final"


class Adjusted(Part):
    """One tooth that was adjusted at a visit."""

    tooth: Tooth = Field(description="the tooth that was adjusted", examples=[16])
    um: Number | None = Field(
        default=None,
        ge=0,
        le=5000,
        description="how much came off there, where it was measured",
        examples=[40],
    )


class FollowUp(Part):
    """One visit after the mounting: delivery, or a look months later."""

    date: Day | None = Field(default=None, description="day of the visit", examples=["2026-05-04"])
    delivered: Delivered | None = Field(
        default=None, description="what was delivered or looked at", examples=["provisional"]
    )
    minutes: Number | None = Field(
        default=None, ge=0, le=600, description="minutes it was adjusted in the mouth", examples=[12]
    )
    adjusted: tuple[Adjusted, ...] = Field(default=(), description="teeth that were adjusted")
    first_contact: tuple[Tooth, ...] = Field(
        default=(), description="tooth, or teeth, that met first in CR", examples=[[15]]
    )
    thickness_um: Number | None = Field(
        default=None, gt=0, le=1000, description="thickness of the foil of the lists below", examples=[8]
    )
    held: tuple[Tooth, ...] = Field(
        default=(),
        description="teeth that held the foil in CR before anything was adjusted",
        examples=[[15, 45]],
    )
    free: tuple[Tooth, ...] = Field(
        default=(), description="teeth between which it came free", examples=[[24]]
    )
    others_free: Flag = Field(default=False, description="true when it came free at every tooth not named")
    visit: str = Field(
        default="",
        description="the visit of the CR records taken then, as under [records]",
        examples=["2"],
    )
    by: str = Field(default="", description="who delivered it, as initials or a code", examples=["QP"])
    note: str = Field(default="", description="anything worth remembering")
