"""How answers and faults look in a terminal."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from rich.console import Console
from rich.table import Table
from rich.text import Text

from mountproof.answers import result
from mountproof.answers.words import BY_KEY, CAUTIONS
from mountproof.faults import Fault
from mountproof.surfaces.cli.tables import indented, lines_of, table_of
from mountproof.surfaces.wording import MARKS, interval_text, value_text, verdict_text

_BOLD, _DIM = "bold", "dim"
_PADDING = re.compile(r" +(?=(?:\x1b\[[\d;]*m)*$)")
_WIDEST = 110
_IN = 3
#: Room for the longest verdict with its mark.
_LEFT = max(len(f"{MARKS[v]} {v.value}") for v in result.Verdict)


@contextmanager
def page(*, errors: bool = False) -> Iterator[Console]:
    """Collect what is shown and write it in one go, so that a closed pipe breaks at one place."""
    stream = sys.stderr if errors else sys.stdout
    console = Console(file=stream, highlight=False, markup=False, emoji=False)
    if console.width > _WIDEST:
        console = Console(file=stream, highlight=False, markup=False, emoji=False, width=_WIDEST)
    with console.capture() as shown:
        yield console
    # Columns are padded to their width; the padding at a line's end, before the styles end, is nobody's.
    stream.write("".join(f"{_PADDING.sub('', line)}\n" for line in shown.get().splitlines()))
    stream.flush()


def show_faults(faults: Sequence[Fault], as_json: bool) -> None:
    """Show every fault at once: what, where, what was got, what to do. JSON goes to standard output."""
    if as_json:
        fields = ("code", "where", "line", "field", "what", "got", "allowed", "todo")
        listed = [{name: getattr(fault, name) for name in fields} for fault in faults]
        sys.stdout.write(json.dumps({"faults": listed}, ensure_ascii=False, indent=2) + "\n")
        return
    if not faults:
        return
    with page(errors=True) as console:
        for fault in faults:
            place = fault.where + (f", line {fault.line}" if fault.line else "")
            head = " · ".join(x for x in (place, fault.field) if x)
            if head:
                console.print(Text(head, style=_BOLD))
            got = f" Got {fault.got}." if fault.got else ""
            allowed = f" Allowed: {fault.allowed}." if fault.allowed else ""
            what = fault.what[:1].upper() + fault.what[1:]
            console.print(indented(Text(f"{_stop(what)}{got}{allowed}"), 2))
            console.print(indented(Text(f"To do: {_stop(fault.todo)}"), 2))


def _stop(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def show_sheet(sheet: result.Sheet, *, full: bool, where: str = "") -> None:
    """Show a sheet: every question folded, or the asked questions in full. ``where`` says where the case is kept."""
    with page() as console:
        console.print()
        head = Text(sheet.code, style=_BOLD)
        console.print(head.append(f"  {where}", style=_DIM) if where else head)
        for text in sheet.questions:
            console.print(lines_of([text], mark="Look again:"))
        for gate in sheet.gates:
            console.print(lines_of([f"{gate.words}: {gate.why}."], mark="Gate open:"))
        for answer in sheet.answers.values():
            console.print()
            _show_head(console, answer, full=full)
            if full:
                _show_rest(console, answer)
        if sheet.echoes:
            console.print()
            console.print(lines_of(sheet.echoes, mark="Read:", style=_DIM))
        console.print()
        console.print(lines_of(CAUTIONS[:1] if full else CAUTIONS, mark="!", style=_DIM))


def _show_head(console: Console, answer: result.Answer, *, full: bool) -> None:
    grid = Table.grid(padding=(0, 2, 0, 0), expand=True)
    grid.add_column(width=1)
    grid.add_column(width=_LEFT)
    grid.add_column(ratio=1)
    grid.add_row(
        Text(f"{BY_KEY[answer.key].number}", style=_BOLD),
        Text(answer.key, style=_BOLD),
        Text(answer.question, style=_DIM),
    )
    grid.add_row("", Text(verdict_text(answer), style=_BOLD), Text(answer.headline, style=_BOLD))
    if not full:
        for told in answer.quantities[:1]:
            grid.add_row("", "", Text(_in_short(told)))
        for need in answer.needs[:1]:
            grid.add_row("", "", Text(f"Next: {need.reading} ({need.why})."))
    console.print(grid)


def _in_short(told: result.Quantity) -> str:
    interval = interval_text(told)
    label = told.label[:1].upper() + told.label[1:]
    tail = ", assumed" if told.assumed else ""
    return f"{label}: {value_text(told)}" + (f" (95 %: {interval}{tail})." if interval else ".")


def _show_rest(console: Console, answer: result.Answer) -> None:
    if answer.quantities:
        rows = [(q.label, value_text(q), interval_text(q), _remark(q)) for q in answer.quantities]
        shown = table_of(("", "value", "95 % interval", ""), rows, console.width - _IN, words=(0, 3))
        console.print(indented(shown, _IN, above=1))
    for item in answer.tables:
        _show_table(console, item)
    needs = [
        f"{need.reading}: {need.why}" + (f" [{need.field}]" if need.field else "") for need in answer.needs
    ]
    for title, lines in (
        ("Why", [reason.text for reason in answer.reasons]),
        ("Measure next [and where it is entered]", needs),
        ("Assumed, not measured", [f"{a.what}: {a.value} ({a.source})" for a in answer.assumptions]),
        ("Notes", answer.notes),
        ("Cautions", answer.cautions),
        ("Rests on", answer.sources),
    ):
        if lines:
            console.print(indented(Text(title, style=_BOLD), _IN, above=1))
            console.print(indented(lines_of(lines), _IN))
    if answer.digest:
        console.print(
            indented(Text(f"digest of what was read: {answer.digest[:16]}", style=_DIM), _IN, above=1)
        )


def _remark(q: result.Quantity) -> str:
    return ", ".join(x for x in ("assumed" if q.assumed else "", q.note) if x)


def _show_table(console: Console, shown: result.Table) -> None:
    console.print(indented(Text(shown.title, style=_BOLD), _IN, above=1))
    console.print(indented(table_of(shown.columns, shown.rows, console.width - _IN), _IN))
    if shown.note:
        console.print(indented(Text(shown.note, style=_DIM), _IN))
