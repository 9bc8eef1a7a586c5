"""A stored file becomes the scan of one cast in a case."""

from __future__ import annotations

from typing import Any, Literal

from mountproof.case.model import Arch, ScanUnit
from mountproof.case.store import Revision, why
from mountproof.case.store.trial import tried_text
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.bench import Bench, opened

Kind = Literal["stl", "ply", "obj", "3mf", "glb"]
KINDS: tuple[Kind, ...] = ("stl", "ply", "obj", "3mf", "glb")


def kind_of(name: str) -> Kind:
    """Return the format that the ending of a file's name tells; FaultError for one that is not read here."""
    ending = name.rsplit(".", 1)[-1].lower() if "." in name else ""
    for kind in KINDS:
        if ending == kind:
            return kind
    shown = "".join(c if c.isprintable() else "?" for c in name)[-60:]
    raise FaultError(
        [
            Fault(
                "request.file_kind",
                say("this kind of file is not read"),
                say("Export the scan as STL or PLY"),
                where=shown,
                allowed=", ".join(KINDS),
            )
        ]
    )


def put_scan(
    bench: Bench,
    who: str,
    case_id: int,
    arch: Arch,
    based_on: int,
    *,
    unit: ScanUnit,
    kind: Kind,
    sha256: str,
) -> Revision:
    """Make a stored file the scan of one cast, as a new revision. What the same cast had of placement stays only where
    the file is the same: landmarks of another scan are places of another scan.

    The file is called after the cast: names of files tend to hold names of patients. ConflictError, FaultError.
    """
    with bench.store.snapshot() as snapshot:
        base = snapshot.revision(case_id, based_on)
        found = opened(snapshot, case_id, based_on)
    at = next((i for i, s in enumerate(found.case.scans) if s.arch is arch), None)
    name = f"{arch.value}.{kind}"
    fields: dict[str, Any] = {}
    files: dict[str, str | None] = {name: sha256}
    if at is None:
        fields["scans.+"] = {"arch": arch.value, "file": name, "unit": unit.value}
    else:
        old = found.case.scans[at]
        if base.files.get(old.file) == sha256:
            fields |= {f"scans.{at + 1}.file": name, f"scans.{at + 1}.unit": unit.value}
        else:
            fields[f"scans.{at + 1}"] = {"arch": arch.value, "file": name, "unit": unit.value}
        files |= {gone: None for gone in (old.file, old.teeth_file) if gone is not None and gone != name}
    with bench.store.change(who) as change:
        return change.save(case_id, tried_text(base, fields), based_on, files, why.scan_of(arch))
