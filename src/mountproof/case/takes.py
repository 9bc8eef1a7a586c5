"""Between which ends an instrument can be set, and in which steps."""

from typing import NamedTuple

from pydantic import Field

from mountproof.case.base import Part
from mountproof.case.numbers import Number


class AngleRange(Part):
    """From where to where an angle can be set, and in which steps; from the maker's sheet or its scale."""

    lowest_deg: Number | None = Field(
        default=None, ge=-90, le=90, description="lowest angle it can be set to", examples=[-20]
    )
    highest_deg: Number | None = Field(
        default=None, ge=-90, le=90, description="highest angle it can be set to", examples=[60]
    )
    step_deg: Number | None = Field(
        default=None, gt=0, le=30, description="from one mark of its scale to the next", examples=[5]
    )


class ShiftRange(Part):
    """From where to where an immediate shift can be set, and in which steps."""

    lowest_mm: Number | None = Field(
        default=None, ge=0, le=10, description="least shift it can be set to", examples=[0]
    )
    highest_mm: Number | None = Field(
        default=None, ge=0, le=10, description="greatest shift it can be set to", examples=[1.5]
    )
    step_mm: Number | None = Field(
        default=None, gt=0, le=5, description="from one mark of its scale to the next", examples=[0.1]
    )


class Takes(Part):
    """What the condyles of an instrument can be set to. Typed by its user; nothing is known of any product."""

    inclination: AngleRange = Field(default_factory=AngleRange)
    lateral: AngleRange = Field(default_factory=AngleRange)
    shift: ShiftRange = Field(default_factory=ShiftRange)


class Ends(NamedTuple):
    """The ends and the step of one setting, in its own unit (degrees or mm); None where nobody said."""

    lowest: float | None
    highest: float | None
    step: float | None


def ends_of(given: AngleRange | ShiftRange) -> Ends:
    """Return the ends and the step of a range, whatever its unit."""
    if isinstance(given, AngleRange):
        return Ends(given.lowest_deg, given.highest_deg, given.step_deg)
    return Ends(given.lowest_mm, given.highest_mm, given.step_mm)
