"""Change one cell in the text of a table of readings; every other character stays as it was typed."""

from __future__ import annotations

from collections.abc import Sequence

from mountproof.case.dump import cell_text
from mountproof.case.grid_edit import cell_style, with_word


def edit_cell(text: str, pair: str, state: str, values: Sequence[float]) -> str | None:
    """Return the table with other repeats in one cell; None where the table has no such cell.

    The decimals and the decimal comma of the cell are kept (those of the table where the cell was empty), and
    the columns stay in line where there is room.
    """
    return with_word(text, pair, state, cell_text(tuple(values), *cell_style(text, pair, state)))
