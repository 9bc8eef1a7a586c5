"""Pictures of an answer as drawing instructions, and the message that is made from the answers."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire
from mountproof.surfaces.web.wire.sheet import TableOut


class DrawnOut(Wire):
    """One path (``d`` as in SVG) or one word at a place."""

    look: str = Field(description="how it is drawn; the page knows a colour for each, light and dark")
    d: str = Field(default="", description="a path; empty for a word")
    text: str = ""
    x: float = 0.0
    y: float = 0.0
    size: float = 0.0
    anchor: Literal["start", "middle", "end"] = "start"


class PixelsOut(Wire):
    """Pixels under the paths."""

    url: str
    x: float
    y: float
    width: float
    height: float


class DrawingOut(Wire):
    """One picture, 96 units to the inch, with what it says in words and as a table."""

    name: str
    title: str
    alt: str
    view: str = Field(description="left, top, width and height, as SVG writes them")
    pixels: list[PixelsOut]
    marks: list[DrawnOut]
    table: TableOut


class DrawingsOut(Wire):
    """The pictures of one answer; none where it is still being made or has none."""

    question: str
    drawings: list[DrawingOut]


class MessageOut(Wire):
    """A message to the lab or the dentist, ready to be copied."""

    subject: str
    lines: list[str]
    text: str = Field(description="all of it, the subject first")
