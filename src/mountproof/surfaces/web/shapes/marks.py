"""The tables of marks as a form shows them: every cell as typed, with what is asked about it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from mountproof.answers.result import Reason
from mountproof.case.dump import cell_text
from mountproof.case.finding import dotted
from mountproof.case.grid import NOTHING, header
from mountproof.case.grid import words as grid_words
from mountproof.case.model import Case, Readings
from mountproof.said import term
from mountproof.surfaces.web.tongue import words
from mountproof.surfaces.web.wire import CellOut, MarkGridOut, MarkRowOut, MarkStateOut

Table = Literal["readings_mm", "reseat_mm"]


def grids_out(
    case: Case, entered: dict[str, Any], asked: Sequence[Reason], language: str
) -> list[MarkGridOut]:
    """Return the tables of marks there are; ``asked`` are the reasons that question a reading."""
    if case.marks is None:
        return []
    by_field = {reason.field: reason for reason in asked}
    tables: list[tuple[Table, Readings | None]] = [
        ("readings_mm", case.marks.readings_mm),
        ("reseat_mm", case.marks.reseat_mm),
    ]
    found = []
    for name, readings in tables:
        if readings is None:
            continue
        typed = _typed(entered.get("marks", {}).get(name))
        states = list(readings.states)
        if name == "readings_mm":
            # A state that was named and has no column yet is a column to fill in.
            states += [state for state in case.marks.states if state not in states]
        rows = [_row(name, pair, states, readings, typed, by_field, language) for pair in readings.rows]
        found.append(
            MarkGridOut(
                table=name,
                states=[_state(case, state, language) for state in states],
                rows=rows,
            )
        )
    return found


def _row(
    table: Table,
    pair: str,
    states: Sequence[str],
    readings: Readings,
    typed: dict[tuple[str, str], str],
    asked: dict[str, Reason],
    language: str,
) -> MarkRowOut:
    cells = []
    for state in states:
        repeats = readings.get(pair, state)
        field = dotted(("marks", table, pair, state))
        reason = asked.get(field)
        plain = cell_text(repeats) if repeats else ""
        cells.append(
            CellOut(
                field=field,
                shown=typed.get((pair, state), plain),
                repeats=list(repeats),
                asked=words(reason.text, language) if reason else "",
                suggestion=reason.suggestion if reason else "",
            )
        )
    return MarkRowOut(pair=pair, field=dotted(("marks", table, pair)), cells=cells)


def _state(case: Case, name: str, language: str) -> MarkStateOut:
    state = case.marks.states.get(name) if case.marks is not None else None
    return MarkStateOut(
        name=name,
        kind=state.kind.value if state else "",
        kind_words=words(term(state.kind.value), language) if state else "",
        record=state.record if state else None,
        note=state.note if state else "",
    )


def _typed(raw: Any) -> dict[tuple[str, str], str]:
    """Return the cells of a table as they were typed; nothing for a table that is written as lists."""
    if not isinstance(raw, str):
        return {}
    lines = list(grid_words(raw))
    if not lines:
        return {}
    states = [word.text for word in header(lines[0])]
    return {
        (line[0].text, state): "" if word.text in NOTHING else word.text
        for line in lines[1:]
        for state, word in zip(states, line[1:], strict=False)
    }
