"""How a text was made: the few forms that a language says in its own way."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Template:
    """A sentence with places for values, in the order in which they were given."""

    text: str
    values: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Joined:
    """Texts one after the other, with the same text between them."""

    separator: str
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as it is written in English."""

    text: str


@dataclass(frozen=True, slots=True)
class Quoted:
    """A name or text of the user, in quotation marks."""

    text: str


@dataclass(frozen=True, slots=True)
class Numbered:
    """A tooth in both systems of numbers; ``universal`` is empty where it has none there."""

    iso3950: str
    universal: str


@dataclass(frozen=True, slots=True)
class Moment:
    """A day, a time of day, or both."""

    at: dt.date | dt.time | dt.datetime


@dataclass(frozen=True, slots=True)
class Capital:
    """A text that begins with a capital."""

    text: str


@dataclass(frozen=True, slots=True)
class Cut:
    """A text made short enough to be read, with nothing in it that cannot be printed."""

    text: str
    most: int


Form = Template | Joined | Figure | Quoted | Numbered | Moment | Capital | Cut
