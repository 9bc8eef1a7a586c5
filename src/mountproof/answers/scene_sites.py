"""The stops of the closing slider, and what is to be told at each."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.foils import written
from mountproof.answers.scene_contours import contour_labels
from mountproof.answers.scene_parts import SceneArch, SceneSite, SceneStep, SceneStop
from mountproof.answers.scene_pin import PinScene, pin_words
from mountproof.answers.scene_words import foil_words, gap_words, place_words
from mountproof.case.model import Case
from mountproof.geometry.poses import Array
from mountproof.occlusion.site_table import SiteTable
from mountproof.occlusion.sites import at_closure
from mountproof.said import joined, say

#: How far the slider goes beyond the record's pose and beyond first contact, mm along closure at the first contact.
_OPENER_MM, _BEYOND_MM = 0.3, 1.0
#: Where the slider stops by itself before and beyond first contact.
_BEFORE_MM = (1.0, 0.5, 0.2)
_PAST_MM = (0.1, 0.2, 0.5, 1.0)
#: Widths of a step of the slider, mm along closure: the finest that needs no more than so many steps.
_STEPS_MM = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
_MOST_STEPS = 300
_RADIUS_MM = 80.0


def scene_steps(
    evidence: ContactEvidence, pin: PinScene | None
) -> tuple[tuple[SceneStep, ...], tuple[int, ...]]:
    """Return every place of the slider, from open to closed, and the numbers of those where it stops by itself.

    Steps are even, mm along closure at the place of the first contact, which is one of them; so is the record's pose.
    """
    first, radius = evidence.table.closed_rad, _first_radius(evidence.table)
    low = min(0.0, first - _OPENER_MM / radius)
    high = max(0.0, first + _BEYOND_MM / radius)
    span = (high - low) * radius
    step = next((s for s in _STEPS_MM if span / s <= _MOST_STEPS), _STEPS_MM[-1]) / radius
    grid = range(math.ceil((low - first) / step - 1e-6), math.floor((high - first) / step + 1e-6) + 1)
    even = [first + k * step for k in grid]
    # A step right beside the record's pose would look the same.
    angles = sorted({0.0, *(a for a in even if a == first or abs(a) > 0.25 * step)})
    steps = tuple(_step(a, first, radius, pin) for a in angles)
    wanted = [0.0, first, *(first + mm / radius for mm in (*(-mm for mm in _BEFORE_MM), *_PAST_MM))]
    inside = [a for a in wanted if low - 1e-9 <= a <= high + 1e-9]
    return steps, tuple(sorted({int(np.argmin(np.abs(np.array(angles) - a))) for a in inside}))


def _first_radius(table: SiteTable) -> float:
    if not table.pairs:
        return _RADIUS_MM
    x, y = (float(v) for v in table.pairs[0].upper_point_mm[:2])
    return math.hypot(x, y)


def _step(angle: float, first: float, radius: float, pin: PinScene | None) -> SceneStep:
    left = (first - angle) * radius
    if abs(left) < 0.0005:
        words = say("first contact")
    elif left > 0.0:
        words = say("{mm:.2f} mm before first contact", mm=left)
    else:
        words = say("{mm:.2f} mm past first contact", mm=-left)
    if angle == 0.0:
        words = say("as the record holds them, {place}", place=words)
    return SceneStep(angle, words, pin_words(pin, angle))


def scene_stop(
    case: Case, evidence: ContactEvidence, arches: tuple[SceneArch, SceneArch], step: SceneStep
) -> SceneStop:
    """Return what is to be told at one place of the slider."""
    table = at_closure(evidence.sited, step.closed_rad)
    upper, lower = (contour_labels(arch, step.closed_rad, evidence.band_edges_mm) for arch in arches)
    hidden = [written(case, t.tooth) for t in table.teeth if t.unknown_mm2 > 0.0]
    notes = (
        (say("Holes in the scans leave part of these teeth unknown: {teeth}.", teeth=joined(", ", hidden)),)
        if hidden
        else ()
    )
    return SceneStop(step, _sites(case, table), (upper, lower), notes)


def _sites(case: Case, table: SiteTable) -> tuple[SceneSite, ...]:
    """Return the sites under the thickest foil, and every further tooth pair at its closest place, in the order in which
    they meet on closing (as on the sheet; a gap farther from the hinge closes sooner)."""
    thickest = table.foils_um[-1]
    found: list[tuple[float, int, int, float, Array, Array, str, str, str]] = []
    for s in table.sites:
        if s.foil_um == thickest:
            where = say("runs into a hole: it may be larger") if s.open_edge else ""
            found.append(
                (s.gap_along_closure_mm, s.upper_tooth, s.lower_tooth, s.gap_along_normal_mm,
                 s.upper_point_mm, s.lower_point_mm, s.upper_facing, s.lower_facing, where)
            )  # fmt: skip
    listed = {(f[1], f[2]) for f in found}
    for p in table.pairs:
        if (p.upper_tooth, p.lower_tooth) not in listed:
            where = "" if p.known else say("at the border of a scan")
            found.append(
                (p.remaining_along_closure_mm, p.upper_tooth, p.lower_tooth, p.remaining_along_normal_mm,
                 p.upper_point_mm, p.lower_point_mm, p.upper_facing, p.lower_facing, where)
            )  # fmt: skip
    found.sort(key=lambda f: (f[0] / math.hypot(f[4][0], f[4][1]), f[1], f[2], float(f[4][0])))
    seen: dict[tuple[int, int], int] = {}
    return tuple(_site(case, table.foils_um, seen, *one) for one in found)


def _site(
    case: Case,
    foils_um: Sequence[float],
    seen: dict[tuple[int, int], int],
    along: float,
    upper: int,
    lower: int,
    normal: float,
    upper_mm: Array,
    lower_mm: Array,
    upper_facing: str,
    lower_facing: str,
    where: str,
) -> SceneSite:
    count = seen[upper, lower] = seen.get((upper, lower), 0) + 1
    one, other = written(case, upper), written(case, lower)
    parts = [say("{upper} against {lower}", upper=one, lower=other)]
    gap, beside = gap_words(along), gap_words(normal)
    parts.append(
        gap
        if gap == beside
        else say("{along} along closure, {normal} along the normal", along=gap, normal=beside)
    )
    holds = foil_words(along, foils_um)
    parts.append(
        say("holds foil from {foil} on", foil=holds)
        if holds
        else say("holds no foil up to {um:g} µm", um=foils_um[-1])
    )
    facing = _facing(one, upper_facing, other, lower_facing)
    at = place_words(upper_mm)
    parts += [part for part in (facing, at, where) if part]
    return SceneSite(
        f"{upper}-{lower}-{count}", one, other, gap, beside, holds, facing, upper_mm, lower_mm, at,
        joined(say("; "), parts), along,
    )  # fmt: skip


def _facing(upper: str, on_upper: str, lower: str, on_lower: str) -> str:
    told = []
    for facing, tooth in ((on_upper, upper), (on_lower, lower)):
        if facing == "level":
            told.append(say("level on {tooth}", tooth=tooth))
        elif facing:
            told.append(say("{facing} incline of {tooth}", facing=facing, tooth=tooth))
    return joined(say(", "), told) if told else ""
