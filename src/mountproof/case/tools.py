"""The tools of a case: caliper, articulator and its pin, reference plane."""

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from mountproof.case.base import Name, Part
from mountproof.case.numbers import Between, Measured, Number
from mountproof.case.procedure import OwnStep
from mountproof.case.takes import Takes


class Caliper(Part):
    """The caliper used for the marks."""

    resolution_mm: Number | None = Field(
        default=None, gt=0, le=1, description="smallest step the caliper shows", examples=[0.05]
    )
    sd_mm: Number | None = Field(
        default=None,
        gt=0,
        le=1,
        description="standard deviation of one reading of one pair, from repeats of the same distance",
        examples=[0.045],
    )
    block_mm: Number | None = Field(
        default=None,
        gt=0,
        le=100,
        description="thickness of a block of known size, to find what the caliper adds to every reading",
        examples=[10.0],
    )
    block_reads_mm: Number | None = Field(
        default=None, gt=0, le=110, description="what the caliper shows on that block", examples=[10.05]
    )


class PinKind(StrEnum):
    """A straight pin moves along itself; a curved pin along an arc about the hinge."""

    STRAIGHT = "straight"
    CURVED = "curved"


class Counting(StrEnum):
    """Which way the numbers on the pin run."""

    UP_ON_OPENING = "up on opening"
    DOWN_ON_OPENING = "down on opening"


class CalibrationPoint(Part):
    """A block of known thickness under the pin, and what the pin's scale then shows."""

    block_mm: Number = Field(ge=0, le=30, description="thickness of the block under the pin", examples=[2.0])
    reads: Number = Field(
        ge=-1000, le=1000, description="what the scale then shows, in the pin's own marks", examples=[2.0]
    )


class Pin(Part):
    """The incisal pin: where it stands, and how its scale counts."""

    kind: PinKind = Field(
        description="a straight pin slides along itself, a curved one along an arc about the hinge",
        examples=["straight"],
    )
    ahead_mm: Annotated[Measured, Between(20, 250)] = Field(
        description="hinge axis to the pin, forward, measured level", examples=["110 +- 0.5"]
    )
    below_mm: Annotated[Measured, Between(-50, 200)] = Field(
        description="hinge axis to the pin's tip, downward, when the pin reads zero", examples=["62 +- 0.5"]
    )
    mm_per_mark: Number | None = Field(
        default=None,
        gt=0,
        le=10,
        description="millimetres from one mark of the scale to the next",
        examples=[1.0],
    )
    counts: Counting = Field(
        default=Counting.UP_ON_OPENING,
        description="whether the numbers on the pin rise or fall as the pin is opened",
        examples=["up on opening"],
    )
    zero_reads: Number | None = Field(
        default=None,
        ge=-1000,
        le=1000,
        description="what the scale shows with the members parallel (not measured: 0 is assumed)",
        examples=[0],
    )
    table_slope_deg: Number | None = Field(
        default=None,
        ge=-60,
        le=60,
        description="slope of the table under the pin; 0 is flat, positive rises forward",
        examples=[0],
    )
    calibration: tuple[CalibrationPoint, ...] = Field(
        default=(),
        description="blocks of known thickness under the pin; two or more show the size of a mark",
    )


class Condyles(StrEnum):
    """On which member the condylar element sits: arcon on the lower, nonarcon on the upper."""

    ARCON = "arcon"
    NONARCON = "nonarcon"


class Instrument(Part):
    """The articulator as its user measured it."""

    name: Name = Field(description="what you call this articulator", examples=["no. 2"])
    condyles: Condyles | None = Field(
        default=None,
        description="arcon: the condylar elements sit on the lower member; nonarcon: on the upper",
        examples=["arcon"],
    )
    intercondylar_mm: Annotated[Measured, Between(50, 200)] | None = Field(
        default=None, description="from one hinge point to the other", examples=[110]
    )
    play_mm: Number | None = Field(
        default=None, ge=0, le=2, description="play of the condylar elements when locked", examples=[0.03]
    )
    takes: Takes = Field(default_factory=Takes)
    pin: Pin
    steps: dict[Name, OwnStep] = Field(
        default={}, description="steps that this articulator asks for beside the usual ones, by a short name"
    )


class PlaneName(StrEnum):
    """The reference plane that angles are stated against."""

    AXIS_ORBITAL = "axis-orbital"
    FRANKFORT = "Frankfort"
    CAMPER = "Camper"
    OCCLUSAL = "occlusal"
    INSTRUMENT = "instrument"


class ReferencePlane(Part):
    """The reference plane, and its tilt against the instrument's own horizontal."""

    name: PlaneName = Field(
        description="the plane that condylar angles are stated against", examples=["axis-orbital"]
    )
    tilt_deg: Annotated[Measured, Between(-60, 60)] | None = Field(
        default=None,
        description="tilt against the instrument's horizontal; positive when the plane's front is lower",
        examples=[0],
    )


class ClosingPush(Part):
    """How the lower is pushed against the upper when the casts are brought together by hand."""

    ahead_mm: Number | None = Field(
        default=None,
        ge=1,
        le=150,
        description="where the push takes hold with the teeth at first contact, ahead of the hinge axis",
        examples=[60],
    )
    above_mm: Number | None = Field(
        default=None,
        ge=-100,
        le=50,
        description="the same, above the hinge axis; below is minus",
        examples=[-37],
    )
    right_mm: Number | None = Field(
        default=None,
        ge=-40,
        le=40,
        description="the same, to the patient's right of the middle",
        examples=[0],
    )
    forward_deg: Number | None = Field(
        default=None,
        ge=-60,
        le=60,
        description="how far the push leans forward from straight up",
        examples=[0],
    )
    right_deg: Number | None = Field(
        default=None, ge=-45, le=45, description="how far it leans to the patient's right", examples=[0]
    )
    friction: Number | None = Field(
        default=None, ge=0, le=2, description="coefficient of friction between the casts", examples=[0.2]
    )
