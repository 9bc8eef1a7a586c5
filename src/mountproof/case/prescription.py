"""What is asked of the lab, and the steps that are planned and cannot be taken back, each with the checks behind it."""

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from mountproof.case.base import Day, Flag, Part, Tooth
from mountproof.case.findings import Closure, Relation
from mountproof.case.numbers import Number


class ChangeAt(StrEnum):
    """Where a change of the vertical dimension is told."""

    INCISORS = "incisors"
    FIRST_MOLARS = "first molars"
    PIN = "pin"


class Final(StrEnum):
    """A step that cannot be taken back."""

    SHAPING = "shaping enamel"
    PREPARATION = "crown preparation"
    HEIGHT = "fixed work at another OVD"


class WantedContact(Part):
    """Teeth that are wanted to touch, and how."""

    teeth: Annotated[tuple[Tooth, ...], Field(min_length=1)] = Field(
        description="teeth that are wanted to touch, in the numbering of the case",
        examples=[[15, 16, 25, 26]],
    )
    relation: Relation = Field(
        default=Relation.CR, description="in which relation of the jaws", examples=["CR"]
    )
    closure: Closure = Field(
        default=Closure.LIGHT, description="how firmly the teeth are closed", examples=["light"]
    )


class Checked(Part):
    """Something that somebody looked at and stands for."""

    what: str = Field(min_length=1, max_length=200, description="what was looked at", examples=["mounting"])
    who: str = Field(min_length=1, max_length=80, description="who looked, as initials", examples=["QP"])
    on: Day = Field(description="day it was looked at", examples=["2026-03-03"])


class PlannedStep(Part):
    """A step that cannot be taken back, with the days of the checks that only a person can make."""

    step: Final = Field(description="what is planned", examples=["shaping enamel"])
    teeth: tuple[Tooth, ...] = Field(
        default=(), description="teeth it is planned on, in the numbering of the case", examples=[[15, 45]]
    )
    consent: Day | None = Field(
        default=None, description="day the patient agreed to this step", examples=["2026-03-04"]
    )
    duplicate_trial: Day | None = Field(
        default=None,
        description="day it was tried on duplicate casts, never on the master",
        examples=["2026-03-03"],
    )
    reversible_trial: Day | None = Field(
        default=None,
        description="day a trial began with something that can be taken away again",
        examples=["2026-03-04"],
    )
    reversible_with: str = Field(
        default="",
        max_length=200,
        description="what that trial is made with",
        examples=["a removable splint"],
    )
    no_reversible_trial: str = Field(
        default="", max_length=200, description="why no such trial is possible, in your own words"
    )


class Prescription(Part):
    """What goes to the lab beside what was measured. Nothing is made up for what is left out: the paper names it."""

    scheme: str = Field(
        default="",
        max_length=400,
        description="how the teeth are wanted to meet and part, in your own words",
        examples=["even contact behind; canines part the back teeth"],
    )
    judged_at_pin: Number | None = Field(
        default=None,
        ge=-1000,
        le=1000,
        description="pin reading at which the work is judged, in the pin's own marks",
        examples=[0],
    )
    ovd_change_mm: Number | None = Field(
        default=None,
        ge=-10,
        le=20,
        description="change of the vertical dimension; more open is positive, 0 leaves it",
        examples=[0],
    )
    ovd_change_at: ChangeAt | None = Field(
        default=None, description="where that change is told", examples=["incisors"]
    )
    contacts: tuple[WantedContact, ...] = Field(default=(), description="teeth that are wanted to touch")
    no_new_material: Flag = Field(
        default=False, description="true where nothing is restored, so that no thickness is asked for"
    )
    allowed_deviation_mm: Number | None = Field(
        default=None,
        gt=0,
        le=2,
        description="how far the work may be off at the pin before you are asked",
        examples=[0.1],
    )
    do_not_alter: tuple[Annotated[str, Field(min_length=1, max_length=200)], ...] = Field(
        default=(),
        description="what the lab leaves as it is, in your own words; say so where there is nothing",
        examples=[["the master casts", "upper front teeth"]],
    )
    verified: tuple[Checked, ...] = Field(default=(), description="what was looked at, by whom and when")
    steps: tuple[PlannedStep, ...] = Field(default=(), description="planned steps that cannot be taken back")
