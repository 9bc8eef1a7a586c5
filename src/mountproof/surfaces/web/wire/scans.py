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
    """One scan of a case: its file, how it was placed, what the checks found."""

    arch: Literal["upper", "lower"]
    file: str
    triangles: int | None
    placed: str = Field(description="how it was placed, in words; empty while it is not")
    findings: list[FindingOut]
    residuals: list[ResidualOut]
