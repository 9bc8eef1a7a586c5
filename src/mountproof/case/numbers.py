"""Numbers as people at a bench write them: a decimal comma, repeats, a plus-minus, a table of readings."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)$")
_PLUS_MINUS = re.compile(r"\s*(?:\+-|\+/-|±)\s*")
#: What stands in a table where nothing was read.
NOTHING = frozenset({"-", "–", "—", ".", "?", ""})


def number(text: str) -> float:
    """Read one number with a decimal point or a decimal comma.

    Raises ValueError, saying what to do, for thousands separators and for anything that is not one number.
    """
    text = text.strip().replace("−", "-")
    if not _NUMBER.match(text):
        if text.count(",") + text.count(".") > 1:
            raise ValueError(
                f"{text!r} has more than one separator: write 1234.5 or 1234,5, no thousands separator"
            )
        raise ValueError(f"{text!r} is not a number: write 38.05 or 38,05")
    return float(text.replace(",", "."))


def _number_in(value: Any) -> Any:
    if isinstance(value, str):
        return number(value)
    if isinstance(value, bool):
        raise ValueError("a number is needed here, not true or false")
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("the number is not finite")
    return value


#: A finite number; text with a decimal comma is read as such.
Number = Annotated[float, BeforeValidator(_number_in), Field(allow_inf_nan=False)]


class _Measured(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    value: Number
    u: Number | None = Field(
        default=None, gt=0, description="standard uncertainty, same unit; not given: assumed"
    )

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if isinstance(value, str):
            parts = _PLUS_MINUS.split(value)
            if len(parts) == 2:
                return {"value": number(parts[0]), "u": number(parts[1])}
            return {"value": number(value)}
        if isinstance(value, int | float) and not isinstance(value, bool):
            return {"value": value}
        return value


#: A number that may carry its standard uncertainty: ``110``, ``"110 +- 0.5"`` or ``{ value = 110, u = 0.5 }``.
Measured = _Measured


class Cell(NamedTuple):
    """The repeats read for one pair of marks in one state, in the order they were read."""

    pair: str
    state: str
    values: tuple[float, ...]


class Readings(BaseModel):
    """A table of readings: rows are pairs of marks, columns are states, a cell may hold repeats.

    In a file it is written as text, a row a line, the states in the first line, repeats joined by ``/``
    and nothing read as ``-``; decimal point or comma alike::

                A       B              G
        UR-LR   36.10   38.05/38.00    36.55
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    states: tuple[str, ...]
    rows: dict[str, tuple[tuple[Number, ...], ...]]

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: Any) -> Any:
        return parse_grid(value) if isinstance(value, str) else value

    @model_validator(mode="after")
    def _square(self) -> Readings:
        for pair, cells in self.rows.items():
            if len(cells) != len(self.states):
                raise ValueError(f"row {pair} has {len(cells)} cells for {len(self.states)} states")
        return self

    def cells(self) -> tuple[Cell, ...]:
        """Every cell with at least one reading, row by row."""
        return tuple(
            Cell(pair, state, values)
            for pair, row in self.rows.items()
            for state, values in zip(self.states, row, strict=True)
            if values
        )

    def get(self, pair: str, state: str) -> tuple[float, ...]:
        """The repeats of one cell; empty where nothing was read."""
        row = self.rows.get(pair)
        return row[self.states.index(state)] if row is not None and state in self.states else ()


class GridError(ValueError):
    """Everything wrong with a table of readings, as (line of the table, counted from 1, text)."""

    def __init__(self, faults: list[tuple[int, str]]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f"table line {line}: {text}" for line, text in faults))


def parse_grid(text: str) -> dict[str, Any]:
    """Read the text form of a table of readings; raises GridError with every fault at once."""
    faults: list[tuple[int, str]] = []
    states: tuple[str, ...] = ()
    rows: dict[str, tuple[tuple[float, ...], ...]] = {}
    for line_number, raw in enumerate(text.splitlines(), start=1):
        words = raw.split("#", 1)[0].split()
        if not words:
            continue
        if not states:
            states = tuple(words[1:] if words[0].lower() in {"pair", "pairs", "marks"} else words)
            if len(set(states)) != len(states):
                faults.append((line_number, "a state stands twice in the first line"))
            continue
        pair, cells = words[0], words[1:]
        if pair in rows:
            faults.append((line_number, f"the pair {pair} stands twice"))
        if len(cells) != len(states):
            faults.append(
                (
                    line_number,
                    f"{len(cells)} readings for {len(states)} states; write - where nothing was read",
                )
            )
            continue
        row: list[tuple[float, ...]] = []
        for state, cell in zip(states, cells, strict=True):
            values: list[float] = []
            for piece in [] if cell in NOTHING else cell.split("/"):
                try:
                    values.append(number(piece))
                except ValueError as error:
                    faults.append((line_number, f"{pair} in state {state}: {error}"))
            row.append(tuple(values))
        rows[pair] = tuple(row)
    if not states:
        faults.append((1, "the table is empty: the first line names the states"))
    if faults:
        raise GridError(faults)
    return {"states": states, "rows": rows}
