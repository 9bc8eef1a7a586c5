"""Small linear programmes, solved by HiGHS on one thread, so that the same programme has the same answer."""

from __future__ import annotations

import highspy
import numpy as np
from highspy._core import _Highs

from mountproof.geometry.poses import Array

#: A row that is broken by no more than this (mm) is kept.
_BROKEN = 1e-12
#: HiGHS keeps rows to this.
_FEASIBLE = 1e-10


def farthest(
    wanted: Array, rows: Array, room: Array, trust: float, begin: int = 150, more: int = 60
) -> Array:
    """Return x (k,) that makes ``wanted`` (k,) times x largest while ``rows`` (n, k) times x stay at or above ``-room`` (n,).

    Every number stays within ``trust``. Rows are added as they are broken, ``more`` at a time, beginning with the ``begin`` of
    least room: the end is that of all rows. Zeros where HiGHS finds no answer.
    """
    n, k = rows.shape
    solver = _solver()
    # a programme this small is solved sooner than it is made smaller
    solver.setOptionValue("presolve", "off")
    solver.passModel(_model(-wanted, np.zeros((0, k)), 0.0, 0.0, -trust, trust))
    chosen = np.zeros(n, dtype=bool)
    added = np.argsort(room, kind="stable")[:begin]
    while True:
        chosen[added] = True
        count = len(added)
        # added to the model that was solved before: it goes on from where it was
        solver.addRows(
            count,
            -room[added],
            np.full(count, np.inf),
            count * k,
            np.arange(count, dtype=np.int32) * k,
            np.tile(np.arange(k, dtype=np.int32), count),
            rows[added].ravel(),
        )
        x = _answer(solver)
        if x is None:
            return np.zeros(k)
        broken = -(rows @ x) - room
        broken[chosen] = 0.0
        added = np.flatnonzero(broken > _BROKEN)
        if len(added) == 0:
            return x
        added = added[np.argsort(-broken[added], kind="stable")[:more]]


def balance(rows: Array, wanted: Array) -> tuple[Array, float]:
    """Return shares s (n,) at or above zero with ``rows`` (n, k) transposed times s nearest to ``wanted`` (k,), and what is left.

    Nearest by the sum of what is left in each number. At most k shares are above zero: a corner of the programme.
    """
    n, k = rows.shape
    columns = np.concatenate([rows.T, np.eye(k), -np.eye(k)], axis=1)
    cost = np.concatenate([np.zeros(n), np.ones(2 * k)])
    x = _solved(cost, columns, wanted, wanted, 0.0, np.inf)
    if x is None:
        return np.zeros(n), float(np.abs(wanted).sum())
    return x[:n], float(cost @ x)


def _solved(
    cost: Array, rows: Array, low: Array | float, high: Array | float, least: float, most: float
) -> Array | None:
    """The x (k,) of least cost with rows between low and high and every number between least and most; None without one."""
    solver = _solver()
    solver.passModel(_model(cost, rows, low, high, least, most))
    return _answer(solver)


def _model(
    cost: Array, rows: Array, low: Array | float, high: Array | float, least: float, most: float
) -> highspy.HighsLp:
    n, k = rows.shape
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = k, n
    model.col_cost_ = cost
    model.col_lower_, model.col_upper_ = np.full(k, least), np.full(k, most)
    model.row_lower_, model.row_upper_ = np.broadcast_to(low, n).copy(), np.broadcast_to(high, n).copy()
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = np.arange(n + 1) * k
    model.a_matrix_.index_ = np.tile(np.arange(k), n)
    model.a_matrix_.value_ = np.ascontiguousarray(rows).ravel()
    return model


def _solver() -> _Highs:
    # the solver beneath the wrapper: the wrapper enables callbacks, which writes a banner to the standard output
    solver = _Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("parallel", "off")
    solver.setOptionValue("primal_feasibility_tolerance", _FEASIBLE)
    return solver


def _answer(solver: _Highs) -> Array | None:
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.array(solver.getSolution().col_value, dtype=np.float64)
