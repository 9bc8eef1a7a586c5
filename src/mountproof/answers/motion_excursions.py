"""Excursions straight ahead and to both sides, at every travel that the answer to the guidance worked out."""

from __future__ import annotations

import math

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.excursion_data import Travel
from mountproof.answers.guidance_excursions import watched
from mountproof.answers.motion_parts import MotionPlace, MotionStep, gap_rows, motion_place, pair_words
from mountproof.answers.scene_words import gap_words
from mountproof.case.model import Case
from mountproof.geometry.driven import PairGap, Station
from mountproof.geometry.poses import Array, closed, inverse, transform
from mountproof.said import joined, say

#: Gaps that a person reads as none: what rounding leaves (mm).
_MET_MM = 1e-6


def excursion_steps(case: Case, evidence: ContactEvidence, travel: Travel) -> tuple[MotionStep, ...]:
    """Return the positions of one excursion with the middle settings; amounts are the travel of the condyles."""
    parting = {travel.teeth[i] for i in watched(travel)}
    return tuple(
        _step(case, evidence, travel, k, station, parting) for k, station in enumerate(travel.stations)
    )


def _step(
    case: Case, evidence: ContactEvidence, travel: Travel, k: int, station: Station, parting: set[int]
) -> MotionStep:
    amount = float(travel.travel_mm[k])
    label = {
        "ahead": say("{mm:.1f} mm ahead", mm=amount),
        "right": say("{mm:.1f} mm to the right", mm=amount),
        "left": say("{mm:.1f} mm to the left", mm=amount),
    }[travel.direction]
    near = [p for p in station.pairs if p.gap_mm < travel.far_mm]
    guide = travel.guides[k]
    behind = next(
        (p for p in near if p.upper_label in parting and (p.upper_label, p.lower_label) != guide), None
    )
    shown = [p for p in near if p.gap_mm <= travel.touch_mm or p is behind]
    places = _beside(case, station, guide) + tuple(_place(case, station, p) for p in shown)
    gaps = gap_rows(case, travel.teeth, tuple(_gap(float(g), travel.far_mm) for g in travel.gap_mm[:, k]))
    parts = [_meets(case, station, guide), _behind(case, travel, behind, guide, parting)]
    line = say("{where}: {what}.", where=label, what=joined("; ", parts))
    pose = station.motion @ evidence.upper_from_lower
    return MotionStep(amount, label, line, pose, station.motion, None, places, gaps)


def _meets(case: Case, station: Station, guide: tuple[int, int] | None) -> str:
    if guide is not None:
        return say("meets at {pair}", pair=pair_words(case, *guide))
    return say("nothing meets") if station.touch is None else say("meets beside the teeth")


def _behind(
    case: Case, travel: Travel, pair: PairGap | None, guide: tuple[int, int] | None, parting: set[int]
) -> str:
    ahead = travel.direction == "ahead"
    if pair is None:
        return (
            say("behind nothing is nearer than {mm:g} mm", mm=travel.far_mm)
            if ahead
            else say("on the nonworking side nothing is nearer than {mm:g} mm", mm=travel.far_mm)
        )
    told: dict[str, str | float] = {
        "pair": pair_words(case, pair.upper_label, pair.lower_label),
        "mm": max(pair.gap_mm, 0.0),
    }
    if guide is not None and guide[0] in parting:
        return (
            say("next behind {pair} leaves {mm:.2f} mm", **told)
            if ahead
            else say("next on the nonworking side {pair} leaves {mm:.2f} mm", **told)
        )
    return (
        say("nearest behind {pair} leaves {mm:.2f} mm", **told)
        if ahead
        else say("nearest on the nonworking side {pair} leaves {mm:.2f} mm", **told)
    )


def _beside(case: Case, station: Station, guide: tuple[int, int] | None) -> tuple[MotionPlace, ...]:
    """The place that stops the lower where that is no pair of teeth."""
    if station.touch is None or guide is not None:
        return ()
    at = station.touch.point_mm
    return (motion_place(case, 0, 0, 0.0, at, transform(inverse(station.motion), at), _MET_MM),)


def _place(case: Case, station: Station, pair: PairGap) -> MotionPlace:
    return motion_place(
        case,
        pair.upper_label,
        pair.lower_label,
        pair.gap_mm,
        pair.point_mm,
        _on_lower(station, pair),
        _MET_MM,
    )


def _on_lower(station: Station, pair: PairGap) -> Array:
    """The place of the lower that would meet the one of the upper: it closes on an arc about the axis of the station."""
    x, y = transform(inverse(station.axis), pair.point_mm)[:2]
    closes = station.closing_rad + pair.gap_mm / math.hypot(x, y)
    return transform(inverse(station.axis @ closed(closes)), pair.point_mm)


def _gap(gap_mm: float, far_mm: float) -> str:
    return gap_words(max(gap_mm, 0.0)) if math.isfinite(gap_mm) else say("over {mm:g} mm", mm=far_mm)
