"""What is known of each scan of a case: how it is placed and what is left of its landmarks, and what the checks find."""

from __future__ import annotations

import math
import re
from typing import Literal, NamedTuple

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed, placements
from mountproof.answers.poses import half_width
from mountproof.answers.progress import Progress, quiet
from mountproof.answers.scan_units import unit_mm
from mountproof.answers.scans import read_entry, stand
from mountproof.case.model import Arch, Case, HingeDistance, ScanEntry
from mountproof.case.scans import Scan, read_scan
from mountproof.faults import Fault, FaultError
from mountproof.geometry.poses import Array, transform
from mountproof.geometry.topology import inspect
from mountproof.occlusion.arch import check_scan
from mountproof.said import joined, say

Weight = Literal["note", "ask", "stop"]


class Residual(NamedTuple):
    """What is left of one landmark after placement: ``miss_mm`` in words as ``shown``; ``asked`` what is asked about it."""

    name: str
    miss_mm: float
    shown: str
    asked: str


class Found(NamedTuple):
    """One thing that was found of a scan, what it means for the answers, and what to do."""

    code: str
    what: str
    weight: Weight
    todo: str


class PlacedSo(NamedTuple):
    """How one scan stands: ``how`` in words, empty while it is not placed; residuals; what is asked or wrong."""

    arch: Arch
    how: str
    residuals: tuple[Residual, ...]
    findings: tuple[Found, ...]


class Checked(NamedTuple):
    """What the file of one scan holds: ``triangles`` None where it cannot be read."""

    triangles: int | None
    findings: tuple[Found, ...]


def placed_so(case: Case) -> tuple[PlacedSo, ...]:
    """Return how every scan of the case is placed, from the entries alone: no file is read, so it can follow typing."""
    return tuple(_placed_so(case, entry) for entry in case.scans)


def checked(case: Case, entry: ScanEntry, progress: Progress = quiet) -> Checked:
    """Read one scan and return what the checks find of it by itself, in its own coordinates or placed where it can be.

    Never raises FaultError: a file that cannot be read is a finding that stops. ``progress`` may raise Cancelled.
    """
    progress(0.05, say("reading the scan"))
    try:
        scan = read_entry(case, entry)
    except FaultError as error:
        return Checked(None, tuple(_of_fault(f) for f in error.faults))
    triangles = len(scan.faces)
    notes = [Found("scan.note", note, "note", "") for note in scan.notes]
    progress(0.4, say("checking the surface"))
    placed = placement_of(case, entry)
    if placed is None:
        findings = check_scan(
            np.ascontiguousarray(scan.vertices), scan.faces, None, inspect(scan.vertices, scan.faces)
        )
    else:
        try:
            stood = stand(case, entry, scan, placed, None)
        except FaultError as error:
            return Checked(triangles, tuple(_of_fault(f) for f in error.faults))
        findings = stood.findings
        notes += [Found("scan.note", note, "note", "") for note in stood.notes[1:]]
    kept = [f for f in findings if not (f.code == "scan.mirrored_mesh_undetectable" and entry.sides_compared)]
    return Checked(triangles, (*(Found(f.code, f.what, f.severity, f.todo) for f in kept), *notes))


def raw_scan(case: Case, arch: Arch) -> Scan:
    """Return a scan as it lies in its file, in its own unit: for landmarks, which are entered so.

    FaultError where the case has no such scan or the file cannot be read.
    """
    entry = entry_of(case, arch)
    assert case.folder is not None
    return read_scan(case.folder / entry.file)


def entry_of(case: Case, arch: Arch) -> ScanEntry:
    """Return the entry of one scan; FaultError where the case has none of that arch."""
    for entry in case.scans:
        if entry.arch is arch:
            return entry
    raise FaultError(
        [
            Fault(
                "scan.none",
                say("there is no scan of the {arch} cast", arch=arch),
                say("Bring one in"),
                field="scans",
            )
        ]
    )


