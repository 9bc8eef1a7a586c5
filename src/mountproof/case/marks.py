"""Marks on the casts, the states they were measured in, and the readings."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Arch, Flag, Name, Part
from mountproof.case.numbers import Number, Readings

#: No distance between two marks on a pair of casts is longer than this; a longer one is a slip of typing.
LONGEST_MM = 250.0


def _no_readings() -> Readings:
    return Readings.model_construct(states=(), rows={})


class MarkPlace(Part):
    """Where a mark stands: coordinates, or only its distance from the hinge axis seen from the side."""

    arch: Arch = Field(description="the cast that carries the mark", examples=["upper"])
    ahead_mm: Number | None = Field(
        default=None, ge=-250, le=250, description="ahead of the hinge axis", examples=[52]
    )
    above_mm: Number | None = Field(
        default=None,
        ge=-250,
        le=250,
        description="above the hinge axis; below it is negative",
        examples=[-20],
    )
    right_mm: Number | None = Field(
        default=None,
        ge=-250,
        le=250,
        description="to the patient's right of the middle; left is negative",
        examples=[34],
    )
    from_hinge_mm: Number | None = Field(
        default=None,
        gt=0,
        le=250,
        description="straight distance from the hinge axis, seen from the side",
        examples=[55.7],
    )
    u_mm: Number | None = Field(
        default=None, gt=0, le=20, description="standard uncertainty of each of these lengths", examples=[0.5]
    )


class ToothPlace(Part):
    """Where a tooth stands, seen from the side; for the pin-to-tooth table and the record's thickness."""

    ahead_mm: Number = Field(gt=0, le=200, description="ahead of the hinge axis", examples=[92])
    above_mm: Number = Field(
        ge=-150, le=50, description="above the hinge axis; below it is negative", examples=[-42]
    )
    u_mm: Number | None = Field(
        default=None, gt=0, le=20, description="standard uncertainty of each of these lengths", examples=[1]
    )


class StateKind(StrEnum):
    """What holds the casts while the marks are measured."""

    MIP = "MIP by hand"
    RECORD = "record in"
    RECORD_SET = "record in, after set"
    CONTACT = "record out, first contact"
    PROTRUSIVE = "protrusive record in"
    LEFT = "left lateral record in"
    RIGHT = "right lateral record in"


class State(Part):
    """One column of the table of marks."""

    kind: StateKind = Field(
        description="what holds the casts while they are measured", examples=["record in"]
    )
    record: str | None = Field(
        default=None, description="name of the record, as under [records]", examples=["record 1"]
    )
    note: str = Field(default="", description="anything worth remembering")


class Marks(Part):
    """The table of marks by states."""

    places: dict[Name, MarkPlace] = Field(
        default={}, description="the marks and where each stands, by the name written on the cast"
    )
    states: dict[Name, State] = Field(
        default={}, description="the columns of the table: a short name for each state of the casts"
    )
    readings_mm: Readings = Field(
        default_factory=_no_readings,
        description="distances between marks: a row a pair (upper mark, hyphen, lower mark), a column a state",
    )
    reseat_mm: Readings | None = Field(
        default=None,
        description="one record taken off and put back several times: a row a pair, a column a seating",
    )
    reseat_record: str | None = Field(
        default=None, description="which record was taken off and put back", examples=["record 1"]
    )


class PinReading(Part):
    """What the pin's scale showed, or what it was set to, in one state of the casts."""

    state: Name = Field(description="name of the state, as under [marks.states]", examples=["G"])
    reads: Number = Field(
        ge=-1000, le=1000, description="what the scale shows, in the pin's own marks", examples=[3.2]
    )
    set_by_hand: Flag = Field(
        default=False, description="true when the pin was set to this, false when it was read"
    )
