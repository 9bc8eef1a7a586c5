"""How much the steps of a practice scatter, where its own cases tell: one number a step, in place of a usual band."""

from pydantic import Field

from mountproof.case.base import Flag, Part
from mountproof.case.numbers import Number


class Steps(Part):
    """Own scatter of the steps of a mounting (SD, mm). What is not given here is assumed, and shown as assumed."""

    material_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="by how much the material of a record keeps the casts apart (SD, evenly)",
        examples=[0.05],
    )
    seat_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="how well a record finds its seat on the casts (SD at a stop)",
        examples=[0.08],
    )
    facebow_right_mm: Number | None = Field(
        default=None,
        ge=0,
        le=30,
        description="how well the right hinge point is known, one coordinate (SD)",
        examples=[3],
    )
    facebow_left_mm: Number | None = Field(
        default=None,
        ge=0,
        le=30,
        description="how well the left hinge point is known, one coordinate (SD)",
        examples=[3],
    )
    facebow_shared: Number | None = Field(
        default=None,
        ge=0,
        le=1,
        description="how alike both hinge points err, from 0 (each by itself) to 1 (the same)",
        examples=[0.5],
    )
    stabilised: Flag | None = Field(
        default=None,
        description="true where the casts were tied together with sticks or wax while the stone set, false where "
        "they were held by hand",
    )
    luting_mm: Number | None = Field(
        default=None,
        ge=0,
        le=5,
        description="how far the casts move while they are luted and the stone sets (SD at the last teeth)",
        examples=[0.06],
    )
    stone_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="what the stone under the lower cast lifts while it sets (SD)",
        examples=[0.01],
    )
    plate_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="how well a mounting plate finds its seat when put back (SD at one place it bears on)",
        examples=[0.02],
    )
    casts_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="what the errors of the casts make where they meet (SD at the last teeth)",
        examples=[0.05],
    )
    scan_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="what the errors of two scans make where they meet (SD at the last teeth)",
        examples=[0.03],
    )
    registration_mm: Number | None = Field(
        default=None,
        ge=0,
        le=2,
        description="how well the scan of a record holds two scans together (SD at the last teeth)",
        examples=[0.05],
    )
    source: dict[str, str] = Field(
        default={},
        description="where such a number comes from, by its name here",
        examples=[{"luting_mm": "own 14 cases"}],
    )
