"""Answers as plain data for JSON, and the schema of that data, both read off the answer types themselves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from mountproof.answers.result import Answer, Sheet

#: Raised when a name or a meaning in this data changes.
FORMAT = 1
#: Arrays behind pictures and exports; they travel as files of their own.
_LEFT_OUT = frozenset({"evidence"})


def sheet_as_dict(sheet: Sheet) -> dict[str, Any]:
    """Return a sheet as plain data: keys in the order of the types, numbers at full precision.

    A number that is not finite becomes None, never NaN; the arrays of ``evidence`` are left out.
    """
    return {"format": FORMAT, **_plain(sheet)}


def answer_as_dict(answer: Answer) -> dict[str, Any]:
    """Return one answer as plain data, as it stands in a sheet."""
    found: dict[str, Any] = _plain(answer)
    return found


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of what ``sheet_as_dict`` gives."""
    shapes: dict[str, Any] = {}
    _shape(Sheet, shapes)
    body = shapes.pop("Sheet")
    body["properties"] = {"format": {"const": FORMAT}, **body["properties"]}
    body["required"] = ["format", *body["required"]]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "The eight answers of one case",
        "description": "Numbers are null where they are not finite. Lengths mm, angles degrees, as each unit says.",
        **body,
        "$defs": dict(sorted(shapes.items())),
    }


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.name not in _LEFT_OUT}
    if isinstance(value, Enum):
        return value.value
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(part) for part in value]
    raise TypeError(f"{type(value).__name__} has no place in an answer's data")


def _shape(kind: Any, shapes: dict[str, Any]) -> dict[str, Any]:
    origin, parts = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        inner = [_shape(part, shapes) for part in parts if part is not NoneType]
        return (
            inner[0] if inner[0].get("type") == ["number", "null"] else {"anyOf": [*inner, {"type": "null"}]}
        )
    if origin is tuple:
        return {"type": "array", "items": _shape(parts[0], shapes)}
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _shape(parts[1], shapes)}
    if is_dataclass(kind):
        return _object(kind, shapes)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return {"type": "string", "enum": [member.value for member in kind]}
    simple: dict[Any, Any] = {str: "string", bool: "boolean", int: "integer", float: ["number", "null"]}
    return {"type": simple[kind]}


def _object(kind: Any, shapes: dict[str, Any]) -> dict[str, Any]:
    if kind.__name__ not in shapes:
        shapes[kind.__name__] = {}
        hints = get_type_hints(kind)
        names = [f.name for f in fields(kind) if f.name not in _LEFT_OUT]
        shapes[kind.__name__] = {
            "type": "object",
            "description": (kind.__doc__ or "").strip().split("\n")[0].replace("``", ""),
            "properties": {name: _shape(hints[name], shapes) for name in names},
            "required": names,
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{kind.__name__}"}
