"""What the doubt of the hinge axis costs at the teeth: exact errors for many axes at once, and how to lower them.

Angles are closings, errors of the axis are *used minus true*, as in ``mountproof.geometry.hinge``, which has the same
motions one by one.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.hinge import zero_direction
from mountproof.geometry.poses import Array, checked, opened, transform

#: A share among so many draws is known to 0.32 % (1 SD) at worst.
DRAWS = 25_000
#: The root mean square of so many draws is known to half a percent, enough to size a record by.
_FEW = 20_000
#: A step of a search for the opening that changes it by less than this ends the search.
_SETTLED_RAD = 1e-9


def errors_at(
    closing_rad: float,
    right_mm: ArrayLike,
    left_mm: ArrayLike,
    width_mm: float,
    places_mm: ArrayLike,
    stop_mm: ArrayLike | None = None,
) -> Array:
    """Return how the lower errs at ``places`` (m, 3) for every wrong axis (n, 2) right and left: (n, m, 3), mm.

    The jaw was open by ``closing_rad`` about the true axis when the casts were joined. It is closed about the wrong
    axis by the same angle, or, with ``stop_mm`` (3,), until that point of the lower is back at its own height: along
    its arc the height is ``A cos + B sin``, so the angle is closed form; of both angles the one nearer to
    ``closing_rad``. An axis about which the stop never comes back is closed to where it comes nearest.
    """
    right = np.atleast_2d(checked(right_mm, (2,), "right_mm"))
    left = np.atleast_2d(checked(left_mm, (2,), "left_mm"))
    places = np.atleast_2d(checked(places_mm, (3,), "places_mm"))
    n = right.shape[0]
    middle = np.concatenate([0.5 * (right + left), np.zeros((n, 1))], axis=1)
    along = np.concatenate([right - left, np.full((n, 1), width_mm)], axis=1)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    wide = opened(closing_rad)
    if stop_mm is None:
        angle = np.full(n, closing_rad)
    else:
        stop = checked(stop_mm, (3,), "stop_mm")
        keep, turn, cross = _arc(transform(wide, stop) - middle, along)
        a, b = turn[:, 1], cross[:, 1]
        c = stop[1] - middle[:, 1] - keep[:, 1]
        half = np.arccos(np.clip(c / np.hypot(a, b), -1.0, 1.0))
        both = np.arctan2(b, a) + np.stack([half, -half])
        both = closing_rad + np.remainder(both - closing_rad + np.pi, 2.0 * np.pi) - np.pi
        angle = np.where(np.abs(both[0] - closing_rad) < np.abs(both[1] - closing_rad), both[0], both[1])
    out = np.zeros((n, places.shape[0], 3))
    for j, place in enumerate(places):
        keep, turn, cross = _arc(transform(wide, place) - middle, along)
        out[:, j] = middle + keep + np.cos(angle)[:, None] * turn + np.sin(angle)[:, None] * cross - place
    return out


def _arc(v: Array, along: Array) -> tuple[Array, Array, Array]:
    """Return what a turn about ``along`` keeps of ``v``, what it turns by the cosine, and what by the sine."""
    keep = along * np.sum(v * along, axis=1, keepdims=True)
    return keep, v - keep, np.cross(along, v)


class ToothCost(NamedTuple):
    """What the doubt of the axis costs at one place, for one opening (mm; the length of the error).

    ``rms_mm`` root mean square and ``most_mm`` what 95 of 100 stay below, once this place itself has met; ``even_mm``
    root mean square when closed by the same angle, alike at all places; ``high_mm`` root mean square of the height at
    this place when the front has met first; ``beyond`` share that is off by more than the limit once this place has
    met; ``free_rad`` the direction of an axis error that costs nothing here, up from straight ahead.
    """

    rms_mm: float
    most_mm: float
    even_mm: float
    high_mm: float
    beyond: float
    free_rad: float


def unit_draws(n: int = DRAWS, seed: int = 0) -> Array:
    """Return ``n`` draws (n, 2) of a standard normal for both coordinates of an axis, always the same for one seed."""
    return np.random.default_rng(seed).standard_normal((n, 2))


def cost_at(
    closing_rad: float,
    sd_mm: float,
    place_mm: ArrayLike,
    front_mm: ArrayLike,
    limit_mm: float,
    draws: Array | None = None,
) -> ToothCost:
    """Return what an axis known to ``sd_mm`` a coordinate costs at a place (3,): exact errors for drawn axes.

    Both hinge points err alike, which costs most at the teeth. ``front_mm`` (3,): the point that may meet first instead.
    ``draws`` (n, 2) of a standard normal.
    """
    place = checked(place_mm, (3,), "place_mm")
    d = sd_mm * (unit_draws() if draws is None else draws)
    own = np.hypot(*_seen_from_the_side(closing_rad, d, place, place))
    height = _seen_from_the_side(closing_rad, d, place, checked(front_mm, (3,), "front_mm"))[1]
    direction = zero_direction(place)
    return ToothCost(
        _rms(own),
        float(np.quantile(own, 0.95)),
        2.0 * math.sqrt(2.0) * sd_mm * abs(math.sin(0.5 * closing_rad)),
        _rms(height),
        float(np.mean(own > limit_mm)),
        math.atan2(direction[1], direction[0]),
    )


def _seen_from_the_side(closing_rad: float, axis_mm: Array, place: Array, stop: Array) -> tuple[Array, Array]:
    """As ``errors_at`` for axes (n, 2) that err alike on both sides: errors (n,) ahead and up of one place.

    Everything happens in the plane square to the hinge, which takes a tenth of the time.
    """
    ex, ey = axis_mm[:, 0], axis_mm[:, 1]
    there, held = transform(opened(closing_rad), np.stack([place, stop]))
    px, py, sx, sy = there[0] - ex, there[1] - ey, held[0] - ex, held[1] - ey
    half = np.arccos(np.clip((stop[1] - ey) / np.hypot(sx, sy), -1.0, 1.0))
    both = np.arctan2(sx, sy) + np.stack([half, -half])
    both = closing_rad + np.remainder(both - closing_rad + np.pi, 2.0 * np.pi) - np.pi
    angle = np.where(np.abs(both[0] - closing_rad) < np.abs(both[1] - closing_rad), both[0], both[1])
    c, s = np.cos(angle), np.sin(angle)
    return ex + c * px - s * py - place[0], ey + s * px + c * py - place[1]


def opening_for_cost(
    cost_mm: float, sd_mm: float, places_mm: ArrayLike, front_mm: ArrayLike, start_rad: float = 0.03
) -> float:
    """Return the opening (rad) at which the worst of ``places`` (m, 3) costs ``cost_mm`` (root mean square, own contact).

    Secants: the cost grows nearly in proportion. Raises ValueError for a cost or an SD that is not above zero.
    """
    if not (cost_mm > 0.0 and sd_mm > 0.0):
        raise ValueError("the cost and the SD of the axis must be above zero")
    places = np.atleast_2d(checked(places_mm, (3,), "places_mm"))
    few = unit_draws(_FEW)
    angle = start_rad
    for _ in range(30):
        worst = max(cost_at(angle, sd_mm, p, front_mm, cost_mm, few).rms_mm for p in places)
        better = min(angle * cost_mm / worst, 1.0)
        if abs(better - angle) < _SETTLED_RAD:
            return better
        angle = better
    return angle


def turn_of(closing_rad: float, difference_mm: float, width_mm: float) -> float:
    """Return the turn (rad) that axis errors which differ by ``difference_mm`` right and left leave: yaw and roll.

    ``2 sin(closing / 2) difference / width``, to first order in the tilt of the axis; across an arch it lifts or shifts by
    this times its breadth. Zero for no closing.
    """
    return 2.0 * abs(math.sin(0.5 * closing_rad)) * abs(difference_mm) / width_mm


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))
