"""Everything that was entered, as lines and tables in small print: the sheet can be computed again from it.

Lines are made from the model itself, so that a field added to the case cannot be forgotten on paper.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from enum import Enum
from typing import Any, NamedTuple

from pydantic import BaseModel

from mountproof.case.model import Case
from mountproof.case.numbers import Measured, Readings
from mountproof.said import capital, figure, joined, say, term
from mountproof.surfaces.report import figures
from mountproof.surfaces.report.steps import pours_text, procedure_text


class Line(NamedTuple):
    """One paragraph of entries under one title."""

    title: str
    text: str


class Grid(NamedTuple):
    """A table of entries; the first column names the rows."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


class Inputs(NamedTuple):
    """All that was entered."""

    grids: tuple[Grid, ...]
    lines: tuple[Line, ...]


#: Endings of field names that are units, and how they are written.
_UNITS = (
    ("_ml_per_100g", "mL per 100 g"),
    ("_g_per_ml", "g/mL"),
    ("_mm2", "mm²"),
    ("_mm", "mm"),
    ("_deg", "°"),
    ("_um", "µm"),
    ("_ml", "mL"),
    ("_percent", "%"),
    ("_min", "min"),
    ("_g", "g"),
    ("_s", "s"),
    ("_c", "°C"),
)
#: Names that read badly when they are only split at their underscores.
_WORDS = {
    "u": "u",
    "sd": "SD",
    "mm_per_mark": "mm per mark",
    "by": "measured by",
    "upper_from_lower": "pose of the lower against the upper",
    "frame_from_scan": "frame from scan",
    "counts": "numbers run",
}
#: Entries that need no name in front.
_NAMELESS = frozenset(
    {
        "name",
        "kind",
        "where",
        "relation",
        "state",
        "arch",
        "file",
        "condyles",
        "numbering",
        "relation_in",
        "material",
        "thickness_um",
    }
)
_TITLES = {
    "dentition": say("Teeth"),
    "instrument": say("Instrument"),
    "plane": say("Reference plane"),
    "caliper": say("Caliper"),
    "casts": say("Casts"),
    "facebow": say("Facebow"),
    "bench": say("Stone and plates"),
    "procedure": say("Procedure"),
    "pours": say("Pours, powder met water / hands off / released"),
    "pin_readings": say("Pin readings"),
    "foils": say("Foil"),
    "scans": say("Scans"),
    "records": say("Records"),
    "mounted_on": say("Mounted on record"),
    "record_repeat_dof": say("Degrees of freedom behind it"),
    "visit_repeat_mm": say("Another visit adds (SD), mm"),
    "settings": say("Settings as typed, not measured"),
    "space": say("Space wanted"),
    "change": say("Change and its trial"),
    "prescription": say("Prescription and planned steps"),
    "proof": say("Mounting checks"),
    "followups": say("Afterwards in the mouth"),
    "few_teeth": say("Few teeth"),
    "push": say("Closing push"),
    "doubt": say("Own scatter of the steps"),
    "limits": say("Limits, agrees up to|does not agree above"),
    "course": say("Course"),
    "note": say("Note"),
    "schema_version": say("Case file version"),
}
#: Shown in the head of the sheet or in tables of their own.
_ELSEWHERE = frozenset({"code", "date", "lab", "by", "marks"})
_IDENTITY = tuple(tuple(float(row == column) for column in range(4)) for row in range(4))
#: Readings printed in one row before the table goes on below.
_CHARACTERS_A_ROW = 118


def all_inputs(case: Case, *, close: bool = False) -> Inputs:
    """Return every entry of a case as tables and lines; nothing that was entered is left out.

    ``close`` sets small tables as lines, which takes less paper, and counts steps that were met without a word.
    """
    grids: list[Grid] = []
    lines: list[Line] = []
    if case.marks is not None:
        grids, lines = _marks(case.marks, close)
    for name in type(case).model_fields:
        value = getattr(case, name)
        if name in _ELSEWHERE or _nothing(value) or not _says_something(value):
            continue
        if name == "schema_version":
            continue
        text = _IN_FEW_WORDS[name](value, close) if name in _IN_FEW_WORDS else _text(value)
        lines.append(Line(_TITLES.get(name, _label(name)[0]), text))
    lines.append(Line(_TITLES["schema_version"], str(case.schema_version)))
    return Inputs(tuple(grids), tuple(lines))


