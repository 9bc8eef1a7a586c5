"""Condylar settings from where the condyles went: inclinations, lateral translation, and what they mean at a molar.

All take the path of a condylar point from centric relation to a record, ``(forward, up, right)`` in mm, with its doubt.
A path of one record gives a chord, so every angle belongs to the length it was taken at. Derivation:
docs/theory/settings.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.geometry.carry import Carried, stack, through
from mountproof.geometry.poses import Array
from mountproof.geometry.protrusion import SHORTEST_PATH_MM
from mountproof.said import say

#: An angle of the lateral path with more doubt (1 SD) than this does not tell 5 degrees from 15. Our choice, no source.
USABLE_RAD: Final = math.radians(3.0)
#: Two amounts of one movement lie at least this far apart (mm) before a shift at the start is split from the slope.
APART_MM: Final = 2.0
#: A condyle that went less than this stayed where it was (mm), and a direction of so short a way means nothing.
STAYED_MM: Final = SHORTEST_PATH_MM


class Told(NamedTuple):
    """An angle (rad) of a path with its doubt, the length of the path (mm); ``angle`` is None where ``why`` says so."""

    angle: Carried | None
    along_mm: float
    why: str = ""


def horizontal(path: Carried, tilt: Carried | None = None) -> Told:
    """Return the inclination of a path (3), downwards positive, against a plane whose front lies ``tilt`` (rad) lower.

    ``atan2(-up, forward) - tilt``: the chord. Not told for a path that goes back or is shorter than ``STAYED_MM``.
    """
    return _angle(path, lambda p: math.atan2(-p[1], p[0]), tilt, (0, 1))


def lateral(path: Carried, medial_sign: int) -> Told:
    """Return ``atan2(medial, forward)`` of the path (3) of a nonworking condyle: its chord, an immediate shift included.

    ``medial_sign``: +1 for the left condyle (medial is to the right), -1 for the right one. Not told beyond ``USABLE_RAD``
    of doubt. Raises ValueError for another sign.
    """
    if medial_sign not in (-1, 1):
        raise ValueError("medial_sign: +1 for the left condyle, -1 for the right")
    told = _angle(path, lambda p: math.atan2(medial_sign * p[2], p[0]), None, (0, 2))
    if told.angle is not None and told.angle.u > USABLE_RAD:
        return told._replace(
            angle=None,
            why=say(
                "the readings leave it open by {deg:.0f} degrees either way (95 %)",
                deg=math.degrees(1.96 * told.angle.u),
            ),
        )
    return told


def _angle(
    path: Carried, angle: Callable[[Array], float], tilt: Carried | None, plane: tuple[int, int]
) -> Told:
    p = path.values
    along = float(np.hypot(p[plane[0]], p[plane[1]]))
    if along < STAYED_MM:
        return Told(None, along, say("the condyle hardly moved ({mm:.1f} mm)", mm=along))
    if p[0] <= 0.0:
        return Told(None, along, say("the condyle did not move forward"))
    found = through(angle, path)
    return Told(found if tilt is None else found - tilt, along)


class Split(NamedTuple):
    """Immediate translation (mm) and progressive angle (rad) of one joint; both None where ``why`` says so."""

    immediate: Carried | None
    progressive: Carried | None
    why: str = ""


def translation_split(paths: Sequence[Carried], medial_sign: int) -> Split:
    """Split the medial way of a nonworking condyle into a shift at the start and a slope, from two or more amounts.

    ``paths`` of one joint, one a record (each (3)). The line ``medial = immediate + forward tan(progressive)``: exact through
    two amounts, by least squares weighted with the doubt of each through more. Refused for one amount, for amounts less than
    ``APART_MM`` apart, and where the slope stays open beyond ``USABLE_RAD``. Raises ValueError as ``lateral``.
    """
    if medial_sign not in (-1, 1):
        raise ValueError("medial_sign: +1 for the left condyle, -1 for the right")
    ahead = np.array([float(p.values[0]) for p in paths])
    if len(paths) < 2:
        return Split(None, None, say("one amount cannot tell a shift at the start from a slope"))
    if float(np.ptp(ahead)) < APART_MM:
        return Split(
            None, None, say("the amounts lie {mm:.1f} mm apart, too near each other", mm=float(np.ptp(ahead)))
        )
    every = stack(paths)
    weights = 1.0 / np.maximum(np.array([float(p.us[2]) for p in paths]), 1e-6) ** 2

    def line(flat: Array) -> Array:
        xyz = flat.reshape(-1, 3)
        x, y = xyz[:, 0], medial_sign * xyz[:, 2]
        mid = float(np.average(x, weights=weights))
        slope = float(np.sum(weights * (x - mid) * y) / np.sum(weights * (x - mid) ** 2))
        start = float(np.average(y, weights=weights)) - slope * mid
        return np.array([start, math.atan(slope)])

    both = through(line, every)
    if both[1].u > USABLE_RAD:
        return Split(
            None,
            None,
            say(
                "the readings leave the slope open by {deg:.0f} degrees either way (95 %)",
                deg=math.degrees(1.96 * both[1].u),
            ),
        )
    return Split(both[0], both[1])


def between_paths(protrusive: Told, sideways: Told) -> Carried | None:
    """Return how much steeper (rad) a joint's path is sideways than straight ahead (the Fischer angle); None if untold."""
    if protrusive.angle is None or sideways.angle is None:
        return None
    return sideways.angle - protrusive.angle


