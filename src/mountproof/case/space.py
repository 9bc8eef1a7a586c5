"""How thick a material shall be, tooth by tooth, and at which pin reading the space for it is looked at."""

from typing import Annotated

from pydantic import Field

from mountproof.case.base import Part, Tooth
from mountproof.case.numbers import Number


class Wanted(Part):
    """The least thickness wanted on some teeth."""

    teeth: Annotated[tuple[Tooth, ...], Field(min_length=1)] = Field(
        description="teeth, in the numbering of the case", examples=[[16, 26, 36, 46]]
    )
    thickness_mm: Number = Field(
        gt=0, le=10, description="least thickness of the material there", examples=[1.5]
    )


class Space(Part):
    """The space that is wanted between the teeth. Nothing is wanted where nobody says so."""

    wanted: tuple[Wanted, ...] = Field(default=(), description="least thickness of the material, by teeth")
    pin_reads: Number | None = Field(
        default=None,
        ge=-1000,
        le=1000,
        description="pin reading at which the space is looked at, in the pin's own marks",
        examples=[3],
    )
