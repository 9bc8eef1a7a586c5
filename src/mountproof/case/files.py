"""Reading a case from its folder: everything that is wrong at once, each with its line and the next step."""

from __future__ import annotations

import codecs
import stat
from collections.abc import Iterable
from pathlib import Path as FilePath
from typing import Any, NoReturn

from pydantic import ValidationError

from mountproof.case.checks import case_findings
from mountproof.case.echoes import echoes, needs_echo, row_of
from mountproof.case.finding import Finding, dotted
from mountproof.case.lines import Path, Places, locate
from mountproof.case.model import SCHEMA_VERSION, Case
from mountproof.case.syntax import TOO_DEEP, Parsed, parse
from mountproof.faults import Fault, FaultError

#: Name of the file in a case folder.
CASE_FILE = "case.toml"
#: A case file is text typed by a person; a larger one is something else.
LARGEST_BYTES = 2_000_000
#: More faults than this help nobody; the rest shows after these are put right.
MOST_FAULTS = 100
_ROUNDS = 4


def case_file(path: str | FilePath) -> FilePath:
    """Return the case file that ``path`` means: the file itself, or ``case.toml`` in a folder."""
    path = FilePath(path)
    return path / CASE_FILE if path.is_dir() else path


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
    case, findings = _checked(parsed, folder)
    if case is None or findings or parsed.slips:
        places = locate(text)
        faults = [
            Fault("case.syntax", slip.what, slip.todo, where, slip.line, "", slip.got)
            for slip in parsed.slips
        ]
        faults += [_fault(finding, parsed.values, places, where) for finding in findings]
        faults = list(dict.fromkeys(faults)) or [
            Fault("case.wrong_type", "the file cannot be read", _SAVE, where)
        ]
        raise FaultError(sorted(faults, key=lambda fault: fault.line or 0)[:MOST_FAULTS])
    case._folder = folder
    if needs_echo(text):
        case._echoes = echoes(parsed.values, case, locate(text))
    return case


def read_text(file: FilePath) -> str:
    """Return the text of a case file; FaultError where there is none, or it is not plain text."""
    try:
        status = file.stat()
        if stat.S_ISDIR(status.st_mode):
            _refuse("case.missing", f"the folder holds no {CASE_FILE}", _NEW, str(file))
        if not stat.S_ISREG(status.st_mode):
            _refuse("case.not_text", "this is no file", "Name a case folder or its case.toml", str(file))
        if status.st_size > LARGEST_BYTES:
            _too_large(file, status.st_size)
        with file.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        known = file.parent.is_dir() and file.name == CASE_FILE
        what = f"the folder holds no {CASE_FILE}" if known else "there is no such file or folder"
        _refuse("case.missing", what, _NEW, str(file))
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else None
        _refuse(
            "case.missing", f"the file cannot be read ({why or 'its name is no file name'})", _NAME, str(file)
        )
    if len(data) > LARGEST_BYTES:
        _too_large(file, len(data))
    return _decoded(data, file)


_NEW = "Put the name right, or begin a case with: mountproof new FOLDER"
_NAME = "Check the name, and whether you may read it"
_SAVE = "Open it in a text editor and save it as plain text, encoding UTF-8"


def _decoded(data: bytes, file: FilePath) -> str:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        _refuse("case.not_text", "the file is saved as UTF-16", _SAVE, file.name)
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        _refuse("case.not_text", "the file holds bytes that are no text", _SAVE, file.name, line)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = "a character is not saved as UTF-8"
        _refuse("case.not_text", what, _SAVE, file.name, line, f"byte {data[error.start]:#04x}")


def _too_large(file: FilePath, size: int) -> NoReturn:
    _refuse(
        "case.too_large",
        "this is too large for a case file",
        "Name the case.toml that a person typed; scans stand beside it as files",
        file.name,
        None,
        f"{size / 1e6:.1f} MB",
        f"at most {LARGEST_BYTES / 1e6:.0f} MB",
    )


def _refuse(
    code: str, what: str, todo: str, where: str, line: int | None = None, got: str = "", allowed: str = ""
) -> NoReturn:
    raise FaultError([Fault(code, what, todo, where, line, "", got, allowed)])


