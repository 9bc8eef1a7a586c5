"""The closing from the record to first contact, position by position."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.motion_parts import MotionPlace, MotionStep, gap_rows, motion_place
from mountproof.answers.progress import Progress
from mountproof.answers.scene_words import gap_words
from mountproof.case.model import Case
from mountproof.geometry.poses import closed
from mountproof.occlusion.site_table import Pair, SiteTable
from mountproof.occlusion.sites import at_closure
from mountproof.said import capital, say

#: Widths of a step, mm along closure at the first contact: the finest that needs no more than so many steps.
_STEPS_MM, _MOST = (0.25, 0.5, 1.0, 2.0), 12
#: A record that holds the casts no farther apart than this gives no way to show (mm): it begins this far open instead.
_LEAST_MM, OPEN_MM = 0.05, 1.0
_RADIUS_MM = 80.0
#: Pairs shown as the nearest ones, beside those that meet.
_NEAREST = 3
#: What rounding leaves of an exact contact (mm).
_MET_MM = 1e-6


def begins_open(evidence: ContactEvidence) -> bool:
    """Tell whether the record holds the casts together, so that the closing is shown from an opening of 1 mm."""
    return evidence.table.closed_rad * _radius(evidence.table) < _LEAST_MM


def closing_steps(case: Case, evidence: ContactEvidence, progress: Progress) -> tuple[MotionStep, ...]:
    """Return the positions from the record, or from 1 mm open, to first contact; amounts are what is left, along closure."""
    first, radius = evidence.table.closed_rad, _radius(evidence.table)
    span = OPEN_MM if begins_open(evidence) else first * radius
    wide = next((s for s in _STEPS_MM if span / s <= _MOST), _STEPS_MM[-1])
    even = [k * wide for k in range(math.ceil(span / wide))]
    # an even step right beside the first position would look the same
    left = [span, *(mm for mm in reversed(even) if mm == 0.0 or span - mm > 0.25 * wide)]
    out = []
    for k, mm in enumerate(left):
        progress(k / len(left), say("laying out the closing"))
        at = first - mm / radius
        table = evidence.table if mm == 0.0 else at_closure(evidence.sited, at)
        out.append(_step(case, evidence, table, mm, first if mm == 0.0 else at))
    return tuple(out)


def _radius(table: SiteTable) -> float:
    if not table.pairs:
        return _RADIUS_MM
    x, y = (float(v) for v in table.pairs[0].upper_point_mm[:2])
    return math.hypot(x, y)


def _step(
    case: Case, evidence: ContactEvidence, table: SiteTable, left_mm: float, closed_rad: float
) -> MotionStep:
    pairs = sorted(table.pairs, key=lambda p: (p.remaining_rad, p.upper_tooth, p.lower_tooth))
    places = tuple(_place(case, p) for p in pairs[:_NEAREST])
    known = [t for t in table.teeth if math.isfinite(t.smallest_gap_mm)]
    gaps = gap_rows(
        case, tuple(t.tooth for t in known), tuple(gap_words(max(t.smallest_gap_mm, 0.0)) for t in known)
    )
    label = say("first contact") if left_mm == 0.0 else say("{mm:.2f} mm before first contact", mm=left_mm)
    moved = closed(closed_rad)
    pose = moved @ evidence.upper_from_lower
    line = capital(say("{where}: {what}.", where=label, what=_what(places)))
    return MotionStep(left_mm, label, line, pose, moved, closed_rad, places, gaps)


def _place(case: Case, pair: Pair) -> MotionPlace:
    return motion_place(
        case, pair.upper_tooth, pair.lower_tooth, pair.remaining_along_closure_mm,
        np.asarray(pair.upper_point_mm), np.asarray(pair.lower_point_mm), _MET_MM,
    )  # fmt: skip


def _what(places: tuple[MotionPlace, ...]) -> str:
    if not places:
        return say("no two teeth come near each other")
    first = places[0]
    if first.kind == "near":
        return say(
            "{pair} will meet first, still {mm:.2f} mm apart along closure", pair=first.pair, mm=first.gap_mm
        )
    if len(places) == 1:
        return say("meets at {pair}", pair=first.pair)
    return say(
        "meets at {pair}; next {other} leaves {mm:.2f} mm",
        pair=first.pair,
        other=places[1].pair,
        mm=places[1].gap_mm,
    )
