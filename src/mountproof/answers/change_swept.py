"""Part of question 7: a sweep of both scans over the vertical dimension, pair by pair, with what the record leaves open."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.answers.change_stands import Heights, Stand, is_front
from mountproof.answers.foils import written
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried, stack
from mountproof.geometry.sweep import Sweep, sweep
from mountproof.occlusion.change import carried_closing

#: Angles of the curves, beside the stands.
_STEPS = 24
#: The sweep goes this much beyond the last stand, and no farther than this in all, mm along closure at first contact.
_BEYOND_MM, _MOST_MM = 0.1, 2.0
#: How far the sweep goes where neither MIP nor front teeth bound it, mm along closure at first contact.
_PLAIN_MM = 0.6


class Pair(NamedTuple):
    """One pair of teeth: its row in the sweep, and the closing (rad) at which it meets, with its doubt."""

    row: int
    upper: int
    lower: int
    meets: Carried
    radius_mm: float
    rise: float

    def off(self, closing: Carried) -> Carried:
        """Return how deep the pair overlaps along closure (mm) at a closing; below zero: the gap that is left."""
        return (closing - self.meets).times(self.radius_mm)


class Swept(NamedTuple):
    """A sweep with its heights: ``at`` gives the column of each stand's angle."""

    sweep: Sweep
    pairs: tuple[Pair, ...]
    heights: Heights
    at: dict[str, int]


def swept(closed: Closed, heights: Heights) -> Swept:
    """Sweep from first contact to beyond the last height that is told."""
    evidence = closed.evidence
    assert evidence is not None
    start, radius = heights.first.closing_rad, float(np.hypot(*heights.first.point_mm[:2]))
    last = max(s.closing.value for s in heights.stands)
    last = last + _BEYOND_MM / radius if last > start else start + _PLAIN_MM / radius
    end = min(last, start + _MOST_MM / radius)
    stands = [s.closing.value for s in heights.stands if start <= s.closing.value <= end]
    angles = np.unique(np.concatenate([np.linspace(start, end, _STEPS), stands]))
    sited = evidence.sited
    found = sweep(sited.upper, sited.lower, evidence.upper_teeth, evidence.lower_teeth, angles,
                  chart=sited.closing, firsts=closed.pairs)  # fmt: skip
    rows = {
        pair: n
        for n, pair in enumerate(zip(found.upper_labels.tolist(), found.lower_labels.tolist(), strict=True))
    }
    pairs = tuple(
        Pair(
            rows[p.upper_label, p.lower_label], p.upper_label, p.lower_label, carried_closing(p.contact, heights.motion),
            math.hypot(float(p.contact.point_mm[0]), float(p.contact.point_mm[1])), p.contact.rise,
        )
        for p in closed.pairs
    )  # fmt: skip
    at = {
        s.key: int(np.argmin(np.abs(angles - s.closing.value)))
        for s in heights.stands
        if s.closing.value <= end
    }
    return Swept(found, pairs, heights, at)


def pair_words(case: Case, pair: Pair) -> str:
    """Return the names of a pair of teeth."""
    return f"{written(case, pair.upper)} / {written(case, pair.lower)}"


def overlapping(found: Swept, target: Stand) -> list[Pair]:
    """Return the pairs that overlap at a height, the deepest across their surfaces first."""
    at = found.at.get(target.key, -1)
    deep = found.sweep.normal_mm[:, at]
    pairs = [p for p in found.pairs if p.off(target.closing).value > 0.0]
    return sorted(pairs, key=lambda p: -float(deep[p.row]))


def front_pair(found: Swept) -> Pair | None:
    """Return the pair of front teeth that meets first, None where no front teeth come near."""
    return next((p for p in found.pairs if is_front(p.upper, p.lower)), None)


def depth(found: Swept, pair: Pair, stand: Stand) -> Carried:
    """Return what comes off a pair across its surfaces (mm) at a height; its doubt is that along closure, as far as it leans."""
    deep = found.sweep.normal_mm[pair.row, found.at[stand.key]]
    along = pair.off(stand.closing)
    return along.times(pair.rise) + float(deep - along.value * pair.rise)


def volume(found: Swept, pairs: list[Pair], stand: Stand) -> Carried:
    """Return the volume that comes off these pairs (mm3): to first order it goes with area times depth."""
    at = found.at[stand.key]
    parts = stack([p.off(stand.closing) for p in pairs])
    areas = np.array([[found.sweep.area_mm2[p.row, at] for p in pairs]])
    return parts.linear(areas, [float(sum(found.sweep.volume_mm3[p.row, at] for p in pairs))])
