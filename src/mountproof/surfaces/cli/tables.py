"""Tables, lists and indents of a terminal page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

_DIM = "dim"
_GAP = 2


def indented(shown: RenderableType, left: int, *, above: int = 0) -> Padding:
    """Return something moved right by ``left`` columns, with ``above`` empty lines over it."""
    return Padding(shown, (above, 0, 0, left))


def lines_of(lines: Iterable[str], *, mark: str = "-", style: str = "") -> Table:
    """Return a list, each line behind its mark and hanging under itself."""
    grid = Table.grid(padding=(0, 1, 0, 0))
    grid.add_column(width=len(mark), no_wrap=True)
    grid.add_column()
    for line in lines:
        grid.add_row(Text(mark, style=style), Text(line, style=style))
    return grid


def table_of(
    columns: Sequence[str], rows: Sequence[Sequence[str]], width: int, words: Sequence[int] | None = None
) -> Table:
    """Return a table at most ``width`` columns wide; ``words`` are the columns of words, told by the cells if None.

    Numbers never break and are set flush right; words wrap. Where the numbers alone are too wide, every row becomes
    a short list of its own, so that no digit is cut off.
    """
    texts = [
        at in words if words is not None else not _is_numeric([row[at] for row in rows])
        for at in range(len(columns))
    ]
    widths = _widths(columns, rows, texts, width)
    if sum(widths) + _GAP * (len(columns) - 1) > width:
        return _as_lists(columns, rows)
    table = Table(box=None, padding=(0, _GAP, 0, 0), header_style=_DIM, pad_edge=False)
    for name, text, wide in zip(columns, texts, widths, strict=True):
        table.add_column(name, justify="left" if text else "right", width=wide)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


def _widths(
    columns: Sequence[str], rows: Sequence[Sequence[str]], texts: Sequence[bool], width: int
) -> list[int]:
    """Return the width of every column: all it wants, less what the widest can give; never less than its words."""
    least, wanted = [], []
    for at, (name, text) in enumerate(zip(columns, texts, strict=True)):
        cells = [row[at] for row in rows]
        pieces = [*name.split(), *(word for cell in cells for word in (cell.split() if text else [cell]))]
        least.append(max((cell_len(piece) for piece in pieces), default=0))
        wanted.append(max(cell_len(cell) for cell in (name, *cells)))
    while sum(wanted) + _GAP * (len(columns) - 1) > width:
        can_give = [at for at in range(len(columns)) if wanted[at] > least[at]]
        if not can_give:
            break
        wanted[max(can_give, key=lambda at: wanted[at])] -= 1
    return wanted


def _as_lists(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    grid = Table.grid(padding=(0, _GAP, 0, 0))
    for row in rows:
        grid.add_row(Text(row[0]), "")
        for name, cell in zip(columns[1:], row[1:], strict=True):
            if cell:
                grid.add_row(Text(f"  {name}", style=_DIM), Text(cell))
    return grid


def _is_numeric(cells: Sequence[str]) -> bool:
    """Tell whether a column holds numbers: half of its cells or more begin like one."""
    filled = [cell for cell in cells if cell not in ("", "-")]
    numbers = [cell for cell in filled if cell[0] in "0123456789+-−.<"]
    return bool(filled) and 2 * len(numbers) >= len(filled)
