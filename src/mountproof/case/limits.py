"""Acceptance limits. Every one can be changed by the user; the defaults carry where they come from.

Each limit is a pair: at or below ``decent`` a result agrees, above ``redo`` it does not, between it is
doubtful, and a guard band of two standard uncertainties stands on both sides.
"""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field, model_validator


class Limit(BaseModel):
    """One pair of limits with its unit and where it comes from."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    decent: float = Field(ge=0)
    redo: float = Field(ge=0)
    unit: str
    source: str = "entered by the user"

    @model_validator(mode="after")
    def _ordered(self) -> Limit:
        if self.redo < self.decent:
            raise ValueError("the redo limit lies below the decent limit")
        return self


_COMMON = "common practice, no source"
_GEOMETRY = "our own geometry; common practice for the tolerance, no source"


def _limit(decent: float, redo: float, unit: str, source: str) -> Limit:
    return Limit(decent=decent, redo=redo, unit=unit, source=source)


class Limits(BaseModel):
    """All acceptance limits of a case."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    records_at_condyle: Limit = _limit(0.2, 0.4, "mm", _COMMON)
    records_at_incisors: Limit = _limit(0.2, 0.4, "mm", _GEOMETRY)
    reseat_sd: Limit = _limit(0.05, 0.10, "mm", _COMMON)
    movement_during_set: Limit = _limit(0.10, 0.20, "mm", _COMMON)
    tilt_during_set: Limit = _limit(0.1, 0.2, "deg", _GEOMETRY)
    pin_found_minus_predicted: Limit = _limit(0.3, 0.6, "mm", _GEOMETRY)
    pin_opening_u: Limit = _limit(0.15, 0.30, "mm", _GEOMETRY)
    water_powder_deviation: Limit = _limit(3.0, 8.0, "%", _COMMON)
    gap_in_one_pour: Limit = _limit(20.0, 30.0, "mm", _COMMON)
    lift_of_stone: Limit = _limit(0.03, 0.06, "mm", _GEOMETRY)
    stop_amplification: Limit = _limit(1.5, 2.0, "", _GEOMETRY)
    foil_disagreement: Limit = _limit(10.0, 25.0, "%", _COMMON)
    scan_overlap: Limit = _limit(0.05, 0.15, "mm", _COMMON)
    axis_cost: Limit = _limit(0.1, 0.3, "mm", _GEOMETRY)
    vertical_change: Limit = _limit(5.0, 9.0, "mm", "Dent J 2022;10:212 (agreement lost at 9 mm)")
