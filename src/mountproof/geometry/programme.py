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
    chosen = np.zeros(len(room), dtype=bool)
    chosen[np.argsort(room, kind="stable")[:begin]] = True
    while True:
        x = _solved(-wanted, rows[chosen], -room[chosen], np.inf, -trust, trust)
        if x is None:
            return np.zeros(len(wanted))
        broken = -(rows @ x) - room
        broken[chosen] = 0.0
        worst = np.argsort(-broken, kind="stable")[:more]
        worst = worst[broken[worst] > _BROKEN]
        if len(worst) == 0:
            return x
        chosen[worst] = True


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
    # the solver beneath the wrapper: the wrapper enables callbacks, which writes a banner to the standard output
    solver = _Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("parallel", "off")
    solver.setOptionValue("primal_feasibility_tolerance", _FEASIBLE)
    solver.passModel(model)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.array(solver.getSolution().col_value, dtype=np.float64)
