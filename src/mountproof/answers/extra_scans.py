"""Scans of records and further scans of an arch: read, in millimetres, with what is odd about them on the ledger."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.answers.scan_units import unit_name
from mountproof.case.digest import scan_digests
from mountproof.case.model import Arch, Case, OtherScan, RecordScan, RecordShown
from mountproof.case.scans import Scan, read_scan, to_millimetres
from mountproof.faults import Fault, FaultError
from mountproof.geometry.topology import Finding
from mountproof.occlusion.arch import check_scan
from mountproof.said import joined, say

#: What is only told where a scan stands for a whole arch with its teeth.
_OF_ARCHES = ("scan.mirrored_mesh_undetectable",)


class _Read(NamedTuple):
    """A scan in millimetres, and what is odd about it, taken for the scan of an arch."""

    scan: Scan
    findings: tuple[Finding, ...]


def read_extra(case: Case, entry: RecordScan | OtherScan, ledger: Ledger, field: str) -> Scan:
    """Return a scan of a record, or a further scan of an arch, in mm, as it lies in its file.

    What is odd about it goes on the ledger, as for the scans of the casts: ``ask`` as a doubt with its need at
    ``field`` (the entry of the scan), ``note`` as a note. It is read once for a file, however often the case changes.
    FaultError where it cannot be read, or no answer can be built on it (a unit that makes no arch of it, for example).
    """
    assert case.folder is not None
    digest = scan_digests(case)[entry.file]
    found = _read(str(case.folder / entry.file), digest, unit_name(entry))
    ledger.notes += [joined(": ", (entry.file, note)) for note in found.scan.notes]
    stops = []
    for one in found.findings:
        if one.code in _OF_ARCHES:
            continue
        # A record may be a small piece: its length says less of the unit than that of an arch does.
        piece = isinstance(entry, RecordScan) and entry.shows is RecordShown.SURFACE
        severity = "ask" if piece and one.code.startswith("scan.unit_") else one.severity
        if severity == "stop":
            stops.append(Fault(one.code, one.what, one.todo, where=entry.file))
        elif severity == "ask":
            ledger.because(Verdict.DOUBTFUL, Why.BETWEEN, joined(": ", (entry.file, one.what)))
            ledger.need(one.todo, one.what, field)
        else:
            ledger.notes.append(joined(": ", (entry.file, one.what)))
    if stops:
        raise FaultError(stops)
    return found.scan


def read_again(path: str, digest: str, unit: str) -> Scan:
    """Return a scan that ``read_extra`` read before, in mm: by what is in the file, so that it is not read twice."""
    return _read(path, digest, unit).scan


def too_few_points(ledger: Ledger, file: str, arch: Arch, count: int, field: str) -> None:
    """Note that points were begun that say where a scan lies, and are too few to say it; nothing where there are none."""
    if not 0 < count < _POINTS:
        return
    fault = Fault(
        "scan.too_few_points",
        say(
            "{points} on the {arch} cast and in this scan: three or more say where it lies",
            points=say("one point was picked") if count == 1 else say("two points were picked"),
            arch=arch,
        ),
        say(
            "Pick {more} on the {arch} cast and in {file}, far from the others",
            more=say("two more points") if count == 1 else say("one more point"),
            arch=arch,
            file=file,
        ),
        where=file,
        field=field,
    )
    ledger.because(Verdict.CANNOT_TELL, Why.FAULTY, fault.sentence())
    ledger.need(fault.todo, fault.what, field)


#: Points that say where a scan lies.
_POINTS = 3


@lru_cache(maxsize=4)
def _read(path: str, _digest: str, unit: str) -> _Read:
    scan = to_millimetres(read_scan(Path(path)), unit)
    return _Read(scan, check_scan(scan.vertices, scan.faces))