def _marks(marks: Any, close: bool) -> tuple[list[Grid], list[Line]]:
    grids = [*_readings(say("Distances between marks, mm"), marks.readings_mm)]
    states = [joined(" ", (name, _state(state))) for name, state in marks.states.items()]
    lines = [Line(say("States"), joined("; ", states))]
    if marks.reseat_mm is not None:
        title = say("The same record taken off and put back, mm")
        if marks.reseat_record is not None:
            name = marks.reseat_record
            which = name if "record" in name.casefold() else say("record {name}", name=name)
            title = capital(say("{record} taken off and put back, mm", record=which))
        again = list(_readings(title, marks.reseat_mm))
        if close:
            lines += [Line(grid.title, _in_line(grid)) for grid in again]
        else:
            grids += again
    places = marks.places
    fields = [
        name
        for name in (next(iter(places.values())).__class__.model_fields if places else ())
        if name != "arch" and any(getattr(place, name) is not None for place in places.values())
    ]
    columns = (say("mark"), say("arch"), *(_column(name) for name in fields))
    rows = tuple(
        (name, _text(place.arch), *(_or_dash(getattr(place, field)) for field in fields))
        for name, place in places.items()
    )
    grids.append(Grid(say("Marks, from the hinge axis, mm"), columns, rows))
    lines.append(Line(say("Marks"), say("from the hinge axis; u and ± are standard uncertainties")))
    known = {"places", "states", "readings_mm", "reseat_mm", "reseat_record"}
    for name in type(marks).model_fields:
        if name not in known and not _nothing(getattr(marks, name)):
            title = say("Marks, {entry}", entry=_label(name)[0])
            lines.append(Line(title, _text(getattr(marks, name))))
    return grids, lines


def _in_line(grid: Grid) -> str:
    rows = joined("; ", [joined(" ", row) for row in grid.rows])
    return joined("", ("(", joined(" ", grid.columns[1:]), ") ", rows))


def _state(state: Any) -> str:
    record = "" if state.record is None else f" ({state.record})"
    note = f", {state.note}" if state.note else ""
    return joined("", (_text(state.kind), record, note))


def _readings(title: str, readings: Readings) -> Iterator[Grid]:
    values = [v for cell in readings.cells() for v in cell.values]
    decimals = figures.same_decimals(values, at_least=1)
    cells = {
        (pair, state): joined("/", [figure(v, f".{decimals}f") for v in readings.get(pair, state)]) or "–"
        for pair in readings.rows
        for state in readings.states
    }
    columns: list[str] = []
    used = 0
    part = 0
    for state in (*readings.states, None):
        width = 0
        if state is not None:
            width = 2 + max([len(state), *(len(cells[pair, state]) for pair in readings.rows)])
        if columns and (state is None or used + width > _CHARACTERS_A_ROW):
            part += 1
            rows = tuple((pair, *(cells[pair, s] for s in columns)) for pair in readings.rows)
            shown = say("{title}, continued", title=title) if part > 1 else title
            yield Grid(shown, (say("pair"), *columns), rows)
            columns, used = [], 0
        if state is not None:
            columns.append(state)
            used += width


def _limits(limits: Any, close: bool) -> str:
    """Every limit, those of the user first; ``close`` leaves the program's own to its version."""
    own: list[str] = []
    assumed: list[str] = []
    for name in type(limits).model_fields:
        limit = getattr(limits, name)
        unit = "" if not limit.unit else f" {limit.unit}"
        ends = joined("|", (figures.plain(limit.decent), figures.plain(limit.redo)))
        text = joined("", (_limit_name(name), " ", ends, unit))
        (assumed if limit == type(limits).model_fields[name].default else own).append(text)
    parts = [] if not own else [say("entered: {limits}", limits=joined("; ", own))]
    if close and assumed:
        assumed = [say("{count} of the program's own, of the version below", count=len(assumed))]
    told = [] if not assumed else [say("assumed: {limits}", limits=joined("; ", assumed))]
    return joined(". ", [*parts, *told])


