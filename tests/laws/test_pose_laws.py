"""Rigid motions form a group; twists, adjoints and covariances follow it."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from laws.motions import ANGLE, covariances, directions, law, poses, twists, vectors
from mountproof.geometry.poses import (
    adjoint,
    closed,
    exp6,
    inverse,
    is_rigid,
    log6,
    mean_rotation,
    moved_cov,
    opened,
    point_cov,
    pose,
    rotation_about,
    rotation_vector,
    transform,
)


def same(a, b, scale=1.0):
    np.testing.assert_allclose(a, b, rtol=0, atol=2e-12 * scale)


@law
@given(poses, poses, poses)
def test_group(a, b, c):
    same((a @ b) @ c, a @ (b @ c), 100)
    same(a @ inverse(a), np.eye(4), 100)
    same(inverse(a @ b), inverse(b) @ inverse(a), 100)
    assert is_rigid(a @ b) and is_rigid(inverse(a))


@law
@given(poses, poses, vectors(), vectors())
def test_motion_acts_keeps_lengths_and_hands(a, b, p, q):
    same(transform(a @ b, p), transform(a, transform(b, p)), 100)
    same(transform(inverse(a), transform(a, p)), p, 100)
    same(np.linalg.norm(transform(a, p) - transform(a, q)), np.linalg.norm(p - q), 100)
    same(np.cross(a[:3, :3] @ p, a[:3, :3] @ q), a[:3, :3] @ np.cross(p, q), 1e5)
    # By the matrix itself, row by row: a transposed rotation keeps every law above.
    same(transform(a, p), (a @ np.append(p, 1.0))[:3], 100)
    same(transform(a, np.stack([p, q])), np.stack([transform(a, p), transform(a, q)]), 100)


@law
@given(twists)
def test_exp_and_log_undo_each_other(xi):
    same(log6(exp6(xi)), xi, 1000)
    same(exp6(-xi), inverse(exp6(xi)), 100)
    same(exp6(xi / 2) @ exp6(xi / 2), exp6(xi), 100)


@law
@given(poses, poses, twists)
def test_adjoint(a, b, xi):
    same(adjoint(a @ b), adjoint(a) @ adjoint(b), 1000)
    same(adjoint(inverse(a)) @ adjoint(a), np.eye(6), 1e5)
    # The twist is shortened so that its length stays below half a turn on both sides.
    same(exp6(adjoint(a) @ xi), a @ exp6(xi) @ inverse(a), 1000)


@law
@given(ANGLE, ANGLE, vectors())
def test_closing_and_opening(theta, more, p):
    same(opened(theta) @ closed(theta), np.eye(4))
    same(closed(theta) @ closed(more), closed(theta + more))
    moved = transform(closed(theta), p)
    same(np.hypot(*moved[:2]), np.hypot(*p[:2]), 100)
    assert moved[2] == p[2]


@law
@given(st.floats(0.001, 0.3), st.floats(40, 110), st.floats(-60, -5), st.floats(-40, 40))
def test_opening_takes_lower_teeth_down_and_back(theta, x, y, z):
    shift = transform(opened(theta), [x, y, z]) - [x, y, z]
    assert shift[0] < 0 and shift[1] < 0 and shift[2] == 0
    up = transform(closed(theta), [x, y, z]) - [x, y, z]
    assert up[1] > 0


@law
@given(covariances, poses, poses, vectors())
def test_covariance_follows_the_frame(cov, a, b, p):
    scale = np.abs(moved_cov(cov, a @ b)).max()
    same(moved_cov(moved_cov(cov, b), a), moved_cov(cov, a @ b), scale)
    turn = a[:3, :3]
    there = point_cov(moved_cov(cov, a), transform(a, p))
    same(there, turn @ point_cov(cov, p) @ turn.T, 1e4 * np.abs(there).max() + 1)


@law
@given(poses, st.integers(0, 2**32 - 1), vectors())
def test_covariance_is_that_of_the_motion_in_front(a, seed, p):
    """A small motion in front of ``a`` is ``adjoint(inverse(a))`` of it behind: the sample says which is which."""
    rng = np.random.default_rng(seed)
    xi = rng.normal(size=6) * [1e-6] * 6
    in_front, behind = exp6(xi) @ a, a @ exp6(adjoint(inverse(a)) @ xi)
    same(in_front, behind, 1000)
    # One draw is a covariance of rank one: what it does to the point is what point_cov says, squared.
    shift = transform(in_front, p) - transform(a, p)
    said = point_cov(np.outer(xi, xi), transform(a, p))
    np.testing.assert_allclose(np.outer(shift, shift), said, rtol=0, atol=1e-3 * np.abs(said).max() + 1e-16)
    # And what moved_cov says of the same motion told in the frame behind.
    told = adjoint(inverse(a)) @ xi
    np.testing.assert_allclose(
        moved_cov(np.outer(told, told), a),
        np.outer(xi, xi),
        rtol=0,
        atol=1e-8 * (np.abs(told).max() ** 2) + 1e-20,
    )


@law
@given(directions(), ANGLE, ANGLE)
def test_turns_about_one_axis_add(axis, first, second):
    same(rotation_about(axis, first) @ rotation_about(axis, second), rotation_about(axis, first + second))


@law
@given(poses, st.integers(0, 2**32 - 1), st.integers(1, 7))
def test_mean_rotation_moves_with_what_it_averages(a, seed, count):
    rng = np.random.default_rng(seed)
    some = exp6(np.hstack([rng.normal(size=(count, 3)) * 0.2, np.zeros((count, 3))]))[:, :3, :3]
    weights = rng.uniform(0.5, 2, count)
    mean = mean_rotation(some, weights)
    assert mean.settled
    turn = a[:3, :3]
    same(mean_rotation(turn @ some, weights).rotation, turn @ mean.rotation)
    same(mean_rotation(some @ turn, weights).rotation, mean.rotation @ turn)
    same(mean_rotation(np.swapaxes(some, -1, -2), weights).rotation, mean.rotation.T)
    same(weights @ rotation_vector(some @ mean.rotation.T), np.zeros(3), 10)


@law
@given(poses)
def test_pose_joins_what_it_takes_apart(a):
    np.testing.assert_array_equal(pose(a[:3, :3], a[:3, 3]), a)
