"""Reading a case from its folder: everything that is wrong at once, each with its line and the next step."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Any

from mountproof.case.echoes import echoes, needs_echo, row_of
from mountproof.case.finding import Finding, dotted
from mountproof.case.lines import Places, locate
from mountproof.case.model import Case
from mountproof.case.survey import survey
from mountproof.case.syntax import parse
from mountproof.case.text_file import CASE_FILE as CASE_FILE
from mountproof.case.text_file import SAVE
from mountproof.case.text_file import case_file as case_file
from mountproof.case.text_file import read_text as read_text
from mountproof.faults import Fault, FaultError
from mountproof.said import cut, say

#: More faults than this help nobody; the rest shows after these are put right.
MOST_FAULTS = 100


def load_case(path: str | FilePath) -> Case:
    """Read a case from its folder or its case.toml; the file is only read, never changed.

    Raises FaultError with every fault found in it: its line, the entry, what was got, what is allowed, what to
    do next. How two-way entries were read stands in ``case.echoes``.
    """
    file = case_file(path)
    text = read_text(file)
    return parse_case(text, file.name, file.parent)


def parse_case(text: str, where: str = CASE_FILE, folder: FilePath | None = None) -> Case:
    """Read a case from the text of its file. ``where`` names the text in faults; scan files are looked for in
    ``folder``, where one is given. Raises FaultError with every fault.
    """
    text = text.replace("\r\n", "\n")
    parsed = parse(text)
    case, findings = survey(parsed, folder)
    if case is None or findings or parsed.slips:
        places = locate(text)
        faults = [
            _written(
                "case.syntax", slip.what, slip.todo, where, slip.line, _entry_on(slip.line, places), slip.got
            )
            for slip in parsed.slips
        ]
        faults += [_fault(finding, parsed.values, places, where) for finding in findings]
        faults = list(dict.fromkeys(faults)) or [
            _written("case.wrong_type", say("the file cannot be read"), SAVE, where)
        ]
        raise FaultError(sorted(faults, key=lambda fault: fault.line or 0)[:MOST_FAULTS])
    case._folder = folder
    if needs_echo(text):
        case._echoes = echoes(parsed.values, case, locate(text))
    return case


def _entry_on(line: int | None, places: Places) -> str:
    """Return the entry that a line holds, where it holds one."""
    here = sorted((path for path, at in places.lines.items() if at == line), key=len)
    found = here[0] if here else ()
    while len(inner := [path for path in here if len(path) == len(found) + 1 and path[:-1] == found]) == 1:
        found = inner[0]
    return dotted(found)


def _fault(finding: Finding, doc: dict[str, Any], places: Places, where: str) -> Fault:
    """Give a finding its line."""
    path = finding.path
    line = places.line(path)
    table = path[:2]
    if table in places.texts and table in (("marks", "readings_mm"), ("marks", "reseat_mm")):
        raw = doc.get("marks", {}).get(table[1])
        row = finding.row or (row_of(raw, path[2:]) if isinstance(raw, str) else None)
        line = places.texts[table] + row - 1 if row else line
    return _written(
        finding.code, finding.what, finding.todo, where, line, dotted(path), finding.got, finding.allowed
    )


def _written(
    code: str,
    what: str,
    todo: str,
    where: str,
    line: int | None = None,
    field: str = "",
    got: str = "",
    allowed: str = "",
) -> Fault:
    """Return a fault whose texts are short enough to be read, whatever stood in the file."""
    return Fault(
        code,
        cut(what, 300),
        cut(todo, 300),
        where,
        line,
        cut(field, 120),
        cut(got, 80),
        cut(allowed, 300),
    )
