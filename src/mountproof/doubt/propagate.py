"""Propagation of uncertainty to first and second order (JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.carry import Carried, numeric_jacobian
from mountproof.geometry.carry import resolution_u as resolution_u
from mountproof.geometry.poses import Array
from mountproof.geometry.quantile import coverage_factor

#: Second and third derivatives are taken over this part of the inputs' u: small against the bend they look for,
#: large enough that the rounding of a third difference, eps / 0.1^3, stays below a part in 1e12.
_BEND_STEP = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Propagated:
    """Values (m,), their covariance (m, m), the Jacobian (m, k), each input's signed ``u c`` (m, k).

    ``second_order`` (m,) is what the terms of second order add to the variance of each value (zeros when not asked).
    """

    values: Array
    cov: Array
    jacobian: Array
    contributions: Array
    second_order: Array

    @property
    def us(self) -> Array:
        """Standard uncertainties (m,), second order included where it was asked for."""
        us: Array = np.sqrt(np.diag(self.cov) + self.second_order)
        return us

    @property
    def shares(self) -> Array:
        """Share (m, k) of each uncorrelated input in the first-order variance."""
        squares = self.contributions**2
        total = np.sum(squares, axis=1, keepdims=True)
        out: Array = np.divide(squares, total, out=np.zeros_like(squares), where=total > 0.0)
        return out


def propagate(
    f: Callable[[Array], ArrayLike], x: ArrayLike, cov: ArrayLike, *, second_order: bool = False
) -> Propagated:
    """Return ``f(x)`` with its uncertainty.

    ``f`` maps inputs (k,) to one number or (m,); ``cov`` is the covariance (k, k) of the inputs, or their standard
    uncertainties (k,) where they are independent. First order: JCGM 100:2008, 5.1.2 and 5.2.2. ``second_order``
    adds the terms of the note to 5.1.2 for independent inputs of symmetric distribution:
    sum over i, j of ``(f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2``. Raises ValueError for shapes that do not match, a
    covariance that is not one, or second order with correlated inputs.
    """
    at = np.atleast_1d(np.asarray(x, dtype=np.float64))
    c = np.asarray(cov, dtype=np.float64)
    if c.ndim <= 1:
        c = np.diag(np.atleast_1d(c) ** 2)
    k = at.shape[0]
    if c.shape != (k, k) or not (np.all(np.isfinite(at)) and np.all(np.isfinite(c))):
        raise ValueError(f"{k} finite inputs need {k} uncertainties or a covariance ({k}, {k})")
    if not np.allclose(c, c.T, rtol=1e-12, atol=0.0) or np.any(np.diag(c) < 0.0):
        raise ValueError("a covariance is symmetric with a diagonal that is not below zero")
    us = np.sqrt(np.diag(c))
    values = np.atleast_1d(np.asarray(f(at.copy()), dtype=np.float64))
    scale = np.maximum(np.abs(at), us)
    jacobian = numeric_jacobian(f, at, np.where(scale > 0.0, scale, 1.0))
    extra = np.zeros_like(values)
    if second_order:
        if np.any(c - np.diag(np.diag(c))):
            raise ValueError("the second-order terms are for independent inputs")
        extra = _second_order(f, at, us, jacobian)
    return Propagated(values, jacobian @ c @ jacobian.T, jacobian, jacobian * us, extra)


def effective_dof(contributions: ArrayLike, dofs: ArrayLike) -> float:
    """Return the effective degrees of freedom of independent contributions ``u_i c_i`` (k,) with ``dofs`` (k,).

    Welch-Satterthwaite, JCGM 100:2008, G.2b; infinite where no contribution has finite degrees of freedom.
    """
    u2 = np.asarray(contributions, dtype=np.float64) ** 2
    nu = np.asarray(dofs, dtype=np.float64)
    if u2.shape != nu.shape or np.any(nu <= 0.0):
        raise ValueError("each contribution needs its degrees of freedom, above zero")
    below = float(np.sum(u2**2 / nu))
    return float(np.sum(u2)) ** 2 / below if below > 0.0 else math.inf


def carried_dof(x: Carried, dof_by_group: Sequence[tuple[str, float]]) -> float:
    """Return the effective degrees of freedom of one carried value.

    All sources of a group (``reading``, ``length``) share one estimate of their SD, so the group as a whole has
    its degrees of freedom; groups that are not named have infinitely many.
    """
    variances = x.variances()
    known = dict(dof_by_group)
    return effective_dof(
        [math.sqrt(v) for v in variances.values()], [known.get(group, math.inf) for group in variances]
    )


def interval(value: float, u: float, p: float = 0.95, dof: float = math.inf) -> tuple[float, float]:
    """Return the interval that covers ``p``: value -+ k u with k of Student's distribution (JCGM 100:2008, G.3).

    Fractional ``dof`` are used as they are; the guide also allows the next lower integer.
    """
    half = coverage_factor(p, dof) * u
    return value - half, value + half


def _second_order(f: Callable[[Array], ArrayLike], x: Array, us: Array, first: Array) -> Array:
    k = x.shape[0]
    h = _BEND_STEP * us

    def at(*moves: tuple[int, float]) -> Array:
        p = x.copy()
        for i, times in moves:
            p[i] += times * h[i]
        return np.atleast_1d(np.asarray(f(p), dtype=np.float64))

    def gradient(i: int, *moves: tuple[int, float]) -> Array:
        slope: Array = (at(*moves, (i, 1.0)) - at(*moves, (i, -1.0))) / (2.0 * h[i])
        return slope

    extra = np.zeros(first.shape[0])
    live = [i for i in range(k) if us[i] > 0.0]
    for i in live:
        for j in live:
            both = (gradient(i, (j, 1.0)) - gradient(i, (j, -1.0))) / (2.0 * h[j])
            bend = (gradient(i, (j, 1.0)) - 2.0 * gradient(i) + gradient(i, (j, -1.0))) / h[j] ** 2
            extra = extra + (0.5 * both**2 + first[:, i] * bend) * us[i] ** 2 * us[j] ** 2
    return extra
