"""What is set on an instrument, as its user read it off or set it."""

from typing import Annotated

from pydantic import Field

from mountproof.case.base import Part
from mountproof.case.numbers import Between, Measured, Number
from mountproof.case.tools import PlaneName


class JointSettings(Part):
    """What one joint of the instrument is set to."""

    inclination_deg: Annotated[Measured, Between(-30, 85)] | None = Field(
        default=None,
        description="inclination of the condylar guide, straight ahead",
        examples=["35 +- 1"],
    )
    lateral_deg: Annotated[Measured, Between(-10, 60)] | None = Field(
        default=None, description="lateral angle (Bennett angle) of this joint", examples=["10 +- 1"]
    )
    shift_mm: Annotated[Measured, Between(0, 5)] | None = Field(
        default=None,
        description="immediate shift of this joint; an instrument cannot shift by less than 0",
        examples=[0],
    )
    over_mm: Number | None = Field(
        default=None,
        ge=0.5,
        le=20,
        description="how far the condyle had gone forward where the inclination was taken",
        examples=[5],
    )
    source: str = Field(
        default="",
        max_length=200,
        description="where these numbers come from",
        examples=["read off the scale"],
    )


class Settings(Part):
    """What the instrument is set to, typed by whoever read it off or set it. Records that were measured go before it."""

    against: PlaneName | None = Field(
        default=None,
        description="plane that the inclinations are against: instrument is its own scale, any other stands under plane",
        examples=["instrument"],
    )
    right: JointSettings = Field(default_factory=JointSettings)
    left: JointSettings = Field(default_factory=JointSettings)
    table_deg: Annotated[Measured, Between(-30, 80)] | None = Field(
        default=None,
        description="angle of the incisal table, where one is used; positive guides the front apart as the jaw goes ahead",
        examples=[10],
    )
