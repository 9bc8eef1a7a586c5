"""Every shape on the wire as a schema, also those that travel in events only."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import JsonSchemaMode, models_json_schema

from mountproof.surfaces.web import wire
from mountproof.surfaces.web.wire.base import Wire


def every_shape() -> dict[str, Any]:
    """Return the JSON Schemas of all shapes by name, as they stand in the description of the routes."""
    models = [
        one
        for one in vars(wire).values()
        if isinstance(one, type) and issubclass(one, Wire) and one is not Wire
    ]
    sent = [one for one in models if one.__name__.endswith("In")]
    return {
        **_schemas([one for one in models if one not in sent], "serialization"),
        **_schemas(sent, "validation"),
    }


def _schemas(models: list[type[Wire]], mode: JsonSchemaMode) -> dict[str, Any]:
    _, found = models_json_schema(
        [(one, mode) for one in models], ref_template="#/components/schemas/{model}"
    )
    shapes: dict[str, Any] = found["$defs"]
    return shapes
