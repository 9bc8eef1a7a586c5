"""Interocclusal records."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Arch, Matrix, Name, Part, Point, Tooth
from mountproof.case.numbers import Number
from mountproof.case.scan_entries import ScanUnit


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


class RecordShown(StrEnum):
    """What the scan that belongs to a record shows."""

    SURFACE = "the record"
    JOINED = "the casts joined by it"


class RecordPoint(Part):
    """One point seen in the scan of a record and in the scan of a cast."""

    name: Name = Field(description="what the point is called", examples=["mesiobuccal cusp of 16"])
    arch: Arch = Field(description="the cast on which the point is seen", examples=["upper"])
    cast: Point = Field(
        description="x, y, z in the scan of that cast, in the units of its file", examples=[[21.4, 3.0, -8.2]]
    )
    record: Point = Field(
        description="x, y, z in the scan of the record, in the units of its file",
        examples=[[18.2, 1.1, -7.9]],
    )


class RecordScan(Part):
    """A scan of the record itself, or of the casts joined by it."""

    file: str = Field(
        min_length=1,
        max_length=200,
        description="name of the scan file, seen from the case folder",
        examples=["record1.stl"],
    )
    unit: ScanUnit = Field(description="unit of the numbers in the file", examples=["mm"])
    shows: RecordShown = Field(description="what was scanned", examples=["the casts joined by it"])
    lies_on: tuple[Arch, ...] = Field(
        default=(),
        description="the casts whose own scans it lies on already, near enough to begin from",
        examples=[["upper"]],
    )
    points: tuple[RecordPoint, ...] = Field(
        default=(), description="three or more points of each cast that are seen in this scan as well"
    )


class RecordStop(Part):
    """One place where the record bears on a cast."""

    ahead_mm: Number = Field(ge=-250, le=250, description="ahead of the hinge axis", examples=[60])
    right_mm: Number = Field(
        ge=-250, le=250, description="to the patient's right of the middle; left is negative", examples=[25]
    )
    tooth: Tooth | None = Field(
        default=None, description="the tooth that bears there; none where it is gum or base", examples=[16]
    )


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
    scan: RecordScan | None = Field(
        default=None, description="a scan of the record, or of the casts joined by it"
    )
    stops: tuple[RecordStop, ...] = Field(
        default=(), description="where it bears on the casts; three or more, not in a line"
    )
    perforated_at: tuple[Tooth, ...] = Field(
        default=(), description="teeth that went through the record and met", examples=[[16]]
    )
    note: str = Field(default="", description="anything worth remembering")
