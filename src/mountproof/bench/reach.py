"""What a fitted table of marks says at a place of the lower cast, and which pair of marks to add.

The result at a condyle is an extrapolation over some 50 to 90 mm: the doubt of the pose is carried to each place by
itself, and an axis whose doubt is beyond what is usable is refused instead of printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.bench.pose import Marks, PoseTable, Seen
from mountproof.geometry.carry import Carried, stack
from mountproof.geometry.poses import Array, adjoint, hat, inverse, rotation_vector
from mountproof.said import say

#: The axes of the frame as they are told: forward, up, to the patient's right.
AXES = (say("forward"), say("up"), say("right"))


class Point(NamedTuple):
    """A place of the lower cast, as it lies in the reference state (x, y, z, mm)."""

    name: str
    xyz_mm: tuple[float, float, float]


class PointMotion(NamedTuple):
    """How a place of the lower cast moves between two states: ``shift`` (forward, up, right; mm) with its doubt.

    ``refused`` names the axes whose u is beyond the usable limit; ``assumed_share`` is the part of each axis'
    variance that comes from assumptions instead of readings.
    """

    point: Point
    shift: Carried
    refused: tuple[str, ...]
    assumed_share: tuple[float, float, float]


def place_in(fit: PoseTable, state: str, point: Point) -> Carried:
    """Return where a place of the lower cast lies in one state (3, mm, frame of the upper), with its doubt."""
    pose = fit.poses[state]
    here = pose.upper_from_lower[:3, :3] @ np.asarray(point.xyz_mm) + pose.upper_from_lower[:3, 3]
    return pose.motion.linear(np.concatenate([-hat(here), np.eye(3)], axis=1), here)


def point_motion(
    fit: PoseTable, from_state: str, to_state: str, point: Point, usable_mm: float | None = None
) -> PointMotion:
    """Return the shift of a place from one state to another; what both states share does not count twice.

    Axes with u beyond ``usable_mm`` (that of the fit by default) are refused. Raises ValueError for a state that was
    not fitted.
    """
    for state in (from_state, to_state):
        if state not in fit.poses:
            raise ValueError(f"state {state!r} has no pose")
    shift = place_in(fit, to_state, point) - place_in(fit, from_state, point)
    limit = fit.usable_mm if usable_mm is None else usable_mm
    refused = tuple(a for a, u in zip(AXES, shift.us, strict=True) if not u <= limit)
    total = shift.us**2
    read = shift.without("assumed").us ** 2
    share = np.divide(total - read, total, out=np.zeros(3), where=total > 0.0)
    return PointMotion(point, shift, refused, (float(share[0]), float(share[1]), float(share[2])))


class Between(NamedTuple):
    """The motion of the lower cast between two states in the frame of the upper: pose (4, 4) and its doubt (6)."""

    moved: Array
    motion: Carried


def pose_between(fit: PoseTable, from_state: str, to_state: str) -> Between:
    """Return the rigid motion that takes the lower cast from one state to another, with its doubt (rotation first)."""
    first, last = fit.poses[from_state], fit.poses[to_state]
    moved = last.upper_from_lower @ inverse(first.upper_from_lower)
    both = stack([last.motion, first.motion])
    values = np.concatenate([rotation_vector(moved[:3, :3]), moved[:3, 3]])
    return Between(moved, both.linear(np.concatenate([np.eye(6), -adjoint(moved)], axis=1), values))


def opening_between(fit: PoseTable, from_state: str, to_state: str) -> Carried:
    """Return the opening (rad) between two states: the turn about the side axis, whatever else moved."""
    between = pose_between(fit, from_state, to_state)
    turn = between.moved[:3, :3]
    angle = -np.arctan2(turn[1, 0], turn[0, 0])
    # d(angle) of a small turn in front: the sideways parts count only as far as the axes are already tilted
    row = np.zeros((1, 6))
    size = turn[0, 0] ** 2 + turn[1, 0] ** 2
    for i in range(3):
        spin = hat(np.eye(3)[i]) @ turn
        row[0, i] = -(spin[1, 0] * turn[0, 0] - spin[0, 0] * turn[1, 0]) / size
    return between.motion.linear(row, [float(angle)])


def tilt_between(fit: PoseTable, from_state: str, to_state: str) -> Carried:
    """Return roll and yaw (rad, 2) between two states, to first order in them."""
    motion = pose_between(fit, from_state, to_state).motion
    return motion[[0, 1]]


class PairGain(NamedTuple):
    """One pair that could be added: its marks, and the worst u (mm) over the asked places before and after."""

    upper: str
    lower: str
    worst_before_mm: float
    worst_after_mm: float


def pairs_to_add(
    fit: PoseTable, state: str, points: Sequence[Point], u_reading_mm: float, most: int = 3
) -> tuple[PairGain, ...]:
    """Return the pairs of existing marks that would shrink the worst doubt at ``points`` most, best first.

    Every upper mark is tried with every lower mark that it is not yet measured against; the new pair would be
    read in the reference state and in this one, each with ``u_reading_mm``.
    """
    if not points or not u_reading_mm > 0.0:
        raise ValueError("name at least one place, and an uncertainty of a reading above zero")
    marks = fit.marks
    pose = fit.poses[state]
    cov = pose.motion.cov
    rows = [_place_rows(pose.upper_from_lower, p) for p in points]
    before = _worst(cov, rows)
    have = {(p.upper, p.lower) for p in marks.pairs}
    gains = []
    for u_name, upper in marks.upper.items():
        for l_name, lower in marks.lower.items():
            if (u_name, l_name) in have:
                continue
            here = pose.upper_from_lower[:3, :3] @ np.asarray(lower.xyz_mm) + pose.upper_from_lower[:3, 3]
            across = here - np.asarray(upper.xyz_mm)
            n = across / np.linalg.norm(across)
            row = np.concatenate([np.cross(here, n), n])
            gain = cov @ row
            after = cov - np.outer(gain, gain) / (2.0 * u_reading_mm**2 + float(row @ gain))
            gains.append(PairGain(u_name, l_name, before, _worst(after, rows)))
    return tuple(sorted(gains, key=lambda g: g.worst_after_mm)[:most])


def sight_of(marks: Marks, about_mm: Sequence[float], lever_mm: float) -> Array:
    """Return the singular values (up to 6, largest first) with which the pairs see motion of the lower cast.

    Motion about ``about_mm`` (3,); rotations count as millimetres on ``lever_mm``. Their largest over their smallest
    is the condition of the pairs; those that are not small against the largest count the rank.
    """
    about = np.asarray(about_mm, dtype=np.float64)
    rows = []
    for p in marks.pairs:
        lower = np.asarray(marks.lower[p.lower].xyz_mm)
        across = lower - np.asarray(marks.upper[p.upper].xyz_mm)
        n = across / np.linalg.norm(across)
        rows.append(np.concatenate([np.cross(lower - about, n) / lever_mm, n]))
    values: Array = np.linalg.svd(np.array(rows), compute_uv=False)
    return values


def told(seen: Sequence[Seen]) -> str:
    """Return directions in words, for a sentence."""
    return "; ".join(s.words for s in seen)


def _place_rows(upper_from_lower: Array, point: Point) -> Array:
    here = upper_from_lower[:3, :3] @ np.asarray(point.xyz_mm) + upper_from_lower[:3, 3]
    return np.concatenate([-hat(here), np.eye(3)], axis=1)


def _worst(cov: Array, rows: Sequence[Array]) -> float:
    return float(max(np.sqrt(np.max(np.diag(r @ cov @ r.T))) for r in rows))
