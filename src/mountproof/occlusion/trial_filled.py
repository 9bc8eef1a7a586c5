"""What is added at the end of a trial: teeth that stay open are built up on the duplicates until they meet.

The patch that lies nearest to the other arch is raised along the direction of closing until it lies against it, as the sweep
fills it (docs/theory/change.md). Faces stay flat between their corners, so a raised patch may stand a little too high: it is
taken back by what closing tells, and the arches close as far as before.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np

from mountproof.geometry.contact import first_contact, first_contacts_by_label
from mountproof.occlusion.change import parts_of
from mountproof.occlusion.trial import Plan, State, gaps_of, held_pairs, turned
from mountproof.occlusion.trial_cuts import Cut, Floats, cuts_of

#: How far above its nearest place a patch may lie that is raised, mm along closure: that of the sweep.
_BAND_MM: Final = 0.1
#: So often what stands too high is taken back, and what then may be left of it, mm of arc.
_BACK, _LEFT_MM = 12, 1e-4


class Filled(NamedTuple):
    """The state after it; what was added to each tooth (as ``Cut``: depths and volume of what is new); and what stays open.

    ``open_mm``: (upper, lower) pairs that would need more than is allowed, or of which neither may be built up, with their
    gap (mm of arc).
    """

    state: State
    added: tuple[Cut, ...]
    open_mm: tuple[tuple[int, int, float], ...]


class _Patch(NamedTuple):
    upper: int
    lower: int
    gap_mm: float


def filled(
    state: State, plan: Plan, most_mm: float, by_tooth_mm: Mapping[int, float] | None = None
) -> Filled:
    """Build up every tooth that stays open by no more than ``most_mm`` (mm along closure, both teeth of a pair
    together); ``by_tooth_mm`` are limits of single teeth in its place.

    Who is built up follows the plan as what comes off does: its share, without teeth that keep their shape. Each tooth is
    raised once, against the opponent that is nearest. ValueError for a limit that is no number from 0 on.
    """
    if not (math.isfinite(most_mm) and most_mm >= 0.0):
        raise ValueError(f"a limit of 0 mm or more is wanted, not {most_mm}")
    limits = {} if by_tooth_mm is None else by_tooth_mm
    left = [_left(state, upper=True), _left(state, upper=False)]
    raise_by = [np.zeros(len(left[0])), np.zeros(len(left[1]))]
    still = []
    for pair in _open(state, left):
        parts = parts_of(pair.upper, pair.lower, plan.share, plan.excluded)
        most = min((limits[t] for t in (pair.upper, pair.lower) if t in limits), default=most_mm)
        if parts is None or pair.gap_mm > most:
            still.append((pair.upper, pair.lower, pair.gap_mm))
            continue
        sides = ((state.upper, pair.upper, pair.lower), (state.lower, pair.lower, pair.upper))
        for k, (mine, own, against) in enumerate(sides):
            radius = np.hypot(mine.surface.rest_mm[:, 0], mine.surface.rest_mm[:, 1])
            near = left[k] * radius <= pair.gap_mm + _BAND_MM
            here = (mine.vertex_teeth == own) & (mine.opposed == against) & near & (left[k] > 0.0)
            raise_by[k][here] = np.maximum(raise_by[k][here], parts[k] * left[k][here])
    made = _taken_back(state, raise_by)
    cuts = (
        *cuts_of(made.upper, state.upper.surface.rest_mm),
        *cuts_of(made.lower, state.lower.surface.rest_mm),
    )
    return Filled(made, cuts, tuple(still))


def _left(state: State, *, upper: bool) -> Floats:
    """Return how much farther (rad) each vertex of an arch stands from the other than it has closed; infinite over nothing."""
    mine, other = (state.upper, state.lower) if upper else (state.lower, state.upper)
    gap = gaps_of(mine, other, np.arange(len(mine.vertex_teeth)))
    left: Floats = np.where(np.isfinite(gap), gap - state.closing_rad, np.inf)
    return left


def _open(state: State, left: list[Floats]) -> list[_Patch]:
    """Return the pairs that do not hold, nearest first, each tooth with what is nearest to it."""
    best: dict[tuple[int, int], float] = {}
    for k, mine in enumerate((state.upper, state.lower)):
        radius = np.hypot(mine.surface.rest_mm[:, 0], mine.surface.rest_mm[:, 1])
        gap = left[k] * radius
        for own, against in np.unique(np.stack([mine.vertex_teeth, mine.opposed], axis=1), axis=0).tolist():
            if own and against:
                here = (mine.vertex_teeth == own) & (mine.opposed == against)
                pair = (own, against) if k == 0 else (against, own)
                best[pair] = min(best.get(pair, math.inf), float(gap[here].min()))
    done = {t for met in held_pairs(state, state.contact) for t in (met.upper_label, met.lower_label)}
    made = []
    for pair, gap_mm in sorted(best.items(), key=lambda item: item[1]):
        if set(pair) & done or not math.isfinite(gap_mm):
            continue
        done |= set(pair)
        made.append(_Patch(*pair, max(gap_mm, 0.0)))
    return made


def _taken_back(state: State, raise_by: list[Floats]) -> State:
    """Raise the patches and take back, pair by pair, what then meets sooner, until the arches close as far as before."""
    by = [b.copy() for b in raise_by]
    radius = math.hypot(float(state.contact.point_mm[0]), float(state.contact.point_mm[1]))
    for _ in range(_BACK):
        made = state._replace(upper=turned(state.upper, -by[0]), lower=turned(state.lower, by[1]))
        met = first_contacts_by_label(
            made.upper.surface,
            made.lower.surface,
            made.upper.teeth,
            made.lower.teeth,
            within_rad=state.closing_rad,
        )
        early = [(m, state.closing_rad - m.contact.closing_rad) for m in met]
        if all(rad * radius <= _LEFT_MM for _, rad in early):
            break
        for one, rad in early:
            teeth = ((state.upper, one.upper_label), (state.lower, one.lower_label))
            here = [(mine.vertex_teeth == t) & (b > 0.0) for (mine, t), b in zip(teeth, by, strict=True)]
            raised = sum(bool(h.any()) for h in here)
            for b, h in zip(by, here, strict=True):
                b[h] = np.maximum(b[h] - rad / max(raised, 1), 0.0)
    again = first_contact(made.upper.surface, made.lower.surface)
    assert again is not None  # nothing is taken away here
    met_now = held_pairs(made, again)
    return made._replace(closing_rad=again.closing_rad, contact=again, met=met_now)
