"""Question 4, the casts themselves: does a further scan of an arch agree with the scan of the case in shape?

Registration takes away where the scans lie; scale, width, twist and bend of the whole arch are told apart, and single
places by tooth. What a cast lost in width no mounting gives back, so it is said of the casts.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from mountproof.answers.finds import Found
from mountproof.answers.foils import iso, written
from mountproof.answers.implants import held_at
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed
from mountproof.answers.progress import Progress, quiet, within
from mountproof.answers.result import Quantity, Table, Verdict, Why
from mountproof.answers.scan_evidence import refused
from mountproof.answers.scan_units import unit_mm, unit_name
from mountproof.answers.scanned_records import placed_arches
from mountproof.case.digest import scan_digests
from mountproof.case.model import Arch, Case, OtherOf, OtherScan
from mountproof.faults import Fault, FaultError
from mountproof.geometry.poses import Array, transform
from mountproof.said import figure, joined, say

if TYPE_CHECKING:  # these need compiled kernels, which are slow to import
    from mountproof.geometry.deformation import Deformed

#: So many points of the other scan say all there is to say of a few smooth shapes.
_POINTS = 60_000
#: A lower jaw that was open wide narrows by no more than this (mm), so that a wider difference is something else.
_FLEXES_MM = 0.5
#: Log of the likelihood by which one shape must lead the others to be named: twenty to one.
_CLEAR = 3.0
#: A spot within this of a tooth's surface lies on that tooth, mm; so many spots are listed.
_ON_TOOTH_MM, _LISTED = 1.5, 8
#: Two scans of one scanner carry at least this much that their residuals do not show: its own scale, relative (1 SD).
_SCANNER_SCALE = 2e-4


class _Cast(NamedTuple):
    """One cast by what is in its file, where it stands, and its tooth numbers' file."""

    path: str
    digest: str
    unit: str
    arch: str
    frame_from_scan: bytes
    teeth: str
    teeth_digest: str
    missing: tuple[int, ...]


class _Other(NamedTuple):
    path: str
    digest: str
    unit: str


class Held(NamedTuple):
    """What a further scan shows: ``deformed`` of it against the scan of the case, and the tooth at each spot (0 none)."""

    deformed: Deformed
    teeth: tuple[int, ...]


def other_scans(case: Case, ledger: Ledger, progress: Progress = quiet) -> list[str]:
    """Hold every further scan of an arch against the scan of the case; return what to say of it."""
    given = case.casts.other_scans
    if not given or case.folder is None:
        return []
    placed = placed_arches(case, ledger)
    if placed is None:
        return []
    wrong = refused(case)
    if wrong is not None:
        _not_held(ledger, [wrong], "scans")
        return []
    says: list[str] = []
    for k, entry in enumerate(given, 1):
        part = within(progress, (k - 1) / len(given), 1.0 / len(given))
        part(0.0, say("reading {file}", file=entry.file))
        field = f"casts.other_scans.{k}"
        try:
            says += _one(case, ledger, entry, placed[entry.arch], field, part, k)
        except FaultError as error:  # one scan that cannot be used keeps no other check from being made
            _not_held(ledger, error.faults, field)
    return says


def _not_held(ledger: Ledger, faults: Sequence[Fault], field: str) -> None:
    for fault in faults:
        ledger.because(Verdict.CANNOT_TELL, Why.FAULTY, fault.sentence())
        ledger.need(fault.todo, fault.what, fault.field or field)


