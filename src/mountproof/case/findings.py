"""The dentition, and which teeth held a foil."""

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Flag, Numbering, Part, Tooth
from mountproof.case.numbers import Number


class Dentition(Part):
    """Which teeth there are."""

    numbering: Numbering = Field(
        default=Numbering.ISO_3950,
        description="iso3950: two digits, 11 to 48 (deciduous 51 to 85); universal: 1 to 32",
        examples=["iso3950"],
    )
    missing: tuple[Tooth, ...] = Field(
        default=(), description="teeth that are not there", examples=[[18, 28, 38, 48]]
    )
    implants: tuple[Tooth, ...] = Field(
        default=(), description="teeth that are implant crowns", examples=[[46]]
    )
    meant_free: tuple[Tooth, ...] = Field(
        default=(), description="teeth that are meant not to hold a foil at light closure", examples=[[46]]
    )
    give_um: Number | None = Field(
        default=None,
        ge=0,
        le=300,
        description="how far a tooth gives under the foil at light closure; implants do not",
        examples=[20],
    )


class Where(StrEnum):
    """Where a foil was tried."""

    MOUTH = "mouth"
    MOUNTING = "mounting"
    HAND = "casts by hand"


class Relation(StrEnum):
    """In which relation a foil was tried."""

    CR = "CR"
    MIP = "MIP"


class Closure(StrEnum):
    """How firmly the teeth were closed on the foil."""

    LIGHT = "light"
    FIRM = "firm"


class Foil(Part):
    """Which teeth held a foil, on which it dragged, on which it came free."""

    where: Where = Field(description="where the foil was tried", examples=["mouth"])
    relation: Relation = Field(description="in which relation of the jaws", examples=["CR"])
    thickness_um: Number = Field(gt=0, le=1000, description="thickness of the foil", examples=[8])
    closure: Closure = Field(default=Closure.LIGHT, description="how firmly the teeth were closed on it")
    held: tuple[Tooth, ...] = Field(
        default=(), description="teeth between which the foil was held", examples=[[15, 45]]
    )
    drags: tuple[Tooth, ...] = Field(
        default=(), description="teeth between which it dragged", examples=[[11]]
    )
    free: tuple[Tooth, ...] = Field(
        default=(), description="teeth between which it came free", examples=[[24]]
    )
    others_free: Flag = Field(default=False, description="true when it came free at every tooth not named")
