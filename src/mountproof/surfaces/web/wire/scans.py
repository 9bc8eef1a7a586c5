"""Scans of a case: how each was placed, what the checks found."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire


class FindingOut(Wire):
    """Something a check of a scan found."""

    code: str
    words: str
    weight: Literal["note", "ask", "stop"]
    todo: str


class ResidualOut(Wire):
    """How far one landmark stays off after placement."""

    name: str
    shown: str
    value_mm: float | None
    asked: str


class ScanOut(Wire):
    """One scan of a case: its file, how it was placed, what the checks found.

    ``triangles`` None and only what the entries tell among the findings while the file is not checked; the scans of
    a case asked for by themselves have it checked.
    """

    arch: Literal["upper", "lower"]
    place: int = Field(description="its number in the case, from 1: scans.PLACE... names its entries")
    file: str
    triangles: int | None
    checked: bool = Field(default=False, description="the file was checked; findings are whole")
    work: str | None = Field(default=None, description="name of the work that checks it")
    placed: str = Field(description="how it was placed, in words; empty while it is not")
    findings: list[FindingOut]
    residuals: list[ResidualOut]


class MeshOut(Wire):
    """The surface of one scan as it lies in its file, for landmarks."""

    arch: Literal["upper", "lower"]
    url: str
    vertices: int
    faces: int
    bytes: int
    relief_mm: float
    unit: str = Field(description="unit of the file's numbers, as read")
    layout: str = Field(
        default="little-endian, n vertices and m faces: positions float32 (n,3) in the file's numbers, faces uint32 (m,3),"
        " normals with relief int8 (n,4)"
    )


class PickIn(Wire):
    """A place that was tapped on a scan."""

    face: int = Field(ge=0)
    weights: tuple[float, float, float]


class PickOut(Wire):
    """A place on a scan, in the numbers of its file."""

    point: tuple[float, float, float]
    shown: str
