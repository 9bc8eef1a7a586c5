"""Change the text of a table of readings: a cell, a row, a column; every other character stays as it was typed."""

from __future__ import annotations

from mountproof.case.grid import NOTHING, Word, header, words


def with_word(text: str, pair: str, state: str, word: str) -> str | None:
    """Return the table with another word in one cell; None where it has no such cell."""
    rows = list(words(text))
    if not rows:
        return None
    states = [one.text for one in header(rows[0])]
    row = next((row for row in rows[1:] if row[0].text == pair), None)
    if row is None or state not in states or len(row) != len(states) + 1:
        return None
    old = row[1 + states.index(state)]
    lines = text.split("\n")
    lines[old.line - 1] = _placed(lines[old.line - 1], old, word)
    return "\n".join(lines)


def with_row(text: str, pair: str) -> str:
    """Return the table with a row more, below the others, in which nothing was read."""
    rows = list(words(text))
    lines = text.split("\n")
    new = pair
    for state in header(rows[0]):
        new = f"{new:<{max(state.start, len(new) + 2)}}-"
    lines.insert(rows[-1][0].line, new)
    return "\n".join(lines)


def without_row(text: str, pair: str) -> str:
    """Return the table without a row, and without the remark behind it."""
    lines = text.split("\n")
    for row in list(words(text))[1:]:
        if row[0].text == pair:
            del lines[row[0].line - 1]
    return "\n".join(lines)


def with_column(text: str, state: str) -> str:
    """Return the table with a column more, behind the others, in which nothing was read."""
    rows = list(words(text))
    lines = text.split("\n")
    start = max(row[-1].end for row in rows) + 2
    for number, row in enumerate(rows):
        at, end = row[0].line - 1, row[-1].end
        rest = lines[at][end:].strip()
        new = f"{lines[at][:end]:<{start}}{'-' if number else state}"
        lines[at] = f"{new}  {rest}" if rest else new
    return "\n".join(lines)


def without_column(text: str, state: str) -> str:
    """Return the table without a column."""
    rows = list(words(text))
    lines = text.split("\n")
    column = [one.text for one in header(rows[0])].index(state) - len(header(rows[0]))
    for row in rows:
        at, word = row[0].line - 1, row[column]
        if column == -1:
            before = row[-2].end if len(row) > 1 else 0
            lines[at] = lines[at][:before] + lines[at][word.end :]
        else:
            lines[at] = lines[at][: word.start] + lines[at][row[column + 1].start :]
    return "\n".join(lines)


def cell_style(text: str, pair: str, state: str) -> tuple[int, bool]:
    """Return how many decimals numbers have in a cell, and whether with a comma; of the table where it is empty."""
    rows = list(words(text))
    states = [one.text for one in header(rows[0])] if rows else []
    row = next((row for row in rows[1:] if row[0].text == pair and len(row) == len(states) + 1), None)
    old = row[1 + states.index(state)] if row is not None and state in states else None
    known = old is not None and old.text not in NOTHING
    style = [old] if old is not None and known else [word for row in rows[1:] for word in row[1:]]
    return _decimals(style), _comma(style)


def _placed(line: str, old: Word, new: str) -> str:
    """Put ``new`` in the place of ``old``, taking from or adding to the spaces behind it."""
    rest = line[old.end :]
    room = len(rest) - len(rest.lstrip(" "))
    grown = len(new) - len(old.text)
    if rest.strip():
        rest = " " * max(1, room - grown) + rest.lstrip(" ")
    return line[: old.start] + new + rest


def _decimals(style: list[Word]) -> int:
    counts = [
        len(piece) - 1 - max(piece.rfind("."), piece.rfind(","))
        for word in style
        for piece in word.text.split("/")
        if "." in piece.strip(".") or "," in piece
    ]
    return min(max(counts, default=2), 6)


def _comma(style: list[Word]) -> bool:
    return sum("," in word.text for word in style) > sum("." in word.text.strip(".") for word in style)
