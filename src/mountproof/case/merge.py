"""Change a TOML text so that it holds other values, with the remarks and the layout of what stays."""

from __future__ import annotations

import datetime as dt
import tomllib
from enum import Enum
from typing import Any

import tomlkit
from pydantic import BaseModel
from tomlkit.exceptions import TOMLKitError

from mountproof.case.cells import edit_cell
from mountproof.case.dump import long_string, table
from mountproof.case.dump import value as written
from mountproof.case.grid import GridError, parse_grid
from mountproof.case.grid_edit import with_column, with_row, without_column, without_row
from mountproof.case.model import Case
from mountproof.case.numbers import Measured, Readings


def merge(text: str, old: Case, new: Case) -> str | None:
    """Return the text of ``old`` changed into that of ``new``; None where that cannot be done in place."""
    try:
        doc = tomlkit.parse(text)
        _merge_model(doc, old, new)
        return tomlkit.dumps(doc)
    except (TOMLKitError, KeyError, IndexError, ValueError, TypeError, AttributeError):
        # The editing library refuses some layouts; the whole file is written anew then.
        return None


def _merge_model(holder: Any, old: BaseModel, new: BaseModel) -> None:
    for name, field in type(new).model_fields.items():
        before, after = getattr(old, name), getattr(new, name)
        if before == after and same_order(before, after):
            continue
        if not field.is_required() and after == field.get_default(call_default_factory=True):
            holder.pop(name, None)
        elif name not in holder:
            holder[name] = plain(after)
        else:
            _merge_value(holder, name, before, after)


def _merge_value(holder: Any, name: Any, before: Any, after: Any) -> None:
    inside = holder[name]
    if (
        isinstance(after, BaseModel)
        and not isinstance(after, Measured | Readings)
        and isinstance(inside, dict)
    ):
        _merge_model(inside, before, after)
    elif isinstance(after, dict) and isinstance(inside, dict):
        if not same_order({k: None for k in after if k in before}, {k: None for k in before if k in after}):
            raise ValueError("the order of names changed")
        for key in [key for key in before if key not in after]:
            inside.pop(key)
        for key, entry in after.items():
            if key not in before:
                inside[key] = on_a_line(plain(entry))
            elif before[key] != entry:
                _merge_value(inside, key, before[key], entry)
    elif isinstance(after, tuple) and isinstance(inside, list) and _parts(after):
        for index, entry in enumerate(after):
            if index >= len(before):
                inside.append(plain(entry))
            elif before[index] != entry:
                _merge_model(inside[index], before[index], entry)
        for _ in range(len(before) - len(after)):
            inside.pop()
    elif isinstance(after, Readings) and isinstance(inside, str):
        changed = _cells_changed(str(inside), before, after)
        kept = changed is not None and _reads_as(changed, after)
        holder[name] = long_text(changed if changed is not None and kept else _text_of(after))
    else:
        holder[name] = plain(after)


def _parts(entries: tuple[Any, ...]) -> bool:
    return bool(entries) and isinstance(entries[0], BaseModel)


def same_order(before: Any, after: Any) -> bool:
    """Tell whether two equal values also have their names in the same order."""
    if isinstance(before, BaseModel) and isinstance(after, BaseModel):
        return all(same_order(getattr(before, n), getattr(after, n)) for n in type(after).model_fields)
    if isinstance(before, dict) and isinstance(after, dict):
        return list(before) == list(after) and all(same_order(before[k], after[k]) for k in after)
    return True


def _text_of(readings: Readings) -> str:
    text = table(readings)
    if not text.startswith('"""'):
        raise ValueError("this table cannot be written as text")
    return text.removeprefix('"""\n').removesuffix('"""')


def _cells_changed(text: str, before: Readings, after: Readings) -> str | None:
    """Return the old text of a table with what changed alone; None where names changed their order."""
    states = [state for state in before.states if state in after.states]
    pairs = [pair for pair in before.rows if pair in after.rows]
    if states != list(after.states[: len(states)]) or pairs != list(after.rows)[: len(pairs)] or not states:
        return None
    for pair in [pair for pair in before.rows if pair not in after.rows]:
        text = without_row(text, pair)
    for state in [state for state in before.states if state not in after.states]:
        text = without_column(text, state)
    for state in after.states[len(states) :]:
        text = with_column(text, state)
    for pair in list(after.rows)[len(pairs) :]:
        text = with_row(text, pair)
    new: str | None = text
    for pair in after.rows:
        for state in after.states:
            values = after.get(pair, state)
            if before.get(pair, state) != values and new is not None:
                new = edit_cell(new, pair, state, values)
    return new


def _reads_as(text: str, readings: Readings) -> bool:
    try:
        found = parse_grid(text)
    except GridError:
        return False
    return (found["states"], list(found["rows"].items())) == (readings.states, list(readings.rows.items()))


def long_text(text: str) -> Any:
    """Return text over several lines as an item that begins on the line below its quotation marks."""
    return tomlkit.parse("x = " + long_string(text.removeprefix("\n")))["x"]


def plain(entry: Any) -> Any:
    """Return a value of the case as what a TOML text can hold."""
    if isinstance(entry, Readings):
        return tomllib.loads(f"x = {table(entry)}")["x"] if not entry.states else _readings(entry)
    if isinstance(entry, Measured) and entry.u is None:
        return entry.value
    if isinstance(entry, BaseModel):
        chosen = tomlkit.inline_table() if isinstance(entry, Measured) else {}
        for name, field in type(entry).model_fields.items():
            inner = getattr(entry, name)
            if field.is_required() or inner != field.get_default(call_default_factory=True):
                chosen[name] = plain(inner)
        return chosen
    if isinstance(entry, dict):
        return {key: on_a_line(plain(inner)) for key, inner in entry.items()}
    if isinstance(entry, tuple | list):
        return [plain(inner) for inner in entry]
    if isinstance(entry, Enum):
        return entry.value
    if isinstance(entry, dt.time):
        return entry.isoformat("minutes" if not entry.second else "seconds")
    return entry


def on_a_line(value: Any) -> Any:
    """Return a dict as a table that stands on one line; anything else as it is."""
    if not isinstance(value, dict) or any(isinstance(inner, dict) for inner in value.values()):
        return value
    return tomlkit.parse(f"x = {written(value)}")["x"]


def _readings(readings: Readings) -> Any:
    try:
        return long_text(_text_of(readings))
    except ValueError:
        return tomllib.loads(f"x = {table(readings)}")["x"]
