"""Rigid motions as 4x4 arrays, small motions as six numbers (rotation first), and their covariances.

A pose is named by its frames, the target first: ``upper_from_lower`` takes points of the lower to the frame
of the upper, and poses chain by matching neighbours: ``upper_from_hinge @ hinge_from_lower``.
A covariance of a pose is that of the small motion ``xi`` in ``exp6(xi) @ pose``: it lives in the *target*
frame (for ``upper_from_lower`` in the frame of the upper), rotation before translation, rad and mm.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.said import figure, joined, say

Array = NDArray[np.float64]

#: A rotation matrix written with five decimals has entries off by half a unit, 5e-6. Such errors form a 3x3
#: matrix of length (root of the sum of squares) at most ``3 * 5e-6``, and no singular value moves by more
#: than that: 2e-5 with room for the last bit. On a lever of 100 mm this is 2 um, less than any scanner sees.
RIGID_ENTRY_TOLERANCE = 2e-5

#: The mean of rotations is settled when a step turns less than this (rad): a few hundred units of the last place
#: of an angle near one, and far below 0.001 um on any jaw.
_MEAN_STEP_RAD = 1e-13

#: Below this angle (rad) the two quotients that would cancel are summed as series; seven terms at 0.5 rad
#: leave out less than one unit of the last place, and the direct form loses at most five bits above it.
_SERIES_BELOW_RAD = 0.5


def checked(values: ArrayLike, tail: tuple[int, ...], name: str) -> Array:
    """Return a finite float64 array whose last axes are ``tail``, or raise ValueError with its ``name``."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim < len(tail) or array.shape[array.ndim - len(tail) :] != tail:
        raise ValueError(f"{name}: last axes must be {tail}, got shape {array.shape}")
    if not np.isfinite(array).all():
        raise ValueError(f"{name}: every value must be finite")
    return array


# --- building and taking apart -------------------------------------------------------------------------


def pose(rotation: ArrayLike, translation_mm: ArrayLike) -> Array:
    """Join a rotation (..., 3, 3) and a translation (..., 3, mm) into a pose (..., 4, 4)."""
    turn = checked(rotation, (3, 3), "rotation")
    shift = checked(translation_mm, (3,), "translation_mm")
    lead = np.broadcast_shapes(turn.shape[:-2], shift.shape[:-1])
    out = np.zeros((*lead, 4, 4))
    out[..., :3, :3] = turn
    out[..., :3, 3] = shift
    out[..., 3, 3] = 1.0
    return out


def translation(offset_mm: ArrayLike) -> Array:
    """Return the pose (..., 4, 4) that shifts by ``offset_mm`` (..., 3, mm) and does not turn."""
    return pose(np.eye(3), offset_mm)


def rotation_about(axis: ArrayLike, angle_rad: float) -> Array:
    """Return the pose (4, 4) that turns by ``angle_rad`` right-handed about ``axis`` (3,) through the origin.

    The axis need not have length one; raises ValueError where it has length zero. Source: Rodrigues' formula.
    """
    direction = checked(axis, (3,), "axis")
    length = float(np.linalg.norm(direction))
    if length == 0.0:
        raise ValueError("axis: a direction of length zero turns nothing")
    return exp6(np.concatenate([direction / length * angle_rad, np.zeros(3)]))


def _turn(first: int, second: int, angle_rad: float) -> Array:
    out = np.eye(4)
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    out[first, first] = out[second, second] = cos
    out[first, second], out[second, first] = -sin, sin
    return out


def rotation_x(theta_rad: float) -> Array:
    """Return the pose (4, 4) that turns by ``theta_rad`` about x (anterior): y goes towards z."""
    return _turn(1, 2, theta_rad)


def rotation_y(theta_rad: float) -> Array:
    """Return the pose (4, 4) that turns by ``theta_rad`` about y (superior): z goes towards x."""
    return _turn(2, 0, theta_rad)


def rotation_z(theta_rad: float) -> Array:
    """Return the pose (4, 4) that turns by ``theta_rad`` about z (the hinge axis): x goes towards y."""
    return _turn(0, 1, theta_rad)


def closed(theta_rad: float) -> Array:
    """Return the motion (4, 4) of the lower closing by ``theta_rad`` about the hinge: ``Rz(+theta)``."""
    return rotation_z(theta_rad)


def opened(theta_rad: float) -> Array:
    """Return the motion (4, 4) of the lower opening by ``theta_rad``: ``Rz(-theta)``, down and back."""
    return rotation_z(-theta_rad)


