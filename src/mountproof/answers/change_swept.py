"""Part of question 7: a sweep of both scans over the vertical dimension, pair by pair, with what the record leaves open."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.answers.change_stands import Heights, Stand, is_front
from mountproof.answers.foils import written
from mountproof.answers.result import K95
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried, stack
from mountproof.geometry.overlap_arches import overlap_of_arches
from mountproof.geometry.sweep import Sweep, sweep
from mountproof.occlusion.change import carried_closing

#: Angles of the curves, beside the stands, and of what lies beyond either end.
_STEPS, _AROUND = 24, 5
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
    """A sweep with its heights: ``at`` gives the column of each stand's angle, ``shown`` the columns that are told.

    The sweep reaches beyond them by what the record leaves open, for the bands. ``exact_mm3``: all that overlaps at a stand
    (by its key), gum and what is no tooth included, where its surface is closed.
    """

    sweep: Sweep
    pairs: tuple[Pair, ...]
    heights: Heights
    at: dict[str, int]
    shown: slice
    exact_mm3: dict[str, float]

    def column(self, stand: Stand) -> int:
        """Return the column of a stand, the last that is told where it lies beyond."""
        last: int = self.shown.stop - 1
        return self.at.get(stand.key, last)


def swept(closed: Closed, heights: Heights) -> Swept:
    """Sweep from first contact to beyond the last height that is told."""
    evidence = closed.evidence
    assert evidence is not None
    start, radius = heights.first.closing_rad, float(np.hypot(*heights.first.point_mm[:2]))
    last = max(s.closing.value for s in heights.stands)
    last = last + _BEYOND_MM / radius if last > start else start + _PLAIN_MM / radius
    end = min(last, start + _MOST_MM / radius)
    stands = [s.closing.value for s in heights.stands if start <= s.closing.value <= end]
    meets = [carried_closing(p.contact, heights.motion) - heights.zero for p in closed.pairs]
    open_rad = min(K95 * max(m.u for m in meets), _MOST_MM / radius)
    angles = np.unique(np.concatenate([
        np.linspace(start - open_rad, start, _AROUND), np.linspace(start, end, _STEPS), stands,
        np.linspace(end, end + open_rad, _AROUND),
    ]))  # fmt: skip
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
    shown = slice(int(np.searchsorted(angles, start)), int(np.searchsorted(angles, end, "right")))
    exact = {
        key: _exact_mm3(closed, float(angles[column])) for key, column in at.items() if angles[column] > start
    }
    return Swept(found, pairs, heights, at, shown, {k: v for k, v in exact.items() if v is not None})


def _exact_mm3(closed: Closed, closing_rad: float) -> float | None:
    """Return all that overlaps after closing so far, None where its surface is not closed (a border lies in it)."""
    assert closed.evidence is not None
    sited = closed.evidence.sited
    patches = overlap_of_arches(sited.upper, sited.lower, sited.closing, closing_rad)
    return sum(p.volume_mm3 for p in patches) if all(p.closed for p in patches) else None


def pair_words(case: Case, pair: Pair) -> str:
    """Return the names of a pair of teeth."""
    return f"{written(case, pair.upper)} / {written(case, pair.lower)}"


def overlapping(found: Swept, target: Stand) -> list[Pair]:
    """Return the pairs that overlap at a height, the deepest across their surfaces first."""
    deep = found.sweep.normal_mm[:, found.column(target)]
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
    """Return the volume that comes off these pairs (mm3); its doubt is, to first order, area times that of the depth.

    The whole is exact where its surface is closed; these pairs' part of it is that of the sweep.
    """
    at = found.at[stand.key]
    parts = stack([p.off(stand.closing) for p in pairs])
    areas = np.array([[found.sweep.area_mm2[p.row, at] for p in pairs]])
    theirs = float(sum(found.sweep.volume_mm3[p.row, at] for p in pairs))
    whole = float(found.sweep.volume_mm3[:, at].sum())
    if stand.key in found.exact_mm3 and whole > 0.0:
        theirs *= found.exact_mm3[stand.key] / whole
    return parts.linear(areas, [theirs])
