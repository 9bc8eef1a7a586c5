"""Strokes, dots and words on a picture, in mm on paper from the picture's upper left corner."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

INK = "#16181d"
SOFT = "#565b66"
WHITE = "#ffffff"

XY = tuple[float, float]
#: Width of one character and height of a line, in parts of the type size (our typeface, semi-condensed bold).
_CHARACTER = 0.56
_LINE = 1.02
_MM_PER_PT = 25.4 / 72.0


@dataclass(slots=True)
class Picture:
    """One picture for the template: a raster below (or none), strokes, dots and words above."""

    title: str
    alt: str
    width: float
    height: float
    file: str | None = None
    strokes: list[dict[str, Any]] = field(default_factory=list)
    dots: list[dict[str, Any]] = field(default_factory=list)
    texts: list[dict[str, Any]] = field(default_factory=list)
    _taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    def as_data(self) -> dict[str, Any]:
        """Return the picture as plain data."""
        names = ("title", "alt", "width", "height", "file", "strokes", "dots", "texts")
        return {name: getattr(self, name) for name in names}

    def stroke(
        self,
        points: Iterable[XY],
        *,
        paint: str = INK,
        width_pt: float = 0.6,
        dash: str | None = None,
        closed: bool = False,
        fill: str | None = None,
    ) -> None:
        """Draw a polyline; ``dash`` is ``dashed`` or ``dotted``."""
        line = [[round(x, 3), round(y, 3)] for x, y in points]
        if len(line) < 2:
            return
        self.strokes.append(
            {"points": line, "paint": paint, "width": width_pt, "dash": dash, "closed": closed, "fill": fill}
        )

    def dot(self, at: XY, radius: float, *, fill: str = INK, line: str = INK) -> None:
        """Draw a dot, and keep words off it."""
        x, y = at
        self.dots.append({"x": round(x, 3), "y": round(y, 3), "r": radius, "fill": fill, "line": line})
        self._taken.append((x - radius, y - radius, x + radius, y + radius))

    def word(
        self,
        at: XY,
        text: str,
        *,
        size_pt: float = 8.0,
        weight: str = "regular",
        paint: str = INK,
        anchor: str = "center",
        ground: bool = False,
    ) -> None:
        """Write a word whose middle (or left or right end) is at a point; ``ground`` lays paper behind it."""
        x, y = at
        self.texts.append(
            {
                "x": round(x, 3),
                "y": round(y, 3),
                "text": text,
                "size": size_pt,
                "weight": weight,
                "paint": paint,
                "anchor": anchor,
                "ground": ground,
            }
        )
        self._taken.append(_box(at, text, size_pt, anchor))

    def word_near(self, places: Sequence[tuple[XY, str]], text: str, **style: Any) -> bool:
        """Write a word at the first of some places (point, anchor) where it hits nothing and is not cut.

        Returns False, and writes nothing, when there is no such place.
        """
        for at, anchor in places:
            box = _box(at, text, style.get("size_pt", 8.0), anchor)
            inside = box[0] >= 0 and box[1] >= 0 and box[2] <= self.width and box[3] <= self.height
            if inside and not any(_meet(box, other) for other in self._taken):
                self.word(at, text, anchor=anchor, **style)
                return True
        return False


def _box(at: XY, text: str, size_pt: float, anchor: str) -> tuple[float, float, float, float]:
    wide = len(text) * size_pt * _CHARACTER * _MM_PER_PT
    high = size_pt * _LINE * _MM_PER_PT
    x = at[0] - {"left": 0.0, "center": wide / 2.0, "right": wide}[anchor]
    return (x, at[1] - high / 2.0, x + wide, at[1] + high / 2.0)


def _meet(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
