"""Scans of a case, read, checked, in millimetres, in the frame of the upper jaw, with a tooth on every face."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.foils import iso
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed, placements
from mountproof.answers.progress import Progress
from mountproof.answers.relation import Relation, pose_in_frame
from mountproof.answers.result import Verdict, Why
from mountproof.answers.scan_units import unit_mm, unit_name
from mountproof.case.model import Arch, Case, ScanEntry
from mountproof.case.scans import Scan, read_face_teeth, read_scan, to_millimetres
from mountproof.faults import Fault, FaultError
from mountproof.geometry.poses import Array, transform
from mountproof.geometry.topology import Finding, inspect
from mountproof.occlusion.arch import ArchScan as PlacedArch
from mountproof.occlusion.arch import Look, check_scan, compare, look
from mountproof.occlusion.numbering import number_faces
from mountproof.said import in_numbering, joined, say


class ArchScan(NamedTuple):
    """One arch: vertices (n, 3) mm in the frame, faces (m, 3), tooth per face (m,), and how it got there."""

    vertices_mm: NDArray[np.float64]
    faces: NDArray[np.int32]
    teeth: NDArray[np.int32]
    placed: Placed


def arch_scans(
    case: Case, ledger: Ledger, relation: Relation, progress: Progress
) -> tuple[dict[Arch, ArchScan], Array]:
    """Read, check, place and number both scans of the case; return them and the record's pose (4, 4) in the frame.

    What the checks find goes to the ledger: ``stop`` as a fault, ``ask`` as a doubt, ``note`` as a note. Raises
    FaultError, with every fault of both scans, where a scan cannot be used.
    """
    progress(0.05, say("reading the scans"))
    with ThreadPoolExecutor(2) as pool:
        reads = {entry.arch: pool.submit(read_entry, case, entry) for entry in case.scans}
    scans: dict[Arch, Scan] = {}
    faults: list[Fault] = []
    for arch, done in reads.items():
        try:
            scans[arch] = done.result()
        except FaultError as error:
            faults += error.faults
    if faults:
        raise FaultError(faults)
    placed = placements(case, ledger, {e.arch: unit_mm(e) for e in case.scans})
    upper_from_lower = pose_in_frame(relation, placed[Arch.UPPER], placed[Arch.LOWER])
    progress(0.35, say("numbering the teeth"))
    with ThreadPoolExecutor(2) as pool:
        jobs = {
            entry.arch: pool.submit(
                stand,
                case,
                entry,
                scans[entry.arch],
                placed[entry.arch],
                upper_from_lower if entry.arch is Arch.LOWER else None,
            )
            for entry in case.scans
        }
    out: dict[Arch, ArchScan] = {}
    looks: dict[Arch, Look] = {}
    for entry in case.scans:
        one = jobs[entry.arch].result()
        out[entry.arch] = one.scan
        looks[entry.arch] = one.look
        ledger.notes += [
            say("{file}: {note}.", file=entry.file, note=note)
            for note in (*scans[entry.arch].notes, *one.notes)
        ]
        faults += _findings(ledger, one.findings, entry.file, entry.sides_compared)
        if not one.sure:
            reading = say("a look at the tooth numbers of the {arch} scan", arch=entry.arch)
            ledger.need(reading, one.notes[-1], "scans.teeth_file")
    if len(looks) == len(Arch):
        compared = all(e.sides_compared for e in case.scans)
        faults += _findings(
            ledger, compare(looks[Arch.UPPER], looks[Arch.LOWER]), say("both scans"), compared
        )
    if faults:
        raise FaultError(faults)
    return out, upper_from_lower


def read_entry(case: Case, entry: ScanEntry) -> Scan:
    """Return one scan of the case in millimetres, as it lies in its file. FaultError where it cannot be read."""
    assert case.folder is not None
    scan = read_scan(case.folder / entry.file)
    return to_millimetres(scan, unit_name(entry))


class Stood(NamedTuple):
    """One scan in the frame, what was found of it, and whether its tooth numbers are sure."""

    scan: ArchScan
    look: Look
    findings: tuple[Finding, ...]
    notes: list[str]
    sure: bool


def stand(case: Case, entry: ScanEntry, scan: Scan, placed: Placed, pose: Array | None) -> Stood:
    """Place, number and check one scan; it is looked at as it stands in the record (``pose`` (4, 4))."""
    vertices = np.ascontiguousarray(transform(placed.frame_from_scan, scan.vertices))
    notes, sure, told = [say("placed {how}", how=placed.how)], True, entry.teeth_file is not None
    if entry.teeth_file is not None:
        assert case.folder is not None
        teeth = read_face_teeth(case.folder / entry.teeth_file, len(scan.faces))
        notes.append(say("tooth numbers from {file}", file=entry.teeth_file))
    else:
        missing = [iso(case, t) for t in case.dentition.missing]
        numbered = number_faces(vertices, scan.faces, entry.arch.value, missing)
        teeth, sure = numbered.labels, numbered.settled
        notes.append(in_numbering(numbered.note, case.dentition.numbering.value))
    # The program's own numbers follow from the frame: they prove nothing about sides and are not shown to the checks.
    shown = teeth if told else None
    topology = inspect(vertices, scan.faces)
    findings = in_numbering(check_scan(vertices, scan.faces, shown, topology), case.dentition.numbering.value)
    seen = look(entry.arch.value, PlacedArch(vertices, scan.faces, pose, shown), topology)
    return Stood(ArchScan(vertices, scan.faces, teeth, placed), seen, findings, notes, sure)


def _findings(ledger: Ledger, findings: tuple[Finding, ...], file: str, compared: bool) -> list[Fault]:
    """Note what was found; return what no answer can be built on.

    ``compared``: somebody has held one tooth that stands out against the patient, and right is right.
    """
    stops = []
    for found in findings:
        if found.severity == "stop":
            stops.append(Fault(found.code, found.what, found.todo, where=file))
        elif found.code == "scan.mirrored_mesh_undetectable":
            if not compared:
                ledger.need(found.todo, found.what, "scans.sides_compared")
        elif found.severity == "ask":
            ledger.because(Verdict.DOUBTFUL, Why.BETWEEN, joined(": ", (file, found.what)))
            ledger.need(found.todo, found.what, "scans")
        else:
            ledger.notes.append(joined(": ", (file, found.what)))
    return stops
