"""The text form of a table of readings: a row a pair of marks, a column a state, repeats joined by ``/``."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from mountproof.case.decimals import decimal
from mountproof.case.unreadable import Unreadable
from mountproof.said import joined, say

#: What stands in a table where nothing was read.
NOTHING = frozenset({"-", "–", "—", ".", "?", ""})
#: First words of the first line that name the column of pairs, not a state.
CORNER = frozenset({"pair", "pairs", "marks"})
_WORD = re.compile(r"\S+")


class Cell(NamedTuple):
    """The repeats read for one pair of marks in one state, in the order they were read."""

    pair: str
    state: str
    values: tuple[float, ...]


class GridError(ValueError):
    """Everything wrong with a table of readings, as (line of the table, counted from 1, text)."""

    def __init__(self, faults: list[tuple[int, str]]) -> None:
        self.faults = tuple(faults)
        super().__init__(
            joined("; ", (say("table line {line}: {text}", line=line, text=text) for line, text in faults))
        )


class Word(NamedTuple):
    """One word of the table's text and where it stands: line from 1, first and last-but-one character."""

    line: int
    start: int
    end: int
    text: str


def words(text: str) -> Iterator[list[Word]]:
    """Yield the words of each line that is not empty; what stands behind ``#`` is a remark."""
    for line, raw in enumerate(text.split("\n"), start=1):
        found = [Word(line, m.start(), m.end(), m.group()) for m in _WORD.finditer(raw.split("#", 1)[0])]
        if found:
            yield found


def header(first: list[Word]) -> list[Word]:
    """Return the words of the first line that name states."""
    return first[1:] if first[0].text.lower() in CORNER else first


def _is_number(text: str) -> bool:
    try:
        decimal(text.split("/")[0])
    except ValueError:
        return False
    return True


def _forgotten(first: list[Word]) -> bool:
    """Tell whether the first line holds readings: one name, then only numbers."""
    named = first[0].text.lower() in CORNER or _is_number(first[0].text)
    return not named and len(first) > 1 and all(_is_number(word.text) for word in first[1:])


def parse_grid(text: str) -> dict[str, Any]:
    """Read the text form of a table of readings; raises GridError with every fault at once."""
    faults: list[tuple[int, str]] = []
    states: tuple[str, ...] = ()
    rows: dict[str, tuple[tuple[float, ...], ...]] = {}
    for line in words(text):
        if not states:
            states = tuple(word.text for word in header(line))
            if not states:
                faults.append((line[0].line, say("the first line names no states")))
                break
            if _forgotten(line):
                faults.append((line[0].line, say("the first line must name the states, not hold readings")))
                break
            if len(set(states)) != len(states):
                faults.append((line[0].line, say("a state stands twice in the first line")))
            continue
        _read_row(line, states, rows, faults)
    if not states and not faults:
        faults.append((1, say("the table is empty: the first line names the states")))
    if faults:
        raise GridError(faults)
    return {"states": states, "rows": rows}


def _read_row(
    line: list[Word],
    states: tuple[str, ...],
    rows: dict[str, tuple[tuple[float, ...], ...]],
    faults: list[tuple[int, str]],
) -> None:
    """Read one row into ``rows``; what is wrong with it goes to ``faults``."""
    number, pair, cells = line[0].line, line[0].text, [word.text for word in line[1:]]
    if pair in rows:
        faults.append((number, say("the pair {pair} stands twice", pair=pair)))
    if len(cells) != len(states):
        faults.append(
            (
                number,
                say(
                    "{readings} readings for {states} states; write - where nothing was read",
                    readings=len(cells),
                    states=len(states),
                ),
            )
        )
        return
    row: list[tuple[float, ...]] = []
    for state, cell in zip(states, cells, strict=True):
        values: list[float] = []
        for piece in [] if cell in NOTHING else cell.split("/"):
            try:
                values.append(decimal(piece))
            except Unreadable as error:
                faults.append(
                    (
                        number,
                        say("{pair} in state {state}: {what}", pair=pair, state=state, what=error.sentence),
                    )
                )
        row.append(tuple(values))
    rows[pair] = tuple(row)
