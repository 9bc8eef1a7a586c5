"""Set one entry of a document and of its text, and nothing else in either."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterator
from typing import Any, get_origin

import tomlkit
from tomlkit.exceptions import TOMLKitError

from mountproof.case.fields import plain, spot
from mountproof.case.insert import insertions
from mountproof.case.lines import Path
from mountproof.case.merge import long_text, on_a_line
from mountproof.case.model import Case
from mountproof.case.names import APPEND, EVERY, shown_field
from mountproof.faults import Fault, FaultError
from mountproof.said import say

_CHECK = say("Check its name against the page on the case file")


def place_of(doc: dict[str, Any], field: Path) -> Path:
    """Return a field's name with items of lists counted from 0; ``+`` is the place behind the last one.

    FaultError for an item that is not there, and for ``+`` where no list stands.
    """
    found: list[str | int] = []
    here: Any = doc
    for part in field:
        is_list = isinstance(here, list) or (here is None and _is_list(tuple(found)))
        if part == EVERY or (part == APPEND and not (is_list and len(found) == len(field) - 1)):
            what = (
                say("+ stands for a new item at the end of a list only")
                if part == APPEND
                else say("there is no such entry")
            )
            raise FaultError([Fault("case.unknown_field", what, _CHECK, field=shown_field(field)[:120])])
        step: str | int = part
        if is_list:
            step = len(here or ()) if part == APPEND else _item(here or [], part, field)
        found.append(step)
        here = _inside(here, step)
    return tuple(found)


def put(doc: Any, path: Path, value: Any) -> None:
    """Set the entry at ``path`` of a document, made where it is not there; None takes it out."""
    here: Any = doc
    for at, step in enumerate(path[:-1]):
        if _inside(here, step) is None and isinstance(here, dict | list):
            if value is None:
                return
            new: Any = [] if isinstance(path[at + 1], int) else tomlkit.table() if _is_text(doc) else {}
            _set(here, step, new)
        here = _inside(here, step)
    last = path[-1]
    if not isinstance(here, dict | list) or isinstance(here, list) != isinstance(last, int):
        what = say("there is no such entry")
        raise FaultError([Fault("case.unknown_field", what, _CHECK, field=shown_field(path)[:120])])
    if value is not None:
        _set(here, last, _like(here, last, value))
    elif isinstance(here, dict):
        here.pop(str(last), None)
    else:
        del here[int(last)]


def assigned(
    text: str | None, doc: dict[str, Any], path: Path, value: Any
) -> tuple[dict[str, Any], str | None]:
    """Return the document with the entry at ``path`` set to ``value`` (None: taken out), and its text.

    ``doc`` is what the text holds. The text is None where it cannot be changed without changing something else, or
    was None before.
    """
    expected = copy.deepcopy(doc)
    put(expected, path, value)
    if text is None or repr(expected) == repr(doc):
        return expected, text
    return expected, next((new for new in _attempts(text, doc, path, value) if holds(new, expected)), None)


def holds(text: str, expected: dict[str, Any]) -> bool:
    """Tell whether a text is TOML and holds exactly this."""
    try:
        return tomllib.loads(text) == expected
    except (ValueError, RecursionError):
        return False


def _attempts(text: str, doc: dict[str, Any], path: Path, value: Any) -> Iterator[str]:
    if value is not None and not _stands(doc, path):
        yield from insertions(text, path, value)
    try:
        edited = tomlkit.parse(text)
        long = isinstance(value, str) and "\n" in value
        put(edited, path, long_text(value) if long else on_a_line(value) if len(path) > 1 else value)
        yield tomlkit.dumps(edited)
    except (TOMLKitError, FaultError, KeyError, IndexError, ValueError, TypeError, AttributeError):
        # The editing library refuses some layouts.
        return


def _stands(doc: Any, path: Path) -> bool:
    for part in path:
        doc = _inside(doc, part)
    return doc is not None


def _inside(here: Any, step: str | int) -> Any:
    if isinstance(here, dict):
        return here.get(step)
    known = isinstance(here, list) and isinstance(step, int) and step < len(here)
    return here[step] if known else None


def _set(here: Any, step: Any, value: Any) -> None:
    if isinstance(here, list) and step == len(here):
        here.append(value)
    else:
        here[step] = value


def _item(items: list[Any], part: str | int, field: Path) -> int:
    if not (isinstance(part, str) and part.isascii() and part.isdecimal() and 1 <= int(part) <= len(items)):
        todo = (
            say("Items count from 1 to {count}", count=len(items)) if items else say("Write + for a new item")
        )
        what = say("there is no item {item} in this list", item=part)
        raise FaultError([Fault("case.reference", what, todo, field=shown_field(field)[:120])])
    return int(part) - 1


def _is_list(path: Path) -> bool:
    return get_origin(plain(spot(Case, path).type)) is tuple


def _is_text(doc: Any) -> bool:
    return isinstance(doc, tomlkit.TOMLDocument)


def _like(holder: Any, name: Any, value: Any) -> Any:
    """Keep the decimal comma of a number that was written with one."""
    old = holder.get(name) if isinstance(holder, dict) else None
    if isinstance(old, str) and "," in old and type(value) in (int, float):
        return repr(value).replace(".", ",")
    return value
