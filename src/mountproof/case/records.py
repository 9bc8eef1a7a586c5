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


class RelationIn(StrEnum):
    """The coordinates that a scanned relation is written in."""

    FRAME = "frame coordinates"
    SCANS = "scan coordinates"


class Record(Part):
    """One interocclusal record, with the scanned relation where there is one."""

    kind: RecordKind = Field(description="which relation it records", examples=["CR"])
    material: str = Field(default="", description="what it is made of", examples=["hard wax"])
    visit: str = Field(
        default="", description="at which visit it was taken; repeats of one visit resemble each other"
    )
    upper_from_lower: Matrix | None = Field(
        default=None,
        description="4 rows of 4 numbers, in mm: moves the lower, as its scan is placed, to where the record holds it",
    )
    relation_in: RelationIn | None = Field(
        default=None,
        description="what these numbers are written in: the frame of the upper jaw, or the scans' own coordinates",
        examples=["scan coordinates"],
    )
    note: str = Field(default="", description="anything worth remembering")