def _one(
    case: Case, ledger: Ledger, entry: OtherScan, placed: Placed, field: str, progress: Progress, number: int
) -> list[str]:
    from mountproof.answers.extra_scans import read_extra, too_few_points

    assert case.folder is not None
    own = next(e for e in case.scans if e.arch is entry.arch)
    start = _start(entry, unit_mm(own), placed)
    if not entry.lies_alike:
        too_few_points(ledger, entry.file, entry.arch, len(entry.points), f"{field}.points")
    if start is None:
        ledger.need(
            say(
                "three points seen in {file} and in the scan of the {arch} cast",
                file=entry.file,
                arch=entry.arch,
            ),
            say("nothing says yet where this scan lies on the cast"),
            f"{field}.points",
        )
        return []
    read_extra(case, entry, ledger, field)
    progress(0.3, say("holding {file} against the scan of the {arch} cast", file=entry.file, arch=entry.arch))
    digests = scan_digests(case)
    teeth = own.teeth_file or ""
    cast = _Cast(
        str(case.folder / own.file),
        digests[own.file],
        unit_name(own),
        entry.arch.value,
        np.ascontiguousarray(placed.frame_from_scan, dtype=np.float64).tobytes(),
        str(case.folder / teeth) if teeth else "",
        digests.get(teeth, ""),
        tuple(iso(case, t) for t in case.dentition.missing),
    )
    other = _Other(str(case.folder / entry.file), digests[entry.file], unit_name(entry))
    try:
        held = _held(other, cast, np.ascontiguousarray(start, dtype=np.float64).tobytes())
    except ValueError:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say("from where {file} is said to lie, too little of it lies on the cast", file=entry.file),
        )
        ledger.need(
            say(
                "three points seen in {file} and in the scan of the {arch} cast",
                file=entry.file,
                arch=entry.arch,
            ),
            say("from where {file} is said to lie, too little of it lies on the cast", file=entry.file),
            f"{field}.points",
        )
        return []
    return _told(case, ledger, entry, held, field, number)


def _start(entry: OtherScan, own_mm: float, placed: Placed) -> Array | None:
    """Return where the other scan lies at first, frame from other scan (4, 4) in mm, or None where nothing says so."""
    if len(entry.points) >= 3:
        from mountproof.geometry.landmarks import match

        at = transform(placed.frame_from_scan, np.array([p.scan for p in entry.points]) * own_mm)
        return match(at, np.array([p.other for p in entry.points]) * unit_mm(entry)).pose
    return placed.frame_from_scan if entry.lies_alike else None


@lru_cache(maxsize=8)
def _held(other: _Other, cast: _Cast, start: bytes) -> Held:
    """Hold one scan against another; by digests, so that a typed reading does not redo it."""
    from mountproof.case.scans import read_face_teeth, read_scan, to_millimetres
    from mountproof.geometry.deformation import Measure, deformation, measure_of
    from mountproof.geometry.nearest import nearest, ready
    from mountproof.occlusion.numbering import number_faces

    scan = to_millimetres(read_scan(Path(cast.path)), cast.unit)
    v = np.ascontiguousarray(transform(np.frombuffer(cast.frame_from_scan).reshape(4, 4), scan.vertices))
    if cast.teeth:
        labels = read_face_teeth(Path(cast.teeth), len(scan.faces))
    else:
        labels = number_faces(v, scan.faces, Arch(cast.arch).value, list(cast.missing)).labels
    mesh = ready(v, scan.faces)
    again = to_millimetres(read_scan(Path(other.path)), other.unit)
    points = np.unique(again.vertices, axis=0)
    rows = np.unique(np.linspace(0, len(points) - 1, min(len(points), _POINTS)).astype(np.intp))
    named = labels > 0
    crowns = v[np.unique(scan.faces[named])] if named.any() else v
    measure = measure_of(crowns)
    measure = Measure(
        np.array([measure.middle_mm[0], measure.middle_mm[1], measure.middle_mm[2]]),
        measure.half_width_mm,
        measure.half_length_mm,
    )
    found = deformation(points[rows], mesh, np.frombuffer(start).reshape(4, 4), measure=measure)
    if not found.spots:
        return Held(found, ())
    at = nearest(np.array([s.at_mm for s in found.spots]), mesh)
    teeth = np.where((at.row >= 0) & (at.distance_mm < _ON_TOOTH_MM), labels[mesh.order[at.row]], 0)
    return Held(found, tuple(int(t) for t in teeth))


