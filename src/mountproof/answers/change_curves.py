"""Part of question 7: every number of the sweep as a curve over the pin, with its band.

What the record and the placement leave open moves the closing at which a pair meets against the height that is told; the
shape of its curve stays, it slides along the axis. So the ends of a pair's band are the curve itself, read off 95 % further
on either side. For all pairs together, which slide in part alike, the sliding is drawn (JCGM 101:2008, 7).
Derivation: docs/theory/change.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from mountproof.answers.change_stands import Stand
from mountproof.answers.change_swept import Pair, Swept
from mountproof.answers.picture_data import Band, ChangeCurve, ChangeEvidence, ChangeTotals
from mountproof.answers.result import K95
from mountproof.geometry.carry import stack
from mountproof.geometry.poses import Array

#: Draws of the sliding, and the seed of their generator: the same case tells the same band.
_DRAWS: Final = 2000
_SEED: Final = 7
_ENDS: Final = (0.025, 0.975)
#: What stays open by more than this is not counted as something to be added, mm along closure.
NEAR_MM: Final = 1.0


def change_evidence(found: Swept, told: ChangeTotals) -> ChangeEvidence:
    """Return the curves of every pair over the heights that are told, beside those of all of them together (``totals``)."""
    pin = np.array([found.heights.pin_mm(a) for a in found.sweep.angles_rad[found.shown]])
    stands = tuple((s.words, found.heights.pin_mm(s.closing.value)) for s in found.heights.stands)
    curves = tuple(_curve(found, pair) for pair in found.pairs)
    at_pin = found.heights.pin is not None
    return ChangeEvidence(pin, curves, stands, at_pin, found.heights.by_mip, told)


def added(found: Swept, target: Stand) -> list[Pair]:
    """Return the pairs through which a tooth could be brought to meet: each tooth counts once, with what it meets first.

    Teeth that lie farther than ``NEAR_MM`` at a height are left open.
    """
    taken: set[int] = set()
    made = []
    for pair in sorted(found.pairs, key=lambda p: p.meets.value):
        if {pair.upper, pair.lower} <= taken or 0 in (pair.upper, pair.lower):
            continue
        taken |= {pair.upper, pair.lower}
        if -pair.off(target.closing).value <= NEAR_MM:
            made.append(pair)
    return made


def totals(found: Swept, target: Stand) -> ChangeTotals:
    """Return what all pairs together lose and gain over the heights, and the most that one of them does."""
    slid = _slid(found)
    near = {p.row for p in added(found, target)}
    off = [found.sweep.volume_mm3[p.row] for p in found.pairs]
    across = [found.sweep.normal_mm[p.row] for p in found.pairs]
    on = [np.nan_to_num(found.sweep.fill_mm3[p.row]) * (p.row in near) for p in found.pairs]
    gap = [np.nan_to_num(found.sweep.gap_mm[p.row]) * (p.row in near) for p in found.pairs]
    return ChangeTotals(
        _drawn(found, off, slid, np.sum), _drawn(found, on, slid, np.sum),
        _drawn(found, across, slid, np.max), _drawn(found, gap, slid, np.max),
    )  # fmt: skip


def _curve(found: Swept, pair: Pair) -> ChangeCurve:
    u = (pair.meets - found.heights.zero).u
    sweep, row = found.sweep, pair.row

    def band(curve: Array) -> Band:
        told = sweep.angles_rad[found.shown]
        ends = [np.interp(told + s * K95 * u, sweep.angles_rad, curve) for s in (-1.0, 1.0)]
        return Band(curve[found.shown], np.minimum(*ends), np.maximum(*ends))

    return ChangeCurve(
        pair.upper, pair.lower, band(sweep.normal_mm[row]), band(sweep.upper_mm2[row]), band(sweep.volume_mm3[row]),
        band(sweep.gap_mm[row]), band(sweep.fill_mm3[row]), float(sweep.unknown_rad[row]) < math.inf,
    )  # fmt: skip


def _slid(found: Swept) -> Array:
    """Draw by how much each pair meets later (rad) against the zero of the heights, (draws, p)."""
    left = stack([pair.meets - found.heights.zero for pair in found.pairs])
    normal = np.random.default_rng(_SEED).standard_normal((_DRAWS, left.parts.shape[1]))
    made: Array = normal @ left.parts.T
    return made


def _drawn(found: Swept, curves: list[Array], slid: Array, of: Callable[..., Array]) -> Band:
    told, angles = found.sweep.angles_rad[found.shown], found.sweep.angles_rad
    drawn = [np.interp(told - by[:, None], angles, c) for c, by in zip(curves, slid.T, strict=True)]
    low, high = np.quantile(of(drawn, axis=0), _ENDS, axis=0)
    return Band(of([c[found.shown] for c in curves], axis=0), low, high)
