"""The picture in space: surfaces, lines, bands of gap, the stops of the closing slider."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire


class LineOut(Wire):
    """A line of the scene with its words, points (n, 3) in mm."""

    key: str
    words: str
    points_mm: list[tuple[float, float, float]]


class BandOut(Wire):
    """One band of gap: its limits, its colours, its pattern, its words."""

    upto_mm: float
    colour: str
    ink: str
    pattern: str
    words: str


class SiteOut(Wire):
    """One place where the arches meet or come close, at one closure."""

    key: str
    upper_tooth: str
    lower_tooth: str
    words: str = Field(description="everything about it in one sentence, for those who read the list instead")
    along: str = Field(description="gap along closure as read")
    normal: str = Field(description="gap along the normal as read")
    point_mm: tuple[float, float, float]
    point_shown: str
    holds: str = Field(description="thinnest foil that it holds, as read; or empty")


class StopOut(Wire):
    """One stop of the closing slider: how far closed from the record's pose, in words, with its sites."""

    closed_rad: float
    shown: str
    pin: str
    sites: list[SiteOut]


class ArchMeshOut(Wire):
    """Where the binary of one arch is, and what lies in it."""

    arch: Literal["upper", "lower"]
    url: str
    vertices: int
    faces: int
    layout: str = Field(
        description="little-endian: positions float32 (n,3), normals int8 (n,4), gap angle float32 (n) with NaN where"
        " nothing opposes, radius float32 (n), faces uint32 (m,3), tooth uint8 (n)"
    )


class SceneOut(Wire):
    """Everything the picture in space is made of; lengths mm in the frame of the upper jaw."""

    revision: int
    arches: list[ArchMeshOut]
    lines: list[LineOut] = Field(description="hinge axis, pin, table, reference plane, occlusal plane")
    bands: list[BandOut]
    palette: str
    start_rad: float
    end_rad: float
    first_contact_rad: float | None
    stops: list[StopOut]
    right_words: str
    left_words: str


class AtIn(Wire):
    """A place that was tapped: face of an arch, at a closure."""

    arch: Literal["upper", "lower"]
    face: int = Field(ge=0)
    weights: tuple[float, float, float]
    closed_rad: float


class AtOut(Wire):
    """What is at a tapped place."""

    words: str
    tooth: str
    opposite: str
    along: str
    normal: str
    point_mm: tuple[float, float, float]
    point_shown: str
