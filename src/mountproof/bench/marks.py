"""From the distance between two marks to the opening of the hinge, in closed form and by several pairs.

A pair is known by the two distances of its marks from the hinge axis, as seen from the side, and by the side
step between them. Where marks turn about the hinge only, ``d^2 = a^2 + b^2 - 2 a b cos(psi) + dz^2`` holds in
every state (law of cosines), and the opening is the change of ``psi``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.bench.readings import Table, carried_reading
from mountproof.faults import Fault, FaultError
from mountproof.geometry.carry import Carried, measured, stack, through
from mountproof.geometry.least_squares import chi2_tail
from mountproof.said import say


class Arms(NamedTuple):
    """A pair of marks seen from the hinge: distances of upper and lower mark from the axis, side step between (mm).

    ``u_*`` are their standard uncertainties; ``upper`` and ``lower`` name the marks, so that two pairs that share
    a mark share its doubt.
    """

    pair: str
    a_mm: float
    b_mm: float
    dz_mm: float = 0.0
    u_a_mm: float = 0.0
    u_b_mm: float = 0.0
    u_dz_mm: float = 0.0
    upper: str = ""
    lower: str = ""


def psi_from_distance(d_mm: float, a_mm: float, b_mm: float, dz_mm: float = 0.0) -> float:
    """Return the angle (rad) at the hinge between two marks ``d_mm`` apart.

    ``4 a b sin^2(psi/2) = d^2 - dz^2 - (a - b)^2``: the half-angle form loses nothing at small angles, and for
    a = b is ``2 asin(sqrt(d^2 - dz^2) / 2a)``. Raises ValueError where no triangle has these sides.
    """
    if not (a_mm > 0.0 and b_mm > 0.0):
        raise ValueError("both marks must be away from the hinge axis")
    square = (d_mm * d_mm - dz_mm * dz_mm - (a_mm - b_mm) ** 2) / (4.0 * a_mm * b_mm)
    if not 0.0 <= square <= 1.0:
        raise ValueError(f"marks {a_mm} and {b_mm} mm from the hinge cannot be {d_mm} mm apart")
    return 2.0 * math.asin(math.sqrt(square))


def distance_from_psi(psi_rad: float, a_mm: float, b_mm: float, dz_mm: float = 0.0) -> float:
    """Return how far apart (mm) two marks are that stand ``psi_rad`` apart at the hinge."""
    return math.sqrt((a_mm - b_mm) ** 2 + 4.0 * a_mm * b_mm * math.sin(0.5 * psi_rad) ** 2 + dz_mm * dz_mm)


def opening_from_pair(d0_mm: float, d1_mm: float, a_mm: float, b_mm: float, dz_mm: float = 0.0) -> float:
    """Return the opening (rad) between two states from one pair: exact, marks turning about the hinge only."""
    return psi_from_distance(d1_mm, a_mm, b_mm, dz_mm) - psi_from_distance(d0_mm, a_mm, b_mm, dz_mm)


def arms_from_places(pair: str, upper: ArrayLike, lower: ArrayLike, u_mm: float = 0.0) -> Arms:
    """Return the arms of a pair from two places (x, y, z) in the frame of the hinge, ``u_mm`` a coordinate."""
    p, q = np.asarray(upper, dtype=np.float64), np.asarray(lower, dtype=np.float64)
    if p.shape != (3,) or q.shape != (3,) or not (np.all(np.isfinite(p)) and np.all(np.isfinite(q))):
        raise ValueError(f"{pair}: two finite places (x, y, z) are needed")
    names = pair.split("-", 1)
    return Arms(
        pair,
        math.hypot(p[0], p[1]),
        math.hypot(q[0], q[1]),
        float(q[2] - p[2]),
        u_mm,
        u_mm,
        math.sqrt(2.0) * u_mm,
        names[0],
        names[-1],
    )


class PairOpening(NamedTuple):
    """One pair against the common opening: its own opening (rad), residual (found - common, mm) and its SD (mm)."""

    pair: str
    change_mm: float
    theta_rad: float
    residual_mm: float
    sd_mm: float


class HingeOpening(NamedTuple):
    """The opening that fits all pairs, taking the hinge alone, and what speaks against that.

    ``theta`` carries its doubt by readings and lengths; ``chi_square`` over ``dof`` with its ``tail``
    probability compares the residuals with the readings' SD. ``inflation`` is sqrt(chi_square/dof) where that is
    above one: the factor by which the pairs scatter more than the caliper. It sees only motion that differs from
    pair to pair; motion that all pairs share is not visible here (use the pose of ``mountproof.bench.pose``).
    """

    theta: Carried
    pairs: tuple[PairOpening, ...]
    chi_square: float
    dof: int
    tail: float

    @property
    def inflation(self) -> float:
        """Return sqrt(chi_square / dof), never below one; one where a single pair leaves nothing to compare."""
        return max(1.0, math.sqrt(self.chi_square / self.dof)) if self.dof else 1.0


def hinge_opening(arms: Sequence[Arms], table: Table, state0: str, state1: str) -> HingeOpening:
    """Return the opening from ``state0`` to ``state1`` by weighted least squares over pairs, pure hinge.

    Each pair solves its own triangle exactly; the openings are averaged with weights from the readings (those of
    both states), which for one unknown is the least-squares solution of the exact triangles to the order of
    the residuals. Lengths are systematic: they do not weigh, but their doubt is carried, shared marks once.
    Raises ValueError where no pair was read in both states, FaultError where a reading cannot be with those
    lengths.
    """
    used = [a for a in arms if a.pair in table.get(state0, {}) and a.pair in table.get(state1, {})]
    if not used:
        raise ValueError(f"no pair of marks was read both in {state0!r} and in {state1!r}")
    _check_triangles(used, table, (state0, state1))
    own, weight = [], []
    for a in used:
        d0, d1 = table[state0][a.pair], table[state1][a.pair]
        carried = through(
            lambda v: opening_from_pair(v[0], v[1], v[2], v[3], v[4]),
            stack(
                [carried_reading(d0, state0, a.pair), carried_reading(d1, state1, a.pair), _arm_lengths(a)]
            ),
        )
        own.append(carried)
        weight.append(1.0 / _reading_variance(carried))
    w = np.asarray(weight) / math.fsum(weight)
    theta = stack(own).linear(w[None, :])
    rows, chi = [], 0.0
    for a, one in zip(used, own, strict=True):
        d0, d1 = table[state0][a.pair], table[state1][a.pair]
        common = distance_from_psi(
            psi_from_distance(d0.mean_mm, a.a_mm, a.b_mm, a.dz_mm) + theta.value, a.a_mm, a.b_mm, a.dz_mm
        )
        sd = math.hypot(d0.u_mm, d1.u_mm)
        residual = d1.mean_mm - common
        chi += (residual / sd) ** 2 if sd > 0.0 else 0.0
        rows.append(PairOpening(a.pair, d1.mean_mm - d0.mean_mm, one.value, residual, sd))
    dof = len(used) - 1
    return HingeOpening(theta, tuple(rows), chi, dof, chi2_tail(chi, dof))


def equal_millimetre_habit(arms: Sequence[Arms], table: Table, state0: str, state1: str) -> float:
    """Return what opening the pin by the mean change of distance would give (mm): the habit, for comparison."""
    changes = [
        table[state1][a.pair].mean_mm - table[state0][a.pair].mean_mm
        for a in arms
        if a.pair in table.get(state0, {}) and a.pair in table.get(state1, {})
    ]
    if not changes:
        raise ValueError(f"no pair of marks was read both in {state0!r} and in {state1!r}")
    return math.fsum(changes) / len(changes)


def _check_triangles(used: Sequence[Arms], table: Table, states: Sequence[str]) -> None:
    faults = []
    for a in used:
        low, high = math.hypot(a.a_mm - a.b_mm, a.dz_mm), math.hypot(a.a_mm + a.b_mm, a.dz_mm)
        for state in states:
            got = table[state][a.pair].mean_mm
            if not low <= got <= high:
                faults.append(
                    Fault(
                        code="marks.impossible",
                        field=f"marks.{state}.{a.pair}",
                        what=say(
                            "marks {a:.2f} and {b:.2f} mm from the hinge cannot be that far apart",
                            a=a.a_mm,
                            b=a.b_mm,
                        ),
                        got=say("{got:.2f} mm", got=got),
                        allowed=say("{low:.2f} to {high:.2f} mm", low=low, high=high),
                        todo=say("Measure this pair again, and the distances of its marks from the hinge"),
                    )
                )
    if faults:
        raise FaultError(faults)


def _arm_lengths(a: Arms) -> Carried:
    upper, lower = a.upper or f"{a.pair}.upper", a.lower or f"{a.pair}.lower"
    return stack(
        [
            measured(a.a_mm, a.u_a_mm, f"mark/{upper}.r"),
            measured(a.b_mm, a.u_b_mm, f"mark/{lower}.r"),
            measured(a.dz_mm, a.u_dz_mm, f"mark/{a.pair}.dz"),
        ]
    )


def _reading_variance(theta: Carried) -> float:
    part = sum(
        float(p) ** 2 for s, p in zip(theta.sources, theta.parts[0], strict=True) if s.startswith("reading/")
    )
    # Readings without doubt weigh alike.
    return part if part > 0.0 else 1.0
