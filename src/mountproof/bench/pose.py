"""The pose of the lower cast in each state, from the table of marks by states: all states at once.

Unknown are six numbers a state and the places of the marks, which are known beforehand only to their own doubt.
Every state sees the same marks, so a mark that is 0.5 mm off spoils all states alike and drops out of what moved
between them; fitting the places together with the poses lets that happen by itself. In directions that no pair
of marks sees, a plausible motion stands in for a reading, is named as an assumption, and keeps its doubt.

Poses are ``upper_from_lower`` (4, 4) relative to the reference state; doubt is that of a small motion in front of
the pose, about the origin of the upper frame, rotation first (see ``mountproof.geometry.poses``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np

from mountproof.bench.readings import Table
from mountproof.geometry.carry import Carried, exact
from mountproof.geometry.least_squares import chi2_tail, gauss_newton
from mountproof.geometry.poses import Array, exp6, hat, inverse_left, rotation_vector

#: The six directions, rotation first: about x, y, z, then along x, y, z.
DIRECTIONS = ("roll", "yaw", "opening", "fore-aft", "height", "side")

#: A plausible motion of no size would weigh without bound; this (mm, or rad on the lever) stands for "does not move"
#: and is a thousandth of what a caliper sees.
_NO_MOTION = 1e-4

#: Rounds of the search, and the step, in SDs of what it moves, below which it has settled. Marks straight across from each
#: other see excursions only by the bend of a distance, and the last digits then come slowly; a hundredth of an SD is
#: not seen in any number that is shown with its doubt.
_ROUNDS = 40
_SETTLED_SDS = 1e-2

#: A direction may be seen where the casts end up and not where they began; it is looked at again so many times.
_SIGHT_ROUNDS = 3


class Place(NamedTuple):
    """Where a mark is in the reference state (x, y, z, mm), and the standard uncertainty of each coordinate."""

    xyz_mm: tuple[float, float, float]
    u_mm: float = 0.0


class MarkPair(NamedTuple):
    """The name of a pair and of its upper and lower mark."""

    name: str
    upper: str
    lower: str


class Marks(NamedTuple):
    """The marks of both casts by name, and the pairs that are measured."""

    upper: Mapping[str, Place]
    lower: Mapping[str, Place]
    pairs: tuple[MarkPair, ...]


class Slack(NamedTuple):
    """How far a state may plausibly differ from the reference, as standard deviations at the middle of the hinge."""

    roll_rad: float
    yaw_rad: float
    opening_rad: float
    fore_aft_mm: float
    height_mm: float
    side_mm: float


#: Centric relation against maximal intercuspation. Condylar shifts of 0.2 to 0.9 mm and slides near 1 mm are
#: reported (see the sources of the acceptance limits): one millimetre covers them; 0.5 mm of difference between the
#: joints over half the usual 110 mm gives roll and yaw. Our choice, to be shown as assumed.
RECORD_SLACK = Slack(math.radians(0.5), math.radians(0.5), math.radians(10.0), 1.0, 0.7, 0.5)

#: Protrusive and lateral records. Our choice, to be shown as assumed.
EXCURSION_SLACK = Slack(math.radians(4.0), math.radians(8.0), math.radians(10.0), 10.0, 6.0, 3.0)

#: The hinge alone: what a pure-hinge computation silently assumes.
HINGE_SLACK = Slack(0.0, 0.0, math.radians(10.0), 0.0, 0.0, 0.0)


class ReadingCheck(NamedTuple):
    """One reading against all others: found, expected without it (with its u), and the distance in SDs.

    Where nothing else sees what this reading sees, ``expected_u_mm`` is infinite and ``off_by_sds`` zero.
    """

    state: str
    pair: str
    found_mm: float
    residual_mm: float
    expected_mm: float
    expected_u_mm: float
    off_by_sds: float


class Seen(NamedTuple):
    """What one direction of motion is worth: in words, as a unit vector (6, rotation times lever), and its SD (mm)."""

    words: str
    direction: tuple[float, ...]
    sd_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """The lower cast in one state: ``upper_from_lower`` (4, 4), its small motion with doubt (6), what is not seen.

    ``seen`` lists the six directions about the middle of the lower marks, worst first; ``lever_mm`` is the distance
    over which rotations are counted in millimetres; ``rank`` of them are carried by the readings.
    """

    state: str
    upper_from_lower: Array
    motion: Carried
    rank: int
    seen: tuple[Seen, ...]
    not_seen: tuple[Seen, ...]
    lever_mm: float
    pairs: int

    @property
    def condition(self) -> float:
        """Largest over smallest SD of the six directions."""
        return self.seen[0].sd_mm / self.seen[-1].sd_mm if self.seen else 1.0


@dataclass(frozen=True, slots=True, eq=False)
class PoseTable:
    """All states against the reference: poses by state, the check of every reading, and the fit as a whole.

    ``settled`` is False when the search did not end; its numbers must not be used then. ``usable_mm`` is the doubt
    beyond which a direction counts as not seen.
    """

    reference: str
    poses: Mapping[str, Pose]
    checks: tuple[ReadingCheck, ...]
    chi_square: float
    dof: int
    tail: float
    settled: bool
    usable_mm: float
    marks: Marks

    @property
    def inflation(self) -> float:
        """Return sqrt(chi_square / dof), never below one."""
        return max(1.0, math.sqrt(self.chi_square / self.dof)) if self.dof > 0 else 1.0


def fit_poses(
    marks: Marks,
    table: Table,
    reference: str,
    states: Sequence[str] | None = None,
    *,
    slack: Slack | Mapping[str, Slack] = RECORD_SLACK,
    slack_everywhere: bool = False,
    usable_mm: float = 0.5,
) -> PoseTable:
    """Return the pose of the lower cast in ``states`` (all of the table by default) relative to ``reference``.

    Weighted least squares with the readings' own u, the marks' u and, where the readings cannot carry a direction
    to ``usable_mm``, the plausible motion ``slack`` of that state as an assumption. With ``slack_everywhere`` the
    plausible motion weighs in all directions: the estimate that is best on average if the slack is right, to
    be used where few pairs must give one number (the opening). States without readings are left out.
    Raises ValueError for a reference or a pair that is not there.
    """
    if reference not in table:
        raise ValueError(f"the reference state {reference!r} is not in the table")
    if not usable_mm > 0.0:
        raise ValueError("usable_mm must be above zero")
    wanted = [s for s in (table if states is None else states) if s != reference]
    rows = _rows(marks, table, [reference, *wanted])
    live = tuple(s for s in wanted if any(r.state == s for r in rows))
    if not rows or not live:
        raise ValueError("no state has a reading of a known pair")
    slacks = {s: slack if isinstance(slack, Slack) else slack.get(s, RECORD_SLACK) for s in live}
    problem = _Problem(marks, rows, live, reference, slacks, slack_everywhere)
    start = problem.start()
    first = problem.sights(start, usable_mm)
    sight = first
    fit = gauss_newton(start, partial(problem.weighted, sight=first), problem.move, _ROUNDS)
    for _ in range(_SIGHT_ROUNDS):
        again = problem.sights(fit.state, usable_mm)
        if all(again[s].rank == sight[s].rank for s in live):
            break
        sight = again
        fit = gauss_newton(fit.state, partial(problem.weighted, sight=again), problem.move, _ROUNDS)
    final = problem.sights(fit.state, usable_mm)
    return problem.result(fit.state, fit.last_step_sds <= _SETTLED_SDS, sight, final, usable_mm)


class _Row(NamedTuple):
    state: str
    pair: str
    upper: str
    lower: str
    found: float
    u: float


class _Sight(NamedTuple):
    rank: int
    axes: Array  # (6, 6) columns: directions about the middle of the marks, worst first
    sds: Array  # (6,)


def _rows(marks: Marks, table: Table, states: Sequence[str]) -> list[_Row]:
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
                rows.append(_Row(state, p.name, p.upper, p.lower, one.mean_mm, one.u_mm))
    return rows


class _Problem:
    """The least-squares problem: one vector of state (poses flattened, then places), rows, and how to move."""

    def __init__(
        self,
        marks: Marks,
        rows: list[_Row],
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
        self.slack_sds = {s: np.maximum(np.array(slacks[s], dtype=np.float64), _NO_MOTION) for s in live}

    def start(self) -> Array:
        eye = np.tile(np.eye(4).ravel(), len(self.live))
        return np.concatenate([eye, self.place0.ravel()])

    def split(self, x: Array) -> tuple[Array, Array]:
        n = 16 * len(self.live)
        return x[:n].reshape(-1, 4, 4), x[n:].reshape(-1, 3)

    def move(self, x: Array, step: Array) -> Array:
        poses, places = self.split(x)
        out = x.copy()
        n = 16 * len(self.live)
        for k in range(len(self.live)):
            turn = step[6 * k : 6 * k + 3] / self.lever
            centre = poses[k, :3, :3] @ self.middle + poses[k, :3, 3]
            shift = step[6 * k + 3 : 6 * k + 6]
            # about the middle of the marks as it lies now
            around = exp6(np.concatenate([turn, np.zeros(3)]))
            around[:3, 3] = centre + shift - around[:3, :3] @ centre
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
        d = np.linalg.norm(across, axis=1)
        return d, across / d[:, None], lower, turns

    def reading_part(self, x: Array) -> tuple[Array, Array]:
        d, n, lower, turns = self.distances(x)
        poses, _ = self.split(x)
        count, k = len(self.rows), len(self.live)
        jacobian = np.zeros((count, 6 * k + self.place_u.shape[0]))
        for s in range(k):
            mine = np.flatnonzero(self.who == s)
            centre = poses[s, :3, :3] @ self.middle + poses[s, :3, 3]
            jacobian[mine, 6 * s : 6 * s + 3] = np.cross(lower[mine] - centre, n[mine]) / self.lever
            jacobian[mine, 6 * s + 3 : 6 * s + 6] = n[mine]
        toward = np.einsum("rij,ri->rj", turns, n)
        for axis in range(3):
            jacobian[np.arange(count), 6 * k + 3 * self.i_up + axis] -= n[:, axis]
            jacobian[np.arange(count), 6 * k + 3 * self.i_low + axis] += toward[:, axis]
        return (d - self.found) / self.u, jacobian / self.u[:, None]

    def slack_part(self, x: Array, s: int, sight: _Sight) -> tuple[Array, Array]:
        """Residuals and Jacobian (m, 6) of the plausible motion of one state, in SDs."""
        poses, _ = self.split(x)
        turn, shift = poses[s, :3, :3], poses[s, :3, 3]
        centre = turn @ self.middle + shift
        vector = rotation_vector(turn)
        roll = inverse_left(vector) / self.lever
        sds = self.slack_sds[self.live[s]]
        # at the hinge: rotation vector and shift of the origin
        value = np.concatenate([vector, shift])
        change = np.zeros((6, 6))
        change[:3, :3] = roll
        change[3:, :3] = (
            hat(centre) / self.lever
        )  # turn about the centre moves the origin (which lies at shift)
        change[3:, :3] -= hat(shift) / self.lever
        change[3:, 3:] = np.eye(3)
        if self.everywhere:
            return value / sds, change / sds[:, None]
        if sight.rank == 6:
            return np.zeros(0), np.zeros((0, 6))
        # The same motion about the middle of the marks, rotations times the lever, and its plausible covariance.
        to_middle = np.zeros((6, 6))
        to_middle[:3, :3] = self.lever * np.eye(3)
        to_middle[3:, :3] = -hat(self.middle)
        to_middle[3:, 3:] = np.eye(3)
        spread = sight.axes.T @ (to_middle * sds) @ (to_middle * sds).T @ sight.axes
        cut = 6 - sight.rank
        # What is not seen, given what is seen: the plausible motion never pulls at what the readings carry.
        follow = np.linalg.solve(spread[cut:, cut:], spread[cut:, :cut]).T if sight.rank else np.zeros((6, 0))
        rest = spread[:cut, :cut] - follow @ spread[cut:, :cut]
        take = np.linalg.inv(np.linalg.cholesky(rest)) @ np.concatenate([np.eye(cut), -follow], axis=1)
        here = np.concatenate([self.lever * vector, centre - self.middle])
        local = np.zeros((6, 6))
        local[:3, :3] = self.lever * roll
        local[3:, 3:] = np.eye(3)
        return take @ sight.axes.T @ here, take @ sight.axes.T @ local

    def weighted(self, x: Array, sight: Mapping[str, _Sight]) -> tuple[Array, Array]:
        residual, jacobian = self.reading_part(x)
        keep = np.concatenate([np.arange(6 * len(self.live)), 6 * len(self.live) + self.free])
        parts, blocks = [residual], [jacobian[:, keep]]
        for s, name in enumerate(self.live):
            r, j = self.slack_part(x, s, sight[name])
            block = np.zeros((r.shape[0], keep.shape[0]))
            block[:, 6 * s : 6 * s + 6] = j
            parts.append(r)
            blocks.append(block)
        _, places = self.split(x)
        off = ((places - self.place0).ravel() / np.where(self.place_u > 0.0, self.place_u, 1.0))[self.free]
        block = np.zeros((self.free.shape[0], keep.shape[0]))
        block[:, 6 * len(self.live) :] = np.diag(1.0 / self.place_u[self.free])
        parts.append(off)
        blocks.append(block)
        return np.concatenate(parts), np.concatenate(blocks)

    def sights(self, x: Array, usable_mm: float) -> dict[str, _Sight]:
        """What the readings of each state see: SDs of the six directions, worst first."""
        _, jacobian = self.reading_part(x)
        out = {}
        for s, state in enumerate(self.live):
            mine = jacobian[self.who == s, 6 * s : 6 * s + 6]
            # Both states are read by the same caliper, so a change is known root two worse than a reading.
            _, strength, axes = np.linalg.svd(mine / math.sqrt(2.0), full_matrices=True)
            full = np.zeros(6)
            full[: strength.shape[0]] = strength
            sds = np.full(6, math.inf)
            np.divide(1.0, full, out=sds, where=full > 0.0)
            order = np.argsort(full, kind="stable")
            out[state] = _Sight(int(np.sum(sds <= usable_mm)), axes.T[:, order], sds[order])
        return out

    def result(
        self,
        x: Array,
        settled: bool,
        sight: Mapping[str, _Sight],
        final: Mapping[str, _Sight],
        usable_mm: float,
    ) -> PoseTable:
        residual, jacobian = self.weighted(x, sight)
        values, vectors = np.linalg.eigh(jacobian.T @ jacobian)
        gain = vectors @ ((vectors.T @ jacobian.T) / values[:, None])
        leverage = np.einsum("ij,ji->i", jacobian, gain)
        names = self.source_names(sight)
        poses, _ = self.split(x)
        out: dict[str, Pose] = {}
        for s, name in enumerate(self.live):
            turn, shift = poses[s, :3, :3], poses[s, :3, 3]
            centre = turn @ self.middle + shift
            at_origin = np.zeros((6, 6))
            at_origin[:3, :3] = np.eye(3) / self.lever
            at_origin[3:, :3] = hat(centre) / self.lever
            at_origin[3:, 3:] = np.eye(3)
            value = np.concatenate([rotation_vector(turn), shift])
            motion = Carried(value, names, at_origin @ gain[6 * s : 6 * s + 6])
            what = final[name]
            seen = tuple(
                Seen(words(what.axes[:, i]), tuple(float(v) for v in what.axes[:, i]), float(what.sds[i]))
                for i in range(6)
            )
            out[name] = Pose(
                name,
                poses[s].copy(),
                _only_live(motion),
                what.rank,
                seen,
                seen[: 6 - what.rank],
                self.lever,
                int(np.sum(self.who == s)),
            )
        out[self.reference] = Pose(
            self.reference, np.eye(4), exact(np.zeros(6)), 6, (), (), self.lever, int(np.sum(self.who == -1))
        )
        chi = float(residual @ residual)
        dof = max(0, residual.shape[0] - jacobian.shape[1])
        checks = self.checks(residual, leverage)
        return PoseTable(
            self.reference, out, checks, chi, dof, chi2_tail(chi, dof), settled, usable_mm, self.marks
        )

    def checks(self, residual: Array, leverage: Array) -> tuple[ReadingCheck, ...]:
        out = []
        for i, r in enumerate(self.rows):
            left = 1.0 - float(leverage[i])
            found_minus_fitted = -float(residual[i]) * r.u
            # Rounding of the leverage itself: a reading that nothing else checks leaves only that.
            if left <= _UNCHECKED:
                out.append(ReadingCheck(r.state, r.pair, r.found, found_minus_fitted, r.found, math.inf, 0.0))
                continue
            out.append(
                ReadingCheck(
                    r.state,
                    r.pair,
                    r.found,
                    found_minus_fitted,
                    r.found - found_minus_fitted / left,
                    r.u * math.sqrt(max(0.0, 1.0 - left) / left),
                    -float(residual[i]) / math.sqrt(left),
                )
            )
        return tuple(out)

    def source_names(self, sight: Mapping[str, _Sight]) -> tuple[str, ...]:
        names = [f"reading/{r.state}/{r.pair}" for r in self.rows]
        for s in self.live:
            if self.everywhere:
                names += [f"assumed/{s}/{d}" for d in DIRECTIONS]
            else:
                names += [f"assumed/{s}/not seen {i + 1}" for i in range(6 - sight[s].rank)]
        marks = [*self.uppers, *self.lowers]
        names += [f"mark/{marks[i // 3]}.{'xyz'[i % 3]}" for i in self.free]
        return tuple(names)


#: One minus the leverage of a reading that nothing else checks is zero up to the rounding of a sum of squares of
#: some hundred terms over sixteen digits less the eight that the condition of the fit may take.
_UNCHECKED = 1e-8


def words(direction: Array | Sequence[float]) -> str:
    """Return a direction of motion (6, rotation times lever) in words: its large components, largest first."""
    v = np.abs(np.asarray(direction, dtype=np.float64))
    large = [i for i in np.argsort(-v, kind="stable") if v[i] >= 0.5 * float(np.max(v))]
    return " with ".join(DIRECTIONS[i] for i in large[:3])


def _only_live(motion: Carried) -> Carried:
    """Leave out sources that move nothing, so that sums over many results stay short."""
    live = np.flatnonzero(np.any(motion.parts != 0.0, axis=0))
    return Carried(motion.values, tuple(motion.sources[i] for i in live), motion.parts[:, live])
