"""What changed between two cases: the dotted names of the entries, with the old and the new text of each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from pydantic import BaseModel

from mountproof.case.dump import cell_text, value
from mountproof.case.finding import dotted
from mountproof.case.lines import Path
from mountproof.case.merge import same_order
from mountproof.case.model import Case, Measured, Readings
from mountproof.said import say

#: Stands for the changed entry where the text changed and no entry did.
REMARKS = say("remarks and layout")
#: Larger whole numbers are written as the float that they are.
_WHOLE = 10**15


class _Missing:
    """An entry that is not there at all."""

    def __repr__(self) -> str:
        return "missing"


MISSING: Any = _Missing()


class FieldChange(NamedTuple):
    """One changed entry; ``old`` or ``new`` is None where it was not there."""

    field: str
    old: str | None
    new: str | None


def differences(old: Case, new: Case) -> tuple[FieldChange, ...]:
    """Return every entry that differs between two cases, in the order of the case's fields.

    Cells of tables of readings are entries of their own (``marks.readings_mm.UR-LR.B``); items of lists count
    from 1.
    """
    return tuple(FieldChange(dotted(path), was, now) for path, was, now in _walk((), old, new))


def file_differences(old: Mapping[str, str], new: Mapping[str, str]) -> tuple[FieldChange, ...]:
    """Return what changed among the files of a case: name to SHA-256, before and after."""
    names = sorted(old.keys() | new.keys())
    return tuple(
        FieldChange(dotted(("files", name)), old.get(name), new.get(name))
        for name in names
        if old.get(name) != new.get(name)
    )


def same(one: Any, other: Any) -> bool:
    """Tell whether two entries are equal, the order of names in them included."""
    if one is MISSING or other is MISSING:
        return one is other
    return bool(one == other) and same_order(one, other)


def text_of(entry: Any) -> str | None:
    """Return an entry as it would stand in the file; None for one that is not there."""
    if entry is MISSING or entry is None or entry == ():
        return None
    if isinstance(entry, tuple) and all(isinstance(one, float) for one in entry):
        return cell_text(entry)
    number = entry.value if isinstance(entry, Measured) and entry.u is None else entry
    if isinstance(number, float) and number.is_integer() and abs(number) < _WHOLE:
        return str(int(number))
    return value(entry)


def is_part(entry: Any) -> bool:
    """Tell whether an entry has named entries of its own that the model knows."""
    return isinstance(entry, BaseModel) and not isinstance(entry, Measured | Readings)


def is_items(*entries: Any) -> bool:
    """Tell whether all entries are lists, and some have parts as items."""
    lists = all(isinstance(entry, tuple) for entry in entries)
    return lists and any(isinstance(item, BaseModel) for entry in entries for item in entry)


def cells_of(readings: Any) -> dict[str, dict[str, tuple[float, ...]]]:
    """Return a table of readings as row to column to repeats; empty for no table."""
    if not isinstance(readings, Readings):
        return {}
    return {pair: dict(zip(readings.states, cells, strict=True)) for pair, cells in readings.rows.items()}


def absent(part: type[BaseModel], name: str) -> Any:
    """Return what a field is where nobody entered it."""
    field = part.model_fields[name]
    return MISSING if field.is_required() else field.get_default(call_default_factory=True)


def _walk(path: Path, old: Any, new: Any) -> Iterator[tuple[Path, str | None, str | None]]:
    if same(old, new):
        return
    known = new if is_part(new) else old
    if is_part(known) and all(
        one is MISSING or one is None or type(one) is type(known) for one in (old, new)
    ):
        for name in type(known).model_fields:
            was, now = (
                getattr(one, name) if is_part(one) else absent(type(known), name) for one in (old, new)
            )
            yield from _walk((*path, name), was, now)
    elif isinstance(old, Readings) or isinstance(new, Readings):
        yield from _table(path, old, new)
    elif isinstance(old, dict) and isinstance(new, dict):
        yield from _names(path, old, new)
    elif is_items(old, new):
        for at in range(max(len(old), len(new))):
            was, now = (one[at] if at < len(one) else MISSING for one in (old, new))
            yield from _walk((*path, at), was, now)
    else:
        yield path, text_of(old), text_of(new)


def _names(
    path: Path, old: dict[str, Any], new: dict[str, Any]
) -> Iterator[tuple[Path, str | None, str | None]]:
    for name in dict.fromkeys([*old, *new]):
        yield from _walk((*path, name), old.get(name, MISSING), new.get(name, MISSING))
    yield from _order(path, old, new)


def _table(path: Path, old: Any, new: Any) -> Iterator[tuple[Path, str | None, str | None]]:
    yield from _names(path, cells_of(old), cells_of(new))
    columns = [one.states if isinstance(one, Readings) else () for one in (old, new)]
    if set(columns[0]) != set(columns[1]):
        yield (*path, "states"), ", ".join(columns[0]) or None, ", ".join(columns[1]) or None
    else:
        yield from _order((*path, "states"), *(dict.fromkeys(one) for one in columns))


def _order(path: Path, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[tuple[Path, str, str]]:
    """Say that names stand in another order; sums may depend on it."""
    kept = [[name for name in one if name in other] for one, other in ((old, new), (new, old))]
    if kept[0] != kept[1]:
        yield path, ", ".join(kept[0]), ", ".join(kept[1])
