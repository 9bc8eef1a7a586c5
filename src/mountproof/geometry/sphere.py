"""The sphere nearest to points, as of cusp tips on a curved occlusal surface."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.least_squares import gauss_newton
from mountproof.geometry.poses import Array, checked


class Sphere(NamedTuple):
    """A fitted sphere: ``centre_mm`` (3,), ``radius_mm``, ``rms_mm`` of the radial residuals, and whether it settled."""

    centre_mm: Array
    radius_mm: float
    rms_mm: float
    settled: bool


def fit_sphere(points_mm: ArrayLike) -> Sphere:
    """Return the sphere of least squared radial distance to points (n, 3), n >= 4.

    The linear fit of ``|p|^2 = 2 c p + k`` starts a Gauss-Newton search on the true distances. Raises ValueError for
    points that lie in one plane or are fewer than four.
    """
    points = checked(points_mm, (3,), "points_mm").reshape(-1, 3)
    middle = points.mean(axis=0)
    local = points - middle
    spread = np.linalg.svd(local, compute_uv=False)
    if len(points) < 4 or spread[2] <= np.finfo(float).eps * len(points) * spread[0]:
        raise ValueError("points_mm: four or more points that do not lie in one plane")
    rows = np.hstack([2 * local, np.ones((len(points), 1))])
    linear = np.linalg.lstsq(rows, (local**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(linear[3] + linear[:3] @ linear[:3]))

    def weighted(state: Array) -> tuple[Array, Array]:
        away = local - state[:3]
        distance = np.linalg.norm(away, axis=1)
        # Residuals in units of the sphere's size, so that a settled step is small against the sphere.
        return (distance - state[3]) / radius, -np.hstack(
            [away / distance[:, None], np.ones((len(local), 1))]
        ) / radius

    fit = gauss_newton(np.append(linear[:3], radius), weighted, lambda state, step: state + step)
    rms = float(np.sqrt(np.mean(fit.residual**2))) * radius
    return Sphere(fit.state[:3] + middle, float(fit.state[3]), rms, fit.settled)
