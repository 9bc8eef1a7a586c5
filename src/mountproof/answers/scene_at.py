"""What stands at a place of an arch that somebody points at."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.scene_parts import ScenePlace
from mountproof.answers.scene_words import gap_words, place_words, tooth_words
from mountproof.case.model import Case
from mountproof.faults import Fault, FaultError
from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.opposite import opposite_at
from mountproof.geometry.poses import Array, rotation_z, transform
from mountproof.geometry.surface import Surface
from mountproof.said import joined, say
from mountproof.teeth import Arch

#: A face of the own arch that stands this far in front of a place hides it, mm of arc.
_IN_FRONT_MM = 0.05


def place_at(
    case: Case,
    evidence: ContactEvidence,
    arch: Arch,
    face: int,
    weights: tuple[float, float, float],
    closed_rad: float,
) -> ScenePlace:
    """Return what stands at a place on a face, with the lower closed by ``closed_rad`` from the record's pose.

    ``weights``: how much each corner of the face counts (made to sum to one). The gap along closure is exact; along the
    normal it is that times the cosine between closing and the middle of both faces' normals, as for the sites. FaultError where
    there is no such face or the weights name no place on it.
    """
    sited = evidence.sited
    own, other = (sited.upper, sited.lower) if arch == "upper" else (sited.lower, sited.upper)
    own_teeth, other_teeth = (
        (evidence.upper_teeth, evidence.lower_teeth)
        if arch == "upper"
        else (evidence.lower_teeth, evidence.upper_teeth)
    )
    share = np.asarray(weights, dtype=np.float64)
    if not (
        0 <= face < len(own.faces)
        and np.isfinite(share).all()
        and (share >= -1e-3).all()
        and share.sum() > 0.0
    ):
        raise FaultError(
            [
                Fault(
                    "scene.no_such_place",
                    say("there is no such place on this arch"),
                    say("Open the picture again, then tap again"),
                )
            ]
        )
    corners = own.vertices_mm[own.faces[face]]
    point = np.clip(share, 0.0, None) @ corners / np.clip(share, 0.0, None).sum()
    shown = transform(rotation_z(closed_rad), point) if arch == "lower" else point
    tooth = tooth_words(case, int(own_teeth[face]))
    at = place_words(shown)
    unknown = _near_hole(sited.closing, point)
    if _behind(own, point):
        text = say("turned away: the same arch stands between it and the other one")
        return _told(tooth, text, "", "", "", shown, at, unknown)
    found = opposite_at(point, other)
    if found is None:
        return _told(tooth, say("nothing stands opposite about the hinge"), "", "", "", shown, at, unknown)
    radius = math.hypot(point[0], point[1])
    along = (found.turn_rad - closed_rad) * radius
    rise = _rise(corners, found.normal, found.point_mm, point)
    opposite = tooth_words(case, int(other_teeth[found.face]))
    gap, beside = gap_words(along), gap_words(along * rise)
    text = say(
        "opposite {opposite}, {along} along closure, {normal} along the normal",
        opposite=opposite,
        along=gap,
        normal=beside,
    )
    return _told(tooth, text, opposite, gap, beside, shown, at, unknown)


def _told(
    tooth: str, text: str, opposite: str, along: str, normal: str, point: Array, at: str, unknown: bool
) -> ScenePlace:
    parts = [tooth, text, at]
    if unknown:
        parts.append(
            say("a hole or border of a scan lies here: the gap may be smaller than what was scanned shows")
        )
    return ScenePlace(joined(say("; "), parts), tooth, opposite, along, normal, point, at)


def _behind(own: Surface, point: Array) -> bool:
    front = opposite_at(point, own)
    # Seen from the place itself the nearest face of its own arch towards the other one is the one it lies on.
    return front is not None and -front.turn_rad * math.hypot(point[0], point[1]) > _IN_FRONT_MM


def _rise(corners: Array, facing: Array, there: Array, here: Array) -> float:
    """Cosine between the middle of both normals and the direction of closing, as where two faces meet on an arc."""
    own = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    size = float(np.linalg.norm(own))
    turn = math.atan2(there[1], there[0]) - math.atan2(here[1], here[0])
    brought = transform(rotation_z(turn), own / size) if size > 0.0 else facing
    # Wound alike they face each other; either may be wound inwards, so the sign is taken off.
    middle = brought - facing if float(brought @ facing) < 0.0 else brought + facing
    length = float(np.linalg.norm(middle))
    closing = np.array([-there[1], there[0], 0.0]) / math.hypot(there[0], there[1])
    return abs(float(middle @ closing)) / length if length > 0.0 else 1.0


def _near_hole(chart: ClosingMap, point: Array) -> bool:
    i = math.floor((math.hypot(point[0], point[1]) - chart.r0_mm) / chart.cell_mm)
    j = math.floor((float(point[2]) - chart.z0_mm) / chart.cell_mm)
    around = chart.unknown[max(i - 1, 0) : max(i + 2, 0), max(j - 1, 0) : max(j + 2, 0)]
    return bool(around.any())
