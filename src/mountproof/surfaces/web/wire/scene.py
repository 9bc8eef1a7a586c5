"""The picture in space: surfaces, lines, bands of gap, the places of the closing slider."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire
from mountproof.surfaces.web.wire.sheet import NeedOut

Point = tuple[float, float, float]


class LineOut(Wire):
    """A line of the scene with its words, points (n, 3) in mm, the first one again at the end where it is closed."""

    key: str
    kind: Literal["hinge", "pin", "table", "plane"]
    words: str
    points_mm: list[Point]
    moves: bool = Field(description="turns with the lower when that closes")
    assumed: bool = Field(description="a length of it was not measured")


class LabelOut(Wire):
    """A short text at a place: a tooth's number, a number on a contour line, R and L at the hinge points, a line's name."""

    kind: Literal["tooth", "contour", "side", "line"]
    words: str
    point_mm: Point
    moves: bool = Field(description="turns with the lower when that closes")


class BandOut(Wire):
    """One band of gap: its limits, its colours, its pattern, its words."""

    upto_mm: float
    colour: str
    ink: str
    pattern: Literal["solid", "cross", "lines", "dots", "sparse"]
    pitch_mm: float = Field(description="from one line or dot of the pattern to the next")
    stroke_mm: float = Field(description="width of a line or a dot of the pattern")
    words: str


class SiteOut(Wire):
    """One place where the arches meet or come close, at one closure."""

    key: str
    upper_tooth: str
    lower_tooth: str
    words: str = Field(description="everything about it in one sentence, for those who read the list instead")
    along: str = Field(description="gap along closure as read")
    normal: str = Field(description="gap along the normal as read")
    point_mm: Point = Field(description="on the upper")
    lower_point_mm: Point = Field(description="on the lower, as the record holds it")
    point_shown: str
    facing: str = Field(description="which inclines meet, as read; or empty")
    holds: str = Field(description="thinnest foil that it holds, as read; or empty")


class SlideOut(Wire):
    """One place of the closing slider."""

    closed_rad: float = Field(description="how far the lower is closed from the record's pose")
    shown: str
    pin: str = Field(description="what the pin reads there; empty without an instrument")


class StopOut(Wire):
    """What is to be told at one place of the slider: sites in the order in which they meet, and numbers on contour lines."""

    step: int = Field(description="number of the place among the steps, from 0")
    closed_rad: float
    shown: str
    pin: str
    sites: list[SiteOut]
    labels: list[LabelOut]
    notes: list[str]


class ArchMeshOut(Wire):
    """Where the binary of one arch is, and what lies in it."""

    arch: Literal["upper", "lower"]
    url: str
    vertices: int
    faces: int
    bytes: int
    relief_mm: float = Field(description="height that the largest value of the relief stands for")
    layout: str = Field(
        default="little-endian, n vertices and m faces: positions float32 (n,3) mm, turn float32 (n) rad, radius float32 (n)"
        " mm, faces uint32 (m,3), normals with relief int8 (n,4), tooth uint8 (n), state uint8 (n). The gap left along"
        " closure is (turn - closed) * radius where state is 1; 0: nothing opposes, 2: a hole leaves it unknown"
    )


class SceneOut(Wire):
    """Everything the picture in space is made of; lengths mm in the frame of the upper jaw, the lower in the record's pose."""

    revision: int
    headline: str
    notes: list[str] = Field(description="what keeps the picture from being whole, and what is assumed in it")
    arches: list[ArchMeshOut]
    lines: list[LineOut] = Field(description="hinge axis, pin, table, reference plane")
    labels: list[LabelOut]
    bands: list[BandOut]
    unknown: BandOut = Field(description="how a place is drawn that a hole leaves unknown")
    tooth_colour: str
    palette: str
    steps: list[SlideOut] = Field(
        description="every place of the slider from open to closed; empty where no gap is known"
    )
    stops: list[int] = Field(description="places where the slider stops by itself")
    first: int | None = Field(description="the place of first contact")
    now: StopOut | None = Field(description="what is to be told at first contact")
    pictures: bool = Field(description="the occlusal views can be asked for as pictures")
    right_words: str
    left_words: str
    needs: list[NeedOut] = Field(description="what to measure or enter so that the picture becomes whole")
    work: str | None = Field(
        description="name of the work on it, to follow or to cancel; an answer to the contacts then tells by an event"
    )


class AtIn(Wire):
    """A place that was tapped: face of an arch, at a closure."""

    arch: Literal["upper", "lower"]
    face: int = Field(ge=0)
    weights: tuple[float, float, float]
    closed_rad: float = Field(ge=-3.2, le=3.2)


class AtOut(Wire):
    """What is at a tapped place."""

    words: str
    tooth: str
    opposite: str
    along: str
    normal: str
    point_mm: Point
    point_shown: str
