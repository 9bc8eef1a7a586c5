"""More steps of a mounting in their own natural numbers: record material, stops, facebow, stone, plate.

As in ``steps``: a step is the matrix (6, k) that makes the motion of the lower cast of its k natural numbers, and their
covariance. Derivations and bands: docs/theory/steps.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from mountproof.doubt.motions import MIDDLE_MM, as_twist, at_place, from_condyles, plane_of_stops
from mountproof.doubt.steps import USUAL_STOPS_MM, Step
from mountproof.geometry.poses import Array, point_jacobian, rotation_z

#: A record slides on its stops by this part of what they stand off, as in ``steps.seat_step``.
_SLIDE: Final = 0.5
_ACROSS_MM: Final = 28.0
#: Where a mounting plate bears (ahead, right; mm): two places behind, one in front. Our choice.
PLATE_STOPS_MM: Final = ((45.0, 22.0), (45.0, -22.0), (80.0, 0.0))
#: Parts of a motion that a plane of heights makes.
_PLANE: Final = 3


def stops_step(key: str, sd_mm: float, stops_mm: Sequence[tuple[float, float]] = USUAL_STOPS_MM) -> Step:
    """Return what lies on stops (n, 2: ahead, right): natural numbers are n heights, then ahead, right and yaw.

    Heights stand off by themselves (``sd_mm`` each); the slide is half as large. Stops that hold no plane are taken as if
    they stood at the usual places, twice as badly. The motion has the covariance of ``steps.seat_step``.
    """
    gain = plane_of_stops(stops_mm)
    scale = sd_mm
    if gain is None:
        gain, scale = plane_of_stops(USUAL_STOPS_MM), 2.0 * sd_mm
    assert gain is not None
    n = gain.shape[1]
    motion = np.zeros((6, n + 3))
    motion[:_PLANE, :n] = gain
    motion[_PLANE:, n:] = np.eye(3)
    slide = _SLIDE * sd_mm
    sds = np.array([scale] * n + [slide, slide, slide / _ACROSS_MM])
    return Step(key, motion, np.diag(sds**2))


def material_step(
    even_mm: float, support_mm: float, stops_mm: Sequence[tuple[float, float]] = USUAL_STOPS_MM
) -> Step:
    """Return the thickness by which the material of a record keeps the casts apart: even, and at each stop by itself.

    Natural numbers: even, then one for each stop (n, 2: ahead, right; the usual three where these hold no plane).
    """
    gain = plane_of_stops(stops_mm)
    if gain is None:
        gain = plane_of_stops(USUAL_STOPS_MM)
    assert gain is not None
    n = gain.shape[1]
    motion = np.zeros((6, n + 1))
    motion[0, 0] = 1.0
    motion[:_PLANE, 1:] = gain
    return Step("material", motion, np.diag(np.array([even_mm] + [support_mm] * n) ** 2))


def hinge_motion(closing_rad: float, half_width_mm: float) -> Array:
    """Return (6, 4): what hinge points used instead of the true ones make, after closing by ``closing_rad``.

    Natural numbers: the right point too far ahead and too high, then the left (mm). An axis moved by a small motion ``xi``
    closes by ``E C E^-1`` instead of ``C``, off by ``(I - Ad_C) xi``; at each condyle that is the shift
    ``(I - R(closing)) e`` of its own error ``e``, exact to first order in ``e`` for any closing. It turns the lower by yaw
    and roll where right and left err apart, and is zero where nothing was opened.
    """
    cost = (np.eye(3) - rotation_z(closing_rad)[:3, :3])[:2, :2]  # rows ahead, up
    at_condyles = np.zeros((5, 4))
    for side in (0, 1):
        own = slice(2 * side, 2 * side + 2)
        at_condyles[side, own] = -cost[1]  # down
        at_condyles[2 + side, own] = cost[0]  # ahead
    return from_condyles(half_width_mm) @ at_condyles


def hinge_covariance(right_mm: float, left_mm: float, shared: float) -> Array:
    """Return the covariance (4, 4) of both hinge points (ahead, up, right then left), ``shared`` being their correlation.

    ``right_mm``, ``left_mm``: SD of one coordinate. What both sides share comes from one bow, one plane and one hand.
    ValueError for a share that does not lie between 0 and 1.
    """
    if not 0.0 <= shared <= 1.0:
        raise ValueError("what both sides share lies between 0 and 1")
    sds = np.array([right_mm, right_mm, left_mm, left_mm])
    both = np.kron(np.array([[1.0, shared], [shared, 1.0]]), np.eye(2))
    return np.outer(sds, sds) * both


def hinge_of_placement(cov6: ArrayLike, half_width_mm: float) -> Array:
    """Return the covariance (4, 4) of both hinge points in casts that were placed by a motion of ``cov6`` (6, 6).

    Rotation first, about the frame's origin. Casts placed wrongly by ``D`` close about a hinge that lies wrong in them by
    ``D^-1``: the same size at both condyles.
    """
    at = point_jacobian([[0.0, 0.0, half_width_mm], [0.0, 0.0, -half_width_mm]]).reshape(2, 3, 6)
    rows = at[:, :2].reshape(4, 6)
    return np.asarray(rows @ np.asarray(cov6, dtype=np.float64) @ rows.T, dtype=np.float64)


def facebow_step(closing_rad: float, half_width_mm: float, cov: ArrayLike) -> Step:
    """Return what the doubt ``cov`` (4, 4) of both hinge points makes of the closing from record to contact."""
    return Step("facebow", hinge_motion(closing_rad, half_width_mm), np.asarray(cov, dtype=np.float64))


def expansion_sd(bound_mm: float) -> float:
    """Return the SD of a lift of which only the bound is known, anything from nothing to it being as likely.

    About no lift at all, for none is taken off: ``bound / sqrt(3)``, the root mean square of a rectangle that starts at
    zero. Source: JCGM 100:2008, 4.3.7 and F.2.4.5 (an effect that is not taken off).
    """
    return bound_mm / math.sqrt(3.0)


def column_step(
    key: str,
    places_mm: Sequence[tuple[float, float]],
    heights_mm: Sequence[float],
    expansion_percent: float,
    part: float = 1.0,
) -> Step:
    """Return what a column of stone of known heights lifts: one number, how much of its free expansion it takes up.

    ``places_mm`` (n, 2: ahead, right), ``heights_mm`` (n,): a wedge tilts as well as lifts. ``part``: of the free
    expansion, what comes while it still moves the casts against each other. ValueError for places that hold no plane.
    """
    gain = plane_of_stops(places_mm)
    if gain is None:
        raise ValueError("three or more places, not in a line, are needed")
    lifts = np.asarray(heights_mm, dtype=np.float64) * (part * expansion_percent / 100.0)
    motion = np.zeros((6, 1))
    motion[:_PLANE, 0] = -gain @ lifts
    return Step(key, motion, np.array([[1.0 / 3.0]]))


def even_column_step(key: str, lift_sd_mm: float, wedge: float) -> Step:
    """Return what a column of stone of unknown shape lifts: even, and more in front or on one side.

    Natural numbers: the lift, and by how much more the front and the right side are lifted than the middle of the teeth
    (mm), each ``wedge`` times as large (1 SD).
    """
    motion = np.zeros((6, 3))
    front, side = 21.0, _ACROSS_MM
    motion[0, 0] = -1.0
    motion[1, 1] = -1.0 / front
    motion[2, 2] = -1.0 / side
    return Step(key, motion, np.diag(np.array([lift_sd_mm, wedge * lift_sd_mm, wedge * lift_sd_mm]) ** 2))


def visit_step(sd_mm: float, half_width_mm: float) -> Step:
    """Return what one visit has of its own, in every record taken then: each condyle down and ahead, both to the right."""
    return Step("visit", from_condyles(half_width_mm), sd_mm**2 * np.eye(5))


def motion_step(key: str, cov6: ArrayLike) -> Step:
    """Return a step whose small motion has the covariance ``cov6`` (6, 6) as a twist about the hinge's middle.

    Natural numbers are the twist itself (rotation x, y, z, then shift x, y, z; rad, mm). Its turn about the hinge stays:
    a caller that closes to contact afterwards takes it out.
    """
    back = np.linalg.inv(as_twist(MIDDLE_MM))
    return Step(key, np.asarray(back, dtype=np.float64), np.asarray(cov6, dtype=np.float64))


def sd_at(step: Step, place_mm: ArrayLike) -> Array:
    """Return one SD (3,) that a step makes at a place (3,): down, ahead, right (mm)."""
    j = at_place(place_mm) @ step.motion
    out: Array = np.sqrt(np.einsum("ij,jk,ik->i", j, step.cov, j))
    return out
