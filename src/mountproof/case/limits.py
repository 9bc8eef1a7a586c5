"""Acceptance limits. Every one can be changed by the user; the defaults carry where they come from.

Each limit is a pair: at or below ``decent`` a result agrees, above ``redo`` it does not, between it is
doubtful, and a guard band of two standard uncertainties stands on both sides.
"""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

from mountproof.case.numbers import Number
from mountproof.case.unreadable import Unreadable
from mountproof.said import say

#: What the source of a limit says when its user changed it and named none.
ENTERED = say("entered by the user")


class Limit(BaseModel):
    """One pair of limits with its unit and where it comes from."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    decent: Number = Field(ge=0, description="at or below this a result agrees")
    redo: Number = Field(ge=0, description="above this a result does not agree")
    unit: str = Field(description="unit of both; it cannot be changed and may be left out")
    source: str = Field(default=ENTERED, description="where the limits come from")

    @model_validator(mode="after")
    def _ordered(self) -> "Limit":
        if self.redo < self.decent:
            raise Unreadable(say("the redo limit lies below the decent limit"))
        return self


_COMMON = say("common practice, no source")
_GEOMETRY = say("our own geometry; common practice for the tolerance, no source")


def _limit(decent: float, redo: float, unit: str, source: str) -> "Limit":
    return Limit.model_construct(decent=decent, redo=redo, unit=unit, source=source)


class Limits(BaseModel):
    """All acceptance limits of a case."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    records_at_condyle: Limit = Field(
        default=_limit(0.2, 0.4, "mm", _COMMON), description="repeat records, each axis, at a condyle"
    )
    records_at_incisors: Limit = Field(
        default=_limit(0.2, 0.4, "mm", _GEOMETRY),
        description="repeat records, at the incisors, equal opening",
    )
    mounting_whole: Limit = Field(
        default=_limit(0.2, 0.4, "mm", _GEOMETRY),
        description="error of the whole mounting against its record, at molars and incisors, all checks together",
    )
    reseat_sd: Limit = Field(
        default=_limit(0.05, 0.10, "mm", _COMMON),
        description="standard deviation of taking one record off and putting it back",
    )
    movement_during_set: Limit = Field(
        default=_limit(0.10, 0.20, "mm", _COMMON), description="change of any pair of marks during set"
    )
    tilt_during_set: Limit = Field(
        default=_limit(0.1, 0.2, "deg", _GEOMETRY), description="tilt of the lower cast during set"
    )
    pin_found_minus_predicted: Limit = Field(
        default=_limit(0.3, 0.6, "mm", _GEOMETRY), description="pin reading found against predicted"
    )
    pin_opening_u: Limit = Field(
        default=_limit(0.20, 0.40, "mm", _GEOMETRY), description="standard uncertainty of the pin opening"
    )
    water_powder_deviation: Limit = Field(
        default=_limit(3.0, 8.0, "%", _COMMON), description="water used against the product sheet"
    )
    gap_in_one_pour: Limit = Field(
        default=_limit(20.0, 30.0, "mm", _COMMON), description="height of stone poured at once"
    )
    lift_of_stone: Limit = Field(
        default=_limit(0.03, 0.06, "mm", _GEOMETRY), description="lift by setting expansion"
    )
    stop_amplification: Limit = Field(
        default=_limit(1.5, 2.0, "", _GEOMETRY),
        description="how many times an error at the stops grows at a tooth",
    )
    foil_disagreement: Limit = Field(
        default=_limit(10.0, 25.0, "%", _COMMON), description="teeth where foil on the casts and mouth differ"
    )
    scan_overlap: Limit = Field(
        default=_limit(0.05, 0.15, "mm", _COMMON), description="how far two scans pass through each other"
    )
    record_on_cast: Limit = Field(
        default=_limit(0.05, 0.15, "mm", _COMMON),
        description="how far a record stands off where it ought to bear",
    )
    split_cast_gap: Limit = Field(
        default=_limit(0.10, 0.30, "mm", _COMMON), description="gap of a split cast with a second record in"
    )
    foil_fit_shift: Limit = Field(
        default=_limit(0.10, 0.20, "mm", _GEOMETRY),
        description="shift that would make the foils on the mounting those of the mouth",
    )
    foil_fit_tilt: Limit = Field(
        default=_limit(0.10, 0.20, "deg", _GEOMETRY),
        description="tilt that would make the foils on the mounting those of the mouth",
    )
    cross_arch_width: Limit = Field(
        default=_limit(0.10, 0.20, "mm", _COMMON), description="width of an arch, cast against mouth"
    )
    facebow_cant: Limit = Field(
        default=_limit(1.0, 3.0, "deg", _COMMON), description="slope of the upper cast against a photograph"
    )
    base_mobility: Limit = Field(
        default=_limit(0.20, 0.50, "mm", _COMMON), description="how far a record base gives when it is pushed"
    )
    tracing_scatter: Limit = Field(
        default=_limit(0.20, 0.50, "mm", _COMMON), description="scatter (SD) of the tip of a tracing"
    )
    implant_mounting: Limit = Field(
        default=_limit(0.05, 0.10, "mm", _COMMON), description="error of the mounting where an implant bears"
    )
    inclination: Limit = Field(
        default=_limit(5.0, 10.0, "deg", _COMMON), description="doubt (95 %) of a condylar inclination"
    )
    axis_cost: Limit = Field(
        default=_limit(0.1, 0.3, "mm", _GEOMETRY), description="error at the teeth from a wrong hinge axis"
    )
    vertical_change: Limit = Field(
        default=_limit(5.0, 9.0, "mm", "Dent J 2022;10:212 (agreement lost at 9 mm)"),
        description="change of vertical dimension planned on the instrument, at the incisors",
    )

    @model_validator(mode="before")
    @classmethod
    def _units(cls, value: Any) -> Any:
        """Fill in the unit of a limit that was changed; a limit keeps its unit."""
        if not isinstance(value, dict):
            return value
        filled = dict(value)
        for name, entry in value.items():
            field = cls.model_fields.get(name)
            if field is not None and isinstance(entry, dict) and "unit" not in entry:
                filled[name] = {**entry, "unit": field.default.unit}
        return filled
