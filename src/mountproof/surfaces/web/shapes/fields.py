"""Every entry a case can have, read off the model of the case: what forms show beside their boxes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from enum import StrEnum
from functools import lru_cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from mountproof.case.base import Tooth
from mountproof.case.fields import bounds, choices, is_model, plain
from mountproof.case.limits import Limit, Limits
from mountproof.case.model import Case, Measured, Readings
from mountproof.case.units import unit_of
from mountproof.said import figure, term
from mountproof.surfaces.web.shapes.labels import label
from mountproof.surfaces.web.tongue import words
from mountproof.surfaces.web.wire import ChoiceOut, FieldOut

Kind = Literal[
    "number", "measured", "text", "choice", "flag", "date", "time", "moment", "tooth", "teeth", "point", "row",
    "list", "table", "group",
]  # fmt: skip
#: Stands for any name, and for the number of an item.
ANY = "*"


@lru_cache(maxsize=8)
def fields_out(language: str) -> tuple[FieldOut, ...]:
    """Return every entry in the order of the case file."""
    return tuple(_of_model(Case, "", language))


def _of_model(model: type[BaseModel], path: str, language: str) -> Iterator[FieldOut]:
    for name, field in model.model_fields.items():
        here = f"{path}.{name}".lstrip(".")
        yield _field(here, name, field, field.annotation, model, language)
        yield from _inside(here, name, field, language)


def _inside(here: str, name: str, field: FieldInfo, language: str) -> Iterator[FieldOut]:
    """Yield what stands inside an entry: the parts of a group, the items of a list, whatever names them."""
    kind = plain(field.annotation)
    model, args = is_model(kind), get_args(kind)
    if model is not None:
        yield from _of_model(model, here, language)
    elif get_origin(kind) in (dict, tuple) and args:
        item = args[1] if get_origin(kind) is dict else args[0]
        inner = is_model(item)
        if inner is not None:
            yield from _of_model(inner, f"{here}.{ANY}", language)


def _field(
    path: str, name: str, field: FieldInfo, annotation: Any, holder: type[BaseModel], language: str
) -> FieldOut:
    limits = bounds(field)
    unit = _limit_unit(path) if holder is Limit else unit_of((name,))
    return FieldOut(
        path=path,
        label=words(label(path), language),
        what=words(term(field.description or _about(annotation)), language),
        unit=words(term(unit), language),
        kind=_kind(annotation),
        choices=[ChoiceOut(value=word, words=words(term(word), language)) for word in choices(annotation)],
        low=limits.get("ge", limits.get("gt")),
        high=limits.get("le", limits.get("lt")),
        example=_example(field),
        # A limit keeps its unit, whoever changes it: nobody is asked for one.
        needed=field.is_required() and not (holder is Limit and path.endswith(".unit")),
        assumed=words(_assumed(path, field, holder), language),
    )


def _about(annotation: Any) -> str:
    """Return what a group is, where the field itself does not say it."""
    model = is_model(annotation)
    return (model.__doc__ or "").split("\n")[0] if model else ""


def _assumed(path: str, field: FieldInfo, holder: type[BaseModel]) -> str:
    """Return what counts while nothing is entered: a word of a choice, a limit; empty where nothing does."""
    if holder is Limit:
        names = path.split(".")
        value = getattr(Limits.model_fields[names[1]].default, names[2])
        return term(value) if isinstance(value, str) else figure(value)
    default = field.get_default()
    return term(str(default)) if isinstance(default, StrEnum) else ""


def _limit_unit(path: str) -> str:
    unit: str = Limits.model_fields[path.split(".")[1]].default.unit
    return "" if path.rsplit(".", 1)[-1] in ("unit", "source") else unit


def _kind(annotation: Any) -> Kind:
    inside = plain(annotation)
    origin, args = get_origin(inside), get_args(inside)
    if choices(inside):
        return "choice"
    if inside is Measured:
        return "measured"
    if inside is Readings:
        return "table"
    if is_model(inside):
        return "group"
    if origin is tuple:
        if args[-1] is not Ellipsis and len(args) == 3 and plain(args[0]) is float:
            return "point"
        if args[-1] is Ellipsis and args[0] == Tooth:
            return "teeth"
        return "row" if _is_single(args[0]) else "list"
    if origin is dict:
        return "list"
    simple: dict[Any, Kind] = {
        float: "number", bool: "flag", dt.date: "date", dt.time: "time", dt.datetime: "moment", str: "text",
    }  # fmt: skip
    if inside in simple:
        return simple[inside]
    return "tooth" if annotation == Tooth else "number"


def _is_single(item: Any) -> bool:
    """Tell whether an item of a list is one number or one word."""
    inside = plain(item)
    return inside in (float, int, str) or bool(choices(inside))


def _example(field: FieldInfo) -> str:
    value = (field.examples or [""])[0]
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return figure(value)
    if isinstance(value, list):
        return ", ".join(str(item) for item in value)
    return str(value)
