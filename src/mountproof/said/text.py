"""The text that knows how it was made, and the ways to make one."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from enum import Enum
from functools import lru_cache
from numbers import Number
from string import Formatter
from typing import SupportsFloat

from mountproof.said.forms import Capital, Cut, Figure, Form, Joined, Moment, Numbered, Quoted, Template

#: What a text can hold.
Sayable = str | SupportsFloat | dt.date | dt.time | Enum

_PLACE = re.compile(r"\{\{|\}\}|\{(\w+)\}")


class Said(str):
    """A text in English that other languages can say too. Equal to, and hashed as, the same ``str``.

    ``form`` is how it was made. Adding texts keeps that; slicing, ``join`` and f-strings give a plain ``str``.
    """

    form: Form

    def __new__(cls, english: str, form: Form) -> Said:
        """Make a text from its English words and its form; ``say`` and its neighbours are the way to do it."""
        made = str.__new__(cls, english)
        object.__setattr__(made, "form", form)
        return made

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a text does not change")

    def __delattr__(self, name: str) -> None:
        raise AttributeError("a text does not change")

    def __reduce__(self) -> tuple[type[Said], tuple[str, Form]]:
        return type(self), (str.__str__(self), self.form)

    def __add__(self, other: str) -> str:
        return joined("", (self, other))

    def __radd__(self, other: str) -> str:
        return joined("", (other, self))


def say(template: str, /, **values: Sayable) -> str:
    """Return ``template`` with its places filled, as ``str.format`` would, but ready for other languages.

    A place may carry a format (``{mm:.2f}``, also ``{mm:.{decimals}f}``) or ``!r`` for a name in quotation marks; the files of a
    language know it by its bare name (``{mm}``). Values: numbers, texts, words of an enumeration, days and times.
    TypeError for values and places that do not match.
    """
    bare, places, wanted = _parsed(template)
    if wanted != values.keys():
        raise TypeError(f"{template!r} has the places {sorted(wanted)}, not {sorted(values)}")
    filled = {
        name: _value(values[name], how.format(**values) if how else "", conversion)
        for name, how, conversion in places
    }
    return Said(fill(bare, filled), Template(bare, tuple(filled.items())))


def term(text: str) -> str:
    """Return a whole text of the program that stands elsewhere: a word of an enumeration, a field's description."""
    if isinstance(text, Said):
        return text
    plain = _plain(text)
    return Said(plain, Template(plain.replace("{", "{{").replace("}", "}}")))


def joined(separator: str, parts: Iterable[Sayable]) -> str:
    """Return texts, numbers and words one after the other with ``separator`` between them."""
    made = tuple(_value(part) for part in parts)
    return Said(separator.join(made), Joined(separator, made))


def figure(value: float, how: str = ".12g") -> str:
    """Return a number as text, written as the format ``how`` says; languages put their own decimal sign."""
    text = format(value, how)
    return Said(text, Figure(text))


def quoted(text: object) -> str:
    """Return a name or text of the user in quotation marks."""
    return Said(repr(str(text)), Quoted(str(text)))


def numbered(iso3950: str, universal: str) -> str:
    """Return a tooth, in English by its ISO 3950 number; ``universal`` is its other number, or empty."""
    return Said(iso3950, Numbered(iso3950, universal))


def capital(text: str) -> str:
    """Return a text that begins with a capital."""
    return Said(text[:1].upper() + text[1:], Capital(text))


def cut(text: str, most: int) -> str:
    """Return a text of at most ``most`` characters, ``?`` for what cannot be printed."""
    short = shortened(text, most)
    if not isinstance(text, Said):
        return short
    return text if short == text else Said(short, Cut(text, most))


def shortened(text: str, most: int) -> str:
    """Return the plain text that ``cut`` gives."""
    clean = "".join(c if c.isprintable() else "?" for c in text)
    return clean if len(clean) <= most else clean[: most - 3] + "..."


def fill(template: str, values: Mapping[str, str]) -> str:
    """Fill the bare places of a template; a place that nobody knows stays as it stands, doubled braces are one."""

    def one(match: re.Match[str]) -> str:
        name = match.group(1)
        if name is None:
            return match.group()[0]
        return values.get(name, match.group())

    return _PLACE.sub(one, template)


def places_of(template: str) -> frozenset[str]:
    """Return the names of the bare places of a template."""
    return frozenset(name for name in _PLACE.findall(template) if name)


def bare(template: str) -> str:
    """Return a template as the files of a language know it: places without their formats."""
    return _parsed(template)[0]


@lru_cache(maxsize=4096)
def _parsed(template: str) -> tuple[str, tuple[tuple[str, str, str], ...], frozenset[str]]:
    """Split a template: bare, its places (name, format, conversion), and the names of all values it needs."""
    words, places, wanted = [], [], set()
    for text, name, how, conversion in Formatter().parse(template):
        words.append(text.replace("{", "{{").replace("}", "}}"))
        if name is None:
            continue
        if not name.isidentifier() or conversion not in (None, "r"):
            raise TypeError(f"{template!r}: a place is a name, with a format or !r, not {name!r}")
        words.append("{" + name + "}")
        places.append((name, how or "", conversion or ""))
        wanted |= {name, *(inner for _, inner, _, _ in Formatter().parse(how or "") if inner)}
    return "".join(words), tuple(places), frozenset(wanted)


def _value(value: object, how: str = "", conversion: str = "") -> str:
    if conversion == "r":
        return quoted(value)
    if isinstance(value, Said):
        return value
    if isinstance(value, Enum):
        return term(str(value.value))
    if isinstance(value, str):
        return _plain(value)
    if isinstance(value, dt.date | dt.time):
        text = value.isoformat(" ", "minutes") if isinstance(value, dt.datetime) else (
            value.isoformat("minutes") if isinstance(value, dt.time) else value.isoformat()
        )  # fmt: skip
        return Said(text, Moment(value))
    if isinstance(value, Number) and not isinstance(value, bool):
        text = format(value, how)
        return Said(text, Figure(text))
    return str(value)


def _plain(text: str) -> str:
    """Return exactly a ``str``: no subclass of somebody else."""
    return str.__str__(text)
