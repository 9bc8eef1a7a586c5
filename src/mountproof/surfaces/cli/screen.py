"""How answers and faults look in a terminal."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial

from rich.console import Console
from rich.table import Table
from rich.text import Text

from mountproof.answers import result
from mountproof.answers.words import BY_KEY, CAUTIONS
from mountproof.faults import Fault
from mountproof.said import capital, joined, render, say, term
from mountproof.said.catalogue import ENGLISH
from mountproof.surfaces.cli.tables import indented, lines_of, table_of
from mountproof.surfaces.wording import MARKS, interval_text, value_text, verdict_text

_BOLD, _DIM = "bold", "dim"
_PADDING = re.compile(r" +(?=(?:\x1b\[[\d;]*m)*$)")
_WIDEST = 110
_IN = 3
#: Says a text of the program in the language asked for.
Speak = Callable[[str], str]


def speaking(language: str) -> Speak:
    """Return what says a text of the program in a language."""
    return partial(render, to=language)


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


def show_faults(faults: Sequence[Fault], as_json: bool, language: str = ENGLISH) -> None:
    """Show every fault at once: what, where, what was got, what to do. JSON goes to standard output."""
    if as_json:
        fields = ("code", "where", "line", "field", "what", "got", "allowed", "todo")
        listed = [{name: getattr(fault, name) for name in fields} for fault in faults]
        sys.stdout.write(json.dumps({"faults": listed}, ensure_ascii=False, indent=2) + "\n")
        return
    if not faults:
        return
    speak = speaking(language)
    with page(errors=True) as console:
        for fault in faults:
            place = (
                say("{where}, line {line}", where=fault.where, line=fault.line) if fault.line else fault.where
            )
            head = " · ".join(speak(x) for x in (place, fault.field) if x)
            if head:
                console.print(Text(head, style=_BOLD))
            lines = [_stop(capital(fault.what))]
            if fault.got:
                lines.append(say("Got {got}.", got=fault.got))
            if fault.allowed:
                lines.append(say("Allowed: {allowed}.", allowed=fault.allowed))
            console.print(indented(Text(speak(joined(" ", lines))), 2))
            console.print(indented(Text(speak(say("To do: {todo}", todo=_stop(fault.todo)))), 2))


def _stop(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else joined("", (text, "."))


def show_sheet(sheet: result.Sheet, *, full: bool, where: str = "", language: str = ENGLISH) -> None:
    """Show a sheet: every question folded, or the asked questions in full. ``where`` says where the case is kept."""
    speak = speaking(language)
    with page() as console:
        console.print()
        head = Text(sheet.code, style=_BOLD)
        console.print(head.append(f"  {speak(where)}", style=_DIM) if where else head)
        for text in sheet.questions:
            console.print(lines_of([speak(text)], mark=speak(say("Look again:"))))
        for gate in sheet.gates:
            why = say("{gate}: {why}.", gate=gate.words, why=gate.why)
            console.print(lines_of([speak(why)], mark=speak(say("Gate open:"))))
        for answer in sheet.answers.values():
            console.print()
            _show_head(console, answer, speak, full=full)
            if full:
                _show_rest(console, answer, speak)
        if sheet.echoes:
            console.print()
            console.print(lines_of(map(speak, sheet.echoes), mark=speak(say("Read:")), style=_DIM))
        console.print()
        console.print(lines_of(map(speak, CAUTIONS[:1] if full else CAUTIONS), mark="!", style=_DIM))


def _room(speak: Speak) -> int:
    """Return the width of the longest verdict with its mark."""
    return max(len(f"{MARKS[v]} {speak(term(v.value))}") for v in result.Verdict)


def _show_head(console: Console, answer: result.Answer, speak: Speak, *, full: bool) -> None:
    grid = Table.grid(padding=(0, 2, 0, 0), expand=True)
    grid.add_column(width=1)
    grid.add_column(width=_room(speak))
    grid.add_column(ratio=1)
    grid.add_row(
        Text(f"{BY_KEY[answer.key].number}", style=_BOLD),
        Text(answer.key, style=_BOLD),
        Text(speak(answer.question), style=_DIM),
    )
    grid.add_row(
        "", Text(speak(verdict_text(answer)), style=_BOLD), Text(speak(answer.headline), style=_BOLD)
    )
    if not full:
        for told in answer.quantities[:1]:
            grid.add_row("", "", Text(speak(_in_short(told))))
        for need in answer.needs[:1]:
            following = say("Next: {reading} ({why}).", reading=need.reading, why=need.why)
            grid.add_row("", "", Text(speak(following)))
    console.print(grid)


def _in_short(told: result.Quantity) -> str:
    label, value, interval = capital(told.label), value_text(told), interval_text(told)
    if not interval:
        return say("{label}: {value}.", label=label, value=value)
    if told.assumed:
        return say(
            "{label}: {value} (95 %: {interval}, assumed).", label=label, value=value, interval=interval
        )
    return say("{label}: {value} (95 %: {interval}).", label=label, value=value, interval=interval)


def _show_rest(console: Console, answer: result.Answer, speak: Speak) -> None:
    if answer.quantities:
        rows = [(q.label, value_text(q), interval_text(q), _remark(q)) for q in answer.quantities]
        names = ("", say("value"), say("95 % interval"), "")
        shown = _spoken(names, rows, console.width - _IN, speak, words=(0, 3))
        console.print(indented(shown, _IN, above=1))
    for item in answer.tables:
        _show_table(console, item, speak)
    needs = [
        say("{reading}: {why} [{entry}]", reading=need.reading, why=need.why, entry=need.field)
        if need.field
        else joined(": ", (need.reading, need.why))
        for need in answer.needs
    ]
    assumed = [
        say("{what}: {value} ({source})", what=a.what, value=a.value, source=a.source)
        for a in answer.assumptions
    ]
    for title, lines in (
        (say("Why"), [reason.text for reason in answer.reasons]),
        (say("Measure next [and where it is entered]"), needs),
        (say("Assumed, not measured"), assumed),
        (say("Notes"), answer.notes),
        (say("Cautions"), answer.cautions),
        (say("Rests on"), answer.sources),
    ):
        if lines:
            console.print(indented(Text(speak(title), style=_BOLD), _IN, above=1))
            console.print(indented(lines_of(map(speak, lines)), _IN))
    if answer.digest:
        digest = speak(say("digest of what was read: {digest}", digest=answer.digest[:16]))
        console.print(indented(Text(digest, style=_DIM), _IN, above=1))


def _spoken(
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    width: int,
    speak: Speak,
    words: Sequence[int] | None = None,
) -> Table:
    return table_of([speak(name) for name in columns], [[*map(speak, row)] for row in rows], width, words)


def _remark(q: result.Quantity) -> str:
    return joined(", ", (x for x in (say("assumed") if q.assumed else "", q.note) if x))


def _show_table(console: Console, shown: result.Table, speak: Speak) -> None:
    console.print(indented(Text(speak(shown.title), style=_BOLD), _IN, above=1))
    console.print(indented(_spoken(shown.columns, shown.rows, console.width - _IN, speak), _IN))
    if shown.note:
        console.print(indented(Text(speak(shown.note), style=_DIM), _IN))
