"""The least-squares problem behind the table of marks: unknowns, residuals and their derivatives."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from mountproof.bench.pose_data import Marks, Slack
from mountproof.bench.readings import Table
from mountproof.geometry.one_turn import cross_matrix, left_inverse, turn_vector, turned
from mountproof.geometry.poses import Array

#: A plausible motion of no size would weigh without bound; this (mm, or rad on the lever) stands for "does not move"
#: and is a thousandth of what a caliper sees.
_NO_MOTION = 1e-4


_EYE = np.eye(3)


class Row(NamedTuple):
    """One reading: its state, pair and marks, the distance found and its u (mm)."""

    state: str
    pair: str
    upper: str
    lower: str
    found: float
    u: float


class Sight(NamedTuple):
    """What the readings of one state see: how many directions, which, and their SDs (mm), worst first."""

    rank: int
    axes: Array  # (6, 6) columns: directions about the middle of the marks, worst first
    sds: Array  # (6,)


def rows_of(marks: Marks, table: Table, states: Sequence[str]) -> list[Row]:
    """Return the readings of known pairs; ValueError for a mark without a place or a reading without doubt."""
    rows = []
    for state in states:
        read = table.get(state, {})
        for p in marks.pairs:
            if p.upper not in marks.upper or p.lower not in marks.lower:
                raise ValueError(f"pair {p.name}: its marks {p.upper} and {p.lower} have no places")
            if p.name in read:
                one = read[p.name]
                if not one.u_mm > 0.0:
                    raise ValueError(f"{state}/{p.name}: a reading needs an uncertainty above zero")
                rows.append(Row(state, p.name, p.upper, p.lower, one.mean_mm, one.u_mm))
    return rows


class Problem:
    """The least-squares problem: one vector of state (poses flattened, then places), rows, and how to move."""

    def __init__(
        self,
        marks: Marks,
        rows: list[Row],
        live: tuple[str, ...],
        reference: str,
        slacks: Mapping[str, Slack],
        everywhere: bool,
    ) -> None:
        self.marks, self.rows, self.live, self.reference = marks, rows, live, reference
        self.everywhere = everywhere
        self.uppers = tuple(dict.fromkeys(r.upper for r in rows))
        self.lowers = tuple(dict.fromkeys(r.lower for r in rows))
        places = [marks.upper[n] for n in self.uppers] + [marks.lower[n] for n in self.lowers]
        self.place0 = np.array([p.xyz_mm for p in places], dtype=np.float64)
        self.place_u = np.repeat(np.array([p.u_mm for p in places], dtype=np.float64), 3)
        if not (np.all(np.isfinite(self.place0)) and np.all(self.place_u >= 0.0)):
            raise ValueError("every mark needs a finite place and an uncertainty of at least zero")
        self.free = np.flatnonzero(self.place_u > 0.0)
        below = self.place0[len(self.uppers) :]
        self.middle = np.mean(below, axis=0)
        spread = float(np.sqrt(np.mean(np.sum((below - self.middle) ** 2, axis=1))))
        # One lower mark has no spread; its distance from the hinge is then the only lever there is.
        self.lever = spread if spread > 0.0 else float(np.linalg.norm(self.middle))
        self.who = np.array([live.index(r.state) if r.state != reference else -1 for r in rows])
        self.i_up = np.array([self.uppers.index(r.upper) for r in rows])
        self.i_low = np.array([len(self.uppers) + self.lowers.index(r.lower) for r in rows])
        self.found = np.array([r.found for r in rows])
        self.u = np.array([r.u for r in rows])
        self.mine = [np.flatnonzero(self.who == s) for s in range(len(live))]
        # Where the marks of each reading stand among all unknowns, and which unknowns are free.
        six, axes = 6 * len(live), np.arange(3)
        self.each = np.arange(len(rows))[:, None]
        self.at_up, self.at_low = (six + 3 * i[:, None] + axes for i in (self.i_up, self.i_low))
        self.keep = np.concatenate([np.arange(six), six + self.free])
        self.free_u = self.place_u[self.free]
        # The plausible motion of what one sight leaves open, as long as that sight is looked at.
        self._unseen: dict[int, tuple[Sight, Array]] = {}
        self.slack_sds = {s: np.maximum(np.array(slacks[s], dtype=np.float64), _NO_MOTION) for s in live}

    def start(self) -> Array:
        """Return the state in which nothing has moved and every mark is where it was said to be."""
        eye = np.tile(np.eye(4).ravel(), len(self.live))
        return np.concatenate([eye, self.place0.ravel()])

    def split(self, x: Array) -> tuple[Array, Array]:
        """Return poses (states, 4, 4) and places of the marks (marks, 3) of a state vector."""
        n = 16 * len(self.live)
        return x[:n].reshape(-1, 4, 4), x[n:].reshape(-1, 3)

    def move(self, x: Array, step: Array) -> Array:
        """Return the state after a step: six numbers a pose (about the middle of the marks), then free places."""
        poses, places = self.split(x)
        out = x.copy()
        n = 16 * len(self.live)
        for k in range(len(self.live)):
            turn = step[6 * k : 6 * k + 3] / self.lever
            centre = poses[k, :3, :3] @ self.middle + poses[k, :3, 3]
            shift = step[6 * k + 3 : 6 * k + 6]
            # about the middle of the marks as it lies now
            around = np.zeros((4, 4))
            around[:3, :3] = turned(*turn.tolist())
            around[:3, 3] = centre + shift - around[:3, :3] @ centre
            around[3, 3] = 1.0
            out[16 * k : 16 * k + 16] = (around @ poses[k]).ravel()
        flat = places.ravel().copy()
        flat[self.free] += step[6 * len(self.live) :]
        out[n:] = flat
        return out

    def distances(self, x: Array) -> tuple[Array, Array, Array, Array]:
        """Distances, unit vectors from upper to lower mark, lower marks where they lie, and rotations by row."""
        poses, places = self.split(x)
        turns = np.concatenate([poses[:, :3, :3], np.eye(3)[None]])[self.who]
        shifts = np.concatenate([poses[:, :3, 3], np.zeros((1, 3))])[self.who]
        lower = np.einsum("rij,rj->ri", turns, places[self.i_low]) + shifts
        across = lower - places[self.i_up]
        d = np.sqrt(np.add.reduce(across * across, axis=1))
        return d, across / d[:, None], lower, turns

    def reading_part(self, x: Array) -> tuple[Array, Array]:
        """Return residuals and Jacobian of all readings, in SDs; every place counts as free."""
        d, n, lower, turns = self.distances(x)
        poses, _ = self.split(x)
        count, k = len(self.rows), len(self.live)
        jacobian = np.zeros((count, 6 * k + self.place_u.shape[0]))
        for s in range(k):
            mine = self.mine[s]
            centre = poses[s, :3, :3] @ self.middle + poses[s, :3, 3]
            jacobian[mine, 6 * s : 6 * s + 3] = _cross(lower[mine] - centre, n[mine]) / self.lever
            jacobian[mine, 6 * s + 3 : 6 * s + 6] = n[mine]
        toward = np.einsum("rij,ri->rj", turns, n)
        jacobian[self.each, self.at_up] -= n
        jacobian[self.each, self.at_low] += toward
        return (d - self.found) / self.u, jacobian / self.u[:, None]

    def slack_part(self, x: Array, s: int, sight: Sight) -> tuple[Array, Array]:
        """Residuals and Jacobian (m, 6) of the plausible motion of one state, in SDs."""
        if sight.rank == 6 and not self.everywhere:
            return np.zeros(0), np.zeros((0, 6))
        poses, _ = self.split(x)
        turn, shift = poses[s, :3, :3], poses[s, :3, 3]
        centre = turn @ self.middle + shift
        vector = turn_vector(turn)
        roll = left_inverse(*vector) / self.lever
        if self.everywhere:
            # at the hinge: rotation vector and shift of the origin
            sds = self.slack_sds[self.live[s]]
            change = np.zeros((6, 6))
            change[:3, :3] = roll
            # turn about the centre moves the origin (which lies at shift)
            change[3:, :3] = cross_matrix(*centre.tolist()) / self.lever
            change[3:, :3] -= cross_matrix(*shift.tolist()) / self.lever
            change[3:, 3:] = _EYE
            return np.array([*vector, *shift.tolist()]) / sds, change / sds[:, None]
        take = self._taken(s, sight)
        here = np.concatenate([self.lever * np.array(vector), centre - self.middle])
        local = np.zeros((6, 6))
        local[:3, :3] = self.lever * roll
        local[3:, 3:] = _EYE
        return take @ here, take @ local

    def _taken(self, s: int, sight: Sight) -> Array:
        """Return what weighs a motion about the middle (m, 6) in the directions that one state does not see."""
        known = self._unseen.get(s)
        if known is not None and known[0] is sight:
            return known[1]
        sds = self.slack_sds[self.live[s]]
        # The same motion about the middle of the marks, rotations times the lever, and its plausible covariance.
        to_middle = np.zeros((6, 6))
        to_middle[:3, :3] = self.lever * np.eye(3)
        to_middle[3:, :3] = -cross_matrix(*self.middle.tolist())
        to_middle[3:, 3:] = np.eye(3)
        spread = sight.axes.T @ (to_middle * sds) @ (to_middle * sds).T @ sight.axes
        cut = 6 - sight.rank
        # What is not seen, given what is seen: the plausible motion never pulls at what the readings carry.
        follow = np.linalg.solve(spread[cut:, cut:], spread[cut:, :cut]).T if sight.rank else np.zeros((6, 0))
        rest = spread[:cut, :cut] - follow @ spread[cut:, :cut]
        take = np.linalg.inv(np.linalg.cholesky(rest)) @ np.concatenate([np.eye(cut), -follow], axis=1)
        taken: Array = take @ sight.axes.T
        self._unseen[s] = (sight, taken)
        return taken

    def weighted(self, x: Array, sight: Mapping[str, Sight]) -> tuple[Array, Array]:
        """Return residuals and Jacobian in SDs: readings, plausible motion, places as they were said to be."""
        residual, jacobian = self.reading_part(x)
        six, count = 6 * len(self.live), residual.shape[0]
        slacks = [self.slack_part(x, s, sight[name]) for s, name in enumerate(self.live)]
        _, places = self.split(x)
        off = (places - self.place0).ravel()[self.free] / self.free_u
        parts = np.concatenate([residual, *(r for r, _ in slacks), off])
        blocks = np.zeros((parts.shape[0], self.keep.shape[0]))
        blocks[:count] = jacobian[:, self.keep]
        at = count
        for s, (r, j) in enumerate(slacks):
            blocks[at : at + r.shape[0], 6 * s : 6 * s + 6] = j
            at += r.shape[0]
        every = np.arange(self.free.shape[0])
        blocks[at + every, six + every] = 1.0 / self.free_u
        return parts, blocks

    def sights(self, x: Array, usable_mm: float) -> dict[str, Sight]:
        """What the readings of each state see: SDs of the six directions, worst first."""
        _, jacobian = self.reading_part(x)
        out = {}
        for s, state in enumerate(self.live):
            mine = jacobian[self.mine[s], 6 * s : 6 * s + 6]
            # Both states are read by the same caliper, so a change is known root two worse than a reading.
            _, strength, axes = np.linalg.svd(mine / math.sqrt(2.0), full_matrices=True)
            full = np.zeros(6)
            full[: strength.shape[0]] = strength
            sds = np.full(6, math.inf)
            np.divide(1.0, full, out=sds, where=full > 0.0)
            order = np.argsort(full, kind="stable")
            out[state] = Sight(int(np.sum(sds <= usable_mm)), axes.T[:, order], sds[order])
        return out


def _cross(a: Array, b: Array) -> Array:
    """Cross products (n, 3), without what the library looks at first."""
    out = np.empty_like(a)
    for axis in range(3):
        y, z = (axis + 1) % 3, (axis + 2) % 3
        out[:, axis] = a[:, y] * b[:, z] - a[:, z] * b[:, y]
    return out
