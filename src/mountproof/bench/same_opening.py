"""Records of one relation brought to the same opening, so that thick and thin ones can be compared.

How far a record opens the hinge is the operator's choice and says nothing about the relation. What is left after the
opening is taken out ought to be the same for every honest record. A wrong hinge axis leaves
``2 |e| sin(dtheta / 2)`` between records that differ by ``dtheta`` in opening.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.bench.marks import Arms, hinge_opening, psi_from_distance
from mountproof.bench.pose import PoseTable
from mountproof.bench.reach import AXES, Point, opening_between, place_in
from mountproof.bench.readings import Table
from mountproof.geometry.carry import stack
from mountproof.geometry.poses import Array, closed
from mountproof.said import joined


class Features(NamedTuple):
    """Numbers that ought to be alike: ``values`` (records, k), and ``cov`` (k, k) from each record's own readings.

    What all records share (the reference, the marks) is left out of ``cov``: it drops out of comparisons.
    """

    states: tuple[str, ...]
    names: tuple[str, ...]
    values: Array
    cov: Array


def residual_features(arms: Sequence[Arms], table: Table, reference: str, states: Sequence[str]) -> Features:
    """Return what each pair is off by (mm) once the hinge opening from ``reference`` is taken out, for each record.

    Uses pairs read in the reference and in every state. One number less than the pairs is free, since the
    opening was taken out: ``cov`` has that rank.
    """
    used = [a for a in arms if all(a.pair in table.get(s, {}) for s in (reference, *states))]
    if len(used) < 2:
        raise ValueError("two or more pairs must be read in the reference and in every record")
    rows, cov = [], np.zeros((len(used), len(used)))
    for s in states:
        opening = hinge_opening(used, table, reference, s)
        rows.append([p.residual_mm for p in opening.pairs])
        u = np.array([table[s][a.pair].u_mm for a in used])
        # a reading moves its own residual by itself, and every residual by what it does to the common opening
        of = dict(zip(opening.theta.sources, opening.theta.parts[0], strict=True))
        pull = np.array([of.get(f"reading/{s}/{a.pair}", 0.0) for a in used])
        slope = np.array([_slope(a, table[s][a.pair].mean_mm) for a in used])
        moves = np.diag(u) - np.outer(slope, pull)
        cov += moves @ moves.T / len(states)
    return Features(tuple(states), tuple(a.pair for a in used), np.array(rows), cov)


def place_features(fit: PoseTable, states: Sequence[str], points: Sequence[Point]) -> Features:
    """Return where ``points`` of the lower cast lie in each state once all are closed to the median opening (mm).

    Each state is turned about the hinge to the median opening of all; the names read ``point, axis``.
    """
    openings = [opening_between(fit, fit.reference, s) for s in states]
    common = float(np.median([o.value for o in openings]))
    rows = []
    cov = np.zeros((3 * len(points), 3 * len(points)))
    for s, opening in zip(states, openings, strict=True):
        back = closed(opening.value - common)[:3, :3]
        places = []
        for p in points:
            both = stack([place_in(fit, s, p), opening])
            turned = back @ both.values[:3]
            # turning about the side axis moves (x, y) to (-y, x) for each radian of opening taken out
            aside = np.array([[-turned[1]], [turned[0]], [0.0]])
            places.append(both.linear(np.concatenate([back, aside], axis=1), turned))
        every = stack(places)
        rows.append(every.values)
        own = [
            i for i, name in enumerate(every.sources) if name.startswith((f"reading/{s}/", f"assumed/{s}/"))
        ]
        cov += every.parts[:, own] @ every.parts[:, own].T / len(states)
    names = tuple(joined(", ", (p.name, axis)) for p in points for axis in AXES)
    return Features(tuple(states), names, np.array(rows), cov)


def _slope(a: Arms, d_mm: float) -> float:
    """Millimetres of distance for each radian of opening."""
    return a.a_mm * a.b_mm * math.sin(psi_from_distance(d_mm, a.a_mm, a.b_mm, a.dz_mm)) / d_mm


def axis_cost_mm(axis_error_mm: float, opening_difference_rad: float) -> float:
    """Return what an error of the hinge axis leaves between records of different opening: ``2 |e| sin(dtheta / 2)``."""
    return 2.0 * abs(axis_error_mm) * abs(math.sin(0.5 * opening_difference_rad))
