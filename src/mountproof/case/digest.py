"""What an answer read of a case, as bytes and as one number: the same on every machine.

Canonical form: JSON in ASCII without spaces; fields of a part sorted by name; floats as the shortest text that
reads back to the same float; enumerations, dates and times as text. Where names are the user's own (marks,
states, rows of a table, records) the entries stand as a list of [name, entry] in the order of the file, because
the last digits of a sum may depend on that order.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from enum import Enum
from pathlib import Path as FilePath
from typing import Any

from pydantic import BaseModel

from mountproof.case.checks_scans import file_in
from mountproof.case.model import Case
from mountproof.case.scan_names import named_files
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.version import VERSION

_CHUNK = 1 << 20


def canonical(case: Case, parts: tuple[str, ...]) -> bytes:
    """Return the canonical bytes of the chosen top-level parts of a case.

    ``parts`` are names of fields of the case (``marks``, ``scans`` ...), in any order; KeyError for one that is
    none. With ``scans``, the SHA-256 of every file that these parts name is part of it, those of scanned records and
    further scans of an arch included; FaultError where a file cannot be read.
    """
    chosen = {name: _plain(getattr(case, name)) for name in _known(parts)}
    if "scans" in chosen:
        chosen["scan files"] = _digests(case, parts)
    return _json(chosen)


def digest(case: Case, parts: tuple[str, ...], seed: int = 0, version: str = VERSION) -> str:
    """Return the SHA-256, as 64 hex digits, of chosen parts of a case, the program version and the seed.

    KeyError for a part that is none; FaultError where a scan file cannot be read.
    """
    head = _json({"program": version, "seed": seed})
    return hashlib.sha256(head + b"\n" + canonical(case, parts)).hexdigest()


def only(case: Case, parts: tuple[str, ...]) -> Case:
    """Return a copy of a case in which every other top-level part is as if it had never been entered.

    The case code, the folder and the digests of the scan files stay. KeyError for a part that is none.
    """
    keep = {*_known(parts), "code"}
    cleared = {
        name: field.get_default(call_default_factory=True)
        for name, field in Case.model_fields.items()
        if name not in keep
    }
    copy = case.model_copy(update=cleared)
    copy._echoes = ()
    copy._scan_digests = case._scan_digests
    return copy


def scan_digests(case: Case) -> dict[str, str]:
    """Return the SHA-256 of every scan file and tooth file of a case, by the name in the case.

    Scans of records and further scans of an arch are among them.

    Each is computed once for a case that was read (a changed file is seen when the case is read again).
    FaultError where a file cannot be read, or the case was not read from a folder.
    """
    return _digests(case, ("scans", "records", "casts"))


def _digests(case: Case, parts: tuple[str, ...]) -> dict[str, str]:
    names = [one.name for one in named_files(case, parts)]
    for name in names:
        if name not in case._scan_digests:
            case._scan_digests[name] = _file_digest(case, name)
    return {name: case._scan_digests[name] for name in sorted(set(names))}


def _file_digest(case: Case, name: str) -> str:
    file = None if case.folder is None else file_in(case.folder, name)
    try:
        return _sha256(file) if file is not None else _unreadable(name)
    except OSError:
        return _unreadable(name)


def _sha256(file: FilePath) -> str:
    total = hashlib.sha256()
    with file.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            total.update(chunk)
    return total.hexdigest()


def _unreadable(name: str) -> str:
    what, todo = (
        say("the scan file cannot be read"),
        say("Put it back into the case folder, then read the case again"),
    )
    raise FaultError([Fault("case.reference", what, todo, name, field="scans", got=f'"{name}"')])


def _known(parts: tuple[str, ...]) -> tuple[str, ...]:
    unknown = [name for name in parts if name not in Case.model_fields]
    if unknown:
        raise KeyError(f"a case has no part {unknown[0]!r}")
    return parts


def _json(value: Any) -> bytes:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False).encode("ascii")


def _plain(value: Any) -> Any:
    """Return a value of the case as what JSON knows."""
    if isinstance(value, BaseModel):
        return {name: _plain(getattr(value, name)) for name in type(value).model_fields}
    if isinstance(value, dict):
        return [[key, _plain(inner)] for key, inner in value.items()]
    if isinstance(value, tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return value
