"""Few teeth or none: how far a record base gives, the points of a tracing, and what implants need."""

from pydantic import Field

from mountproof.case.base import Arch, Flag, Part
from mountproof.case.numbers import Number


class BasePush(Part):
    """One distance between two marks while a record base was pushed to and fro on the cast or in the mouth."""

    arch: Arch = Field(description="the arch that carries the base", examples=["lower"])
    pair: str = Field(default="", description="the marks measured between", examples=["UA-LA"])
    at_rest_mm: Number | None = Field(
        default=None, ge=0, le=250, description="nobody pushing", examples=[42.60]
    )
    pushed_right_mm: Number | None = Field(
        default=None, ge=0, le=250, description="pushed to the patient's right", examples=[42.75]
    )
    pushed_left_mm: Number | None = Field(
        default=None, ge=0, le=250, description="pushed to the patient's left", examples=[42.50]
    )
    pressed_mm: Number | None = Field(
        default=None, ge=0, le=250, description="pressed down", examples=[42.30]
    )


class TracingPoint(Part):
    """One point marked at the tip of a tracing made with a central bearing."""

    ahead_mm: Number = Field(ge=-100, le=100, description="ahead, on the tracing plate", examples=[0.1])
    right_mm: Number = Field(
        ge=-100, le=100, description="to the patient's right, on the tracing plate", examples=[-0.1]
    )
    sitting: str = Field(
        default="", max_length=64, description="in which sitting it was made", examples=["first"]
    )


class FewTeeth(Part):
    """What stands in for teeth that are missing: record bases, a tracing, a checked index."""

    pushes: tuple[BasePush, ...] = Field(
        default=(), description="a record base pushed to and fro, and what the marks then read"
    )
    tracing: tuple[TracingPoint, ...] = Field(
        default=(), description="where the tip of the tracing came to lie, every time"
    )
    index_fits: Flag | None = Field(
        default=None, description="true when the index over the implants was checked and fits"
    )
