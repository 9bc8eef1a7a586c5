"""A case as the text of a case file, in the layout of the template: what is at its default is left out."""

from __future__ import annotations

import datetime as dt
import json
import re
from enum import Enum
from typing import Any

from pydantic import BaseModel

from mountproof.case.grid import NOTHING
from mountproof.case.model import Case
from mountproof.case.numbers import Measured, Readings

_BARE = re.compile(r"[A-Za-z0-9_-]+")
#: Names that can stand in the text form of a table.
_WORD = re.compile(r"[^\s#\"\\\x00-\x1f\x7f]+")


def dump(case: Case) -> str:
    """Return the text of a case file for ``case``; reading it gives an equal case."""
    lines = [f"{name} = {value(entry)}" for name, entry in _entered(case) if not _has_heading(entry)]
    for name, entry in _entered(case):
        if _has_heading(entry):
            lines += _part((name,), entry)
    return "\n".join(lines) + "\n"


def _entered(part: BaseModel) -> list[tuple[str, Any]]:
    """Return the fields that differ from their defaults, and those that have none."""
    found = []
    for name, field in type(part).model_fields.items():
        entry = getattr(part, name)
        if (
            field.is_required()
            or entry != field.get_default(call_default_factory=True)
            or name == "schema_version"
        ):
            found.append((name, entry))
    return found


def _has_heading(entry: Any) -> bool:
    """Tell whether an entry stands under a heading of its own rather than on a line."""
    if isinstance(entry, BaseModel):
        return not isinstance(entry, Measured | Readings)
    if isinstance(entry, dict):
        return True
    return isinstance(entry, tuple) and bool(entry) and isinstance(entry[0], BaseModel)


def _part(path: tuple[str, ...], entry: Any) -> list[str]:
    """Return the lines of a part, from its heading on, with an empty line before it."""
    heading = ".".join(key(name) for name in path)
    if isinstance(entry, dict):
        return ["", f"[{heading}]", *(f"{key(name)} = {value(inner)}" for name, inner in entry.items())]
    if isinstance(entry, tuple):
        if len(path) > 1:
            return [f"{key(path[-1])} = {value(entry)}"]
        return [line for item in entry for line in _model(path, item, f"[[{heading}]]")]
    return _model(path, entry, f"[{heading}]")


def _model(path: tuple[str, ...], part: BaseModel, heading: str) -> list[str]:
    entered = _entered(part)
    own = [(name, entry) for name, entry in entered if not _has_heading(entry) or _on_a_line(path, entry)]
    lines = ["", heading, *(f"{name} = {value(entry)}" for name, entry in own)]
    for name, entry in entered:
        if _has_heading(entry) and not _on_a_line(path, entry):
            lines += _part((*path, name), entry)
    return lines


def _on_a_line(path: tuple[str, ...], entry: Any) -> bool:
    """Tell whether an entry inside a part is short enough for a line: lists of parts, changed limits."""
    return isinstance(entry, tuple) or path == ("limits",)


def key(name: str) -> str:
    """Write a name as a key: plain where it can be, else in quotation marks."""
    return name if _BARE.fullmatch(name) else string(name)


def string(text: str) -> str:
    """Write text between quotation marks, on one line."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def long_string(text: str) -> str:
    """Write text over several lines, which begins on the line below its quotation marks."""
    return '"""\n' + "".join(_escaped(c) for c in text) + '"""'


def _escaped(character: str) -> str:
    if character in '"\\' or (character < " " and character not in "\n\t") or character == "\x7f":
        return f"\\u{ord(character):04x}"
    return character


def value(entry: Any) -> str:
    """Write the value of an entry on a line (a table of readings on several)."""
    if isinstance(entry, Readings):
        return table(entry)
    if isinstance(entry, Measured) and entry.u is None:
        return value(entry.value)
    if isinstance(entry, BaseModel):
        return "{ " + ", ".join(f"{name} = {value(inner)}" for name, inner in _entered(entry)) + " }"
    if isinstance(entry, dict):
        return "{ " + ", ".join(f"{key(name)} = {value(inner)}" for name, inner in entry.items()) + " }"
    if isinstance(entry, tuple | list):
        if entry and isinstance(entry[0], BaseModel):
            return "[\n" + "".join(f"  {value(inner)},\n" for inner in entry) + "]"
        return "[" + ", ".join(value(inner) for inner in entry) + "]"
    if isinstance(entry, Enum):
        return string(str(entry.value))
    if isinstance(entry, bool):
        return "true" if entry else "false"
    if isinstance(entry, dt.time):
        return string(entry.isoformat("minutes" if not entry.second else "seconds"))
    if isinstance(entry, dt.date):
        return entry.isoformat()
    if isinstance(entry, str):
        return string(entry)
    return repr(entry)


def table(readings: Readings) -> str:
    """Write a table of readings as text in columns; as lists where a name cannot stand in text."""
    names = [*readings.states, *readings.rows]
    if not readings.states or not all(_WORD.fullmatch(name) and name not in NOTHING for name in names):
        rows = ", ".join(f"{key(pair)} = {value(cells)}" for pair, cells in readings.rows.items())
        return f"{{ states = {value(readings.states)}, rows = {{ {rows} }} }}"
    grid = [["pair", *readings.states]]
    grid += [[pair, *(cell_text(values) for values in cells)] for pair, cells in readings.rows.items()]
    widths = [max(len(row[column]) for row in grid) for column in range(len(grid[0]))]
    lines = [
        "  ".join(word.ljust(width) for word, width in zip(row, widths, strict=True)).rstrip() for row in grid
    ]
    return '"""\n' + "".join(line + "\n" for line in lines) + '"""'


def cell_text(values: tuple[float, ...], decimals: int = 2, comma: bool = False) -> str:
    """Write the repeats of one cell, with at least ``decimals`` decimals, losing no digit."""
    if not values:
        return "-"
    text = "/".join(number_text(one, decimals) for one in values)
    return text.replace(".", ",") if comma else text


def number_text(number: float, decimals: int) -> str:
    """Write a number with at least ``decimals`` decimals, and with as many as it takes to lose nothing."""
    fixed = f"{number:.{decimals}f}"
    return fixed if float(fixed) == number else repr(number)
