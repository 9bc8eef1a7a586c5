"""The facebow transfer: where the hinge axis came from, and how the upper cast stands on the instrument."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Part
from mountproof.case.numbers import Number


class AxisFrom(StrEnum):
    """Where the hinge axis of the mounting came from."""

    LOCATED = "located by opening and closing"
    EARS = "ear rods"
    POINTS = "points measured on the skin"
    AVERAGE = "average lengths, no facebow"


class Facebow(Part):
    """How the upper cast was transferred, and how it stands on the instrument."""

    axis: AxisFrom | None = Field(
        default=None, description="where the hinge axis came from", examples=["ear rods"]
    )
    axis_u_mm: Number | None = Field(
        default=None,
        gt=0,
        le=30,
        description="how well the axis is known, one coordinate (SD)",
        examples=[4],
    )
    front_height_mm: Number | None = Field(
        default=None,
        ge=0,
        le=200,
        description="height of the incisal edge over the base of the instrument, upper cast mounted",
        examples=[61.0],
    )
    right_height_mm: Number | None = Field(
        default=None,
        ge=0,
        le=200,
        description="height of the right molar's cusp over the base of the instrument",
        examples=[66.5],
    )
    left_height_mm: Number | None = Field(
        default=None,
        ge=0,
        le=200,
        description="height of the left molar's cusp over the base of the instrument",
        examples=[66.0],
    )
    front_to_molars_mm: Number | None = Field(
        default=None,
        gt=0,
        le=100,
        description="from the incisal edge back to the line between these two cusps, seen from above",
        examples=[40],
    )
    between_molars_mm: Number | None = Field(
        default=None, gt=0, le=100, description="between these two cusps", examples=[54]
    )
    height_sd_mm: Number | None = Field(
        default=None, gt=0, le=5, description="standard deviation of one of these heights", examples=[0.1]
    )
    photo_cant_deg: Number | None = Field(
        default=None,
        ge=-45,
        le=45,
        description="slope of the upper teeth in a photograph of the face; positive: lower on the patient's right",
        examples=[0.5],
    )
    photo_u_deg: Number | None = Field(
        default=None, gt=0, le=20, description="how well that slope is known (SD)", examples=[0.5]
    )
