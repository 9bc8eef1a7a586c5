"""Change entries of the text of a case file, several in one go; remarks and layout of everything else stay."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from mountproof.case.assign import assigned, holds, place_of
from mountproof.case.dump import dump
from mountproof.case.files import parse_case
from mountproof.case.finding import dotted
from mountproof.case.lines import Path, locate
from mountproof.case.names import APPEND, parse_field, shown_field
from mountproof.case.survey import survey
from mountproof.case.syntax import Parsed
from mountproof.case.table_edits import changed_table, is_table
from mountproof.case.typed import as_typed
from mountproof.faults import Fault, FaultError
from mountproof.said import say

#: Names of entries and their values, in the order in which they are changed.
Edits = Mapping[str, Any] | Iterable[tuple[str, Any]]


def edited_text(text: str, edits: Edits) -> str:
    """Return the text of a case file with some entries changed; the case is not checked, read the text for that.

    Entries are named as faults name them (``bench.powder_g``, ``foils.2.held``); what is around one is made where it
    is not there. ``foils.+`` is a new item at the end of a list, ``marks.readings_mm.PAIR.STATE`` a cell of a table, whose
    row and column are added where they are not there, ``marks.readings_mm.PAIR`` a row and
    ``marks.readings_mm.*.STATE`` a column. Values are as JSON or TOML has them; text is kept as typed
    (``mountproof.case.typed``); None takes an entry out. FaultError where an entry cannot be named so or a value
    not be written; where the layout does not let an entry be changed in place, the text is written anew, and
    FaultError raised where the case would not fit together then.
    """
    doc = _loaded(text)
    new: str | None = text
    for field, value in in_order(edits):
        try:
            doc, new = _changed(doc, new, parse_field(field), value)
            if new is not None:
                new.encode()
        except (RecursionError, UnicodeEncodeError) as error:
            what, todo = say("this is no value that a case file can hold"), say("Type it again")
            raise FaultError([Fault("case.wrong_type", what, todo, field=field[:120])]) from error
    return new if new is not None else _written_anew(doc)


def in_order(edits: Edits) -> tuple[tuple[str, Any], ...]:
    """Return edits as names and values in their order."""
    return tuple(edits.items() if isinstance(edits, Mapping) else edits)


def is_new_item(field: str) -> bool:
    """Tell whether a name of an entry is that of a new item of a list; FaultError where it is no name."""
    return parse_field(field)[-1] == APPEND


def _loaded(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        parse_case(text)  # says what is wrong with the text
        raise


def _changed(
    doc: dict[str, Any], text: str | None, field: Path, value: Any
) -> tuple[dict[str, Any], str | None]:
    """Return the document and its text with one entry changed; no text where it cannot be changed in place."""
    if is_table(field):
        return _table_changed(doc, text, field, value)
    if value is None and APPEND in field:
        what, todo = (
            say("a new item needs a value"),
            say("Give its entries, or name the item that is to be taken out"),
        )
        raise FaultError([Fault("case.wrong_type", what, todo, field=shown_field(field)[:120])])
    place = place_of(doc, field)
    return assigned(text, doc, place, as_typed(place, value))


def _table_changed(
    doc: dict[str, Any], text: str | None, field: Path, value: Any
) -> tuple[dict[str, Any], str | None]:
    """Change a table of readings; the other lines of the file are not touched."""
    path = field[:2]
    marks = doc.get("marks")
    raw = marks.get(str(field[1])) if isinstance(marks, dict) else None
    new = changed_table(raw, field, value)
    if text is not None and isinstance(raw, str) and isinstance(new, str):
        after = {**doc, "marks": {**doc["marks"], path[1]: new}}
        lines = _line_by_line(text, path, raw, new)
        if lines is not None and holds(lines, after):
            return after, lines
    return assigned(text, doc, path, new)


def _line_by_line(text: str, path: Path, old: str, new: str) -> str | None:
    """Put the changed lines of a text over several lines into the file, which holds it as it stands."""
    first = locate(text).texts.get(path)
    if first is None:
        return None
    lines, before, after = text.split("\n"), old.split("\n"), new.split("\n")
    head = 0
    while head < min(len(before), len(after)) and before[head] == after[head]:
        head += 1
    tail = 0
    while tail < min(len(before), len(after)) - head and before[-1 - tail] == after[-1 - tail]:
        tail += 1
    gone, come = before[head : len(before) - tail], after[head : len(after) - tail]
    at = first - 1 + head
    if lines[at : at + len(gone)] != gone:
        return None
    return "\n".join([*lines[:at], *come, *lines[at + len(gone) :]])


def _written_anew(doc: dict[str, Any]) -> str:
    """Return the text of a file for values that cannot be put into the text there is."""
    case, findings = survey(Parsed(doc, (), frozenset()), None)
    if case is None:
        raise FaultError(
            [Fault(f.code, f.what, f.todo, "", None, dotted(f.path), f.got, f.allowed) for f in findings]
        )
    return dump(case)
