"""How honest records vary, all together: one covariance over records and numbers, and tests of their differences."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array
from mountproof.geometry.quantile import f_quantile, f_tail

#: Covariances are sums of squares of doubles: what is below this part of the largest eigenvalue is their rounding, with
#: room for the condition of the readings' geometry (squared, about 1e5 at worst).
RANK_CUT = 1e-9


class Spread(NamedTuple):
    """How honest records of k numbers vary besides their readings.

    ``s``: repeatability (SD at a condyle, one axis, mm), known from ``dof`` degrees of freedom (infinite: exact).
    ``shape`` (k, k): covariance of one record's numbers at ``s = 1``. ``visits``: a label for each of n records, or
    nothing; ``s_visit``: what another visit adds (SD, same shape). ``axis`` (k, k): covariance that the doubt of the hinge
    axis puts on a record closed by one radian, and ``closings`` (n,) by how much each is closed: one axis errs in all.
    """

    s: float
    shape: Array
    dof: float = math.inf
    visits: tuple[str, ...] = ()
    s_visit: float = 0.0
    axis: Array | None = None
    closings: tuple[float, ...] = ()


def joint_cov(own: Array, spread: Spread) -> Array:
    """Return the covariance (n k, n k) of all numbers of all records; ``own`` (n, k, k) from each record's readings.

    Raises ValueError for an SD below zero, or parts that do not match the records.
    """
    n, k, _ = own.shape
    if not (spread.s >= 0.0 and spread.s_visit >= 0.0 and spread.dof > 0.0) or spread.shape.shape != (k, k):
        raise ValueError("a repeatability cannot be below zero, and its shape is (features, features)")
    out = np.asarray(np.kron(np.eye(n), spread.s**2 * spread.shape), dtype=np.float64)
    for i in range(n):
        out[i * k : (i + 1) * k, i * k : (i + 1) * k] += own[i]
    if spread.visits:
        if len(spread.visits) != n:
            raise ValueError("visits: one label for each record")
        same = np.array([[float(a == b) for b in spread.visits] for a in spread.visits])
        out += np.kron(same, spread.s_visit**2 * spread.shape)
    if spread.axis is not None:
        if len(spread.closings) != n or spread.axis.shape != (k, k):
            raise ValueError("axis: (features, features), and a closing for each record")
        out += np.kron(np.outer(spread.closings, spread.closings), spread.axis)
    return out


class Looked(NamedTuple):
    """One test of differences: ``tail`` how often honest records would differ as much, ``rank`` of the difference.

    ``far`` is ``d' C^-1 d``; ``cov`` (m, m) of the differences; ``dof`` behind it (infinite: exact).
    """

    tail: float
    far: float
    rank: int
    cov: Array
    dof: float


def threshold(share: float, rank: int, dof: float) -> float:
    """Return the distance ``d' C^-1 d`` of that rank that honest records pass with probability ``share``."""
    return rank * f_quantile(1.0 - share, rank, dof)


def look(values: Array, joint: Array, spread: Spread, contrasts: Array) -> Looked:
    """Test differences: ``contrasts`` (c, n) of ``values`` (n, k) against ``joint`` (n k, n k).

    ``d' C^-1 d`` over its rank is F with the degrees of freedom behind the repeatability; where only a share of the
    variance rests on it, they grow by one over the share squared (F. Satterthwaite 1946).
    """
    k = values.shape[1]
    lever = np.asarray(np.kron(contrasts, np.eye(k)), dtype=np.float64)
    d = (contrasts @ values).ravel()
    cov = lever @ joint @ lever.T
    scale, axes = np.linalg.eigh(cov)
    live = scale > RANK_CUT * float(scale[-1])
    rank = int(np.count_nonzero(live))
    if rank == 0:
        raise ValueError("numbers without any doubt cannot be compared")
    white: Array = axes[:, live] / np.sqrt(scale[live])
    repeat = lever @ np.kron(np.eye(values.shape[0]), spread.s**2 * spread.shape) @ lever.T
    share = float(np.trace(white.T @ repeat @ white)) / rank
    dof = spread.dof / share**2 if share > 0.0 else math.inf
    z = d @ white
    far = float(z @ z)
    tail = chi2_tail(far, rank) if math.isinf(dof) else f_tail(far / rank, rank, dof)
    return Looked(tail, far, rank, cov, dof)
