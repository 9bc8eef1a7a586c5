"""Names under which files of a case may be stored and written out again, on any system."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from mountproof.case.checks_scans import file_in
from mountproof.case.finding import dotted
from mountproof.case.model import Case
from mountproof.case.scan_names import named_files
from mountproof.case.store.faults import refuse
from mountproof.case.text_file import CASE_FILE
from mountproof.faults import Fault, FaultError
from mountproof.said import say

_MOST_LETTERS = 200
_REFUSED = re.compile(r'[\x00-\x1f\x7f\\:*?"<>|]')
#: Names that one system keeps for devices, with any ending.
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\..*)?", re.IGNORECASE)


def checked_name(name: str) -> str:
    """Return the name of a file of a case, folders parted by ``/``; FaultError ``store.file_name`` otherwise.

    Refused are names that lead out of the folder, that some system cannot write, and that of the case file.
    """
    parts = name.split("/")
    bad = (
        not name
        or len(name) > _MOST_LETTERS
        or _REFUSED.search(name)
        or any(part in ("", ".", "..") or part[-1] in ". " or _DEVICES.fullmatch(part) for part in parts)
        or parts[0].casefold() == CASE_FILE
        or not _is_text(name)
    )
    if bad:
        todo = say("Give the file a plain name of letters, digits, - and _, inside the case folder")
        refuse("store.file_name", say("a file cannot have this name"), todo, got=f'"{name}"')
    return name


def checked_names(files: Mapping[str, str]) -> dict[str, str]:
    """Return names and their SHA-256, sorted; FaultError where a name cannot be used beside the others."""
    seen: dict[str, str] = {}
    for name in sorted(files):
        checked_name(name)
        for part in (name, *(str(parent) for parent in Path(name).parents if str(parent) != ".")):
            is_file = part == name
            before = seen.setdefault(part.casefold() + ("" if is_file else "/"), part)
            other = seen.get(part.casefold() + ("/" if is_file else ""))
            if before != part or other is not None:
                todo = say("Give one of them another name")
                refuse(
                    "store.file_name",
                    say("two files have names that some systems take for one"),
                    todo,
                    got=name,
                )
    return {name: files[name] for name in sorted(files)}


def named_by(case: Case) -> tuple[str, ...]:
    """Return the names of the scan and tooth files of a case, those of records and further scans too, each once."""
    return tuple(dict.fromkeys(one.name for one in named_files(case)))


def plain_name(name: str) -> str:
    """Return the name under which a file written as ``name`` in a case is stored (``./a.stl`` is ``a.stl``)."""
    root = Path("/case")
    inside = file_in(root, name)
    if inside is None or inside == root.resolve():
        refuse(
            "store.file_name",
            say("this file lies outside the case folder"),
            say("Write only its name"),
            got=f'"{name}"',
        )
    return inside.relative_to(root.resolve()).as_posix()


def require_files(case: Case, files: Mapping[str, str]) -> None:
    """Raise FaultError with every scan that a case names and that is not among ``files``."""
    faults = []
    for path, name in named_files(case):
        if plain_name(name) not in files:
            what, todo = (
                say("there is no such file with this case"),
                say("Put the scan in first, then name it"),
            )
            faults.append(Fault("case.reference", what, todo, field=dotted(path), got=f'"{name}"'[:80]))
    if faults:
        raise FaultError(faults)


def _is_text(name: str) -> bool:
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True
