"""A scanned record laid on both casts of a case, kept by the digests of its files so that a typed reading does not redo it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from mountproof.answers.extra_scans import read_again, read_extra, too_few_points
from mountproof.answers.foils import iso
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed
from mountproof.answers.progress import Progress, quiet
from mountproof.answers.scan_evidence import refused
from mountproof.answers.scan_units import unit_name
from mountproof.case.digest import scan_digests
from mountproof.case.model import Arch, Case, Record, RecordScan, RecordShown
from mountproof.case.scans import UNITS_MM, read_face_teeth, read_scan, to_millimetres
from mountproof.geometry.landmarks import match
from mountproof.geometry.poses import Array, inverse, opened, transform
from mountproof.occlusion.numbering import number_faces
from mountproof.records.imprint import ArchName, Cast, RecordSurface, cast_of, facing, record_of
from mountproof.records.on_cast import ARCHES, OnCasts, fit_record
from mountproof.said import say

#: Without points of its own a cast is looked for at these openings (deg) from where the other one stands.
_OPENINGS_DEG = tuple(0.5 * k for k in range(13))
#: A point of the record is near enough to a cast, and faces it, to count for an opening: mm, cosine.
_NEAR_MM, _FACING = 0.7, 0.5
#: A scan of joined casts lies on them with at least this share of its points, to this, mm.
_MOST, _ON_MM = 0.4, 0.2


class LaidRecord(NamedTuple):
    """A record on both casts, the casts as placed, and whether the scan shows the joined casts."""

    on: OnCasts
    casts: dict[ArchName, Cast]
    joined: bool


class _File(NamedTuple):
    """One file by what is in it, and how many millimetres its unit is."""

    path: str
    digest: str
    unit: str


class _Stood(NamedTuple):
    """A cast by its file, its tooth numbers' file and where it stands."""

    file: _File
    arch: ArchName
    frame_from_scan: bytes
    teeth: _File | None
    missing: tuple[int, ...]


def lay_record(
    case: Case,
    ledger: Ledger,
    name: str,
    record: Record,
    placed: dict[Arch, Placed],
    progress: Progress = quiet,
) -> LaidRecord | None:
    """Lay the scan of a record on both casts; None, with what is needed, where it cannot be.

    What is odd about the scan goes on the ledger. Raises FaultError for a file that cannot be read, or that no answer can
    be built on.
    """
    given = record.scan
    assert given is not None and case.folder is not None
    entry = f"records.{name}.scan"
    wrong = refused(case)
    if wrong is not None:
        ledger.need(wrong.todo, wrong.what, "scans")
        return None
    progress(0.1, say("reading the scan of {record}", record=name))
    read_extra(case, given, ledger, entry)
    scan = _file(case, given.file, unit_name(given))
    casts = {e.arch: _stood(case, e.arch, placed) for e in case.scans}
    joined = given.shows is RecordShown.JOINED
    for arch in Arch:
        if arch not in given.lies_on:
            few = sum(p.arch is arch for p in given.points)
            too_few_points(ledger, given.file, arch, few, f"{entry}.points")
    starts = {arch: _start(given, scan, casts[arch], placed[arch]) for arch in Arch}
    if all(s is None for s in starts.values()):
        ledger.need(
            say("three points of each cast that are seen in the scan of {record} as well", record=name),
            say("nothing says yet where this scan lies on the casts"),
            f"{entry}.points",
        )
        return None
    progress(0.3, say("laying {record} on the casts", record=name))
    found = _fitted(
        scan,
        joined,
        casts[Arch.UPPER],
        casts[Arch.LOWER],
        _bytes(starts[Arch.UPPER]),
        _bytes(starts[Arch.LOWER]),
    )
    if isinstance(found, OnCasts):
        return LaidRecord(found, {a.value: _cast(casts[a]) for a in Arch}, joined)
    if found == "shows":
        ledger.need(
            say("what the scan of {record} shows: the record itself, or the casts joined by it", record=name),
            say("it lies on the casts only when it is read the other way"),
            f"{entry}.shows",
        )
        return None
    ledger.need(
        say(
            "three points of the {arch} cast that are seen in the scan of {record} as well",
            arch=Arch(found),
            record=name,
        ),
        say("from where this scan is said to lie, too little of it lies on that cast"),
        f"{entry}.points",
    )
    return None


def _start(given: RecordScan, scan: _File, cast: _Stood, placed: Placed) -> Array | None:
    """Return where the scan of a record lies at first, frame from record (4, 4), or None where nothing says so."""
    arch = Arch(cast.arch)
    pairs = [p for p in given.points if p.arch is arch]
    if len(pairs) >= 3:
        at = np.array([p.cast for p in pairs]) * UNITS_MM[cast.file.unit]
        seen = np.array([p.record for p in pairs]) * UNITS_MM[scan.unit]
        return match(transform(placed.frame_from_scan, at), seen).pose
    return placed.frame_from_scan if arch in given.lies_on else None


