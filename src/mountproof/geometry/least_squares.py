"""A small damped Gauss-Newton and the chi-square tail, so that no heavy import stands before a caliper answer."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from mountproof.geometry.poses import Array

#: Settled when the step, measured in standard uncertainties of what it moves, is below this: a thousandth of a
#: thousandth of the doubt that is reported beside the result anyway.
STEP_IN_SDS = 1e-6

#: Share of the largest eigenvalue of the information below which a direction is taken as not seen at all. The
#: information is a square, so eigenvalues carry sixteen digits less what cancels: 1e-13 is the noise of the sum.
UNSEEN_SHARE = 1e-13

_FIRST_DAMPING = 1e-3
_DAMPING_STEP = 10.0


class Fit(NamedTuple):
    """End of a least-squares search: state, residuals (m,) and Jacobian (m, k) in SDs, rounds, whether settled."""

    state: Array
    residual: Array
    jacobian: Array
    rounds: int
    last_step_sds: float
    settled: bool

    @property
    def chi2(self) -> float:
        """Return the sum of the squared residuals, each in its standard deviation."""
        return float(self.residual @ self.residual)


def gauss_newton(
    start: Array,
    weighted: Callable[[Array], tuple[Array, Array]],
    move: Callable[[Array, Array], Array],
    max_rounds: int = 60,
) -> Fit:
    """Minimise the sum of squared residuals by Gauss-Newton steps that are damped only when one would go uphill.

    ``weighted(state)`` returns residuals (m,) and their Jacobian (m, k), both divided by the standard deviations
    (whitened); ``move(state, step)`` applies a step (k,). Directions that no residual sees are not moved along.
    Source: K. Levenberg 1944, D. Marquardt 1963 (from memory).
    """
    state, damping = start, 0.0
    residual, jacobian = weighted(state)
    size = math.inf
    for rounds in range(1, max_rounds + 1):
        information = jacobian.T @ jacobian
        values, vectors = np.linalg.eigh(information)
        seen = values > UNSEEN_SHARE * max(float(values[-1]), 0.0)
        along = vectors[:, seen].T @ (jacobian.T @ residual)
        while True:
            step = -vectors[:, seen] @ (along / (values[seen] * (1.0 + damping)))
            trial = move(state, step)
            new_residual, new_jacobian = weighted(trial)
            size = math.sqrt(max(float(step @ information @ step), 0.0))
            # A step of no size may go up by rounding alone: take it and stop.
            if new_residual @ new_residual <= residual @ residual or size <= STEP_IN_SDS:
                break
            damping = max(damping * _DAMPING_STEP, _FIRST_DAMPING)
        state, residual, jacobian = trial, new_residual, new_jacobian
        damping = 0.0 if damping <= _FIRST_DAMPING else damping / _DAMPING_STEP**2
        if size <= STEP_IN_SDS:
            return Fit(state, residual, jacobian, rounds, size, True)
    return Fit(state, residual, jacobian, max_rounds, size, False)


def chi2_tail(chi2: float, dof: int) -> float:
    """Return the probability that a chi-square of ``dof`` (an integer, 0 or more) exceeds ``chi2``.

    Finite sums, exact for integer degrees of freedom; 1 for ``dof`` 0. Source: M. Abramowitz and I. Stegun,
    26.4.4 and 26.4.5 (from memory); tested against a general-purpose library.
    """
    if dof < 0 or chi2 < 0 or math.isnan(chi2):
        raise ValueError("chi2 and dof must not be negative")
    if dof == 0:
        return 1.0
    half = chi2 / 2
    if dof % 2 == 0:
        term = total = math.exp(-half)
        for k in range(1, dof // 2):
            term *= half / k
            total += term
        return min(total, 1.0)
    total = math.erfc(math.sqrt(half))
    term = math.sqrt(2 * chi2 / math.pi) * math.exp(-half) if chi2 > 0 else 0.0
    for k in range(3, dof + 1, 2):
        total += term
        term *= chi2 / k
    return min(total, 1.0)