def _checked(parsed: Parsed, folder: FilePath | None) -> tuple[Case | None, list[Finding]]:
    """Return the case, None where it cannot be made, and everything wrong with its entries.

    What cannot be read is left out and the rest is read again, so that parts that do not fit together are found
    in the same run; what may only follow from something left out is not reported.
    """
    if parsed.slips and not parsed.values:
        return None, []
    try:
        case = Case.model_validate(parsed.values)
    except ValidationError as error:
        return None, _all_findings(parsed, folder, error)
    except RecursionError:
        return None, [Finding("case.syntax", (), TOO_DEEP.what, TOO_DEEP.todo)]
    found = list(case_findings(case, folder))
    return case, [one for one in found if not parsed.slips or not _may_follow(one.path, one, parsed.left_out)]


def _all_findings(parsed: Parsed, folder: FilePath | None, error: ValidationError) -> list[Finding]:
    """Return everything wrong with a document that is no case, reading again what is left of it."""
    from mountproof.case.salvage import Rest, without
    from mountproof.case.wording import findings as in_words
    from mountproof.case.wording import version_finding

    version = parsed.values.get("schema_version")
    if isinstance(version, int) and version > SCHEMA_VERSION:
        return [version_finding(version)]
    found: list[Finding] = []
    rest = Rest(parsed.values, frozenset(), {})
    out, lacking = set(parsed.left_out), set[Path]()
    for _ in range(_ROUNDS):
        for one in error.errors(include_url=False):
            path = rest.original(one["loc"])
            entry = tuple(part for part in path if part != "[key]")
            slipped = any(slip[: len(entry)] == entry for slip in parsed.left_out)
            follows = slipped or (rest.left_out and rest.touches(entry))
            if not follows:
                found += in_words({**one, "loc": path}, parsed.values)
            if one["type"] == "missing":
                lacking.add(entry)
            else:
                out.add(_standing(parsed.values, entry))
        rest = without(parsed.values, out, lacking)
        if "code" not in rest.doc:
            rest = rest._replace(doc={**rest.doc, "code": "-"})
        try:
            case = Case.model_validate(rest.doc)
        except ValidationError as next_error:
            error = next_error
            continue
        for one_more in case_findings(case, folder):
            path = rest.original(one_more.path)
            if not rest.touches(path) and not _may_follow(path, one_more, rest.left_out | parsed.left_out):
                found.append(one_more._replace(path=path))
        break
    return found


def _standing(doc: Any, path: Path) -> Path:
    """Return the part of ``path`` that stands in the document."""
    for depth, part in enumerate(path):
        inside = isinstance(doc, dict) and part in doc
        inside = inside or (isinstance(doc, list) and isinstance(part, int) and part < len(doc))
        if not inside:
            return path[:depth]
        doc = doc[part]
    return path


#: Parts that others refer to by name or by number, and how deep a path must be to leave the names standing.
_REFERRED: tuple[Path, ...] = (("marks", "places"), ("marks", "states"), ("records",), ("scans",))


def _may_follow(path: Path, finding: Finding, left_out: Iterable[Path]) -> bool:
    """Tell whether a finding may only be there because something it refers to was left out."""
    for out in left_out:
        if out[: len(path) - 1] == path[:-1]:
            return True
        if finding.code != "case.reference":
            continue
        for part in _REFERRED:
            depth = len(part) + 1
            if out == part[: len(out)] or (out[: len(part)] == part and len(out) <= depth):
                return True
    return False


def _fault(finding: Finding, doc: dict[str, Any], places: Places, where: str) -> Fault:
    """Give a finding its line."""
    path = finding.path
    line = places.line(path)
    table = path[:2]
    if table in places.texts and table in (("marks", "readings_mm"), ("marks", "reseat_mm")):
        raw = doc.get("marks", {}).get(table[1])
        row = finding.row or (row_of(raw, path[2:]) if isinstance(raw, str) else None)
        line = places.texts[table] + row - 1 if row else line
    return Fault(
        finding.code, finding.what, finding.todo, where, line, dotted(path), finding.got, finding.allowed
    )
