"""Where each scan stands in the frame of the upper jaw, how it got there, and how well that is known."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.case.model import Arch, Case, HingeDistance, Placement, ScanEntry
from mountproof.faults import Fault, FaultError
from mountproof.geometry.average import MEASURED_ANATOMY, average_placement
from mountproof.geometry.landmarks import register
from mountproof.geometry.poses import Array, why_not_rigid
from mountproof.geometry.trilaterate import readings_from_table, trilaterate
from mountproof.said import say

_LANDMARK_U_MM = 0.5
_DISTANCE_SD_MM = 0.3
_INTERCONDYLAR_MM = 110.0
#: A landmark is picked on a scan to about a tenth of a millimetre. Common practice, no source.
_PICK_U_MM = 0.1
#: The plane of three hand-picked landmarks lies near the occlusal plane, give or take this. Our choice.
_TURN_SD_RAD = 0.2
_COMMON = say("common practice, no source")
#: Residuals that chance alone would leave in fewer than one of a hundred placements.
_CHANCE = 0.01


class Placed(NamedTuple):
    """``frame_from_scan`` (4, 4) on millimetres; ``cov6`` (6, 6) rotation first, or None where it is not known."""

    frame_from_scan: Array
    cov6: Array | None
    how: str
    assumed: bool


def placements(case: Case, ledger: Ledger, factor_mm: dict[Arch, float]) -> dict[Arch, Placed]:
    """Place every scan of the case; ``factor_mm`` is millimetres in one unit of each scan.

    Raises FaultError for a scan that is not placed yet, for a matrix that is no rigid motion, and for landmarks or
    distances that place nothing.
    """
    out: dict[Arch, Placed] = {}
    later: list[ScanEntry] = []
    for entry in case.scans:
        if entry.placement.with_other_arch:
            later.append(entry)
        else:
            out[entry.arch] = _place(case, entry, factor_mm[entry.arch], ledger)
    for entry in later:
        other = next((p for arch, p in out.items() if arch is not entry.arch), None)
        if other is None:
            raise FaultError(
                [
                    Fault(
                        "placement.no_other",
                        say(
                            "the {arch} scan is to stand with the other arch, which has no placement of its own",
                            arch=entry.arch,
                        ),
                        say(
                            "Place the other scan by a matrix, landmarks, hinge distances or average anatomy"
                        ),
                        field="scans.placement",
                    )
                ]
            )
        out[entry.arch] = other._replace(
            how=say("in the same coordinates as the other arch ({how})", how=other.how)
        )
    return out


def _place(case: Case, entry: ScanEntry, factor: float, ledger: Ledger) -> Placed:
    given = entry.placement
    if given.frame_from_scan is not None:
        return _by_matrix(entry, np.array(given.frame_from_scan))
    if given.landmarks:
        return _by_landmarks(entry, given, factor, ledger)
    if given.hinge_distances:
        return _by_distances(case, entry, given, factor, ledger)
    if given.average is None:
        raise FaultError(
            [
                Fault(
                    "placement.missing",
                    say("it is not said yet how the {arch} scan is placed", arch=entry.arch),
                    say("Place it by landmarks, hinge distances, a matrix or average anatomy"),
                    field="scans.placement",
                )
            ]
        )
    points = np.array([given.average.incisors, given.average.right_molar, given.average.left_molar]) * factor
    average = average_placement(points[0], points[1], points[2])
    _note_average(entry.arch, ledger)
    return Placed(average.pose, average.cov6, say("by average anatomy"), True)


def _note_average(arch: Arch, ledger: Ledger) -> None:
    a = MEASURED_ANATOMY
    ledger.assume(
        say(
            "hinge to upper incisors of the {arch} scan (forward; {down:.1f} mm down)",
            arch=arch,
            down=-a.incisal_mm[1],
        ),
        round(a.incisal_mm[0], 1),
        "mm",
        a.source,
        "scans.placement.average",
    )
    ledger.need(
        say("caliper distances from both hinge points to three landmarks of the upper cast"),
        say("the place of the casts against the hinge is an average so far"),
        "scans.placement.hinge_distances",
    )


def _by_matrix(entry: ScanEntry, matrix: Array) -> Placed:
    reasons = why_not_rigid(matrix)
    if reasons:
        raise FaultError(
            [
                Fault(
                    f"scan.transform_{reason.code}",
                    say(
                        "the matrix that places the {arch} scan is no rigid motion: {why}",
                        arch=entry.arch,
                        why=reason.text,
                    ),
                    say(
                        "Export the placement again as a rotation and a shift; a mirrored or scaled one moves teeth"
                    ),
                    field="scans.placement.frame_from_scan",
                )
                for reason in reasons
            ]
        )
    return Placed(matrix, None, say("by a matrix"), False)


def _by_landmarks(entry: ScanEntry, given: Placement, factor: float, ledger: Ledger) -> Placed:
    u_mm = [
        pair.u_mm
        if pair.u_mm is not None
        else ledger.assume(
            say("uncertainty of a landmark's place"),
            _LANDMARK_U_MM,
            "mm",
            _COMMON,
            "scans.placement.landmarks",
        )
        for pair in given.landmarks
    ]
    found = register(
        [[p.ahead_mm, p.above_mm, p.right_mm] for p in given.landmarks],
        np.array([p.scan for p in given.landmarks]) * factor,
        np.hypot(u_mm, _PICK_U_MM),
    )
    names = [p.name for p in given.landmarks]
    worst = float(np.max(np.linalg.norm(found.residuals_mm, axis=1)))
    how = say("by {count} landmarks, largest residual {worst:.2f} mm", count=len(names), worst=worst)
    if found.swapped is not None:
        i, j = found.swapped
        ledger.need(
            say("landmarks {first} and {second}", first=names[i], second=names[j]),
            say("they look exchanged"),
            "scans.placement.landmarks",
        )
        _doubt(
            ledger,
            entry.arch,
            say("landmarks {first} and {second} look exchanged", first=names[i], second=names[j]),
        )
    elif found.guilty is not None:
        k = found.guilty.pair
        ledger.need(
            say("landmark {name} once more", name=names[k]),
            say("it lies {mm:.1f} mm from where the others expect it", mm=found.guilty.miss_mm),
            "scans.placement.landmarks",
        )
        miss = say(
            "landmark {name} lies {mm:.1f} mm from where the others expect it",
            name=names[k],
            mm=found.guilty.miss_mm,
        )
        _doubt(ledger, entry.arch, miss)
    elif found.dof > 0 and found.p_value < _CHANCE:
        ledger.need(
            say("every landmark once more, on the cast and on the scan"),
            say("they do not go together: {mm:.1f} mm are left", mm=worst),
            "scans.placement.landmarks",
        )
        _doubt(ledger, entry.arch, say("its landmarks do not go together: {mm:.1f} mm are left", mm=worst))
    return Placed(found.pose, found.cov6, how, False)


def _doubt(ledger: Ledger, arch: Arch, what: str) -> None:
    ledger.because(
        Verdict.DOUBTFUL, Why.BETWEEN, say("the placement of the {arch} scan: {what}", arch=arch, what=what)
    )


def _by_distances(case: Case, entry: ScanEntry, given: Placement, factor: float, ledger: Ledger) -> Placed:
    width = case.instrument.intercondylar_mm if case.instrument is not None else None
    half = 0.5 * (
        width.value
        if width is not None
        else ledger.assume(
            say("distance between the hinge points"),
            _INTERCONDYLAR_MM,
            "mm",
            _COMMON,
            "instrument.intercondylar_mm",
        )
    )
    sd = given.distance_sd_mm
    if sd is None:
        sd = ledger.assume(
            say("SD of a distance to a hinge point"),
            _DISTANCE_SD_MM,
            "mm",
            _COMMON,
            "scans.placement.distance_sd_mm",
        )
    points = [[0.0, 0.0, half], [0.0, 0.0, -half]]
    third = given.third_point
    if third is not None:
        points.append([third.ahead_mm, third.above_mm, third.right_mm])
    landmarks = np.array([d.scan for d in given.hinge_distances]) * factor
    table = [
        [d.from_right_hinge_mm for d in given.hinge_distances],
        [d.from_left_hinge_mm for d in given.hinge_distances],
        *([[d.from_third_point_mm for d in given.hinge_distances]] if third is not None else []),
    ]
    readings = readings_from_table(points, landmarks, table, sd, 0.0, _PICK_U_MM)
    found = trilaterate(readings, _expected(entry, given.hinge_distances, landmarks, half), _TURN_SD_RAD)
    names = [d.name for d in given.hinge_distances]
    if found.turn_assumed:
        ledger.assume(
            say("tilt of the upper cast about the hinge"),
            0.0,
            "deg",
            say("occlusal plane level; give or take 11 degrees"),
        )
        ledger.need(
            say("one distance from a third point of the instrument"),
            say("it holds the tilt about the hinge; closing does not need it, plane angles and the pin do"),
            "scans.placement.third_point",
        )
    if found.ambiguous:
        ledger.need(
            say("a further landmark"),
            say("two places of the cast fit these distances"),
            "scans.placement.hinge_distances",
        )
    if found.doubtful is not None:
        point, landmark = (int(k) for k in readings.pairs[found.doubtful])
        side = (say("right hinge"), say("left hinge"), say("third point"))[point]
        ledger.need(
            say("{landmark} to the {side} once more", landmark=names[landmark], side=side),
            say("it does not go with the others"),
            "scans.placement.hinge_distances",
        )
    for code in found.findings:
        _doubt(ledger, entry.arch, _FINDINGS[code])
    if found.findings and found.doubtful is None:
        ledger.need(
            say("the distances from both hinge points once more, right and left looked at"),
            _FINDINGS[found.findings[0]],
            "scans.placement.hinge_distances",
        )
    worst = float(np.max(np.abs(found.residuals_mm)))
    return Placed(
        found.pose,
        found.cov6,
        say(
            "by {count} hinge distances, largest residual {worst:.2f} mm",
            count=len(readings.pairs),
            worst=worst,
        ),
        False,
    )


_FINDINGS = {
    "misfit": say("the distances do not go together as well as the caliper could"),
    "sides_swapped": say("they would fit with right and left hinge exchanged"),
    "mirrored_scan": say("they would fit a mirror image of this scan"),
    "far_from_expected": say("the cast would stand far from where anatomy puts it"),
}


def _expected(
    entry: ScanEntry, distances: tuple[HingeDistance, ...], landmarks: Array, half_mm: float
) -> Array:
    """Return roughly where the cast stands: sides from the two hinge distances, the front from the farthest landmark."""
    known = [
        (i, d.from_right_hinge_mm, d.from_left_hinge_mm)
        for i, d in enumerate(distances)
        if d.from_right_hinge_mm is not None and d.from_left_hinge_mm is not None
    ]
    if len(known) >= 3:
        side = {i: (left**2 - right**2) / (4.0 * half_mm) for i, right, left in known}
        far = {i: right**2 - (side[i] - half_mm) ** 2 for i, right, _ in known}
        front = max(far, key=lambda i: far[i])
        rest = [i for i in side if i != front]
        right_most, left_most = max(rest, key=lambda i: side[i]), min(rest, key=lambda i: side[i])
        try:
            return average_placement(landmarks[front], landmarks[right_most], landmarks[left_most]).pose
        except ValueError:
            pass
    raise FaultError(
        [
            Fault(
                "placement.distances",
                say(
                    "the {arch} scan needs three landmarks, not in one line, each measured from both hinge points",
                    arch=entry.arch,
                ),
                say("Measure both second molars and an incisor from the right and from the left hinge point"),
                field="scans.placement.hinge_distances",
            )
        ]
    )
