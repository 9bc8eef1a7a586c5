"""Writing a case: whole, or some entries of its file, with remarks and layout kept."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Any

from mountproof.case.atomic import replace_file
from mountproof.case.checks import case_findings
from mountproof.case.dump import dump
from mountproof.case.edits import Edits, edited_text
from mountproof.case.files import CASE_FILE, case_file, parse_case
from mountproof.case.finding import dotted
from mountproof.case.model import Case
from mountproof.case.text_file import bytes_like, decoded, read_data
from mountproof.faults import Fault, FaultError


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
    replace_file(file, bytes_like(text, before), before)
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
    """Change one entry of a case file; the rest as ``set_values``."""
    return set_values(path, [(dotted_field, value)])


def set_values(path: str | FilePath, edits: Edits) -> tuple[Fault, ...]:
    """Change entries of a case file together; remarks and layout stay, and the old text is kept in ``earlier``.

    ``edits`` are names of entries, as faults name them, and their values, as ``mountproof.case.edits.edited_text`` takes
    them; None takes an entry out. The case is checked with all of them.
    Returns the faults that are left where one of several was mended, else nothing. FaultError where the case
    would have a fault that it did not have before; the file is not changed then.
    """
    file = case_file(path)
    before = read_data(file)
    text = decoded(before, file).replace("\r\n", "\n")
    new = edited_text(text, edits)
    left: tuple[Fault, ...] = ()
    try:
        parse_case(new, file.name, file.parent)
    except FaultError as error:
        _refuse_new_faults(error, text, file)
        left = error.faults
    replace_file(file, bytes_like(new, before), before)
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
