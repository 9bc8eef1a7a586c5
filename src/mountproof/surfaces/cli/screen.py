"""How answers look in a terminal."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from mountproof.answers import result
from mountproof.answers.words import BY_KEY, CAUTIONS
from mountproof.faults import Fault
from mountproof.surfaces.wording import interval_text, value_text, verdict_text

_BOLD, _DIM = "bold", "dim"
_WIDEST = 110


def _console() -> Console:
    console = Console(highlight=False, soft_wrap=False)
    if console.width > _WIDEST:
        console = Console(highlight=False, width=_WIDEST)
    return console


def show_faults(faults: Iterable[Fault], as_json: bool) -> None:
    """Show every fault at once: what, where, what was got, what to do."""
    if as_json:
        fields = ("code", "where", "line", "field", "what", "got", "allowed", "todo")
        listed = [{name: getattr(fault, name) for name in fields} for fault in faults]
        sys.stdout.write(json.dumps({"faults": listed}, ensure_ascii=False, indent=2) + "\n")
        return
    console = Console(stderr=True, highlight=False)
    for fault in faults:
        place = fault.where + (f", line {fault.line}" if fault.line else "")
        console.print(Text(" · ".join(x for x in (place, fault.field) if x) or fault.code, style=_BOLD))
        got = f"  Got {fault.got}." if fault.got else ""
        allowed = f"  Allowed: {fault.allowed}." if fault.allowed else ""
        console.print(Padding(Text(f"{fault.what}.{got}{allowed}\n{fault.todo}."), (0, 0, 0, 2)))


def show_sheet(sheet: result.Sheet, *, full: bool) -> None:
    """Show a sheet: a line a question, or the asked questions in full."""
    console = _console()
    console.print()
    console.print(Text(sheet.code, style=_BOLD))
    for text in sheet.questions:
        console.print(Text(f"Look again: {text}"))
    for answer in sheet.answers.values():
        console.print()
        _show_head(console, answer)
        if full:
            _show_rest(console, answer)
    if sheet.echoes:
        console.print()
        for echo in sheet.echoes:
            console.print(Text(f"Read as: {echo}", style=_DIM))
    console.print()
    for caution in CAUTIONS if not full else CAUTIONS[:1]:
        console.print(Padding(Text(f"! {caution}", style=_DIM), (0, 0, 0, 0)))


def _show_head(console: Console, answer: result.Answer) -> None:
    grid = Table.grid(padding=(0, 1), expand=True)
    grid.add_column(width=2)
    grid.add_column(ratio=1)
    grid.add_column(width=17, justify="left")
    grid.add_row(
        Text(f"{BY_KEY[answer.key].number}", style=_BOLD),
        Text(answer.question, style=_DIM),
        Text(verdict_text(answer), style=_BOLD),
    )
    grid.add_row("", Text(answer.headline, style=_BOLD), "")
    for need in answer.needs[:1]:
        grid.add_row("", Text(f"next: {need.reading} ({need.why})"), "")
    console.print(grid)


def _show_rest(console: Console, answer: result.Answer) -> None:
    if answer.quantities:
        table = Table(box=None, padding=(0, 2, 0, 0), show_header=True, header_style=_DIM)
        for name in ("", "value", "95 % interval", ""):
            table.add_column(name)
        for q in answer.quantities:
            table.add_row(q.label, value_text(q), interval_text(q), "assumed" if q.assumed else q.note)
        console.print(Padding(table, (1, 0, 0, 3)))
    for shown in answer.tables:
        _show_table(console, shown)
    _show_list(console, "Why", [reason.text for reason in answer.reasons])
    _show_list(console, "Measure next", [f"{need.reading}: {need.why}" for need in answer.needs])
    _show_list(console, "Assumed", [f"{a.what}: {a.value} ({a.source})" for a in answer.assumptions])
    _show_list(console, "Notes", answer.notes)
    _show_list(console, "Cautions", answer.cautions)
    _show_list(console, "Rests on", answer.sources)
    console.print(Padding(Text(f"inputs {answer.digest[:16]}", style=_DIM), (1, 0, 0, 3)))


def _show_table(console: Console, shown: result.Table) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0), header_style=_DIM, title=None)
    for column in shown.columns:
        table.add_column(column, justify="left" if column == shown.columns[0] else "right")
    for row in shown.rows:
        table.add_row(*row)
    console.print(Padding(Text(shown.title, style=_BOLD), (1, 0, 0, 3)))
    console.print(Padding(table, (0, 0, 0, 3)))
    if shown.note:
        console.print(Padding(Text(shown.note, style=_DIM), (0, 0, 0, 3)))


def _show_list(console: Console, title: str, lines: Iterable[str]) -> None:
    lines = list(lines)
    if not lines:
        return
    console.print(Padding(Text(title, style=_BOLD), (1, 0, 0, 3)))
    for line in lines:
        grid = Table.grid(padding=(0, 1))
        grid.add_column(width=1)
        grid.add_column(ratio=1)
        grid.add_row("-", Text(line))
        console.print(Padding(grid, (0, 0, 0, 3)))
