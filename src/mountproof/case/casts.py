"""What was checked on the casts themselves: how they sit together by hand, widths, and further scans of one arch."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Arch, Day, Flag, Name, Part, Point, Tooth
from mountproof.case.numbers import Number
from mountproof.case.scan_entries import ScanUnit


class WidthCheck(Part):
    """One width across an arch, measured in the mouth and on the cast with the same caliper."""

    arch: Arch = Field(description="which arch was measured", examples=["upper"])
    between: tuple[Tooth, Tooth] = Field(
        description="the two teeth whose cusp tips were measured between", examples=[[16, 26]]
    )
    in_mouth_mm: tuple[Number, ...] = Field(
        default=(), description="distance in the mouth, every reading", examples=[[52.30, 52.35]]
    )
    on_cast_mm: tuple[Number, ...] = Field(
        default=(), description="the same distance on the cast, every reading", examples=[[52.20, 52.20]]
    )


class PointPair(Part):
    """One point seen in two scans of the same arch."""

    name: Name = Field(description="what the point is called", examples=["mesiobuccal cusp of 16"])
    scan: Point = Field(
        description="x, y, z in the scan of this case, in the units of its file",
        examples=[[21.4, 3.0, -8.2]],
    )
    other: Point = Field(
        description="x, y, z in the other scan, in the units of its file", examples=[[18.2, 1.1, -7.9]]
    )


class OtherOf(StrEnum):
    """What another scan of the same arch shows."""

    SAME_CAST = "the same cast again"
    OTHER_CAST = "another cast"
    MOUTH = "the mouth"


class OtherScan(Part):
    """Another scan of one arch, to be held against the scan of this case."""

    arch: Arch = Field(description="which arch was scanned", examples=["upper"])
    file: str = Field(
        min_length=1,
        max_length=200,
        description="name of the scan file, seen from the case folder",
        examples=["upper_again.stl"],
    )
    unit: ScanUnit = Field(description="unit of the numbers in the file", examples=["mm"])
    shows: OtherOf = Field(description="what it shows", examples=["another cast"])
    lies_alike: Flag = Field(
        default=False, description="true when it lies in the same coordinates as the scan of this case"
    )
    points: tuple[PointPair, ...] = Field(
        default=(), description="three or more points seen in both scans, where they do not lie alike"
    )
    taken: Day | None = Field(default=None, description="day the scan was taken", examples=["2026-03-02"])


class Casts(Part):
    """What was checked on the casts before they were mounted."""

    seats_by_hand: int | None = Field(
        default=None,
        ge=1,
        le=9,
        description="in how many different ways the casts come to rest by hand in MIP: 1 is a firm seat, more rock",
        examples=[1],
    )
    impression_opening_mm: Number | None = Field(
        default=None,
        ge=0,
        le=70,
        description="how wide the front teeth stood open when the lower impression was taken",
        examples=[25],
    )
    widths: tuple[WidthCheck, ...] = Field(
        default=(), description="widths across an arch, in the mouth and on the cast"
    )
    other_scans: tuple[OtherScan, ...] = Field(
        default=(), description="further scans of an arch, held against the scan of this case"
    )
