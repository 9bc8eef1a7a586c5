"""How the list of cases and a changed entry look in a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from mountproof.case.store import FieldChange, Listed
from mountproof.surfaces.cli.screen import page
from mountproof.surfaces.cli.tables import indented, lines_of, table_of

_BOLD, _DIM = "bold", "dim"
_COLUMNS = ("no.", "code", "laboratory", "state", "changed", "by", "revision")
_WORDS = (1, 2, 3, 4, 5)


def show_cases(cases: Sequence[Listed], *, more: bool, searched: bool) -> None:
    """Show a list of cases, one a line, times as the clock of this computer shows them."""
    with page() as console:
        if not cases:
            text = "No case fits." if searched else "There is no case yet."
            console.print(text)
            if not searched:
                console.print("Bring one in with: mountproof bring-in FOLDER")
            return
        rows = [
            (
                str(one.case_id),
                one.code,
                one.lab,
                str(one.state),
                f"{one.changed.astimezone():%Y-%m-%d %H:%M}",
                one.who,
                str(one.number),
            )
            for one in cases
        ]
        console.print(table_of(_COLUMNS, rows, console.width, words=_WORDS))
        if more:
            console.print(Text(f"These are the first {len(cases)}; --most shows more.", style=_DIM))


def show_changes(
    case: Listed, changes: Sequence[FieldChange], *, read: Sequence[str], out_of_date: Sequence[str]
) -> None:
    """Show what a revision changed, how it was read, and what has to be looked at again."""
    with page() as console:
        where = f"case {case.case_id}, revision {case.number} by {case.who}"
        console.print(Text(case.code, style=_BOLD).append(f"  {where}", style=_DIM))
        if not changes:
            console.print(indented(Text("Nothing changed: this stood there already."), 2))
        for one in changes:
            console.print(indented(Text(f"{one.field}: {_shown(one.old)} → {_shown(one.new)}"), 2))
        if read:
            console.print(lines_of(read, mark="Read:", style=_DIM))
        if out_of_date:
            console.print(lines_of([", ".join(out_of_date)], mark="Accepted, now out of date:"))


def _shown(text: str | None) -> str:
    return "nothing" if text is None else " ".join(text.split())
