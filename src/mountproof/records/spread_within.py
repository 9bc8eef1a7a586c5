"""How far the records of one case scatter, in one number at a condyle, with the readings' own part taken off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import checked


class Squares(NamedTuple):
    """Sums of squares of one case (mm2, along one axis at a condyle) with their degrees of freedom.

    ``within / dof_within`` has the variance of records of one visit as its expectation; it may come out below zero, where
    the readings alone scatter more. ``between / dof_between`` has that plus ``size`` times the variance between visits.
    """

    within: float
    dof_within: int
    between: float
    dof_between: int
    size: float


def squares_of(values: ArrayLike, covs: ArrayLike, shape: ArrayLike, visits: Sequence[str]) -> Squares:
    """Return the sums of squares of records (n, k) taken at ``visits`` (n labels).

    ``covs`` (n, k, k) come from each record's readings, ``shape`` (k, k) is the covariance of records that repeat to 1 mm at
    a condyle: so ``tr(S) = dof (s^2 tr(shape) + tr(readings))``, solved for ``s^2`` (method of moments). Between visits the
    readings' part is taken as their mean. ValueError for fewer than two records or a shape that nothing is seen by.
    """
    v = np.atleast_2d(checked(values, (), "values"))
    own = np.trace(np.asarray(covs, dtype=np.float64), axis1=1, axis2=2)
    scale = float(np.trace(np.asarray(shape, dtype=np.float64)))
    n = v.shape[0]
    if n < 2 or len(visits) != n or own.shape != (n,) or not scale > 0.0:
        raise ValueError("two or more records, each with a visit, and numbers that vary with them")
    v = v - v.mean(axis=0)
    labels = list(dict.fromkeys(visits))
    groups = [np.array([i for i, one in enumerate(visits) if one == label]) for label in labels]
    within, dof_within, between = 0.0, 0, 0.0
    for g in groups:
        mean = v[g].mean(axis=0)
        within += float(np.sum((v[g] - mean) ** 2)) - (len(g) - 1) * float(np.mean(own[g]))
        dof_within += len(g) - 1
        between += len(g) * float(np.sum(mean**2))
    dof_between = len(groups) - 1
    between -= dof_between * float(np.mean(own))
    counts = np.array([len(g) for g in groups], dtype=np.float64)
    size = (n - float(np.sum(counts**2)) / n) / dof_between if dof_between else 0.0
    return Squares(within / scale, dof_within, between / scale, dof_between, size)
