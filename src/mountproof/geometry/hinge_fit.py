"""The hinge axis from two or more records of different thickness: the axis that turns one into the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.least_squares import chi2_tail, gauss_newton
from mountproof.geometry.poses import Array, adjoint, checked, exp6, hat, inverse, log6
from mountproof.geometry.screw import screw_of

#: Central differences: the error of the cut is (step/scale)^2 and of rounding 1e-16 scale/step. With a scale of
#: 100 mm (one radian) 1e-3 mm (1e-5 rad) puts both near 1e-10 of the derivative.
_DIFFERENCE_MM = 1e-3
_DIFFERENCE_RAD = 1e-5


class HingeFit(NamedTuple):
    """One hinge axis from several records.

    ``right_mm`` and ``left_mm`` (2,): x and y of the axis in the planes of the two hinge points; ``cov_mm2`` (4, 4)
    of (x right, y right, x left, y left); ``closings_rad`` (n,): how far each record lies closed against the first
    (negative: open); ``slides_mm`` (n,): how far each slid along the axis against the first, which a hinge does
    not; ``chi2`` with ``dof``; ``p_value``: how often records of one true hinge would disagree as much; ``rounds``
    and ``settled`` of the search.
    """

    right_mm: Array
    left_mm: Array
    cov_mm2: Array
    closings_rad: Array
    slides_mm: Array
    chi2: float
    dof: int
    p_value: float
    rounds: int
    settled: bool


def axis_pose(hinge_points_mm: ArrayLike, width_mm: float) -> Array:
    """Return the pose (..., 4, 4) whose z axis runs through (x, y) right and (x, y) left (..., 4), ``width_mm`` apart in z.

    Its origin is midway, and it turns from the nominal frame by the shortest way.
    """
    four = checked(hinge_points_mm, (4,), "hinge_points_mm")
    along = np.stack(
        [four[..., 0] - four[..., 2], four[..., 1] - four[..., 3], np.full(four.shape[:-1], width_mm)],
        axis=-1,
    )
    along = along / np.linalg.norm(along, axis=-1, keepdims=True)
    out = np.zeros((*four.shape[:-1], 4, 4))
    out[..., range(4), range(4)] = 1.0
    spin = hat(np.stack([-along[..., 1], along[..., 0], np.zeros(four.shape[:-1])], axis=-1))
    out[..., :3, :3] += spin + spin @ spin / (1 + along[..., 2])[..., None, None]
    out[..., :2, 3] = (four[..., :2] + four[..., 2:]) / 2
    return out


def _start(given: Sequence[Array], width_mm: float) -> Array:
    screws = [screw_of(m @ inverse(given[0]), toward=(0, 0, 1)) for m in given]
    widest = max(screws, key=lambda s: abs(s.angle_rad))
    if widest.angle_rad == 0.0 or widest.direction[2] == 0.0:
        raise ValueError(
            "poses: no record turns against the first about an axis that crosses the sagittal plane"
        )
    ends = [
        widest.point_mm + widest.direction * (z - widest.point_mm[2]) / widest.direction[2]
        for z in (width_mm / 2, -width_mm / 2)
    ]
    return np.concatenate([ends[0][:2], ends[1][:2], [s.angle_rad for s in screws[1:]], np.zeros(6)])


def hinge_from_records(
    poses: Sequence[ArrayLike],
    covs: Sequence[ArrayLike],
    width_mm: float,
    prior_mm: ArrayLike | None = None,
    prior_cov_mm2: ArrayLike | None = None,
) -> HingeFit:
    """Return the hinge axis about which the lower turned from record to record, by weighted least squares.

    ``poses``: n >= 2 poses ``upper_from_lower`` (4, 4), one a record, independent of each other; ``covs``: their
    covariances (6, 6), rotation first, in the upper frame; ``width_mm``: distance of the planes of the hinge points
    (at z = +-width/2). ``prior_mm`` (4,) with ``prior_cov_mm2`` (4, 4): the axis the facebow gave, as (x right,
    y right, x left, y left). Two records leave one degree of freedom: that nothing slid along the axis.
    The doubt grows as 1/angle. Raises ValueError for fewer than two records, for records without any turn
    between them, or for a prior without its covariance.
    """
    given = [checked(m, (4, 4), "poses") for m in poses]
    if len(given) < 2 or len(covs) != len(given):
        raise ValueError("poses: two or more records, each with its covariance")
    if (prior_mm is None) != (prior_cov_mm2 is None):
        raise ValueError("prior_mm: an axis needs its covariance, and the other way round")
    records = np.stack(given)
    whiten = np.stack([np.linalg.inv(np.linalg.cholesky(checked(c, (6, 6), "covs"))) for c in covs])
    turns = len(given) - 1
    prior, prior_root = np.zeros(4), np.zeros((0, 4))
    if prior_mm is not None and prior_cov_mm2 is not None:
        prior = checked(prior_mm, (4,), "prior_mm")
        prior_root = np.linalg.inv(np.linalg.cholesky(checked(prior_cov_mm2, (4, 4), "prior_cov_mm2")))

    def misfit(states: Array) -> Array:
        axis = axis_pose(states[..., :4], width_mm)
        first = exp6(states[..., 4 + turns :]) @ given[0]
        about = np.zeros((*states.shape[:-1], len(given), 6))
        about[..., 1:, 2] = states[..., 4 : 4 + turns]
        turned = exp6(about @ np.swapaxes(adjoint(axis), -1, -2)) @ first[..., None, :, :]
        off = np.einsum("nij,...nj->...ni", whiten, log6(records @ inverse(turned)))
        known = (states[..., :4] - prior) @ prior_root.T
        return np.concatenate([known, off.reshape(*states.shape[:-1], -1)], axis=-1)

    steps = np.array([_DIFFERENCE_MM] * 4 + [_DIFFERENCE_RAD] * (turns + 3) + [_DIFFERENCE_MM] * 3)

    def weighted(state: Array) -> tuple[Array, Array]:
        # All neighbours in one go: the state itself, then one step up and one down along each of its numbers.
        near = np.diag(steps)
        found = misfit(state + np.concatenate([np.zeros((1, len(state))), near, -near]))
        up, down = found[1 : 1 + len(state)], found[1 + len(state) :]
        return found[0], ((up - down) / (2 * steps)[:, None]).T

    fit = gauss_newton(_start(given, width_mm), weighted, lambda state, step: state + step)
    cov: Array = np.asarray(np.linalg.inv(fit.jacobian.T @ fit.jacobian), dtype=np.float64)
    axis = axis_pose(fit.state[:4], width_mm)
    against_first = [m @ inverse(given[0]) for m in given]
    slides = [float(axis[:3, 2] @ (m[:3, 3] + m[:3, :3] @ axis[:3, 3] - axis[:3, 3])) for m in against_first]
    dof = len(fit.residual) - len(fit.state)
    return HingeFit(
        right_mm=fit.state[:2],
        left_mm=fit.state[2:4],
        cov_mm2=cov[:4, :4],
        closings_rad=np.concatenate([[0.0], fit.state[4 : 4 + turns]]),
        slides_mm=np.array(slides),
        chi2=fit.chi2,
        dof=dof,
        p_value=chi2_tail(fit.chi2, dof),
        rounds=fit.rounds,
        settled=fit.settled,
    )