#: Parts that are told in fewer words than their entries have, and in fewer still where space is short.
_IN_FEW_WORDS: dict[str, Callable[[Any, bool], str]] = {
    "limits": _limits,
    "procedure": procedure_text,
    "pours": pours_text,
}


def _limit_name(name: str) -> str:
    return term(" ".join(_WORDS.get(word, word) for word in name.split("_")))


def _nothing(value: object) -> bool:
    return value is None or (isinstance(value, str | tuple | Mapping) and len(value) == 0)


def _or_dash(value: object) -> str:
    return "–" if value is None else _text(value)


def _label(name: str) -> tuple[str, str]:
    """Split a field's name into words and unit."""
    if name in _WORDS:
        return term(_WORDS[name]), ""
    for ending, unit in _UNITS:
        if name.endswith(ending):
            stem = name[: -len(ending)]
            return term(_WORDS.get(stem, stem.replace("_", " "))), unit
    return term(name.replace("_", " ")), ""


def _column(name: str) -> str:
    return _label(name)[0]


def _entry(name: str, value: object) -> str:
    label, unit = _label(name)
    if isinstance(value, bool):
        return label if value else ""
    text = _text(value, unit)
    if name in _NAMELESS:
        return text
    nested = isinstance(value, BaseModel) and not isinstance(value, Measured | Readings)
    if nested or (isinstance(value, tuple) and _parts(value)):
        return joined("", (label, " (", text, ")"))
    return joined(" ", (label, text))


def _parts(value: tuple[Any, ...]) -> bool:
    return all(isinstance(item, BaseModel) for item in value)


def _text(value: object, unit: str = "") -> str:
    """Return any value of the model as one piece of text, with its unit."""
    after = "" if not unit else (unit if unit == "°" else f" {unit}")
    if isinstance(value, Measured):
        if value.u is None:
            return joined("", (figures.plain(value.value), after))
        return joined("", (figures.plain(value.value), " ± ", figures.plain(value.u), after))
    if isinstance(value, Readings):
        cells = ((c, joined("/", map(figures.plain, c.values))) for c in value.cells())
        return joined("; ", [joined(" ", (cell.pair, cell.state, read)) for cell, read in cells])
    if isinstance(value, BaseModel):
        parts = [
            say("{entry} no", entry=_label(name)[0]) if _is_no(value, name) else _entry(name, part)
            for name in type(value).model_fields
            if _is_no(value, name) or (not _nothing(part := getattr(value, name)) and _says_something(part))
        ]
        return joined(", ", [part for part in parts if part])
    if isinstance(value, Mapping):
        return joined("; ", [joined(": ", (key, _text(part))) for key, part in value.items()])
    if isinstance(value, tuple):
        return _sequence(value, after)
    if isinstance(value, Enum):
        return term(str(value.value))
    if isinstance(value, bool):
        return say("yes") if value else say("no")
    if isinstance(value, int | float):
        return joined("", (figures.plain(float(value)), after))
    if isinstance(value, dt.time):
        return value.isoformat("seconds" if value.second else "minutes")
    return str(value)


def _says_something(value: object) -> bool:
    """Say whether a part has any entry at all (an empty product sheet has none)."""
    if isinstance(value, BaseModel) and not isinstance(value, Measured | Readings):
        return any(
            _is_no(value, name) or (not _nothing(part := getattr(value, name)) and _says_something(part))
            for name in type(value).model_fields
        )
    return value is not False


def _is_no(part: BaseModel, name: str) -> bool:
    """Say whether somebody answered no where nothing at all could have been said."""
    return getattr(part, name) is False and type(part).model_fields[name].default is None


def _sequence(value: tuple[Any, ...], after: str) -> str:
    if all(isinstance(item, int | float) for item in value):
        return joined("", (joined(" ", [figures.entry(float(item)) for item in value]), after))
    if value == _IDENTITY:
        return say("identity")
    rows = [_text(item) for item in value]
    if all(isinstance(item, tuple) for item in value):
        return joined("", ("[", joined(" / ", rows), "]", after))
    return joined("", (joined("; ", rows), after))
