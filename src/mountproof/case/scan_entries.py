"""Scans beside the case file, and how each was put into the frame of the upper jaw."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Arch, Day, Flag, Matrix, Name, Part, Point
from mountproof.case.numbers import Number


class ScanUnit(StrEnum):
    """The unit of the numbers in a scan file."""

    MM = "mm"
    CM = "cm"
    INCH = "inch"
    METRE = "metre"
    MICROMETRE = "um"
    FOOT = "foot"


class LandmarkPair(Part):
    """One landmark seen in the scan and known in the frame of the upper jaw."""

    name: Name = Field(description="what the landmark is called", examples=["right first molar"])
    scan: Point = Field(
        description="x, y, z in the units of the scan file, before anything is moved",
        examples=[[21.4, 3.0, -8.2]],
    )
    ahead_mm: Number = Field(
        ge=-250, le=250, description="the same landmark ahead of the hinge axis", examples=[52]
    )
    above_mm: Number = Field(
        ge=-250, le=250, description="above the hinge axis; below is negative", examples=[-30]
    )
    right_mm: Number = Field(
        ge=-250, le=250, description="to the patient's right; left is negative", examples=[25]
    )
    u_mm: Number | None = Field(
        default=None, gt=0, le=20, description="standard uncertainty of each of these lengths", examples=[0.5]
    )


class HingeDistance(Part):
    """Caliper distances from points of the instrument to one landmark of the upper cast."""

    name: Name = Field(description="what the landmark is called", examples=["right first molar"])
    scan: Point = Field(
        description="the landmark in the scan: x, y, z in the units of the scan file",
        examples=[[21.4, 3.0, -8.2]],
    )
    from_right_hinge_mm: Number | None = Field(
        default=None, gt=0, le=300, description="caliper distance from the right hinge point", examples=[68.3]
    )
    from_left_hinge_mm: Number | None = Field(
        default=None, gt=0, le=300, description="caliper distance from the left hinge point", examples=[104.9]
    )
    from_third_point_mm: Number | None = Field(
        default=None,
        gt=0,
        le=300,
        description="caliper distance from a third point of the instrument",
        examples=[71.0],
    )


class ThirdPoint(Part):
    """A third point of the instrument that the caliper can reach."""

    ahead_mm: Number = Field(ge=-300, le=300, description="ahead of the hinge axis", examples=[110])
    above_mm: Number = Field(ge=-300, le=300, description="above the hinge axis", examples=[20])
    right_mm: Number = Field(ge=-300, le=300, description="to the patient's right", examples=[0])


class AverageAnatomy(Part):
    """Place the scan by average lengths. Declared by the user, shown as assumed everywhere."""

    incisors: Point = Field(
        description="midpoint of the central incisal edges, in the scan", examples=[[0.2, 31.0, 4.1]]
    )
    right_molar: Point = Field(
        description="mesiobuccal cusp tip of the right first molar, in the scan",
        examples=[[-25.1, 3.2, 3.8]],
    )
    left_molar: Point = Field(
        description="mesiobuccal cusp tip of the left first molar, in the scan", examples=[[25.3, 3.0, 3.9]]
    )


class Placement(Part):
    """How a scan was put into the frame: one of these, or none while it is not placed yet."""

    frame_from_scan: Matrix | None = Field(
        default=None,
        description="4 rows of 4 numbers that move scan coordinates, in mm, into the frame of the upper jaw",
        examples=[[[0, 0, 1, 69.3], [0, 1, 0, -33.2], [-1, 0, 0, 1.2], [0, 0, 0, 1]]],
    )
    landmarks: tuple[LandmarkPair, ...] = Field(
        default=(), description="three or more landmarks seen in the scan and measured on the instrument"
    )
    hinge_distances: tuple[HingeDistance, ...] = Field(
        default=(), description="three or more landmarks with caliper distances from the hinge points"
    )
    third_point: ThirdPoint | None = Field(
        default=None, description="the third point that hinge_distances refer to"
    )
    distance_sd_mm: Number | None = Field(
        default=None, gt=0, le=10, description="standard deviation of one of these distances", examples=[0.3]
    )
    average: AverageAnatomy | None = Field(
        default=None,
        description="placed by average lengths, from three points seen in the scan; an assumption",
    )
    with_other_arch: Flag = Field(
        default=False, description="true when this scan lies in the same coordinates as the other arch's scan"
    )


class ScanEntry(Part):
    """One scan beside the case file."""

    arch: Arch = Field(description="which cast was scanned", examples=["upper"])
    file: str = Field(
        min_length=1,
        max_length=200,
        description="name of the scan file, seen from the case folder",
        examples=["upper.stl"],
    )
    unit: ScanUnit = Field(description="unit of the numbers in the file", examples=["mm"])
    placement: Placement = Field(default_factory=Placement)
    teeth_file: str | None = Field(
        default=None,
        min_length=1,
        max_length=200,
        description="CSV with one tooth number (ISO 3950) for each triangle, where there is one",
        examples=["upper_teeth.csv"],
    )
    sides_compared: Flag = Field(
        default=False,
        description="true when one tooth that stands out was compared with the patient, and right is right",
    )
    taken: Day | None = Field(default=None, description="day the scan was taken", examples=["2026-03-02"])
