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
from functools import lru_cache, partial

import numpy as np

from mountproof.bench.pose_data import (
    DIRECTIONS,
    EXCURSION_SLACK,
    HINGE_SLACK,
    RECORD_SLACK,
    MarkPair,
    Marks,
    Place,
    Pose,
    PoseTable,
    ReadingCheck,
    Seen,
    Slack,
    words,
)
from mountproof.bench.pose_problem import Problem, Row, Sight, rows_of
from mountproof.bench.readings import Table
from mountproof.geometry.carry import Carried, exact
from mountproof.geometry.least_squares import Fit, chi2_tail, gauss_newton
from mountproof.geometry.poses import Array, hat, rotation_vector

__all__ = [
    "DIRECTIONS",
    "EXCURSION_SLACK",
    "HINGE_SLACK",
    "RECORD_SLACK",
    "MarkPair",
    "Marks",
    "Place",
    "Pose",
    "PoseTable",
    "ReadingCheck",
    "Seen",
    "Slack",
    "fit_poses",
    "words",
]

#: Rounds of the search, and the step, in SDs of what it moves, below which it has settled. Marks straight across from each
#: other see excursions only by the bend of a distance, and the last digits then come slowly; a hundredth of an SD is
#: not seen in any number that is shown with its doubt.
_ROUNDS = 40
_SETTLED_SDS = 1e-2

#: A direction may be seen where the casts end up and not where they began; it is looked at again so many times.
_SIGHT_ROUNDS = 3


#: One minus the leverage of a reading that nothing else checks is zero up to the rounding of a sum of squares of
#: some hundred terms over sixteen digits less the eight that the condition of the fit may take.
_UNCHECKED = 1e-8


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
    rows = rows_of(marks, table, [reference, *wanted])
    live = tuple(s for s in wanted if any(r.state == s for r in rows))
    if not rows or not live:
        raise ValueError("no state has a reading of a known pair")
    slacks = tuple(slack if isinstance(slack, Slack) else slack.get(s, RECORD_SLACK) for s in live)
    places = tuple(marks.upper.items()), tuple(marks.lower.items()), marks.pairs
    return _fitted(places, tuple(rows), live, reference, slacks, slack_everywhere, usable_mm)


@lru_cache(maxsize=64)
def _fitted(
    places: tuple[tuple[tuple[str, Place], ...], tuple[tuple[str, Place], ...], tuple[MarkPair, ...]],
    rows: tuple[Row, ...],
    live: tuple[str, ...],
    reference: str,
    slacks: tuple[Slack, ...],
    everywhere: bool,
    usable_mm: float,
) -> PoseTable:
    """Fit one problem. Questions ask for the same fits, and a changed reading leaves those of other states as they are.

    ``places`` are the marks of the upper and of the lower by name, and the pairs.
    """
    marks = Marks(dict(places[0]), dict(places[1]), places[2])
    problem = Problem(marks, list(rows), live, reference, dict(zip(live, slacks, strict=True)), everywhere)
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
    return _result(problem, fit, fit.last_step_sds <= _SETTLED_SDS, sight, final, usable_mm)


def _result(
    problem: Problem,
    fit: Fit,
    settled: bool,
    sight: Mapping[str, Sight],
    final: Mapping[str, Sight],
    usable_mm: float,
) -> PoseTable:
    x, residual, jacobian = fit.state, fit.residual, fit.jacobian
    values, vectors = np.linalg.eigh(jacobian.T @ jacobian)
    gain = vectors @ ((vectors.T @ jacobian.T) / values[:, None])
    leverage = np.einsum("ij,ji->i", jacobian, gain)
    names = _source_names(problem, sight)
    poses, _ = problem.split(x)
    out: dict[str, Pose] = {}
    for s, name in enumerate(problem.live):
        turn, shift = poses[s, :3, :3], poses[s, :3, 3]
        centre = turn @ problem.middle + shift
        at_origin = np.zeros((6, 6))
        at_origin[:3, :3] = np.eye(3) / problem.lever
        at_origin[3:, :3] = hat(centre) / problem.lever
        at_origin[3:, 3:] = np.eye(3)
        value = np.concatenate([rotation_vector(turn), shift])
        motion = Carried(value, names, at_origin @ gain[6 * s : 6 * s + 6])
        what = final[name]
        axes = [tuple(axis) for axis in what.axes.T.tolist()]
        seen = tuple(Seen(words(axis), axis, sd) for axis, sd in zip(axes, what.sds.tolist(), strict=True))
        out[name] = Pose(
            name,
            poses[s].copy(),
            _only_live(motion),
            what.rank,
            seen,
            seen[: 6 - what.rank],
            problem.lever,
            int(np.sum(problem.who == s)),
        )
    out[problem.reference] = Pose(
        problem.reference,
        np.eye(4),
        exact(np.zeros(6)),
        6,
        (),
        (),
        problem.lever,
        int(np.sum(problem.who == -1)),
    )
    chi = float(residual @ residual)
    dof = max(0, residual.shape[0] - jacobian.shape[1])
    checks = _checks(problem, residual, leverage)
    return PoseTable(
        problem.reference, out, checks, chi, dof, chi2_tail(chi, dof), settled, usable_mm, problem.marks
    )


def _checks(problem: Problem, residual: Array, leverage: Array) -> tuple[ReadingCheck, ...]:
    out = []
    of_rows = zip(problem.rows, residual.tolist(), leverage.tolist(), strict=False)
    for r, off, share in of_rows:
        left = 1.0 - share
        found_minus_fitted = -off * r.u
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
                -off / math.sqrt(left),
            )
        )
    return tuple(out)


def _source_names(problem: Problem, sight: Mapping[str, Sight]) -> tuple[str, ...]:
    names = [f"reading/{r.state}/{r.pair}" for r in problem.rows]
    for s in problem.live:
        if problem.everywhere:
            names += [f"assumed/{s}/{d}" for d in DIRECTIONS]
        else:
            names += [f"assumed/{s}/not seen {i + 1}" for i in range(6 - sight[s].rank)]
    marks = [*problem.uppers, *problem.lowers]
    names += [f"mark/{marks[i // 3]}.{'xyz'[i % 3]}" for i in problem.free]
    return tuple(names)


def _only_live(motion: Carried) -> Carried:
    """Leave out sources that move nothing, so that sums over many results stay short."""
    live = np.flatnonzero(np.any(motion.parts != 0.0, axis=0))
    return Carried(motion.values, tuple(motion.sources[i] for i in live), motion.parts[:, live])
