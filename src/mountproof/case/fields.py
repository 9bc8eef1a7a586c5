"""What the fields of a case are: their units, ranges and examples, found by the path of an entry."""

from __future__ import annotations

import types
from enum import StrEnum
from typing import Annotated, Any, NamedTuple, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from mountproof.case.finding import dotted as dotted
from mountproof.case.lines import Path
from mountproof.case.numbers import Between, Measured, Readings
from mountproof.case.units import unit_of as unit_of
from mountproof.said import figure, joined, say, term


def plain(annotation: Any) -> Any:
    """Strip ``Annotated`` and ``| None`` from a type."""
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation = get_args(annotation)[0]
        elif origin in (Union, types.UnionType):
            left = [a for a in get_args(annotation) if a is not type(None)]
            if len(left) != 1:
                return annotation
            annotation = left[0]
        else:
            return annotation


class Spot(NamedTuple):
    """What is known of one place in a case: its field, its type, and the model that holds the field."""

    field: FieldInfo | None
    type: Any
    holder: type[BaseModel] | None


def spot(root: type[BaseModel], path: Path) -> Spot:
    """Find what stands at ``path``; the type is None where there is no such place."""
    here = Spot(None, root, None)
    for part in path:
        inside = plain(here.type)
        origin = get_origin(inside)
        if isinstance(inside, type) and issubclass(inside, BaseModel):
            field = inside.model_fields.get(str(part))
            here = Spot(field, field.annotation if field else None, inside)
        elif origin is tuple:
            items = get_args(inside)
            index = part if isinstance(part, int) else 0
            item = items[0] if items[-1] is Ellipsis else items[index] if index < len(items) else None
            here = Spot(here.field, item, here.holder)
        elif origin is dict:
            here = Spot(here.field, get_args(inside)[1], here.holder)
        else:
            return Spot(None, None, None)
    return here


def is_model(annotation: Any) -> type[BaseModel] | None:
    """Return the model behind a type, None where it is none (a measured number and a table are none)."""
    inside = plain(annotation)
    if isinstance(inside, type) and issubclass(inside, BaseModel) and inside not in (Measured, Readings):
        return inside
    return None


def choices(annotation: Any) -> tuple[str, ...]:
    """Return the words that may stand there, where only certain words may."""
    inside = plain(annotation)
    return (
        tuple(str(word) for word in inside)
        if isinstance(inside, type) and issubclass(inside, StrEnum)
        else ()
    )


def bounds(field: FieldInfo) -> dict[str, float]:
    """Return the bounds of a field's number by their names (``gt``, ``ge``, ``lt``, ``le``)."""
    found: dict[str, float] = {}
    parts = [*field.metadata]
    for part in get_args(field.annotation):
        if get_origin(part) is Annotated:
            parts += get_args(part)[1:]
    for part in parts:
        if isinstance(part, Between):
            found |= {"ge": part.low, "le": part.high}
        for name in ("gt", "ge", "lt", "le"):
            value = getattr(part, name, None)
            if isinstance(value, int | float):
                found[name] = value
    return found


def range_text(limits: dict[str, float], unit: str) -> str:
    """Say a range in words: ``more than 0, at most 250 mm``."""
    words = {"gt": say("more than"), "ge": say("at least"), "lt": say("less than"), "le": say("at most")}
    said = joined(
        ", ",
        (joined(" ", (word, figure(limits[name]))) for name, word in words.items() if name in limits),
    )
    if not said or not unit:
        return said
    return joined("" if unit == "%" else " ", (said, term(unit)))


def shown(value: Any, unit: str = "") -> str:
    """Write a value for a message, short, with its unit."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        text = figure(value, "d") if isinstance(value, int) and abs(value) < 10**15 else figure(float(value))
        return joined(" ", (text, term(unit))) if unit else text
    if isinstance(value, str):
        short = value if len(value) <= 60 else value[:57] + "..."
        return '"' + "".join(c if c.isprintable() else "?" for c in short) + '"'
    if isinstance(value, dict):
        return (
            say("a table with {names}", names=_names([str(key) for key in value]))
            if value
            else say("nothing")
        )
    if isinstance(value, list | tuple):
        return say("a list of {count}", count=len(value))
    return say("nothing") if value is None else str(value)[:60]


def _names(names: list[str]) -> str:
    short = [name if len(name) <= 24 else name[:21] + "..." for name in names[:4]]
    listed = ", ".join(short)
    return say("{names} and more", names=listed) if len(names) > 4 else listed
