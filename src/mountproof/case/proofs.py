"""Checks of a mounting: a record seated on it, the gaps of a split cast, the condylar elements, and every attempt."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Day, Flag, Part
from mountproof.case.numbers import Number


class SplitGap(Part):
    """The gap at one place of the rim of a split cast."""

    ahead_mm: Number = Field(ge=-250, le=250, description="ahead of the hinge axis", examples=[60])
    right_mm: Number = Field(
        ge=-250, le=250, description="to the patient's right of the middle; left is negative", examples=[25]
    )
    gap_mm: Number | None = Field(
        default=None, ge=0, le=10, description="the gap, where it was read as a number", examples=[0.15]
    )
    holds_um: Number | None = Field(
        default=None, gt=0, le=10000, description="thinnest strip that is held there", examples=[100]
    )
    passes_um: Number | None = Field(
        default=None, gt=0, le=10000, description="thickest strip that still passes there", examples=[40]
    )


class SplitCast(Part):
    """The gaps around a split cast with one record in."""

    record: str | None = Field(
        default=None, description="name of the record that was in, as under [records]", examples=["record 2"]
    )
    gaps: tuple[SplitGap, ...] = Field(
        default=(), description="the gap at three or more places around the rim"
    )
    gap_sd_mm: Number | None = Field(
        default=None, gt=0, le=1, description="standard deviation of reading one gap", examples=[0.02]
    )


class Seats(StrEnum):
    """How a record sat on the casts."""

    FULLY = "seats fully"
    OFF = "stands off"
    ROCKS = "rocks"


class Side(StrEnum):
    """Where something stands off, or is heavy."""

    RIGHT = "right"
    LEFT = "left"
    FRONT = "front"
    BACK = "back"
    EVENLY = "evenly"


class Seating(Part):
    """A record tried on the mounted casts, and how it sat, without a number."""

    record: str = Field(description="name of the record, as under [records]", examples=["record 1"])
    found: Seats = Field(description="how it sat on the mounted casts", examples=["seats fully"])
    where: Side | None = Field(
        default=None, description="where it stood off, as the patient's side", examples=["left"]
    )


class CondyleGap(Part):
    """How far the condylar elements stood from their stops with a record in."""

    record: str | None = Field(
        default=None, description="name of the record that was in, as under [records]", examples=["record 2"]
    )
    right_mm: Number | None = Field(
        default=None, ge=-10, le=10, description="gap at the right condylar element", examples=[0]
    )
    left_mm: Number | None = Field(
        default=None, ge=-10, le=10, description="gap at the left condylar element", examples=[0.2]
    )
    u_mm: Number | None = Field(
        default=None, gt=0, le=5, description="standard uncertainty of such a gap", examples=[0.05]
    )


class Attempt(Part):
    """One mounting of this case, kept or not. All are noted: choosing the one that pleases hides the others."""

    date: Day | None = Field(default=None, description="day it was mounted", examples=["2026-03-02"])
    record: str | None = Field(
        default=None, description="name of the record, as under [records]", examples=["record 1"]
    )
    kept: Flag = Field(default=False, description="true for the mounting that stands now")
    why: str = Field(default="", description="why it was kept or taken off again")


class Proof(Part):
    """Checks of the mounting beside pin, marks and foils."""

    seatings: tuple[Seating, ...] = Field(
        default=(), description="records tried on the mounted casts, and how they sat"
    )
    split_casts: tuple[SplitCast, ...] = Field(
        default=(), description="gaps around a split cast, with a record in that was not used to mount"
    )
    condyle_gaps: tuple[CondyleGap, ...] = Field(
        default=(), description="how far the condylar elements stood from their stops"
    )
    attempts: tuple[Attempt, ...] = Field(default=(), description="every mounting of this case, in order")
    other_cases_looked_at: int | None = Field(
        default=None,
        ge=1,
        le=1000,
        description="other cases on this instrument that were looked at for the same pattern",
        examples=[6],
    )
    other_cases_alike: int | None = Field(
        default=None, ge=0, le=1000, description="those of them that are off in the same way", examples=[5]
    )
