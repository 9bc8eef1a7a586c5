"""Every file that a case names beside itself: scans of the casts, their tooth numbers, records, further scans."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.case.lines import Path
from mountproof.case.model import Case


class NamedFile(NamedTuple):
    """A file by the name that stands in the case, and the entry where it stands (items counted from 0)."""

    path: Path
    name: str


def named_files(case: Case, parts: tuple[str, ...] = ("scans", "records", "casts")) -> tuple[NamedFile, ...]:
    """Return the files that the given top-level parts of a case name, in the order of the case."""
    found: list[NamedFile] = []
    if "scans" in parts:
        for at, scan in enumerate(case.scans):
            for field in ("file", "teeth_file"):
                name = getattr(scan, field)
                if name is not None:
                    found.append(NamedFile(("scans", at, field), name))
    if "records" in parts:
        for name, record in case.records.items():
            if record.scan is not None:
                found.append(NamedFile(("records", name, "scan", "file"), record.scan.file))
    if "casts" in parts:
        for at, other in enumerate(case.casts.other_scans):
            found.append(NamedFile(("casts", "other_scans", at, "file"), other.file))
    return tuple(found)


def has_extra_scans(case: Case) -> bool:
    """Tell whether a case has scans of records, or further scans of an arch."""
    return bool(named_files(case, ("records", "casts")))
