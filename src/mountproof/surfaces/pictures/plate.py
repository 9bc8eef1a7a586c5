"""A plate: paths and words with a look each, from the upper left corner, 96 units to the inch, and its table."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

#: Says a text in the language that is asked for.
Speak = Callable[[str], str]
#: Writes a tooth (ISO 3950) in the numbering of the case.
Tooth = Callable[[int], str]
XY = tuple[float, float]
Box = tuple[float, float, float, float]
Anchor = Literal["start", "middle", "end"]

#: How wide every plate is, units: a page of A4 and a tablet held upright both hold it.
WIDTH = 640.0
SIZE, SMALL = 13.0, 12.0
#: Width of a character and height of a line, in parts of the size of the type.
_CHARACTER, _LINE = 0.56, 1.15


class Mark(NamedTuple):
    """One path (``d`` as in SVG) or one word at a place; ``look`` names how it is drawn, ``anchor`` start, middle, end."""

    look: str
    d: str = ""
    text: str = ""
    x: float = 0.0
    y: float = 0.0
    size: float = SIZE
    anchor: Anchor = "start"


class Image(NamedTuple):
    """Pixels under the marks: a PNG and its place."""

    png: bytes
    x: float
    y: float
    width: float
    height: float


class Grid(NamedTuple):
    """The same as a table, for those who do not see the picture; cells are said already."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(slots=True)
class Plate:
    """One picture: everything on it is said in one language already."""

    name: str
    title: str
    alt: str
    table: Grid
    height: float = 0.0
    width: float = WIDTH
    image: Image | None = None
    more: list[Image] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)

    def path(self, d: str, look: str) -> None:
        """Draw a path."""
        self.marks.append(Mark(look, d))

    def line(self, points: Iterable[XY], look: str, *, closed: bool = False) -> None:
        """Draw a polyline."""
        d = "M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        self.path(d + (" Z" if closed else ""), look)

    def box(self, x: float, y: float, width: float, height: float, look: str) -> None:
        """Draw a rectangle."""
        self.path(f"M{x:.1f} {y:.1f} h{width:.1f} v{height:.1f} h{-width:.1f} Z", look)

    def ring(self, at: XY, radius: float, look: str) -> None:
        """Draw a circle."""
        self.oval(at, radius, radius, 0.0, look)

    def oval(self, at: XY, a: float, b: float, turn_rad: float, look: str) -> None:
        """Draw an ellipse with half axes ``a`` and ``b``, the first turned by ``turn_rad`` from right to down."""
        dx, dy = a * math.cos(turn_rad), a * math.sin(turn_rad)
        turn = math.degrees(turn_rad)
        arc = f"A{a:.2f} {b:.2f} {turn:.2f} 1 1"
        x, y = at
        self.path(
            f"M{x - dx:.2f} {y - dy:.2f} {arc} {x + dx:.2f} {y + dy:.2f} {arc} {x - dx:.2f} {y - dy:.2f} Z",
            look,
        )

    def word(
        self, at: XY, text: str, *, look: str = "word", size: float = SIZE, anchor: Anchor = "start"
    ) -> None:
        """Write a word: ``at`` is on the middle of its height."""
        self.marks.append(Mark(look, "", text, at[0], at[1], size, anchor))
        self.taken.append(word_box(at, text, size, anchor))

    def label(self, at: XY, text: str, within: Box, *, look: str = "word", size: float = SMALL) -> None:
        """Write a word beside a place where it hits nothing, with a thin line to the place where it is not close."""
        spots = _around(at)
        spots += sorted(_everywhere(within), key=lambda spot: math.dist(spot, at))
        for spot in spots:
            box = word_box(spot, text, size, "middle")
            inside = (
                box[0] >= within[0] and box[1] >= within[1] and box[2] <= within[2] and box[3] <= within[3]
            )
            if inside and not any(meet(box, other) for other in self.taken):
                if math.dist(spot, at) > 20.0:
                    self.line([at, spot], "faint")
                self.word(spot, text, look=look, size=size, anchor="middle")
                return
        self.word(at, text, look=look, size=size, anchor="middle")

    def lines(self, at: XY, text: str, width: float, *, look: str = "word", size: float = SIZE) -> float:
        """Write a text in lines no wider than ``width``; return where the next line goes."""
        x, y = at
        for row in wrapped(text, width, size):
            self.word((x, y), row, look=look, size=size)
            y += size * 1.35
        return y


def word_box(at: XY, text: str, size: float, anchor: Anchor) -> Box:
    """Return the box of a word: left, top, right, bottom."""
    wide, high = len(text) * size * _CHARACTER, size * _LINE
    left = at[0] - {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
    return left, at[1] - high / 2.0, left + wide, at[1] + high / 2.0


def meet(a: Box, b: Box) -> bool:
    """Tell whether two boxes overlap."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Return a text in lines no wider than ``width``; a word that is longer is cut with a sign that it was."""
    most = max(4, int(width / (size * _CHARACTER)))
    rows: list[str] = []
    for word in text.split():
        short = word if len(word) <= most else word[: most - 1] + "…"
        if rows and len(rows[-1]) + 1 + len(short) <= most:
            rows[-1] += " " + short
        else:
            rows.append(short)
    return rows


def shortened(text: str, width: float, size: float) -> str:
    """Return a text no wider than ``width``, cut with a sign that it was."""
    most = max(2, int(width / (size * _CHARACTER)))
    return text if len(text) <= most else text[: most - 1] + "…"


def key(plate: Plate, at: XY, entries: Sequence[tuple[Callable[[Plate, XY], None], str]]) -> float:
    """Write a key of signs and words in rows; return where the next row goes."""
    x, y = at
    for draw, words in entries:
        for k, row in enumerate(wrapped(words, plate.width - 40.0, SMALL)):
            wide = 30.0 + len(row) * SMALL * _CHARACTER + 14.0
            if x > at[0] and (x + wide > plate.width or k > 0):
                x, y = at[0], y + 20.0
            if k == 0:
                draw(plate, (x + 10.0, y))
            plate.word((x + 26.0, y), row, size=SMALL)
            x += wide
    return y + 20.0


def _around(at: XY) -> list[XY]:
    turns = [math.pi * k / 4.0 for k in (7, 1, 0, 6, 2, 4, 5, 3)]
    return [
        (at[0] + away * math.cos(turn), at[1] + away * math.sin(turn))
        for away in (15.0, 19.0, 26.0, 36.0)
        for turn in turns
    ]


def _everywhere(within: Box) -> list[XY]:
    across = range(int(within[0]), int(within[2]), 6)
    return [(float(x), float(y)) for y in range(int(within[1]), int(within[3]), 6) for x in across]
