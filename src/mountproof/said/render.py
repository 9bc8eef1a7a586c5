"""Saying a text in a language and in one system of tooth numbers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, Literal, TypeVar

from mountproof.said.catalogue import ENGLISH, Language, language
from mountproof.said.forms import Capital, Cut, Figure, Joined, Moment, Numbered, Quoted, Template
from mountproof.said.text import Said, capital, fill, shortened

#: The systems of tooth numbers.
System = Literal["iso3950", "universal"]

T = TypeVar("T")


def render(text: str, to: str = ENGLISH, *, numbering: System = "iso3950") -> str:
    """Return a text in the language ``to`` as a plain ``str``; what is no ``Said`` (a user's own words) stays as it is.

    ``numbering`` is the case's. A text that the language's files do not have is said in English, its numbers still in the
    language's way. KeyError for a language that there are no files of.
    """
    return _said(text, language(to), numbering)


def rendered(value: T, to: str = ENGLISH, *, numbering: System = "iso3950") -> T:
    """Return a value with every text in it rendered: data classes, tuples, lists, mappings and what they hold."""
    speaker = language(to)
    made: T = _every(value, lambda text: _said(text, speaker, numbering))
    return made


def in_numbering(value: T, numbering: System) -> T:
    """Return a text, or a value with texts in it, with its teeth fixed in one system of numbers, for all languages."""
    made: T = _every(value, lambda text: _fixed(text, numbering))
    return made


def _said(text: str, to: Language, numbering: System) -> str:
    if not isinstance(text, Said):
        return text
    form = text.form
    match form:
        case Template():
            spoken = {name: _said(value, to, numbering) for name, value in form.values}
            return fill(to.texts.get(form.text, form.text), spoken)
        case Joined():
            between = _said(form.separator, to, numbering)
            return between.join(_said(part, to, numbering) for part in form.parts)
        case Figure():
            return _number(form.text, to)
        case Quoted():
            return repr(form.text) if to.key == ENGLISH else form.text.join(to.quotes)
        case Numbered():
            return form.universal or form.iso3950 if numbering == "universal" else form.iso3950
        case Moment():
            return _moment(form.at, to)
        case Capital():
            return str.__str__(capital(_said(form.text, to, numbering)))
        case Cut():
            return shortened(_said(form.text, to, numbering), form.most)


def _number(text: str, to: Language) -> str:
    if to.key == ENGLISH:
        return text
    return text.replace(".", to.decimal).replace("-", to.minus).replace("%", to.percent)


def _moment(at: dt.date | dt.time | dt.datetime, to: Language) -> str:
    if isinstance(at, dt.datetime):
        return at.strftime(to.moment)
    return at.strftime(to.time if isinstance(at, dt.time) else to.day)


def _fixed(text: str, numbering: System) -> str:
    if not isinstance(text, Said):
        return text
    form = text.form
    match form:
        case Numbered():
            return _said(text, language(ENGLISH), numbering)
        case Template():
            form = replace(
                form, values=tuple((name, _fixed(value, numbering)) for name, value in form.values)
            )
        case Joined():
            form = Joined(
                _fixed(form.separator, numbering), tuple(_fixed(part, numbering) for part in form.parts)
            )
        case Capital() | Cut():
            form = replace(form, text=_fixed(form.text, numbering))
        case _:
            return text
    return Said(_said(Said("", form), language(ENGLISH), numbering), form)


def _every(value: Any, change: Callable[[str], str]) -> Any:
    """Return ``value`` with ``change`` done to every text in it; what holds none is returned as it is."""
    if isinstance(value, Said):
        return change(value)
    if isinstance(value, tuple):
        parts = [_every(part, change) for part in value]
        if all(new is old for new, old in zip(parts, value, strict=True)):
            return value
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    if isinstance(value, list):
        return [_every(part, change) for part in value]
    if isinstance(value, Mapping):
        return {key: _every(part, change) for key, part in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        new = {f.name: _every(getattr(value, f.name), change) for f in fields(value) if f.init and f.repr}
        changed = {name: part for name, part in new.items() if part is not getattr(value, name)}
        return replace(value, **changed) if changed else value
    return value
