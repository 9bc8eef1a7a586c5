"""The published form of the case file: its JSON Schema and its page, both made from the model.

``python -m mountproof.case.schema`` writes ``docs/case.schema.json`` and ``docs/case-file.md``. The schema
describes what the file holds after a TOML reader has read it, with dates and times as text.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from mountproof.case.base import Flag, Tooth
from mountproof.case.fields import bounds, choices, is_model, plain
from mountproof.case.model import Case
from mountproof.case.numbers import Measured, Readings

_NUMBER = r"[+\-−]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+\-]?[0-9]{1,3})?"
_TEXT_NUMBER = rf"^\s*{_NUMBER}\s*$"
_TEXT_MEASURED = rf"^\s*{_NUMBER}(\s*(\+-|\+/-|±)\s*{_NUMBER})?\s*$"
_WORDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a case file."""
    parts = {model.__name__.strip("_"): _object(model) for model in models(Case)}
    parts["Number"] = {
        "description": "A number, or a number as text with a decimal point or a decimal comma.",
        "anyOf": [{"type": "number"}, {"type": "string", "pattern": _TEXT_NUMBER}],
    }
    parts["Readings"] = {
        "description": "A table of readings, as text in lines (a row a pair, a column a state) or as lists.",
        "anyOf": [{"type": "string"}, _object(Readings)],
    }
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Case file",
        "description": "What was measured on one case. Lengths in mm; sides are the patient's.",
    }
    return {**head, "$ref": "#/$defs/Case", "$defs": dict(sorted(parts.items()))}


def models(root: type[BaseModel]) -> Iterator[type[BaseModel]]:
    """Yield the model of a case and of every part inside it, outermost first, each once."""
    seen: list[type[BaseModel]] = [root]
    for model in seen:
        yield model
        for field in model.model_fields.values():
            seen += [inner for inner in _inside(field.annotation) if inner not in seen]


def _inside(annotation: Any) -> Iterator[type[BaseModel]]:
    inside = plain(annotation)
    model = is_model(inside)
    if model is not None:
        yield model
    for inner in get_args(inside):
        yield from _inside(inner)


def _object(model: type[BaseModel]) -> dict[str, Any]:
    required = [name for name, field in model.model_fields.items() if field.is_required()]
    if model.__name__ == "Limit":
        required.remove("unit")  # a limit keeps its unit, so it need not be repeated
    found: dict[str, Any] = {
        "type": "object",
        "description": (model.__doc__ or "").split("\n")[0],
        "properties": {name: _property(field) for name, field in model.model_fields.items()},
        "additionalProperties": False,
    }
    return found | ({"required": required} if required else {})


def _property(field: FieldInfo) -> dict[str, Any]:
    found = schema_of(field.annotation, bounds(field), [*field.metadata])
    if "$ref" not in found:
        found = {**({"description": field.description} if field.description else {}), **found}
    elif field.description:
        found = {"description": field.description, "allOf": [found]}
    if field.examples and "allOf" not in found:
        found["examples"] = [_example(one) for one in field.examples]
    return found


def _example(value: Any) -> Any:
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


def schema_of(annotation: Any, limits: dict[str, float], metadata: list[Any]) -> dict[str, Any]:
    """Return the schema of one type; ``limits`` are the bounds of its number, ``metadata`` its other rules."""
    while get_origin(annotation) is Annotated or plain(annotation) is not annotation:
        if annotation == Tooth:
            return {"type": ["integer", "string"], "minimum": 0, "maximum": 99, "pattern": r"^\s*[0-9]+\s*$"}
        if annotation == Flag:
            return {"type": "boolean"}
        if get_origin(annotation) is Annotated:
            metadata = [*metadata, *get_args(annotation)[1:]]
            annotation = get_args(annotation)[0]
        else:
            left = [one for one in get_args(annotation) if one is not type(None)]
            if len(left) != 1:
                raise TypeError(f"no schema for {annotation!r}")
            annotation = left[0]
    number = {"type": "number"} | {_WORDS[name]: limit for name, limit in limits.items()}
    if annotation is Measured:
        forms = [number, {"type": "string", "pattern": _TEXT_MEASURED}, _object(Measured)]
        return {"anyOf": forms}
    if annotation is Readings:
        return {"$ref": "#/$defs/Readings"}
    if is_model(annotation):
        return {"$ref": f"#/$defs/{annotation.__name__.strip('_')}"}
    if choices(annotation):
        return {"enum": list(choices(annotation))}
    if annotation is float:
        if not limits:
            return {"$ref": "#/$defs/Number"}
        return {"anyOf": [number, {"type": "string", "pattern": _TEXT_NUMBER}]}
    return _simple(annotation, limits, metadata)


def _simple(annotation: Any, limits: dict[str, float], metadata: list[Any]) -> dict[str, Any]:
    if annotation is int:
        return {"type": "integer"} | {_WORDS[name]: int(limit) for name, limit in limits.items()}
    if annotation is bool:
        return {"type": "boolean"}
    if annotation is dt.datetime:
        return {"type": "string", "format": "date-time"}
    if annotation is dt.date:
        return {"type": "string", "format": "date", "pattern": r"^\s*[0-9]{4}-?[0-9]{2}-?[0-9]{2}\s*$"}
    if annotation is dt.time:
        return {"type": "string", "pattern": r"^\s*[0-9]{1,2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?\s*$"}
    if annotation is str:
        return {"type": "string"} | _lengths(metadata)
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is tuple and inner[-1] is Ellipsis:
        return {"type": "array", "items": schema_of(inner[0], {}, [])}
    if origin is tuple:
        items = [schema_of(one, {}, []) for one in inner]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "maxItems": len(items)}
    if origin is dict:
        return {"type": "object", "additionalProperties": schema_of(inner[1], {}, [])}
    raise TypeError(f"no schema for {annotation!r}")


def _lengths(metadata: list[Any]) -> dict[str, int]:
    """Return the smallest length of text; the largest counts after spaces at both ends were taken off."""
    flat = [part for one in metadata for part in (one, *getattr(one, "metadata", ()))]
    least = [getattr(one, "min_length", None) for one in flat]
    return {"minLength": min(n for n in least if n is not None)} if any(least) else {}


def as_json(value: Any) -> Any:
    """Return what a TOML reader read as JSON knows it: dates and times as text."""
    if isinstance(value, dict):
        return {key: as_json(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [as_json(inner) for inner in value]
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


def schema_text() -> str:
    """Return the text of ``docs/case.schema.json``."""
    return json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n"


def write(docs: Path) -> None:
    """Write the schema and the page into the folder of the documentation."""
    from mountproof.case.page import page

    (docs / "case.schema.json").write_text(schema_text(), encoding="utf-8")
    (docs / "case-file.md").write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    write(Path(__file__).parents[3] / "docs")
