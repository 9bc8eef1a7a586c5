"""Where a lower arch comes to rest against the upper when it is pushed and may slide: no hinge, no friction.

The work of the push is made as large as no overlap allows. Each step solves a linear programme over a small motion of the
lower: every pair of faces near contact keeps its gap, to first order, at or above nothing, and the motion stays within a
trusted length. The lower is then closed, or opened, about the hinge to its exact first contact, so that every step ends in
touch and without overlap; a step that gained as foretold widens the trust, one that did not narrows it. At rest no small
motion gains, and the multipliers of the programme are the shares of the push that each contact carries: they balance it.
Derivation: docs/theory/settling.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.geometry.contact import first_contact
from mountproof.geometry.near_pairs import NearPairs
from mountproof.geometry.poses import Array, checked, closed, exp6, inverse, log6, transform, translation
from mountproof.geometry.programme import balance, farthest
from mountproof.geometry.surface import Surface, moved
from mountproof.geometry.touches import Touches

#: The widest step (mm), about the width of a face of a scan: farther on other faces meet than those that were asked.
_WIDEST_MM = 0.1
#: Faces that close within this part of the step have a say. Where that missed one that was met, it is widened up to the second
#: part, the farthest that six small numbers of the size of the step can bring a place on a steep incline.
_LOOK, _FARTHEST = 0.3, 10.0
#: A step that gains less than this part of what was foretold is taken back; from the second part on the trust is widened.
_TAKEN, _TRUSTED = 0.1, 0.6
#: A step that would gain less than this (mm) ends the search: a hundredth of the least that a float at 100 mm resolves
#: over the number of steps; narrower trust than the second says nothing.
_GAIN_MM, _NARROWEST_MM = 1e-11, 1e-7
#: Contacts within this (mm) carry the push at rest.
_TOUCHING_MM = 1e-7
#: A share of the push below this is rounding.
_NO_SHARE = 1e-9
#: Contacts hold a push where they leave less than this of it.
_HELD = 1e-6
#: So many steps in turn are taken back and kept as cuts before faces are asked from farther away.
_MOST_CUTS = 3
#: A step thrown back by more than this part of the trusted length ended too far away for its cuts to say anything here.
_BACK = 2.0
#: Casts that slide farther than this (mm) from first contact without coming to rest hold nowhere that a jaw would find.
MOST_MM: Final = 8.0
#: So many pairs of faces are asked first which of them meets first after a step.
_LIKELY = 12


class Push(NamedTuple):
    """A push on the lower: where it takes hold (3,), mm at the pose that is given, and the unit direction (3,)."""

    point_mm: tuple[float, float, float]
    direction: tuple[float, float, float]


#: Where and how the lower is pushed when nobody says: upwards in the middle of the first molars.
USUAL_PUSH: Final = Push((60.0, -37.0, 0.0), (0.0, 1.0, 0.0))


class Rest(NamedTuple):
    """One contact at rest: where (3,), unit normal from the upper to the lower (3,), its share of the push, and the faces."""

    point_mm: Array
    normal: Array
    share: float
    upper_face: int
    lower_face: int


class Settled(NamedTuple):
    """The lower at rest.

    ``upper_from_lower`` (4, 4); ``rests``: contacts that carry, largest share first; ``settled``: no small motion gains;
    ``imbalance``: what the contacts leave of the push (unit push, turns counted at the arch's own size); ``held``: how many of
    the six directions the carrying contacts hold by themselves; ``steps``; ``gained_mm``: how far the push went;
    ``path`` (k, 4, 4): the poses on the way, from first contact to the end, each in touch and without overlap.
    """

    upper_from_lower: Array
    rests: tuple[Rest, ...]
    settled: bool
    imbalance: float
    held: int
    steps: int
    gained_mm: float
    path: Array


def settle(
    upper: Surface,
    lower: Surface,
    push: Push = USUAL_PUSH,
    *,
    most_steps: int = 300,
    most_mm: float = MOST_MM,
    progress: Callable[[int, float], None] | None = None,
) -> Settled | None:
    """Return where the lower rests, pushed from its present pose; None when closing never brings the arches together.

    The search ends unsettled after ``most_steps``, or where a place of the lower lies more than ``most_mm`` from first contact.
    ``progress`` is told the number of the step and the trusted length (mm); it may raise to stop. Raises ValueError for a push
    without direction, or arches that are swapped.
    """
    way = checked(push.direction, (3,), "direction")
    size = float(np.linalg.norm(way))
    if not size > 0.0:
        raise ValueError("a push has a direction")
    way = way / size
    first = first_contact(upper, lower)
    if first is None:
        return None
    pose = closed(first.closing_rad) @ lower.pose
    hold = transform(inverse(lower.pose), checked(push.point_mm, (3,), "point_mm"))
    begun = transform(pose, hold)
    frame = _Frame.of(moved(lower, pose))
    pairs = NearPairs(upper, lower, pose)
    trust, look, steps, settled = _WIDEST_MM, _LOOK, 0, False
    path, near, seen, cuts, ends = [pose], None, 0.0, _Cuts((), ()), False
    while steps < most_steps and frame.apart(path[0], pose) <= most_mm:
        steps += 1
        if progress is not None:
            progress(steps, trust)
        wanted = frame.work(transform(pose, hold), way)
        if near is None or look * trust > seen:
            near, seen = pairs.within(look * trust, ends=ends), look * trust
        told = near.within(look * trust)
        rows = frame.rows(told)
        # an overlap of rounding is left as it is; the exact closing puts it right
        room = np.maximum(told.gap_mm, 0.0)
        motion = farthest(
            wanted, np.concatenate([rows, *cuts.rows]), np.concatenate([room, *cuts.room]), trust
        )
        foretold = float(wanted @ motion)
        if cuts.rows and foretold < _GAIN_MM:
            cuts = _Cuts((), (), over=True)
            near, (look, trust, ends) = None, _otherwise(look, trust, ends)
            continue
        if foretold < _GAIN_MM or trust < _NARROWEST_MM:
            # the whole arches are searched once more before the end
            pairs.anew()
            if pairs.within(_TOUCHING_MM).arc_mm.min(initial=0.0) >= -_TOUCHING_MM:
                settled = foretold < _GAIN_MM
                break
            whole = first_contact(upper, moved(lower, pose))
            assert whole is not None
            pose, near = closed(whole.closing_rad) @ pose, None
            pairs = NearPairs(upper, lower, pose)
            continue
        tried = frame.moved(motion) @ pose
        # as far as the next step may want to look
        ahead = min(1.5 * trust, _WIDEST_MM) * max(0.5 * look, _LOOK)
        likely = told.faces[np.argsort(room + rows @ motion)[:_LIKELY]]
        touch = _closed(upper, lower, pairs, tried, ahead, likely)
        if touch is None:
            trust *= 0.3
            continue
        tried = closed(touch[0]) @ tried
        gain = float(way @ (transform(tried, hold) - transform(pose, hold)))
        if gain <= _TAKEN * foretold:
            if not cuts.over and len(cuts.rows) < _MOST_CUTS and gain > -_BACK * trust:
                cuts = cuts.with_what_met(frame, touch[1], tried @ inverse(pose))
                continue
            cuts = _Cuts((), (), over=True)
            near, (look, trust, ends) = None, _otherwise(look, trust, ends)
            continue
        pose, look, cuts, ends = tried, max(0.5 * look, _LOOK), _Cuts((), ()), False
        pairs.go(pose)
        near, seen = touch[1], ahead
        path.append(pose)
        trust = min(1.5 * trust, _WIDEST_MM) if gain > _TRUSTED * foretold else 0.7 * trust
    if not np.array_equal(path[-1], pose):
        path.append(pose)
    near = pairs.within(10.0 * _TOUCHING_MM, ends=ends)
    end = _told(near, pose, frame, transform(pose, hold), way, settled, steps, begun)
    return end._replace(path=np.array(path))


def _otherwise(look: float, trust: float, ends: bool) -> tuple[float, float, bool]:
    """How to go on after a step that missed what it met: looking farther, then asking ends of edges too, then stepping less."""
    if look < _FARTHEST:
        return 4.0 * look, trust, ends
    return (look, 0.4 * trust, True) if ends else (_LOOK, trust, True)


def _closed(
    upper: Surface,
    lower: Surface,
    pairs: NearPairs,
    tried: Array,
    within_mm: float,
    likely: NDArray[np.int64],
) -> tuple[float, Touches] | None:
    """The closing (rad) to first contact, and what is near then; ``likely``: pairs of faces that may be first."""
    found = pairs.closed(tried, within_mm, likely)
    if found is not None:
        return found
    touch = first_contact(upper, moved(lower, tried))
    if touch is None:
        return None
    return pairs.closed(tried, within_mm, np.array([[touch.upper_face, touch.lower_face]]))


class _Frame(NamedTuple):
    """About what place a motion turns (3,), and the length (mm) at which turns are counted: half of the arch's diagonal."""

    centre_mm: Array
    size_mm: float

    @staticmethod
    def of(lower: Surface) -> _Frame:
        low, high = lower.vertices_mm.min(axis=0), lower.vertices_mm.max(axis=0)
        return _Frame(0.5 * (low + high), 0.5 * float(np.linalg.norm(high - low)))

    def apart(self, one: Array, other: Array) -> float:
        """A bound (mm) on how far any place of the arch lies apart at two poses."""
        motion = self.motion(other @ inverse(one))
        return float(np.linalg.norm(motion[:3]) + np.linalg.norm(motion[3:]))

    def rows(self, near: Touches) -> Array:
        """How each gap changes with the motion (n, 6): turns (in mm at ``size_mm``) first."""
        turn = np.cross(near.point_mm - self.centre_mm, near.normal) / self.size_mm
        return np.concatenate([turn, near.normal], axis=1)

    def work(self, point: Array, way: Array) -> Array:
        """How far the push goes with the motion (6,)."""
        return np.concatenate([np.cross(point - self.centre_mm, way) / self.size_mm, way])

    def moved(self, motion: Array) -> Array:
        """The rigid motion (4, 4) of six small numbers."""
        twist = np.concatenate([motion[:3] / self.size_mm, motion[3:]])
        out: Array = translation(self.centre_mm) @ exp6(twist) @ translation(-self.centre_mm)
        return out

    def motion(self, moved: Array) -> Array:
        """The six small numbers of a rigid motion (4, 4): ``moved`` the other way."""
        twist = log6(translation(-self.centre_mm) @ moved @ translation(self.centre_mm))
        return np.concatenate([twist[:3] * self.size_mm, twist[3:]])


class _Cuts(NamedTuple):
    """What steps that were taken back ran into, for the programme to keep clear of: rows as a frame has them, and their room.

    ``over``: cuts do not help here, the programme goes on without any until the lower has moved.
    """

    rows: tuple[Array, ...]
    room: tuple[Array, ...]
    over: bool = False

    def with_what_met(self, frame: _Frame, met: Touches, motion: Array) -> _Cuts:
        """Add what is near where the step ended, a motion (4, 4) away, once it had been closed to first contact there."""
        rows = frame.rows(met)
        room = np.maximum(met.gap_mm, 0.0) - rows @ frame.motion(motion)
        return _Cuts((*self.rows, rows), (*self.room, room))


def _told(
    near: Touches,
    pose: Array,
    frame: _Frame,
    point: Array,
    way: Array,
    settled: bool,
    steps: int,
    begun: ArrayLike,
) -> Settled:
    at = np.flatnonzero(near.gap_mm <= _TOUCHING_MM)
    rows = frame.rows(near)[at]
    share, left = balance(rows, -frame.work(point, way)) if len(at) else (np.zeros(0), 1.0)
    carrying = [int(k) for k in np.argsort(-share, kind="stable") if share[k] > _NO_SHARE]
    rests = tuple(
        Rest(
            near.point_mm[at[k]],
            near.normal[at[k]],
            float(share[k]),
            int(near.faces[at[k], 0]),
            int(near.faces[at[k], 1]),
        )
        for k in carrying
    )
    held = int(np.linalg.matrix_rank(rows[carrying], tol=1e-6)) if carrying else 0
    gained = float(way @ (point - np.asarray(begun, dtype=np.float64)))
    return Settled(pose.copy(), rests, settled, float(left), held, steps, gained, pose[None].copy())


def sticks_above(contact_normal: ArrayLike, direction: ArrayLike) -> float:
    """Return the coefficient of friction above which a push would not slide along a contact: the tangent of its incline.

    ``contact_normal`` (3,) from the upper to the lower, ``direction`` (3,) of the push. Amontons' law: a body on an incline
    of angle ``a`` slides while the coefficient is below ``tan a``. Infinite where the push leads away from the contact.
    """
    n, d = checked(contact_normal, (3,), "contact_normal"), checked(direction, (3,), "direction")
    along = -float(n @ d)
    if along <= 0.0:
        return math.inf
    return float(np.linalg.norm(np.cross(n, d))) / along


def friction_holds(
    points_mm: ArrayLike, normals: ArrayLike, push: Push, coefficient: float, *, sides: int = 16
) -> bool:
    """Tell whether contacts with friction can hold a push where it is, so that nothing slides.

    ``points_mm``, ``normals`` (n, 3), normals from the upper to the lower; the push takes hold at ``push.point_mm`` now. Each
    contact may answer within its cone of friction (Coulomb), taken as a pyramid of ``sides`` edges inside the cone: what
    holds by the pyramid holds by the cone. Raises ValueError for a coefficient below nothing.
    """
    if not coefficient >= 0.0:
        raise ValueError("a coefficient of friction is at or above zero")
    at, n = np.asarray(points_mm, dtype=np.float64), np.asarray(normals, dtype=np.float64)
    if len(at) == 0:
        return False
    way = np.asarray(push.direction, dtype=np.float64) / np.linalg.norm(push.direction)
    hold = np.asarray(push.point_mm, dtype=np.float64)
    size = max(float(np.linalg.norm(at - hold, axis=1).max()), 1.0)
    across = np.cross(n, np.eye(3)[np.argmin(np.abs(n), axis=1)])
    across /= np.linalg.norm(across, axis=1)[:, None]
    along = np.cross(n, across)
    turns = 2.0 * math.pi * np.arange(sides) / sides if coefficient > 0.0 else np.zeros(1)
    edges = n[:, None] + coefficient * (
        np.cos(turns)[:, None] * across[:, None] + np.sin(turns)[:, None] * along[:, None]
    )
    arms = np.broadcast_to(((at - hold) / size)[:, None], edges.shape)
    rows = np.concatenate([np.cross(arms, edges), edges], axis=2).reshape(-1, 6)
    _, left = balance(rows, np.concatenate([np.zeros(3), -way]))
    return left < _HELD
