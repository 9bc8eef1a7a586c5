"""Change one cell in the text of a table of readings; every other character stays as it was typed."""

from __future__ import annotations

from collections.abc import Sequence

from mountproof.case.dump import cell_text
from mountproof.case.grid import NOTHING, Word, header, words


def edit_cell(text: str, pair: str, state: str, values: Sequence[float]) -> str | None:
    """Return the table with other repeats in one cell; None where the table has no such cell.

    The decimals and the decimal comma of the cell are kept (those of the table where the cell was empty), and
    the columns stay in line where there is room.
    """
    rows = list(words(text))
    if not rows:
        return None
    states = [word.text for word in header(rows[0])]
    row = next((row for row in rows[1:] if row[0].text == pair), None)
    if row is None or state not in states or len(row) != len(states) + 1:
        return None
    old = row[1 + states.index(state)]
    style = [old] if old.text not in NOTHING else [word for r in rows[1:] for word in r[1:]]
    new = cell_text(tuple(values), _decimals(style), _comma(style))
    lines = text.split("\n")
    lines[old.line - 1] = _placed(lines[old.line - 1], old, new)
    return "\n".join(lines)


def _placed(line: str, old: Word, new: str) -> str:
    """Put ``new`` in the place of ``old``, taking from or adding to the spaces behind it."""
    rest = line[old.end :]
    room = len(rest) - len(rest.lstrip(" "))
    grown = len(new) - len(old.text)
    if rest.strip():
        rest = " " * max(1, room - grown) + rest.lstrip(" ")
    return line[: old.start] + new + rest


def _decimals(style: Sequence[Word]) -> int:
    counts = [
        len(piece) - 1 - max(piece.rfind("."), piece.rfind(","))
        for word in style
        for piece in word.text.split("/")
        if "." in piece.strip(".") or "," in piece
    ]
    return min(max(counts, default=2), 6)


def _comma(style: Sequence[Word]) -> bool:
    return sum("," in word.text for word in style) > sum("." in word.text.strip(".") for word in style)
