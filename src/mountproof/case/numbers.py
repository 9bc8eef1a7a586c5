"""Number types of a case: a finite number, a number with its uncertainty, a table of readings."""

import math
import re
from typing import Annotated, Any, NamedTuple

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from mountproof.case.decimals import number as number
from mountproof.case.grid import NOTHING as NOTHING
from mountproof.case.grid import Cell as Cell
from mountproof.case.grid import GridError as GridError
from mountproof.case.grid import parse_grid as parse_grid
from mountproof.case.unreadable import Unreadable
from mountproof.said import say

_PLUS_MINUS = re.compile(r"\s*(?:\+-|\+/-|±)\s*")
#: Whole numbers beyond this are no readings, and far beyond it they are no floats either.
_HUGE = 10**15


def _number_in(value: Any) -> Any:
    if isinstance(value, str):
        return number(value)
    if isinstance(value, bool):
        raise Unreadable(say("a number is needed here, not true or false"))
    if isinstance(value, int) and abs(value) > _HUGE:
        raise Unreadable(say("the number is too large"))
    if isinstance(value, float) and not math.isfinite(value):
        raise Unreadable(say("the number is not finite"))
    return value


#: A finite number; text with a decimal comma is read as such.
Number = Annotated[float, BeforeValidator(_number_in), Field(allow_inf_nan=False)]


class _Measured(BaseModel):
    """A number that may carry its standard uncertainty."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    value: Number = Field(description="what was measured", examples=[110])
    u: Number | None = Field(
        default=None, gt=0, description="standard uncertainty, same unit; not given: assumed", examples=[0.5]
    )

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: Any) -> Any:
        if isinstance(value, str):
            parts = _PLUS_MINUS.split(value, maxsplit=1)
            if len(parts) == 2:
                return {"value": number(parts[0]), "u": number(parts[1])}
            return {"value": number(value)}
        if isinstance(value, int | float):
            return {"value": _number_in(value)}
        return value


#: A number that may carry its standard uncertainty: ``110``, ``"110 +- 0.5"`` or ``{ value = 110, u = 0.5 }``.
Measured = _Measured


class Between(NamedTuple):
    """The range that a measured value must lie in, ends included."""

    low: float
    high: float

    def _check(self, measured: _Measured) -> _Measured:
        if not self.low <= measured.value <= self.high:
            raise PydanticCustomError(
                "between", "out of range", {"ge": self.low, "le": self.high, "value": measured.value}
            )
        return measured

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        """Let pydantic check the range after the value was read."""
        return AfterValidator(self._check).__get_pydantic_core_schema__(source, handler)


class Readings(BaseModel):
    """A table of readings: rows are pairs of marks, columns are states, a cell may hold repeats.

    In a file it is written as text, a row a line, the states in the first line, repeats joined by ``/``
    and nothing read as ``-``; decimal point or comma alike::

                A       B              G
        UR-LR   36.10   38.05/38.00    36.55
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    states: tuple[str, ...] = Field(description="the columns, in order", examples=[["A", "B"]])
    rows: dict[str, tuple[tuple[Number, ...], ...]] = Field(
        description="for each pair one list of repeats a state; an empty list where nothing was read",
        examples=[{"UR-LR": [[36.1], [38.05, 38.0]]}],
    )

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: Any) -> Any:
        return parse_grid(value) if isinstance(value, str) else value

    @model_validator(mode="after")
    def _square(self) -> "Readings":
        if len(set(self.states)) != len(self.states):
            raise Unreadable(say("a state stands twice"))
        for pair, cells in self.rows.items():
            if len(cells) != len(self.states):
                raise Unreadable(
                    say(
                        "row {pair} has {cells} cells for {states} states",
                        pair=pair,
                        cells=len(cells),
                        states=len(self.states),
                    )
                )
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