def picked(scan: Scan, face: int, weights: tuple[float, float, float], unit_in_mm: float) -> Array:
    """Return the place (3,) on a face of a scan in the scan's unit, to a thousandth of a millimetre.

    FaultError where there is no such face or the weights name no place on it.
    """
    share = np.clip(np.asarray(weights, dtype=np.float64), 0.0, None)
    if not (0 <= face < len(scan.faces) and np.isfinite(share).all() and share.sum() > 0.0):
        raise FaultError(
            [
                Fault(
                    "scene.no_such_place",
                    say("there is no such place on this arch"),
                    say("Open the picture again, then tap again"),
                )
            ]
        )
    point = share @ np.asarray(scan.vertices[scan.faces[face]], dtype=np.float64) / share.sum()
    rounded: Array = np.round(point, max(0, 3 + round(math.log10(unit_in_mm)))) + 0.0
    return rounded


def placement_of(case: Case, entry: ScanEntry) -> Placed | None:
    """Return how one scan is placed, whatever is wrong with the other; None while it is not."""
    try:
        return _placements(case, entry, Ledger("contacts"))
    except FaultError:
        return None


def _placements(case: Case, entry: ScanEntry, ledger: Ledger) -> Placed:
    """Place one scan without minding what is wrong with the other, unless it stands with it."""
    only = case.scans if entry.placement.with_other_arch else (entry,)
    alone = case.model_copy(update={"scans": only})
    return placements(alone, ledger, {e.arch: unit_mm(e) for e in only})[entry.arch]


def _placed_so(case: Case, entry: ScanEntry) -> PlacedSo:
    ledger = Ledger("contacts")
    try:
        placed = _placements(case, entry, ledger)
    except FaultError as error:
        return PlacedSo(entry.arch, "", (), tuple(_of_fault(f) for f in error.faults))
    except ValueError as error:
        fault = Found("placement.faulty", str(error), "stop", say("Look at the landmarks again"))
        return PlacedSo(entry.arch, "", (), (fault,))
    asks = [Found("placement.ask", r.text, "ask", "") for r in ledger.reasons]
    asks += [Found("placement.need", n.reading, "ask", n.why) for n in ledger.needs]
    doubt = {n.reading: n.why for n in ledger.needs}
    return PlacedSo(entry.arch, placed.how, _residuals(case, entry, placed, doubt), tuple(asks))


def _residuals(case: Case, entry: ScanEntry, placed: Placed, doubt: dict[str, str]) -> tuple[Residual, ...]:
    given, factor = entry.placement, unit_mm(entry)
    found = []
    for pair in given.landmarks:
        at = transform(placed.frame_from_scan, np.array(pair.scan) * factor)
        off = np.array([pair.ahead_mm, pair.above_mm, pair.right_mm]) - at
        miss = float(np.linalg.norm(off))
        found.append(Residual(pair.name, miss, say("{mm:.2f} mm off", mm=miss), _asked(pair.name, doubt)))
    for one in given.hinge_distances:
        parts = _distance_parts(case, one, placed, factor, given.third_point)
        worst = max((abs(mm) for _, mm in parts), default=0.0)
        words = joined(
            ", ", [say("{from_where} {mm:+.2f} mm", from_where=where, mm=mm) for where, mm in parts]
        )
        found.append(Residual(one.name, worst, words, _asked(one.name, doubt)))
    return tuple(found)


def _distance_parts(
    case: Case, one: HingeDistance, placed: Placed, factor: float, third: object
) -> list[tuple[str, float]]:
    """Return the measured less the placed distance from each point of the instrument that was measured from."""
    half = half_width(case, Ledger("contacts"))
    at = transform(placed.frame_from_scan, np.array(one.scan) * factor)
    points = [
        (say("right hinge"), np.array([0.0, 0.0, half]), one.from_right_hinge_mm),
        (say("left hinge"), np.array([0.0, 0.0, -half]), one.from_left_hinge_mm),
    ]
    if third is not None and one.from_third_point_mm is not None:
        place = [getattr(third, name) for name in ("ahead_mm", "above_mm", "right_mm")]
        points.append((say("third point"), np.array(place), one.from_third_point_mm))
    return [(where, float(mm - np.linalg.norm(at - point))) for where, point, mm in points if mm is not None]


def _asked(name: str, doubt: dict[str, str]) -> str:
    """Return what is asked about the landmark of this name: needs name it, as a word of its own."""
    word = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
    return next((why for reading, why in doubt.items() if word.search(reading)), "")


def _of_fault(fault: Fault) -> Found:
    got = say(" (got {got})", got=fault.got) if fault.got else ""
    return Found(fault.code, fault.what + got, "stop", fault.todo)