def gap_at(
    travel_mm: float, inclination: Carried, steeper_rad: float, ahead_mm: float, incisors_mm: float
) -> Carried:
    """Return how much farther (mm) a tooth ``ahead_mm`` of the hinge parts when the path is steeper by ``steeper_rad``.

    Over ``travel_mm`` straight ahead, the front teeth (``incisors_mm`` ahead) guided as before: the slope at a tooth is that
    of the path and that of the front in the shares of its distance, so the gap grows by
    ``travel (1 - ahead / incisors) (tan(inclination + steeper) - tan(inclination))``. Raises ValueError for incisors at or
    behind the hinge.
    """
    if not incisors_mm > 0.0:
        raise ValueError("the incisors stand ahead of the hinge")
    share = travel_mm * (1.0 - ahead_mm / incisors_mm)
    return through(
        lambda a: share * (math.tan(float(a[0]) + steeper_rad) - math.tan(float(a[0]))), inclination
    )


class Reached(NamedTuple):
    """A setting as an instrument can take it: the value, and whether it was moved to the end of the range."""

    value: float
    clamped: bool


def within_range(value: float, low: float, high: float) -> Reached:
    """Return the setting nearest ``value`` that an instrument from ``low`` to ``high`` can take. ValueError if low > high."""
    if low > high:
        raise ValueError("a range goes from its lower to its upper end")
    kept = min(max(value, low), high)
    return Reached(kept, kept != value)


def at_a_mark(
    value: float, step: float, low: float | None = None, high: float | None = None, *, slack: float = 1e-9
) -> float:
    """Return the mark of a scale nearest ``value``: a multiple of ``step``, none beyond ``low`` or ``high``.

    Half way between two marks the higher counts. Where no mark lies between the ends, the end nearest ``value`` is
    returned. Raises ValueError for a step that is not above 0.
    """
    if not step > 0.0:
        raise ValueError("step: above 0")
    first = -math.inf if low is None else math.ceil(low / step - slack)
    last = math.inf if high is None else math.floor(high / step + slack)
    if first > last:
        return within_range(
            value, -math.inf if low is None else low, math.inf if high is None else high
        ).value
    return float(min(max(math.floor(value / step + 0.5), first), last)) * step


def inward_by_convention(inclination_deg: float) -> float:
    """Return the lateral angle (degrees) that a convention of 1930 takes from the inclination: ``H / 8 + 12``.

    A convention and no measurement: it lies well above the means that were measured, 7 to 9 degrees.
    """
    return inclination_deg / 8.0 + 12.0


def nonarcon_setting(inclination: Carried, opening: Carried | None) -> Carried:
    """Return the angle that a nonarcon instrument takes: its guide turns with the lower member, by the opening (rad).

    On an arcon the guide keeps to the upper member and the angle does not change. With the lower open by ``opening`` the
    guide of a nonarcon lies steeper against the upper by as much, so it is set flatter.
    """
    return inclination if opening is None else inclination - opening


def path_between(start: Carried, end: Carried, own_sd_mm: float, name: str) -> Carried:
    """Return the path (3) from one place of a condyle to another, with what two records scatter themselves.

    ``own_sd_mm``: scatter of one record at a condyle (1 SD an axis); the path lies between two, so each adds its own.
    """
    way = end - start
    if own_sd_mm <= 0.0:
        return way
    scatter = math.sqrt(2.0) * own_sd_mm
    own = Carried(np.zeros(3), tuple(f"record/{name}/{i}" for i in range(3)), scatter * np.eye(3))
    return way + own
