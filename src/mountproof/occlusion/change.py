"""What it takes to reach a vertical dimension: what comes off each tooth, what is added, and within which limits.

Derivation: docs/theory/change.md. Angles are closings about the hinge (rad) from the pose of the record, as in
``geometry.sweep``; depths are across the surfaces, mm.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.carry import Carried
from mountproof.geometry.contact import Contact
from mountproof.geometry.poses import Array, point_jacobian, transform
from mountproof.geometry.sweep import Sweep

Floats = NDArray[np.float64]
#: Whose teeth are reshaped where two overlap.
Share = Literal["both", "upper", "lower"]
_PARTS: Final[dict[str, tuple[float, float]]] = {"both": (0.5, 0.5), "upper": (1.0, 0.0), "lower": (0.0, 1.0)}


class Needs(NamedTuple):
    """What n teeth need at k closings: ``off_mm`` (n, k) comes off across the surface, ``off_mm3`` as volume.

    ``add_mm`` (n, k): height to be added along closure until the tooth meets its nearest opponent, NaN where nothing
    opposes it, and ``add_mm3`` over its patch; ``unknown_rad`` (n,): closing from which on a hole may hide more.
    """

    angles_rad: Floats
    teeth: tuple[int, ...]
    off_mm: Floats
    off_mm3: Floats
    add_mm: Floats
    add_mm3: Floats
    unknown_rad: Floats


class Bound(NamedTuple):
    """A closing (rad) at which a limit of one tooth is reached; ``tooth`` 0 where no tooth sets it."""

    closing_rad: float
    tooth: int


class Window(NamedTuple):
    """The closings within the limits: no farther than ``most`` (what comes off), at least as far as ``least`` (what is added)."""

    least: Bound
    most: Bound

    @property
    def open(self) -> bool:
        """Whether any closing lies within both."""
        return self.least.closing_rad <= self.most.closing_rad


def parts_of(
    upper_tooth: int, lower_tooth: int, share: Share, excluded: Collection[int] = ()
) -> tuple[float, float] | None:
    """Return which part of an overlap comes off the upper and off the lower tooth; None where neither may be reshaped.

    A tooth of ``excluded``, or what is no tooth (0), keeps its shape: its opponent takes all, where ``share`` lets it.
    """
    up, low = _PARTS[share]
    if upper_tooth == 0 or upper_tooth in excluded:
        up, low = 0.0, 1.0 if low > 0.0 else 0.0
    if lower_tooth == 0 or lower_tooth in excluded:
        up, low = (1.0 if up > 0.0 else 0.0), 0.0
    return None if up + low == 0.0 else (up, low)


def needs(found: Sweep, share: Share = "both", excluded: Collection[int] = ()) -> Needs:
    """Return what every tooth needs, from the overlaps of all pairs.

    Depths are the greatest over a tooth's opponents, volumes their sum. Pairs of which neither tooth may be reshaped
    are left out: see ``blocked``.
    """
    teeth = sorted({*found.upper_labels.tolist(), *found.lower_labels.tolist()} - {0})
    row = {tooth: n for n, tooth in enumerate(teeth)}
    shape = (len(teeth), len(found.angles_rad))
    off, volume = np.zeros(shape), np.zeros(shape)
    add, fill = np.full(shape, np.nan), np.full(shape, np.nan)
    least, unknown = np.full(len(teeth), np.inf), np.full(len(teeth), np.inf)
    for p, pair in enumerate(zip(found.upper_labels.tolist(), found.lower_labels.tolist(), strict=True)):
        parts = parts_of(*pair, share, excluded) or (0.0, 0.0)
        for tooth, part in zip(pair, parts, strict=True):
            if tooth == 0:
                continue
            n = row[tooth]
            off[n] = np.maximum(off[n], part * found.normal_mm[p])
            volume[n] += part * found.volume_mm3[p]
            unknown[n] = min(unknown[n], float(found.unknown_rad[p]))
            if found.least_rad[p] < least[n] and 0 not in pair:
                least[n], add[n], fill[n] = found.least_rad[p], found.gap_mm[p], found.fill_mm3[p]
    return Needs(found.angles_rad, tuple(teeth), off, volume, add, fill, unknown)


def blocked(found: Sweep, share: Share, excluded: Collection[int]) -> tuple[tuple[int, int, float], ...]:
    """Return the pairs (upper, lower, closing at which they meet) that stop closing since neither may be reshaped."""
    pairs = zip(
        found.upper_labels.tolist(), found.lower_labels.tolist(), found.least_rad.tolist(), strict=True
    )
    stop = [(u, w, t) for u, w, t in pairs if math.isfinite(t) and parts_of(u, w, share, excluded) is None]
    return tuple(sorted(stop, key=lambda one: one[2]))


def window(
    wanted: Needs, off_budget_mm: Mapping[int, float], add_budget_mm: Mapping[int, float] | None = None
) -> Window:
    """Return the closings at which no tooth goes beyond its own budget, of what may come off and of what may be added.

    Budgets are the clinician's, tooth by tooth; a tooth without one sets no bound, and without any nothing is claimed: the
    window is then the whole sweep. Between the angles of the sweep depths and gaps run straight (they are linear
    in the closing but for where the deepest place changes).
    """
    first, last = float(wanted.angles_rad[0]), float(wanted.angles_rad[-1])
    most, least = Bound(last, 0), Bound(first, 0)
    for n, tooth in enumerate(wanted.teeth):
        if tooth in off_budget_mm:
            reached = _crossing(wanted.angles_rad, wanted.off_mm[n], off_budget_mm[tooth])
            if reached < most.closing_rad:
                most = Bound(reached, tooth)
        if add_budget_mm is not None and tooth in add_budget_mm and np.isfinite(wanted.add_mm[n, 0]):
            reached = _crossing(wanted.angles_rad, -wanted.add_mm[n], -add_budget_mm[tooth])
            if reached > least.closing_rad:
                least = Bound(reached, tooth)
    return Window(least, most)


def _crossing(angles: Floats, rising: Floats, level: float) -> float:
    """Return the angle at which a curve that never falls passes a level; the last angle (or infinity) where it does not."""
    beyond = np.flatnonzero(rising > level)
    if not len(beyond):
        return float(angles[-1]) if rising[-1] >= level else math.inf
    n = int(beyond[0])
    if n == 0:
        return float(angles[0])
    a, b = rising[n - 1], rising[n]
    return float(angles[n - 1] + (angles[n] - angles[n - 1]) * (level - a) / (b - a))


def height_closing(upper_from_lower: Array, in_mip: Array, place_mm: Array) -> float:
    """Return how far the lower closes (rad) from one pose until a place of it stands as high as in MIP.

    ``upper_from_lower``, ``in_mip`` (4, 4): where the closing starts, and MIP; ``place_mm`` (3,): in the lower's own
    coordinates. On the circle about the hinge height is r sin(phi): closing asin(y_mip / r) - phi. ValueError
    where the place cannot come so high.
    """
    start = transform(upper_from_lower, place_mm)
    high = float(transform(in_mip, place_mm)[1])
    radius = math.hypot(float(start[0]), float(start[1]))
    if not radius > abs(high):
        raise ValueError("about this hinge the place never stands as high as in MIP")
    return math.asin(high / radius) - math.atan2(float(start[1]), float(start[0]))


def carried_height(
    closing_rad: float, upper_from_lower: Array, place_mm: Array, motion: Carried, mip_motion: Carried
) -> Carried:
    """Return the closing of ``height_closing`` with the doubt of both relations, to first order.

    ``upper_from_lower`` (4, 4), ``place_mm`` (3,): as there. ``motion``, ``mip_motion`` (6, rotation first): small motions of
    the lower that the record, and MIP, leave open.
    """
    c, s = math.cos(closing_rad), math.sin(closing_rad)
    x, y, z = (float(v) for v in transform(upper_from_lower, place_mm))
    there = np.array([c * x - s * y, s * x + c * y, z])
    rises = point_jacobian(there)[1:2] / there[0]
    return motion.linear(-rises, [closing_rad]) + mip_motion.linear(rises, [0.0])


def carried_closing(contact: Contact, motion: Carried) -> Carried:
    """Return the closing (rad) at which a contact meets, moved to first order by a small motion (6) of the lower."""
    p, n = contact.point_mm, contact.normal
    along = float(n @ np.array([-p[1], p[0], 0.0]))
    return motion.linear(-(n @ point_jacobian(p))[None, :] / along, [contact.closing_rad])
