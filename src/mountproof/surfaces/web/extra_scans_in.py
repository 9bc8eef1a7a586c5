"""A stored file becomes the scan of a record, or a further scan of an arch, in a case."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import count
from typing import Any

from mountproof.case.finding import dotted
from mountproof.case.lines import Path
from mountproof.case.model import Arch, OtherOf, RecordShown, ScanUnit
from mountproof.case.scan_names import named_files
from mountproof.case.store import Revision, why
from mountproof.case.store.trial import tried_text
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.bench import Bench, opened
from mountproof.surfaces.web.scans_in import Kind


def put_record_scan(
    bench: Bench,
    who: str,
    case_id: int,
    record: str,
    based_on: int,
    *,
    shows: RecordShown,
    unit: ScanUnit,
    kind: Kind,
    sha256: str,
) -> Revision:
    """Make a stored file the scan of one record, as a new revision. Points and where it lies stay only where the file is
    the same: they are places of one file.

    The file is called by the number of the record: names of files tend to hold names of patients. ConflictError;
    FaultError also where the case has no such record.
    """
    with bench.store.snapshot() as snapshot:
        base = snapshot.revision(case_id, based_on)
        case = opened(snapshot, case_id, based_on).case
    if record not in case.records:
        raise FaultError(
            [
                Fault(
                    "case.reference",
                    say("the case has no such record"),
                    say("Add the record first, then its scan"),
                    got=f'"{record}"'[:80],
                    field="records",
                )
            ]
        )
    old = case.records[record].scan
    files: dict[str, str | None] = {}
    fields: dict[str, Any]
    if old is not None and base.files.get(old.file) == sha256:
        name = old.file
        fields = {
            dotted(("records", record, "scan", "shows")): shows.value,
            dotted(("records", record, "scan", "unit")): unit.value,
        }
    else:
        here: Path = ("records", record, "scan", "file")
        others = {one.name for one in named_files(case) if one.path != here}
        gone = () if old is None or old.file in others else (old.file,)
        place = list(case.records).index(record) + 1
        name = _free(f"record{place}", kind, set(base.files) - set(gone))
        entry = {"file": name, "unit": unit.value, "shows": shows.value}
        fields = {dotted(("records", record, "scan")): entry}
        files = {**dict.fromkeys(gone), name: sha256}
    with bench.store.change(who) as change:
        return change.save(case_id, tried_text(base, fields), based_on, files, why.record_scan(record))


def put_further_scan(
    bench: Bench,
    who: str,
    case_id: int,
    arch: Arch,
    based_on: int,
    *,
    shows: OtherOf,
    unit: ScanUnit,
    kind: Kind,
    sha256: str,
) -> Revision:
    """Add a stored file as a further scan of an arch, as a new revision. ConflictError, FaultError."""
    with bench.store.snapshot() as snapshot:
        base = snapshot.revision(case_id, based_on)
    name = _free(f"{arch.value}_again", kind, base.files)
    entry = {"arch": arch.value, "file": name, "unit": unit.value, "shows": shows.value}
    text = tried_text(base, {"casts.other_scans.+": entry})
    with bench.store.change(who) as change:
        return change.save(case_id, text, based_on, {name: sha256}, why.further_scan(arch))


def _free(stem: str, kind: str, taken: Iterable[str]) -> str:
    """Return a name that no file of the case has, in any spelling that some system takes for the same."""
    known = {name.casefold() for name in taken}
    names = (f"{stem}{'' if n == 1 else f'_{n}'}.{kind}" for n in count(1))
    return next(name for name in names if name.casefold() not in known)