def inverse(motion: ArrayLike) -> Array:
    """Return the inverse (..., 4, 4) of a pose: ``a_from_b`` becomes ``b_from_a``. The pose must be rigid."""
    given = checked(motion, (4, 4), "motion")
    back = np.swapaxes(given[..., :3, :3], -1, -2)
    return pose(back, -np.einsum("...ij,...j->...i", back, given[..., :3, 3]))


def transform(motion: ArrayLike, points: ArrayLike) -> Array:
    """Move points: pose ``a_from_b`` (..., 4, 4) and points of b (3,) or (n, 3), mm, give points of a.

    One pose returns the shape of ``points``; a stack of poses (m, 4, 4) returns (m, 3) or (m, n, 3).
    """
    given = checked(motion, (4, 4), "motion")
    where = checked(points, (3,), "points")
    turn, shift = given[..., :3, :3], given[..., :3, 3]
    if where.ndim == 1:
        out: Array = np.einsum("...ij,j->...i", turn, where) + shift
        return out
    out = np.einsum("...ij,nj->...ni", turn, where.reshape(-1, 3)) + shift[..., None, :]
    return out.reshape(*given.shape[:-2], *where.shape)


# --- six numbers ---------------------------------------------------------------------------------------


def hat(vectors: ArrayLike) -> Array:
    """Return the cross-product matrices (..., 3, 3) of vectors (..., 3): ``hat(a) @ b == cross(a, b)``."""
    v = checked(vectors, (3,), "vectors")
    out = np.zeros((*v.shape, 3))
    out[..., 0, 1], out[..., 0, 2], out[..., 1, 2] = -v[..., 2], v[..., 1], -v[..., 0]
    out[..., 1, 0], out[..., 2, 0], out[..., 2, 1] = v[..., 2], -v[..., 1], v[..., 0]
    return out


def _one_minus_sinc(theta: Array) -> Array:
    """Return ``(theta - sin theta) / theta^3`` without cancellation."""
    s = theta * theta
    series = 1 / 6 - s / 120 * (1 - s / 42 * (1 - s / 72 * (1 - s / 110 * (1 - s / 156 * (1 - s / 210)))))
    big = np.where(theta < _SERIES_BELOW_RAD, 1.0, theta)
    direct: Array = np.where(theta < _SERIES_BELOW_RAD, series, (big - np.sin(big)) / big**3)
    return direct


def _inverse_factor(theta: Array) -> Array:
    """Return ``(1 - (theta/2) cot(theta/2)) / theta^2`` without cancellation, for 0 <= theta <= pi."""
    s = theta * theta
    terms = (1 / 12, 1 / 720, 1 / 30240, 1 / 1209600, 1 / 47900160, 691 / 1307674368000, 1 / 74724249600)
    series = np.polynomial.polynomial.polyval(s, np.array(terms))
    half = np.where(theta < _SERIES_BELOW_RAD, 1.0, theta) / 2
    direct = (1 - half * np.cos(half) / np.sin(half)) / (4 * half * half)
    out: Array = np.where(theta < _SERIES_BELOW_RAD, series, direct)
    return out


def inverse_left(vectors: ArrayLike) -> Array:
    """Return the matrices (..., 3, 3) that turn a small rotation in front into the change of a rotation vector.

    ``vectors`` (..., 3), rad, shorter than half a turn. With ``R = exp(v)``: ``log(exp(a) R) = v + J a`` for small a.
    """
    v = checked(vectors, (3,), "vectors")
    spin = hat(v)
    factor = _inverse_factor(np.linalg.norm(v, axis=-1))[..., None, None]
    out: Array = np.eye(3) - 0.5 * spin + factor * (spin @ spin)
    return out


def exp6(twist: ArrayLike) -> Array:
    """Return the pose (..., 4, 4) of a twist (..., 6): rotation vector (rad) first, then translation (mm).

    Accurate at every angle, tiny ones included. Source: closed form of the exponential of SE(3), K. Lynch and
    F. Park, Modern Robotics (2017), proposition 3.25 (from memory); tested against the power series.
    """
    xi = checked(twist, (6,), "twist")
    spin = hat(xi[..., :3])
    spin2 = spin @ spin
    theta = np.linalg.norm(xi[..., :3], axis=-1)
    first = np.sinc(theta / np.pi)[..., None, None]
    second = (0.5 * np.sinc(theta / (2 * np.pi)) ** 2)[..., None, None]
    third = _one_minus_sinc(theta)[..., None, None]
    left = np.eye(3) + second * spin + third * spin2
    shift = np.einsum("...ij,...j->...i", left, xi[..., 3:])
    return pose(np.eye(3) + first * spin + second * spin2, shift)


