"""Typed results of fitting the two casts to each other: small heights found once, at high resolution."""

from __future__ import annotations

from mountproof.phantom.occlusal import Element
from mountproof.phantom.shapes import LOWER, UPPER


def elements_of(tooth: int) -> tuple[Element, ...]:
    """Occlusal elements of one tooth (ISO 3950), with its own adjustments."""
    return (UPPER if tooth // 10 in (1, 2) else LOWER)[tooth % 10].elements


def lift_of(tooth: int) -> float:
    """How far (mm, up) one tooth stands from where its seat puts it."""
    return 0.0
