"""The steps of a mounting: who ticked what and when, and which steps an instrument or a case has of its own."""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field

from mountproof.case.base import Flag, Moment, Name, Part


class Stage(StrEnum):
    """The part of the mounting that a step belongs to, in the order of the work."""

    UPPER = "upper"
    BETWEEN = "between"
    LOWER = "lower"
    AFTER = "after"


#: The usual steps by name, in order, each in its part of the mounting. What they say stands with the answers.
USUAL: dict[str, Stage] = {
    "fork": Stage.UPPER,
    "upper_base": Stage.UPPER,
    "upper_space": Stage.UPPER,
    "upper_mix": Stage.UPPER,
    "upper_close": Stage.UPPER,
    "upper_wait": Stage.UPPER,
    "pin_back": Stage.BETWEEN,
    "home": Stage.BETWEEN,
    "record": Stage.LOWER,
    "luted": Stage.LOWER,
    "lower_base": Stage.LOWER,
    "pin_set": Stage.LOWER,
    "lower_mix": Stage.LOWER,
    "column": Stage.LOWER,
    "lower_close": Stage.LOWER,
    "lower_wait": Stage.LOWER,
    "marks_set": Stage.AFTER,
    "record_out": Stage.AFTER,
    "reading": Stage.AFTER,
}


class OwnStep(Part):
    """A step that this instrument asks for. Under the name of a usual step it words that one anew."""

    words: str = Field(default="", description="what is done", examples=["Wipe the magnets clean"])
    stage: Stage | None = Field(
        default=None, description="the part of the mounting that it belongs to", examples=["lower"]
    )
    gate: Flag | None = Field(
        default=None,
        description="true where nothing goes on until it is met; not given: as usual, false for one of your own",
    )
    after: Name | None = Field(
        default=None, description="the step that it stands behind, by name", examples=["luted"]
    )
    before: Name | None = Field(
        default=None, description="the step that it stands in front of, by name", examples=["lower_mix"]
    )


class StepEntry(Part):
    """What was noted about one step of the procedure."""

    met: Flag | None = Field(
        default=None, description="true where it is done or met, false where it is not", examples=[True]
    )
    at: Moment | None = Field(
        default=None,
        description="when that was noted: day, time and offset from UTC",
        examples=["2026-03-02T09:58:00+01:00"],
    )
    by: str = Field(default="", description="who noted it, as initials", examples=["QP"])
    note: str = Field(default="", description="anything worth remembering")
    words: str = Field(default="", description="what is done, for a step of your own or in your own words")
    stage: Stage | None = Field(
        default=None, description="of a step of your own: the part it belongs to", examples=["lower"]
    )
    gate: Flag | None = Field(
        default=None, description="true where nothing goes on until it is met; not given: as usual"
    )
    left_out: Flag = Field(default=False, description="true for a step that this mounting goes without")


class Procedure(Part):
    """The steps of this mounting: what was ticked, and what differs from the usual steps."""

    order: tuple[Name, ...] = Field(
        default=(),
        description="names of steps in the order in which you take them; those not named stand where they usually do",
        examples=[["lower_base", "luted"]],
    )
    steps: dict[Name, StepEntry] = Field(default={}, description="what was noted, by the name of the step")
