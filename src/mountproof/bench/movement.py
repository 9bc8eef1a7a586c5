"""Whether anything moved between two states with the same record in: the pairs one by one, and as one rigid cast."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from mountproof.bench.pose import Marks
from mountproof.bench.readings import Table, carried_reading
from mountproof.geometry.carry import Carried, stack
from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array
from mountproof.geometry.quantile import coverage_factor

#: Two-sided 95 %: with the difference of two readings it gives the repeatability limit 1.96 sqrt(2) = 2.8 SD
#: (ISO 5725-6, from memory).
_P = 0.95


class PairChange(NamedTuple):
    """Change of one pair (mm, longer above zero), its u, and the largest change that repeats alone would give."""

    pair: str
    change_mm: float
    u_mm: float
    limit_mm: float

    @property
    def beyond(self) -> bool:
        """Whether the change is larger than repeats alone would give."""
        return abs(self.change_mm) > self.limit_mm


class Movement(NamedTuple):
    """What moved: every pair, the mean, and the best-fitting lift and tilt of the lower cast.

    ``lift`` (mm, away from the upper cast above zero) is that of the middle of the measured marks; ``pitch`` and
    ``roll`` (rad) open the front, and lower the right side, above zero. They are None where the pairs do not carry
    them. ``*_detectable`` are the smallest amounts these readings would show (two-sided 95 %).
    ``still_tail`` is the probability of changes at least as large, all together, where nothing moved.
    """

    pairs: tuple[PairChange, ...]
    mean: Carried
    lift: Carried | None
    pitch: Carried | None
    roll: Carried | None
    chi_square: float
    still_tail: float

    @property
    def lift_detectable_mm(self) -> float:
        """Smallest mean change of distance that would be seen."""
        return coverage_factor(_P) * self.mean.u

    @property
    def tilt_detectable_rad(self) -> float:
        """Smallest tilt, about the worse of both axes, that would be seen; infinite where tilt is not carried."""
        if self.pitch is None or self.roll is None:
            return math.inf
        return coverage_factor(_P) * max(self.pitch.u, self.roll.u)


def movement(
    marks: Marks,
    table: Table,
    before: str,
    after: str,
    lower_before_mm: Mapping[str, Array] | None = None,
) -> Movement:
    """Return what moved between ``before`` and ``after``.

    Lift, pitch and roll by weighted least squares over all pairs read in both states, other motion left out: for
    straight pairs that is all they see. ``lower_before_mm`` are the places of the lower marks in ``before``
    (those of the reference state by default, near enough for changes of tenths). Raises ValueError without a pair.
    """
    used = [p for p in marks.pairs if p.name in table.get(before, {}) and p.name in table.get(after, {})]
    if not used:
        raise ValueError(f"no pair of marks was read both in {before!r} and in {after!r}")
    changes = stack(
        [
            carried_reading(table[after][p.name], after, p.name)
            - carried_reading(table[before][p.name], before, p.name)
            for p in used
        ]
    )
    us = changes.us
    k = coverage_factor(_P)
    rows = tuple(
        PairChange(p.name, float(c), float(u), k * float(u))
        for p, c, u in zip(used, changes.values, us, strict=True)
    )
    mean = changes.linear(np.full((1, len(used)), 1.0 / len(used)))
    places = lower_before_mm or {name: np.asarray(place.xyz_mm) for name, place in marks.lower.items()}
    lower = np.array([places[p.lower] for p in used])
    upper = np.array([marks.upper[p.upper].xyz_mm for p in used])
    weight = np.where(us > 0.0, 1.0 / np.where(us > 0.0, us, 1.0), 1.0)
    chi = float(np.sum((changes.values * weight) ** 2))
    three = _lift_and_tilt(lower, upper, weight)
    lift = pitch = roll = None
    if three is not None:
        fitted = changes.linear(three)
        lift, pitch, roll = fitted[0], fitted[1], fitted[2]
    return Movement(rows, mean, lift, pitch, roll, chi, chi2_tail(chi, len(used)))


def _lift_and_tilt(lower: Array, upper: Array, weight: Array) -> Array | None:
    """Gain (3, n) from changes of distance to lift, pitch, roll; None where the pairs lie along a line."""
    across = lower - upper
    n = across / np.linalg.norm(across, axis=1)[:, None]
    arm = lower - lower.mean(axis=0)
    down = -n[:, 1]
    # opening by pitch: Rz(-pitch); roll lowers the right side: turn about x by which z goes to -y
    pitch = -(arm[:, 0] * n[:, 1] - arm[:, 1] * n[:, 0])
    roll = arm[:, 1] * n[:, 2] - arm[:, 2] * n[:, 1]
    design = np.column_stack([down, pitch, roll])
    if design.shape[0] < 3:
        return None
    spread = np.linalg.svd(arm[:, [0, 2]], compute_uv=False)
    if spread[-1] < _FLAT * spread[0]:
        return None
    white = design * weight[:, None]
    gain: Array = np.linalg.pinv(white) * weight[None, :]
    return gain


#: Marks whose spread across is below this part of their spread along carry no tilt about that line: the tilt's doubt
#: would be some twenty times that about the other axis, beyond any limit set for it.
_FLAT = 0.05