def _told(case: Case, ledger: Ledger, entry: OtherScan, held: Held, field: str, number: int) -> list[str]:
    """Judge width, note the other shapes, list spots; signs are those of the scan of the case less the other."""
    from mountproof.geometry.deformation import FLEXURE, likeliest

    found = held.deformed
    file = entry.file
    u = np.sqrt(np.diag(found.cov))
    u[0] = np.hypot(u[0], _SCANNER_SCALE)
    scale, width, twist, bend = (float(x) for x in -found.values)
    _table(ledger, entry, found, u)
    both = found.cov[np.ix_([1, 2], [1, 2])]
    words = say("{file} against the scan of the {arch} cast", file=file, arch=entry.arch)
    name, lead = likeliest(found)
    flexed = -found.amounts.get(FLEXURE, 0.0)
    is_flexure = (
        name == FLEXURE and lead > _CLEAR and entry.arch is Arch.LOWER and -_FLEXES_MM <= flexed < 0.0
    )
    # Two scans of one cast differ by their scanners: the cast itself is not at fault, so no cause is weighed by it.
    again = entry.shows is OtherOf.SAME_CAST
    if found.held[1] and found.held[2] and not again:
        ledger.finds.append(Found("other_scan", words, ("width", "twist"), np.array([width, twist]), both))
    says: list[str] = []
    if not found.held.all():
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.NOT_CARRIED,
            say("{file} shows too little of the arch to tell every change of shape", file=file),
        )
        ledger.need(
            say("a scan of the whole {arch} arch", arch=entry.arch),
            say("{file} shows too little of the arch to tell every change of shape", file=file),
            f"{field}.file",
        )
    if found.held[1]:
        told = say("width of the {arch} cast against {file}:", arch=entry.arch, file=file)
        across = flexed if is_flexure else width
        verdict = judge_against(ledger, told, across, float(u[1]), case.limits.cross_arch_width)
        ledger.quantities.append(
            Quantity.of(
                f"other_scan_width_{number}",
                say("width of the {arch} cast less that in {file}", arch=entry.arch, file=file),
                across,
                say("mm"),
                float(u[1]),
                decimals=3,
            )
        )
        if is_flexure and not again:
            says.append(
                say(
                    "the {arch} cast is narrower than {file} by {mm:.2f} mm at the back and not at the front",
                    arch=entry.arch,
                    file=file,
                    mm=-flexed,
                )
            )
            ledger.notes.append(
                say(
                    "{file}: the width lost grows to the back, without twist, as in a lower jaw that stood open wide for "
                    "its impression; e to the power of {lead:.0f} times likelier than a change of scale or of width alone.",
                    file=file,
                    lead=lead,
                )
            )
            ledger.need(
                say(
                    "a new lower impression with the jaw nearly closed (a tray for both arches, or opened little)"
                ),
                say(
                    "the lower cast carries the bend of a jaw that was open wide; no mounting takes that away"
                ),
                "casts.impression_opening_mm",
            )
        elif found.shows[1]:
            how = say("narrower") if width < 0.0 else say("wider")
            says.append(
                say(
                    "the {arch} cast is {mm:.2f} mm {how} than in {file}",
                    arch=entry.arch,
                    mm=abs(width),
                    how=how,
                    file=file,
                )
            )
            if again and verdict is not Verdict.AGREES:
                _scan_anew(ledger, entry, field)
            elif verdict is not Verdict.AGREES:
                ledger.need(
                    say(
                        "a new impression of the {arch} arch, or the width measured once more",
                        arch=entry.arch,
                    ),
                    say("it is the cast that is off: no mounting takes that away"),
                    "casts.widths",
                )
    if found.shows[2]:
        judge_against(
            ledger,
            say("twist of the {arch} cast against {file}:", arch=entry.arch, file=file),
            twist,
            float(u[2]),
            case.limits.cross_arch_width,
        )
        if again:
            _scan_anew(ledger, entry, field)
        else:
            ledger.need(
                say("a new impression of the {arch} arch, or the cast scanned once more", arch=entry.arch),
                say("one side of the cast is twisted against the other: no mounting takes that away"),
                field,
            )
        says.append(
            say(
                "the {arch} cast is twisted against {file}: its right hind corner stands off {mm:.2f} mm {how}",
                arch=entry.arch,
                file=file,
                mm=abs(twist),
                how=say("upwards") if twist > 0.0 else say("downwards"),
            )
        )
    if found.shows[0] and abs(scale) > 2.0 * u[0] and not is_flexure:
        says.append(
            say(
                "the {arch} cast is {percent:.2f} % {how} all over than in {file}",
                arch=entry.arch,
                percent=100.0 * abs(scale),
                how=say("larger") if scale > 0.0 else say("smaller"),
                file=file,
            )
        )
    if found.shows[3] and not is_flexure:
        ledger.notes.append(
            say(
                "{file}: the middle of the {arch} arch stands off {mm:.3f} mm {how} against front and back.",
                file=file,
                arch=entry.arch,
                mm=abs(bend),
                how=say("upwards") if bend > 0.0 else say("downwards"),
            )
        )
    says += _spots(case, ledger, entry, held)
    if not says:
        return [say("the scan of the {arch} cast and {file} agree in shape", arch=entry.arch, file=file)]
    return says


