"""What a person typed into a form or behind a command, as the case file would hold it.

Text stays as it was typed wherever the case file reads text: ``38,05`` and ``110 +- 0,5`` stand in quotation marks, as
they would in a file. A plain number stands without them, every digit kept (``38.50``); so do dates, moments, true and
false. Whether it can be read is for the reader of the file to say.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from mountproof.case.fields import plain, spot
from mountproof.case.lines import Path
from mountproof.case.model import Case
from mountproof.case.numbers import Measured

_NUMBER = re.compile(r"[+-]?(?:0|[1-9][0-9]{0,14})(?:\.[0-9]{1,15})?")
_APART = re.compile(r"[\s,;]+")


class Typed(float):
    """A number that is written as it was typed."""

    text: str

    def __new__(cls, text: str) -> Typed:
        """Return the number that ``text`` is; ValueError where it is none."""
        new = super().__new__(cls, text)
        new.text = text
        return new

    def __repr__(self) -> str:
        return self.text

    def __reduce__(self) -> tuple[type[Typed], tuple[str]]:
        return Typed, (self.text,)


def as_typed(path: Path, value: Any) -> Any:
    """Return ``value`` as a case file would hold it at ``path``; what is no text, or fits nowhere, as it is."""
    return _as(spot(Case, path).type, value)


def as_asked(path: Path, words: Iterable[str]) -> Any:
    """Return the words of a command as the value at ``path``: a list where one stands there, else one value.

    A word that begins with ``{`` or ``[`` is read as in a case file. Where several words are given and no list
    stands there, they are returned as a list, for the reader to refuse.
    """
    found = [_bracketed(word) for word in words]
    kind = plain(spot(Case, path).type)
    if len(found) == 1:
        one = _as(kind, found[0])
        return one if isinstance(one, list) or get_origin(kind) is not tuple else _as(kind, found)
    return _as(kind, found)


def _as(annotation: Any, value: Any) -> Any:
    kind = plain(annotation)
    items = get_args(kind) if get_origin(kind) is tuple else ()
    if isinstance(value, str):
        return _list_of(items, value) if items else _one(kind, value)
    if isinstance(value, list | tuple) and items:
        item = items[0] if items[-1] is Ellipsis else None
        kinds = [item] * len(value) if item is not None else [*items, *[None] * len(value)][: len(value)]
        return [_as(one, inner) for one, inner in zip(kinds, value, strict=True)]
    if isinstance(value, Mapping):
        return {str(name): _as(_inside(kind, str(name)), inner) for name, inner in value.items()}
    return value


def _inside(kind: Any, name: str) -> Any:
    if get_origin(kind) is dict:
        return get_args(kind)[1]
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        field = kind.model_fields.get(name)
        return None if field is None else field.annotation
    return None


def _one(kind: Any, text: str) -> Any:
    bare = text.strip()
    if kind in (float, Measured) and _NUMBER.fullmatch(bare):
        return Typed(bare)
    if kind is int and _NUMBER.fullmatch(bare) and "." not in bare:
        return int(bare)
    if kind is bool and bare in ("true", "false"):
        return bare == "true"
    try:
        if kind is dt.date:
            return dt.date.fromisoformat(bare)
        if kind is dt.datetime and (moment := dt.datetime.fromisoformat(bare)).utcoffset() is not None:
            return moment.replace(microsecond=0)
    except ValueError:
        pass
    return text


def _list_of(items: tuple[Any, ...], text: str) -> Any:
    """Return the teeth of ``16, 17 26`` as a list; anything else as it was typed."""
    words = [word for word in _APART.split(text) if word]
    if plain(items[0]) is not int or not words or not all(_NUMBER.fullmatch(word) for word in words):
        return text
    return [_one(int, word) for word in words]


def _bracketed(word: str) -> Any:
    if word.strip()[:1] in ("{", "["):
        try:
            return tomllib.loads(f"x = {word.strip()}")["x"]
        except (ValueError, RecursionError):
            return word
    return word
