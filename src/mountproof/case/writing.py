"""Writing a case: whole, or one entry of its file, with remarks and layout kept."""

from __future__ import annotations

import codecs
import tomllib
from pathlib import Path as FilePath
from typing import Any

from mountproof.case.atomic import replace_file
from mountproof.case.cells import edit_cell
from mountproof.case.checks import case_findings
from mountproof.case.dump import dump
from mountproof.case.files import CASE_FILE, case_file, parse_case
from mountproof.case.finding import dotted
from mountproof.case.lines import Path, Places, locate
from mountproof.case.model import Case
from mountproof.case.text_file import decoded, read_data
from mountproof.faults import Fault, FaultError

_TABLES = ("readings_mm", "reseat_mm")


def save_case(case: Case, path: str | FilePath) -> FilePath:
    """Write a case to its folder (or to a file ending in .toml) and return the file.

    Where there is a file already, remarks and layout stay with every entry that is still there; what stood in it
    is kept in the folder ``earlier``. FaultError where the case does not fit together or cannot be written;
    nothing is changed then.
    """
    findings = list(case_findings(case))
    if findings:
        raise FaultError(
            [Fault(f.code, f.what, f.todo, "", None, dotted(f.path), f.got, f.allowed) for f in findings]
        )
    path = FilePath(path)
    file = path if path.suffix == ".toml" and not path.is_dir() else path / CASE_FILE
    if not file.exists():
        replace_file(file, dump(case).encode(), None)
        return file
    before = file.read_bytes()
    text = _merged(before, case) or dump(case)
    replace_file(file, _bytes_like(text, before), before)
    return file


def _merged(before: bytes, case: Case) -> str | None:
    """Return the old text with the entries of ``case``; None where the old text is no case."""
    from mountproof.case.merge import merge

    try:
        old_text = before.decode("utf-8-sig").replace("\r\n", "\n")
        old = parse_case(old_text)
    except (UnicodeDecodeError, FaultError):
        return None
    if old == case:
        return old_text
    text = merge(old_text, old, case)
    return text if text is not None and _reads_as(text, case) else None


def _reads_as(text: str, case: Case) -> bool:
    try:
        return parse_case(text) == case
    except FaultError:
        return False


def set_value(path: str | FilePath, dotted_field: str, value: Any) -> tuple[Fault, ...]:
    """Change one entry of a case file; remarks and layout stay, and the old text is kept in ``earlier``.

    ``dotted_field`` is the entry as faults name it: ``instrument.pin.ahead_mm``, ``foils.2.held`` (items count
    from 1), ``records."record 1".kind``, ``marks.readings_mm.UR-LR.B`` (a cell). ``value`` is a number, text, true
    or false, a date, a list, or a dict; for a cell a number or a list of repeats; None takes the entry out.
    Returns the faults that are left where one of several was mended, else nothing. FaultError where the case
    would have a fault that it did not have before; the file is not changed then.
    """
    file = case_file(path)
    before = read_data(file)
    text = decoded(before, file).replace("\r\n", "\n")
    new = _edited(text, parse_field(dotted_field), value)
    left: tuple[Fault, ...] = ()
    try:
        parse_case(new, file.name, file.parent)
    except FaultError as error:
        _refuse_new_faults(error, text, file)
        left = error.faults
    replace_file(file, _bytes_like(new, before), before)
    return left


def _refuse_new_faults(error: FaultError, old_text: str, file: FilePath) -> None:
    """Raise ``error`` unless the old text had all these faults and more: mending one of several is allowed."""
    try:
        parse_case(old_text, file.name, file.parent)
    except FaultError as old:
        known = {(fault.code, fault.field) for fault in old.faults}
        if len(error.faults) < len(old.faults) and all((f.code, f.field) in known for f in error.faults):
            return
    raise error


def parse_field(dotted_field: str) -> Path:
    """Read the name of an entry as faults write it; FaultError where it is none."""
    try:
        doc = tomllib.loads(f"{dotted_field} = 0")
    except (tomllib.TOMLDecodeError, RecursionError):
        doc = {}
    found: list[str | int] = []
    here: Any = doc
    while isinstance(here, dict) and len(here) == 1 and "\n" not in dotted_field:
        ((name, here),) = here.items()
        found.append(name)
    if here != 0 or not found:
        todo = 'Write it as it stands in a fault, such as instrument.pin.ahead_mm or records."record 1".kind'
        raise FaultError(
            [Fault("case.unknown_field", "this is no name of an entry", todo, field=dotted_field[:80])]
        )
    return tuple(found)


def _edited(text: str, field: Path, value: Any) -> str:
    """Return the text with one entry changed, and nothing else."""
    try:
        doc = tomllib.loads(text)
    except (ValueError, RecursionError):
        parse_case(text)  # says what is wrong with the text
        raise
    if len(field) == 4 and field[0] == "marks" and field[1] in _TABLES:
        return _cell(text, doc, field, value)
    from mountproof.case.merge import assign, indexed

    place = indexed(doc, field)
    return assign(text, doc, place, value)


def _cell(text: str, doc: dict[str, Any], field: Path, value: Any) -> str:
    """Change one cell of a table in its text; the other lines of the file are not touched."""
    table, pair, state = str(field[1]), str(field[2]), str(field[3])
    raw = doc.get("marks", {}).get(table)
    values = () if value is None else tuple(value) if isinstance(value, list | tuple) else (value,)
    if not all(isinstance(v, int | float) and not isinstance(v, bool) for v in values):
        what, todo = "a reading is a number, or a list of repeats", "Give numbers"
        raise FaultError([Fault("case.wrong_type", what, todo, field=dotted(field))])
    new = edit_cell(raw, pair, state, [float(v) for v in values]) if isinstance(raw, str) else None
    if new is None:
        what = "the table has no such cell, or is not written as text"
        todo = "Add the pair and the state to the table first"
        raise FaultError([Fault("case.reference", what, todo, field=dotted(field))])
    changed = _line_by_line(text, locate(text), ("marks", table), str(raw), new)
    expected = {**doc, "marks": {**doc["marks"], table: new}}
    if changed is not None and tomllib.loads(changed) == expected:
        return changed
    from mountproof.case.merge import assign

    return assign(text, doc, ("marks", table), new)


def _line_by_line(text: str, places: Places, path: Path, old: str, new: str) -> str | None:
    """Put the changed line of a text over several lines into the file, which holds it as it stands."""
    first = places.texts.get(path)
    if first is None:
        return None
    lines = text.split("\n")
    for offset, (was, becomes) in enumerate(zip(old.split("\n"), new.split("\n"), strict=True)):
        at = first - 1 + offset
        if was != becomes:
            if lines[at].count(was) != 1:
                return None
            lines[at] = lines[at].replace(was, becomes)
    return "\n".join(lines)


def _bytes_like(text: str, before: bytes) -> bytes:
    """Encode with the line ends and the byte mark of the file as it was."""
    ends = "\r\n" if before.count(b"\r\n") * 2 > before.count(b"\n") else "\n"
    mark = codecs.BOM_UTF8 if before.startswith(codecs.BOM_UTF8) else b""
    return mark + text.replace("\n", ends).encode()