def _scan_anew(ledger: Ledger, entry: OtherScan, field: str) -> None:
    ledger.need(
        say("the {arch} cast scanned once more, by another scanner if there is one", arch=entry.arch),
        say("both scans are of the same cast, so one of them is off"),
        field,
    )


def _table(ledger: Ledger, entry: OtherScan, found: Deformed, u: Array) -> None:
    names = (say("size, %"), say("width, mm"), say("twist, mm"), say("bend, mm"))
    rows = []
    for k, name in enumerate(names):
        times = 100.0 if k == 0 else 1.0
        if found.held[k]:
            row = (
                name,
                figure(-times * float(found.values[k]), "+.3f"),
                figure(2.0 * times * float(u[k]), ".3f"),
            )
        else:
            row = (name, say("not held"), "")
        rows.append(row)
    ledger.tables.append(
        Table(
            say("the scan of the {arch} cast less {file}", arch=entry.arch, file=entry.file),
            (say("change of shape"), say("amount"), say("± (two SDs)")),
            tuple(rows),
        )
    )


def _spots(case: Case, ledger: Ledger, entry: OtherScan, held: Held) -> list[str]:
    """List places where the scans differ by themselves; say the largest one on a tooth."""
    spots = [(t, s) for t, s in zip(held.teeth, held.deformed.spots, strict=True)]
    if not spots:
        return []
    place = [written(case, t) if t else say("beside the teeth") for t, _ in spots]
    ledger.tables.append(
        Table(
            say("places where the {arch} cast and {file} differ", arch=entry.arch, file=entry.file),
            (say("tooth"), say("ahead, up, right, mm"), say("cast stands out, mm"), say("area, mm²")),
            tuple(
                (
                    where,
                    joined(", ", tuple(figure(float(x), ".0f") for x in s.at_mm)),
                    figure(-s.off_mm, "+.2f"),
                    figure(s.area_mm2, ".0f"),
                )
                for where, (_, s) in list(zip(place, spots, strict=True))[:_LISTED]
            ),
        )
    )
    on_teeth = [(t, s) for t, s in spots if t]
    if not on_teeth:
        return []
    tooth, most = on_teeth[0]
    judge_against(
        ledger,
        say(
            "the {arch} cast against {file} at {tooth}:",
            arch=entry.arch,
            file=entry.file,
            tooth=written(case, tooth),
        ),
        -most.off_mm,
        most.u_mm,
        held_at(case, (tooth,), case.limits.record_on_cast),
    )
    ledger.need(
        say("a look at {tooth} on the {arch} cast", tooth=written(case, tooth), arch=entry.arch),
        say("it differs there from {file}", file=entry.file),
        "casts.other_scans",
    )
    if most.off_mm < 0.0:
        text = say(
            "something stands {mm:.2f} mm out on the {arch} cast at {tooth}, not in {file}",
            mm=-most.off_mm,
            arch=entry.arch,
            tooth=written(case, tooth),
            file=entry.file,
        )
    else:
        text = say(
            "something is {mm:.2f} mm lower on the {arch} cast at {tooth} than in {file}",
            mm=most.off_mm,
            arch=entry.arch,
            tooth=written(case, tooth),
            file=entry.file,
        )
    return [text]