def _stood(case: Case, arch: Arch, placed: dict[Arch, Placed]) -> _Stood:
    entry = next(e for e in case.scans if e.arch is arch)
    teeth = None if entry.teeth_file is None else _file(case, entry.teeth_file, "")
    missing = tuple(iso(case, t) for t in case.dentition.missing)
    pose = np.ascontiguousarray(placed[arch].frame_from_scan).tobytes()
    return _Stood(_file(case, entry.file, unit_name(entry)), arch.value, pose, teeth, missing)


def _file(case: Case, name: str, unit: str) -> _File:
    assert case.folder is not None
    return _File(str(case.folder / name), scan_digests(case)[name], unit)


def _bytes(start: Array | None) -> bytes:
    return b"" if start is None else np.ascontiguousarray(start, dtype=np.float64).tobytes()


def _pose(start: bytes) -> Array | None:
    return np.frombuffer(start, dtype=np.float64).reshape(4, 4) if start else None


@lru_cache(maxsize=4)
def _cast(stood: _Stood) -> Cast:
    scan = to_millimetres(read_scan(Path(stood.file.path)), stood.file.unit)
    pose = _pose(stood.frame_from_scan)
    assert pose is not None
    v = np.ascontiguousarray(transform(pose, scan.vertices))
    if stood.teeth is not None:
        teeth = read_face_teeth(Path(stood.teeth.path), len(scan.faces))
    else:
        teeth = number_faces(v, scan.faces, stood.arch, list(stood.missing)).labels
    return cast_of(stood.arch, v, scan.faces, teeth)


@lru_cache(maxsize=16)
def _fitted(
    scan: _File, joined: bool, upper: _Stood, lower: _Stood, upper_start: bytes, lower_start: bytes
) -> OnCasts | str:
    """Return a record on both casts; the name of a cast on which too little lies, or ``shows`` where it is read wrongly."""
    with ThreadPoolExecutor(2) as pool:
        jobs = pool.submit(_cast, upper), pool.submit(_cast, lower)
    read = read_again(*scan)
    casts: dict[ArchName, Cast] = {"upper": jobs[0].result(), "lower": jobs[1].result()}
    found: OnCasts | str = "upper"
    for shown in (joined, not joined):
        record = record_of(read.vertices, read.faces, shown)
        up, low = _pose(upper_start), _pose(lower_start)
        if up is None:
            assert low is not None
            up = _sought(record, casts["upper"], low, 1.0)
        elif low is None:
            low = _sought(record, casts["lower"], up, -1.0)
        assert low is not None
        if shown is not joined and not _faces_more(record, casts, {"upper": up, "lower": low}):
            break
        tried = fit_record(record, casts, {"upper": up, "lower": low})
        if isinstance(tried, OnCasts) and shown and not _shows_casts(record, casts, tried):
            tried = "upper"
        if isinstance(tried, OnCasts):
            return tried if shown is joined else "shows"
        if shown is joined:
            found = tried
    return found


def _faces_more(record: RecordSurface, casts: dict[ArchName, Cast], starts: dict[ArchName, Array]) -> bool:
    """Tell whether more of a scan faces the casts when it is read in this way than when it is read in the other."""
    other = record._replace(sense=-record.sense)
    this, that = (
        sum(int(facing(r, casts[a], starts[a], _NEAR_MM, _FACING).sum()) for a in ARCHES)
        for r in (record, other)
    )
    return this > that


def _shows_casts(record: RecordSurface, casts: dict[ArchName, Cast], on: OnCasts) -> bool:
    """Tell whether most of a scan of joined casts lies on these casts; of a record by itself little would."""
    there = facing(record, casts["upper"], on.upper.pose, _ON_MM, _FACING)
    there |= facing(record, casts["lower"], on.lower.pose, _ON_MM, _FACING)
    return bool(there.mean() > _MOST)


def _sought(record: RecordSurface, cast: Cast, other: Array, sign: float) -> Array:
    """Return the opening about the hinge, from where the other cast stands, at which most of a record faces this cast."""
    tried = [
        (opened(np.radians(deg)) if sign > 0.0 else inverse(opened(np.radians(deg)))) @ other
        for deg in _OPENINGS_DEG
    ]
    counts = [int(facing(record, cast, t, _NEAR_MM, _FACING).sum()) for t in tried]
    return tried[int(np.argmax(counts))]
