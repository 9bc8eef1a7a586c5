"""Part of question 7: where lower buccal cusp tips stand across the upper inner inclines at a height, with all their doubt."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.change_stands import Stand
from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.foils import written
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried, exact, measured
from mountproof.geometry.poses import Array, point_jacobian
from mountproof.geometry.quantile import coverage_factor
from mountproof.occlusion.incline import ToothFrame
from mountproof.occlusion.thirds import Incline, Place, Table, incline_at, outer_tips, table_of
from mountproof.occlusion.tips import tip
from mountproof.said import say
from mountproof.teeth import along_arch_key, is_posterior, is_tooth, side_of

I32 = NDArray[np.int32]

K: Final = coverage_factor(0.95)
#: An upper tooth stands over a tip that lies no farther than this beyond its ends, mm.
_BESIDE_MM: Final = 0.5
#: The edge of a front tooth is found by its outermost points to this, 1 SD, mm (as for all tips, see scan_tips).
_EDGE_U_MM: Final = 0.1
_FRONTS: Final = ((11, 41), (21, 31))


class Zone(StrEnum):
    """Where a tip stands across an incline, from the groove outward."""

    BEFORE = "beyond the groove"
    INNER = "inner third"
    MIDDLE = "middle third"
    OUTER = "outer third"
    BEYOND = "beyond the tip"


#: Words of the zones, and the parts at which the next begins. As far on the other side of the groove still counts to the inner
#: third: a tip that rests in its fossa lies to either side of the groove. Common practice, no source.
ZONES: Final = (
    (Zone.BEFORE, say("beyond the groove")),
    (Zone.INNER, say("inner third")),
    (Zone.MIDDLE, say("middle third")),
    (Zone.OUTER, say("outer third")),
    (Zone.BEYOND, say("beyond the tip")),
)
EDGES: Final = (-1.0 / 3.0, 1.0 / 3.0, 2.0 / 3.0, 1.0)


class Tip(NamedTuple):
    """A lower tip across an upper incline: ``part`` 0 over the groove and 1 under the tip, ``from_groove`` in mm outward.

    ``cusp`` counts from mesial among ``cusps``; ``width_mm`` from groove to upper tip.
    """

    lower: int
    cusp: int
    cusps: int
    upper: int
    part: Carried
    from_groove: Carried
    width_mm: float

    def zones(self, *, pose_only: bool = False) -> tuple[int, int]:
        """Return the first and the last zone (indices of ``ZONES``) of the 95 % interval."""
        half = K * (self.part.without("landmark") if pose_only else self.part).u
        low, high = (
            int(np.searchsorted(EDGES, self.part.value + s * half, side="right")) for s in (-1.0, 1.0)
        )
        return low, high


class Across(NamedTuple):
    """All tips, and what could not be found: (lower tooth, cusp, why)."""

    tips: tuple[Tip, ...]
    lacking: tuple[tuple[int, int, str], ...]


class Front(NamedTuple):
    """Edges of one pair of front teeth: ``overjet`` how far the upper stands out, ``overbite`` how far they overlap, mm."""

    upper: int
    lower: int
    overjet: Carried
    overbite: Carried


class _Moved(NamedTuple):
    """How a place of the lower goes with the height, and what stays open there."""

    closing: Carried
    motion: Carried

    def along(self, point_mm: Array, direction: Array) -> Carried:
        """Return how far (mm) a place stands along a direction (3,), after closing, to first order in what is open.

        ``point_mm`` (3,) in the frame of the upper, the lower in the pose of the record.
        """
        at = self.at(point_mm)
        turning = np.array([-at[1], at[0], 0.0])
        by_motion = self.motion.linear((direction @ point_jacobian(at))[None, :], [float(direction @ at)])
        return by_motion + self.closing.linear([[float(direction @ turning)]], [0.0])

    def at(self, point_mm: Array) -> Array:
        c, s = math.cos(self.closing.value), math.sin(self.closing.value)
        return np.array([c * point_mm[0] - s * point_mm[1], s * point_mm[0] + c * point_mm[1], point_mm[2]])


def across(case: Case, evidence: ContactEvidence, motion: Carried, target: Stand) -> Across:
    """Find where every lower buccal cusp tip stands at a height.

    ``motion`` (6, rotation first): the small motion of the lower that record and placement leave open.
    """
    sited, moved = evidence.sited, _Moved(target.closing, motion)
    uppers = _tables(sited.upper.vertices_mm, sited.upper.faces, evidence.upper_teeth, sited.upper_frames)
    lowers = _tables(sited.lower.vertices_mm, sited.lower.faces, evidence.lower_teeth, sited.lower_frames)
    tips: list[Tip] = []
    lacking: list[tuple[int, int, str]] = []
    for lower, (_, own) in lowers.items():
        if not own:
            lacking.append(
                (lower, 0, say("no buccal cusp stands out: worn flat, or a border of the scan lies there"))
            )
        for n, place in enumerate(own):
            over = _over(uppers, lower, moved.at(place.point_mm))
            if over is None:
                lacking.append((lower, n, say("no upper back tooth stands over this cusp")))
                continue
            upper, (table, own_upper) = over, uppers[over]
            at = moved.at(place.point_mm)
            incline = incline_at(table, own_upper, float(at @ table.frame.mesial))
            if incline is None:
                why = say("groove or buccal cusp of {upper} cannot be found", upper=written(case, upper))
                lacking.append((lower, n, why))
                continue
            out = moved.along(place.point_mm, table.frame.outward)
            tips.append(_tip((lower, n, len(own)), upper, out, place, incline))
    return Across(tuple(tips), tuple(lacking))


def _tables(
    vertices_mm: Array, faces: I32, teeth: I32, frames: dict[int, ToothFrame]
) -> dict[int, tuple[Table, tuple[Place, ...]]]:
    found = {}
    for tooth in sorted((t for t in frames if is_tooth(t) and is_posterior(t)), key=along_arch_key):
        table = table_of(vertices_mm, faces[teeth == tooth], frames[tooth])
        if table is not None:
            found[tooth] = (table, outer_tips(table))
    return found


def _over(uppers: dict[int, tuple[Table, tuple[Place, ...]]], lower: int, at: Array) -> int | None:
    """Return the upper tooth of the same side that a place lies under; of two, the one nearer to whose middle it lies."""
    best, nearest = None, math.inf
    for upper, (table, _) in uppers.items():
        if side_of(upper) != side_of(lower):
            continue
        first, last = float(table.along_mm[0]), float(table.along_mm[-1])
        away = abs(float(at @ table.frame.mesial) - 0.5 * (first + last))
        if away <= 0.5 * (last - first) + _BESIDE_MM and away / (last - first) < nearest:
            best, nearest = upper, away / (last - first)
    return best


def _tip(which: tuple[int, int, int], upper: int, out: Carried, place: Place, on: Incline) -> Tip:
    """Carry pose and landmarks: part = (out - groove) / (tip - groove), its derivative by each to first order."""
    part = on.part(out.value)
    groove = measured(on.groove_mm, on.groove_u_mm, f"landmark/groove-{upper}-{which[0]}-{which[1]}")
    end = measured(on.tip_mm, on.tip_u_mm, f"landmark/tip-{upper}")
    own = measured(0.0, place.u_mm, f"landmark/tip-{which[0]}-{which[1]}")
    stands = out + own
    by = (stands - groove.times(1.0 - part) - end.times(part)).times(1.0 / on.width_mm)
    # the numerator is zero at the middle by construction: only its doubt is wanted
    return Tip(*which, upper, by - by.value + part, stands - groove, on.width_mm)


def fronts(evidence: ContactEvidence, motion: Carried, target: Stand) -> tuple[Front, ...]:
    """Return how the edges of the middle incisors stand to each other at a height; nothing where a scan lacks them."""
    sited, moved = evidence.sited, _Moved(target.closing, motion)
    found = []
    for upper, lower in _FRONTS:
        up = np.unique(sited.upper.faces[evidence.upper_teeth == upper])
        low = np.unique(sited.lower.faces[evidence.lower_teeth == lower])
        if not len(up) or not len(low):
            continue
        frame = sited.upper_frames[upper]
        edge, own = tip(sited.upper.vertices_mm[up], "upper"), tip(sited.lower.vertices_mm[low], "lower")
        doubt = measured(0.0, math.hypot(_EDGE_U_MM, _EDGE_U_MM), f"landmark/edges-{upper}")
        ahead = exact(float(edge @ frame.outward)) - moved.along(own, frame.outward) + doubt
        above = exact(float(edge @ frame.occlusal)) - moved.along(own, frame.occlusal) + doubt
        found.append(Front(upper, lower, ahead, above))
    return tuple(found)