def rotation_vector(rotation: ArrayLike) -> Array:
    """Return the rotation vector (..., 3), rad, length 0 to pi, of rotations (..., 3, 3).

    Goes through the quaternion with its largest part first (Shepperd's choice), so that neither tiny angles
    nor angles near half a turn lose digits. At exactly half a turn the axis has either sign.
    """
    r = checked(rotation, (3, 3), "rotation")
    trace = np.trace(r, axis1=-2, axis2=-1)
    diagonal = np.stack([r[..., 0, 0], r[..., 1, 1], r[..., 2, 2]], axis=-1)
    # Row k holds 4 q_k (q_w, q_x, q_y, q_z): every row is the same quaternion up to scale.
    skew = np.stack(
        [r[..., 2, 1] - r[..., 1, 2], r[..., 0, 2] - r[..., 2, 0], r[..., 1, 0] - r[..., 0, 1]], axis=-1
    )
    rows = np.zeros((*trace.shape, 4, 4))
    rows[..., 0, 0] = 1 + trace
    rows[..., 0, 1:] = rows[..., 1:, 0] = skew
    symmetric = r + np.swapaxes(r, -1, -2)
    rows[..., 1:, 1:] = symmetric
    for k in range(3):
        rows[..., k + 1, k + 1] = 1 - trace + 2 * diagonal[..., k]
    best = np.argmax(np.stack([rows[..., k, k] for k in range(4)], axis=-1), axis=-1)
    q = np.take_along_axis(rows, best[..., None, None], axis=-2)[..., 0, :]
    q = np.where(q[..., :1] < 0, -q, q)
    length = np.linalg.norm(q[..., 1:], axis=-1)
    # 2 atan2(|v|, w) / |v| tends to 2 / w: a quotient of small numbers with all their digits, never 0 / 0.
    scale = np.where(length > 0, 2 * np.arctan2(length, q[..., 0]) / np.where(length > 0, length, 1.0), 0.0)
    out: Array = q[..., 1:] * scale[..., None]
    return out


def log6(motion: ArrayLike) -> Array:
    """Return the twist (..., 6), rotation first, of poses (..., 4, 4): ``exp6`` undone, up to half a turn."""
    given = checked(motion, (4, 4), "motion")
    vector = rotation_vector(given[..., :3, :3])
    shift = np.einsum("...ij,...j->...i", inverse_left(vector), given[..., :3, 3])
    return np.concatenate([vector, shift], axis=-1)


def adjoint(motion: ArrayLike) -> Array:
    """Return the matrix (..., 6, 6) that carries a twist of b to a, for poses ``a_from_b`` (..., 4, 4).

    Rotation first, hence the blocks ``[[R, 0], [hat(t) R, R]]``:
    ``exp6(adjoint(T) @ xi) == T @ exp6(xi) @ inverse(T)``.
    """
    given = checked(motion, (4, 4), "motion")
    turn = given[..., :3, :3]
    out = np.zeros((*given.shape[:-2], 6, 6))
    out[..., :3, :3] = out[..., 3:, 3:] = turn
    out[..., 3:, :3] = hat(given[..., :3, 3]) @ turn
    return out


# --- covariance ----------------------------------------------------------------------------------------


def moved_cov(cov6: ArrayLike, motion: ArrayLike) -> Array:
    """Carry the covariance (6, 6) of a small motion of frame b to frame a by ``motion = a_from_b`` (4, 4)."""
    carry = adjoint(motion)
    out: Array = carry @ checked(cov6, (6, 6), "cov6") @ np.swapaxes(carry, -1, -2)
    return out


def point_jacobian(points: ArrayLike) -> Array:
    """Return (..., 3, 6): how points (..., 3, mm) shift under a small motion of the same frame."""
    where = checked(points, (3,), "points")
    out = np.zeros((*where.shape, 6))
    out[..., :3] = -hat(where)
    out[..., range(3), range(3, 6)] = 1.0
    return out


def point_cov(cov6: ArrayLike, points: ArrayLike) -> Array:
    """Return the covariance (..., 3, 3), mm^2, of points (..., 3, mm) under a small motion.

    Points and ``cov6`` (6, 6) are given in the same frame. First order in the rotation.
    """
    lever = point_jacobian(points)
    out: Array = lever @ checked(cov6, (6, 6), "cov6") @ np.swapaxes(lever, -1, -2)
    return out


# --- rotations, repaired and averaged -------------------------------------------------------------------


def nearest_rotation(matrix: ArrayLike) -> Array:
    """Return the proper rotation (3, 3) nearest to a matrix (3, 3) in the sum of squares; never a reflection.

    Source: Kabsch, Acta Cryst 1976;A32:922; Horn, J Opt Soc Am A 1987;4:629.
    """
    u, _, vt = np.linalg.svd(checked(matrix, (3, 3), "matrix"))
    sign = np.sign(np.linalg.det(u) * np.linalg.det(vt))
    out: Array = (u * np.array([1.0, 1.0, sign])) @ vt
    return out


