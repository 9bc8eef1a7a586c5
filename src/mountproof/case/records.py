"""Interocclusal records."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Matrix, Part


class RecordKind(StrEnum):
    """What an interocclusal record records."""

    CR = "CR"
    MIP = "MIP"
    PROTRUSIVE = "protrusive"
    LEFT = "left lateral"
    RIGHT = "right lateral"


class Record(Part):
    """One interocclusal record, with the scanned relation where there is one."""

    kind: RecordKind = Field(description="which relation it records", examples=["CR"])
    material: str = Field(default="", description="what it is made of", examples=["hard wax"])
    visit: str = Field(
        default="", description="at which visit it was taken; repeats of one visit resemble each other"
    )
    upper_from_lower: Matrix | None = Field(
        default=None,
        description="4 rows of 4 numbers: pose of the lower against the upper in the frame, with the record in",
    )
    note: str = Field(default="", description="anything worth remembering")
