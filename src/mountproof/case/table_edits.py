"""Change a table of readings as a form does: cells of rows and columns that may not be there yet, rows and columns out.

A table stands in the file as text, or as lists where a name cannot stand in text; both are changed in place.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any, NamedTuple

from pydantic import ValidationError

from mountproof.case import grid_edit
from mountproof.case.decimals import decimal
from mountproof.case.dump import number_text, table
from mountproof.case.grid import NOTHING, GridError, parse_grid
from mountproof.case.lines import Path
from mountproof.case.names import EVERY, shown_field
from mountproof.case.numbers import Readings
from mountproof.case.unreadable import Unreadable
from mountproof.faults import Fault, FaultError
from mountproof.said import cut, say

#: Tables of readings under [marks].
TABLES = ("readings_mm", "reseat_mm")

#: One repeat: a number, or a number as it was typed.
Piece = float | str


class Step(NamedTuple):
    """One change of a table: ``row``, ``column`` or ``cell``; ``pieces`` None takes a row or column out."""

    what: str
    pair: str
    state: str
    pieces: tuple[Piece, ...] | None = ()


class _Rows(NamedTuple):
    """A table as its states and, for each pair, one list of repeats a state."""

    states: tuple[str, ...]
    rows: dict[str, tuple[tuple[Any, ...], ...]]


def is_table(path: Path) -> bool:
    """Tell whether a path names a row, a column or a cell of a table of readings."""
    return len(path) in (3, 4) and path[0] == "marks" and path[1] in TABLES


def changed_table(raw: Any, path: Path, value: Any) -> str | dict[str, Any] | None:
    """Return a table, as it stands in the document, with what is named by ``path`` set to ``value``.

    A cell: a number, text such as ``38,05/38,00``, a list of repeats, None or ``-`` where nothing was read; rows and
    columns that are not there are added at the end. A row or a column (``*`` stands for every pair): None takes
    it out, a dict gives its cells, ``{}`` adds it empty. None where no column is left. FaultError for a value that is
    no reading, and for a table that cannot be read.
    """
    before = _rows_of(raw, path)
    shown = raw
    for step in _steps(before, path, value):
        after = _stepped(before, step)
        shown = _stepped_text(shown, step, after) if isinstance(shown, str) else None
        if shown is None:
            shown = _written(after)
            if isinstance(shown, str) and step.what == "cell":
                shown = _stepped_text(shown, step, after) or shown
        before = after
    return shown if before.states else None


def _steps(before: _Rows, path: Path, value: Any) -> Iterator[Step]:
    pair, state = str(path[2]), str(path[3]) if len(path) == 4 else ""
    if pair == EVERY and not state:
        raise FaultError(
            [_fault(path, say("every row of which column is not said"), say("Name the column, too"))]
        )
    if pair != EVERY and state:
        there = pair in before.rows and state in before.states
        pieces = _pieces(path, value)
        if there or value is not None:
            yield from _added(before, pair, state)
            yield Step("cell", pair, state, pieces)
        return
    if value is None:
        known = state in before.states if state else pair in before.rows
        if known:
            yield Step("column" if state else "row", pair, state, None)
        return
    if value == "":
        value = {}
    if not isinstance(value, dict):
        what = say("a row or a column is given as its cells, by name")
        raise FaultError([_fault(path, what, say("Change one cell: its pair, a dot, its state"))])
    yield from _added(before, "" if state else pair, state)
    names = {*before.states} if pair != EVERY else {*before.rows}
    for name, cell in value.items():
        row, column = (pair, str(name)) if pair != EVERY else (str(name), state)
        if str(name) not in names:
            yield from _added(before, "" if pair != EVERY else row, "" if pair == EVERY else column)
            names.add(str(name))
        yield Step("cell", row, column, _pieces((*path[:2], row, column), cell))


def _added(before: _Rows, pair: str, state: str) -> Iterator[Step]:
    """Yield the steps that add a row and a column where they are not there."""
    if state and state not in before.states:
        yield Step("column", "", state)
    if pair and pair not in before.rows:
        yield Step("row", pair, "")


def _stepped(before: _Rows, step: Step) -> _Rows:
    states, rows = before.states, before.rows
    if step.what == "row":
        if step.pieces is None:
            return _Rows(states, {pair: cells for pair, cells in rows.items() if pair != step.pair})
        return _Rows(states, {**rows, step.pair: ((),) * len(states)})
    if step.what == "column":
        if step.pieces is not None:
            return _Rows((*states, step.state), {pair: (*cells, ()) for pair, cells in rows.items()})
        at = states.index(step.state)
        left = {pair: cells[:at] + cells[at + 1 :] for pair, cells in rows.items()}
        return _Rows(states[:at] + states[at + 1 :], left)
    at = states.index(step.state)
    cells = rows[step.pair]
    return _Rows(states, {**rows, step.pair: (*cells[:at], step.pieces or (), *cells[at + 1 :])})


def _stepped_text(text: str, step: Step, after: _Rows) -> str | None:
    """Return the text with one step; None where the text cannot hold what comes out."""
    if not after.states:
        return ""
    if not text.strip():
        return None  # a row was given before the first column: there is no text to change yet
    new: str | None
    if step.what == "row":
        add = step.pieces is not None
        new = grid_edit.with_row(text, step.pair) if add else grid_edit.without_row(text, step.pair)
    elif step.what == "column":
        add = step.pieces is not None
        new = grid_edit.with_column(text, step.state) if add else grid_edit.without_column(text, step.state)
    else:
        decimals, comma = grid_edit.cell_style(text, step.pair, step.state)
        words = [_word(piece, decimals, comma) for piece in step.pieces or ()]
        new = grid_edit.with_word(text, step.pair, step.state, "/".join(words) or "-")
    return new if new is not None and _reads_as(new, after) else None


def _word(piece: Piece, decimals: int, comma: bool) -> str:
    if isinstance(piece, str):
        return piece
    text = number_text(piece, decimals)
    return text.replace(".", ",") if comma else text


def _reads_as(text: str, rows: _Rows) -> bool:
    try:
        found = parse_grid(text)
    except GridError:
        return False
    return (found["states"], list(found["rows"].items())) == (rows.states, list(_numbers(rows).items()))


def _numbers(rows: _Rows) -> dict[str, tuple[tuple[float, ...], ...]]:
    return {
        pair: tuple(tuple(decimal(p) if isinstance(p, str) else float(p) for p in cell) for cell in cells)
        for pair, cells in rows.rows.items()
    }


def _written(rows: _Rows) -> str | dict[str, Any]:
    """Return a table anew: as text where its names can stand in text, else as lists."""
    if not rows.states:
        return ""
    text = table(Readings.model_construct(states=rows.states, rows=_numbers(rows)))
    read = tomllib.loads(f"x = {text}")["x"]
    if isinstance(read, str) and _reads_as(read, rows):
        return read
    return {
        "states": list(rows.states),
        "rows": {pair: [list(cell) for cell in cells] for pair, cells in rows.rows.items()},
    }


def _rows_of(raw: Any, path: Path) -> _Rows:
    """Read a table of the document; FaultError where it is none."""
    if raw is None:
        return _Rows((), {})
    try:
        if isinstance(raw, str):
            found = parse_grid(raw)
            return _Rows(found["states"], found["rows"])
        Readings.model_validate(raw)
        rows = {str(pair): tuple(tuple(cell) for cell in cells) for pair, cells in raw["rows"].items()}
        return _Rows(tuple(raw["states"]), rows)
    except (GridError, ValidationError) as error:
        why = error.faults[0][1] if isinstance(error, GridError) else str(error).splitlines()[0]
        what = say("the table cannot be read: {why}", why=why)
        raise FaultError([_fault(path[:2], what, say("Put the table right first"))]) from error


def _pieces(path: Path, value: Any) -> tuple[Piece, ...]:
    """Return the repeats of a cell; FaultError for what is none."""
    if value is None or (isinstance(value, str) and value.strip() in NOTHING):
        return ()
    given = (
        value.split("/") if isinstance(value, str) else value if isinstance(value, list | tuple) else [value]
    )
    found: list[Piece] = []
    for one in given:
        try:
            if isinstance(one, str):
                decimal(one)
                found.append(one.strip().replace("−", "-"))
            elif isinstance(one, bool) or not isinstance(one, int | float):
                raise Unreadable(say("a reading is a number, or a list of repeats"))
            else:
                found.append(decimal(repr(float(one))))
        except (ValueError, OverflowError) as error:
            todo = say(
                "Write it such as 38.05 or 38,05, repeats as 38.05/38.00, and - where nothing was read"
            )
            what = error.sentence if isinstance(error, Unreadable) else say("the number is too large")
            raise FaultError([_fault(path, what, todo, str(one))]) from error
    return tuple(found)


def _fault(path: Path, what: str, todo: str, got: str = "") -> Fault:
    return Fault("case.wrong_type", cut(what, 300), todo, field=shown_field(path)[:120], got=got[:80])