class RotationMean(NamedTuple):
    """A mean rotation (3, 3), the rounds it took, and whether it settled."""

    rotation: Array
    rounds: int
    settled: bool


def mean_rotation(
    rotations: ArrayLike, weights: ArrayLike | None = None, max_rounds: int = 50
) -> RotationMean:
    """Return the mean of rotations (n, 3, 3) on the group: seen from it, the rotation vectors sum to zero.

    Not the mean of angles, which depends on the order of turning. ``weights`` (n,) positive. Unique when all
    lie within a quarter turn of the mean. Raises ValueError for no rotation or a weight that is not positive.
    """
    given = np.atleast_3d(checked(rotations, (3, 3), "rotations")).reshape(-1, 3, 3)
    share = np.ones(len(given)) if weights is None else np.asarray(weights, dtype=np.float64)
    if len(given) == 0 or share.shape != (len(given),) or not (share > 0).all():
        raise ValueError("rotations: one positive weight for each of one or more rotations")
    share = share / share.sum()
    mean = nearest_rotation(np.einsum("n,nij->ij", share, given))
    for rounds in range(1, max_rounds + 1):
        step = share @ rotation_vector(given @ mean.T)
        mean = exp6(np.concatenate([step, np.zeros(3)]))[:3, :3] @ mean
        if np.linalg.norm(step) <= _MEAN_STEP_RAD:
            return RotationMean(nearest_rotation(mean), rounds, True)
    return RotationMean(nearest_rotation(mean), max_rounds, False)


# --- is it rigid at all? --------------------------------------------------------------------------------


class NotRigid(NamedTuple):
    """Why a matrix is no rigid motion: a stable code, plain words, and the number that shows it."""

    code: str
    text: str
    measured: float


def why_not_rigid(matrix: ArrayLike) -> tuple[NotRigid, ...]:
    """Return every reason why a 4x4 matrix is no rigid motion; an empty tuple when it is one.

    Codes: ``shape``, ``not_finite``, ``bottom_row``, ``transposed``, ``mirrored``, ``scaled``, ``sheared``.
    Entries may be off by ``RIGID_ENTRY_TOLERANCE``: what five printed decimals leave.
    """
    given = np.asarray(matrix, dtype=np.float64)
    if given.shape != (4, 4):
        return (
            NotRigid(
                "shape",
                say("a pose has 4 rows of 4 numbers, this has shape {shape}", shape=str(given.shape)),
                float(given.size),
            ),
        )
    if not np.isfinite(given).all():
        bad = int(np.count_nonzero(~np.isfinite(given)))
        return (NotRigid("not_finite", say("{bad} of the 16 numbers are not finite", bad=bad), float(bad)),)
    reasons: list[NotRigid] = []
    bottom = float(np.abs(given[3] - [0, 0, 0, 1]).max())
    if bottom > RIGID_ENTRY_TOLERANCE:
        if (
            np.abs(given[:3, 3]).max() <= RIGID_ENTRY_TOLERANCE
            and abs(given[3, 3] - 1) <= RIGID_ENTRY_TOLERANCE
        ):
            reasons.append(
                NotRigid(
                    "transposed", say("the translation stands in the bottom row: it is transposed"), bottom
                )
            )
        else:
            reasons.append(
                NotRigid(
                    "bottom_row",
                    say(
                        "the bottom row must read 0 0 0 1, not {row}",
                        row=joined(" ", (figure(x) for x in given[3].tolist())),
                    ),
                    bottom,
                )
            )
    linear = given[:3, :3]
    det = float(np.linalg.det(linear))
    stretches = np.linalg.svd(linear, compute_uv=False)
    scale = float(np.mean(stretches))
    uneven = float(np.abs(stretches - scale).max())
    if det < 0:
        reasons.append(
            NotRigid(
                "mirrored",
                say("the matrix mirrors (determinant {det:.6g}): left and right change", det=det),
                det,
            )
        )
    if abs(scale - 1) > RIGID_ENTRY_TOLERANCE:
        reasons.append(
            NotRigid("scaled", say("the matrix changes size by the factor {scale:.6g}", scale=scale), scale)
        )
    if uneven > RIGID_ENTRY_TOLERANCE * max(scale, 1.0):
        reasons.append(
            NotRigid(
                "sheared",
                say("the matrix stretches or shears (by up to {uneven:.3g})", uneven=uneven),
                uneven,
            )
        )
    return tuple(reasons)


def is_rigid(matrix: ArrayLike) -> bool:
    """Return whether a 4x4 matrix is a rigid motion that does not mirror; see ``why_not_rigid``."""
    return not why_not_rigid(matrix)
