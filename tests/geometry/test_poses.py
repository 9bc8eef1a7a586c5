"""Poses against general-purpose routes: the power series of a matrix, quaternions written out, plain draws."""

import math

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.spatial.transform import Rotation

from mountproof.geometry.poses import (
    RIGID_ENTRY_TOLERANCE,
    closed,
    exp6,
    hat,
    inverse,
    is_rigid,
    log6,
    mean_rotation,
    nearest_rotation,
    opened,
    point_cov,
    pose,
    rotation_about,
    rotation_vector,
    rotation_x,
    rotation_y,
    rotation_z,
    transform,
    translation,
    why_not_rigid,
)

SIZES = [1e-150, 1e-12, 1e-8, 1e-3, 0.3, 0.499, 0.501, 1.0, 3.0, math.pi - 1e-6]


@pytest.mark.parametrize("size", SIZES)
def test_exponential_against_the_matrix_one(size):
    rng = np.random.default_rng(1)
    for _ in range(20):
        w = rng.normal(size=3)
        xi = np.concatenate([w * size / np.linalg.norm(w), rng.normal(size=3) * 50])
        matrix = np.zeros((4, 4))
        matrix[:3, :3], matrix[:3, 3] = hat(xi[:3]), xi[3:]
        np.testing.assert_allclose(exp6(xi), expm(matrix), rtol=0, atol=1e-12)
        back = log6(exp6(xi))
        # Below the smallest relative step of the entries of the rotation the angle is still there, to the last bits.
        np.testing.assert_allclose(back[:3], xi[:3], rtol=1e-9, atol=1e-15 if size > 1e-3 else 0)
        np.testing.assert_allclose(back[3:], xi[3:], rtol=0, atol=1e-7 if size > 3.1 else 1e-11)


def test_rotation_vector_against_a_library_and_at_half_a_turn():
    rng = np.random.default_rng(2)
    vectors = rng.normal(size=(200, 3))
    vectors *= (rng.uniform(0, 3.14, 200) / np.linalg.norm(vectors, axis=1))[:, None]
    np.testing.assert_allclose(
        rotation_vector(Rotation.from_rotvec(vectors).as_matrix()), vectors, atol=1e-12
    )
    for axis in np.eye(3):
        half = rotation_about(axis, math.pi)[:3, :3]
        np.testing.assert_allclose(np.abs(rotation_vector(half)), math.pi * axis, atol=1e-12)


def test_named_turns_go_the_right_way_round():
    x, y, z = np.eye(3)
    quarter = math.pi / 2
    for turn, start, end in (
        (rotation_x, y, z),
        (rotation_y, z, x),
        (rotation_z, x, y),
    ):
        np.testing.assert_allclose(transform(turn(quarter), start), end, atol=1e-15)
    for turn, axis in ((rotation_x, x), (rotation_y, y), (rotation_z, z)):
        np.testing.assert_allclose(turn(0.3), rotation_about(2 * axis, 0.3), atol=1e-15)


def test_positive_opening_goes_down_and_back_by_what_the_table_says():
    """Invented mean skull, 1 mm of incisal opening: 0.46 mm back; the inverse motion goes up and forward."""
    incisor = np.array([92.0, -42.0, 0.0])
    theta = math.asin((1 + 42) / math.hypot(92, 42)) - math.asin(42 / math.hypot(92, 42))
    shift = transform(opened(theta), incisor) - incisor
    assert shift[1] == pytest.approx(-1)
    assert shift[0] == pytest.approx(-0.46, abs=0.005)
    undone = transform(inverse(opened(theta)), incisor) - incisor
    assert undone[0] > 0 and undone[1] > 0
    np.testing.assert_array_equal(inverse(opened(theta)), closed(theta))


def test_turns_do_not_commute_and_their_mean_is_not_that_of_angles():
    ten = math.radians(10)
    first = rotation_x(ten) @ rotation_y(ten) @ rotation_z(ten)
    second = rotation_z(ten) @ rotation_y(ten) @ rotation_x(ten)
    apart = np.linalg.norm(log6(first @ inverse(second))[:3])
    assert math.degrees(apart) == pytest.approx(2.96, abs=0.1)
    mean = mean_rotation(np.stack([first[:3, :3], second[:3, :3]]))
    assert mean.settled
    # Half way along the one turn that joins them, from either end.
    half = exp6(0.5 * log6(second @ inverse(first)))[:3, :3] @ first[:3, :3]
    np.testing.assert_allclose(mean.rotation, half, atol=1e-14)
    # Both read (10, 10, 10) in their own order, so an average of angles returns either, 1.5 degrees from the mean.
    astray = np.linalg.norm(rotation_vector(first[:3, :3] @ mean.rotation.T))
    assert math.degrees(astray) == pytest.approx(math.degrees(apart) / 2, abs=1e-9)
    # And read in one order, both of them, the average of their angles is still another rotation.
    angles = np.mean([Rotation.from_matrix(r[:3, :3]).as_euler("xyz") for r in (first, second)], axis=0)
    by_angles = Rotation.from_euler("xyz", angles).as_matrix()
    assert math.degrees(np.linalg.norm(rotation_vector(by_angles @ mean.rotation.T))) > 0.01


def test_mean_against_a_library_for_small_turns():
    rng = np.random.default_rng(3)
    vectors = rng.normal(size=(12, 3)) * 1e-3
    ours = mean_rotation(exp6(np.hstack([vectors, np.zeros((12, 3))]))[:, :3, :3]).rotation
    theirs = Rotation.from_rotvec(vectors).mean().as_matrix()
    # The library's mean is of another kind; they part in the third order of the turns.
    np.testing.assert_allclose(ours, theirs, atol=1e-9)


def test_covariance_of_a_point_by_draws():
    rng = np.random.default_rng(4)
    root = rng.normal(size=(6, 6)) * np.array([1e-3] * 3 + [0.05] * 3)[:, None]
    point = np.array([83.0, -34.0, 10.0])
    shifts = transform(exp6(rng.normal(size=(100_000, 6)) @ root.T), point) - point
    want = point_cov(root @ root.T, point)
    np.testing.assert_allclose(np.cov(shifts.T), want, atol=0.02 * np.abs(want).max())


def test_stacks_of_poses_move_stacks_of_points():
    rng = np.random.default_rng(5)
    many, points = exp6(rng.normal(size=(4, 6))), rng.normal(size=(7, 3))
    together = transform(many, points)
    assert together.shape == (4, 7, 3)
    for k in range(4):
        np.testing.assert_allclose(together[k], transform(many[k], points), atol=1e-15)
        np.testing.assert_allclose(inverse(many)[k], np.linalg.inv(many[k]), atol=1e-14)
    assert transform(many, points[0]).shape == (4, 3)
    assert transform(many[0], np.zeros((0, 3))).shape == (0, 3)


GOOD = exp6([0.1, 0.2, -0.3, 10, 20, 30])


@pytest.mark.parametrize(
    ("matrix", "codes"),
    [
        (GOOD, []),
        (np.round(GOOD, 5), []),
        (GOOD @ np.diag([1, 1, -1, 1]), ["mirrored"]),
        (GOOD @ np.diag([25.4, 25.4, 25.4, 1]), ["scaled"]),
        (GOOD @ np.diag([-25.4, 25.4, 25.4, 1]), ["mirrored", "scaled"]),
        (GOOD.T, ["transposed"]),
        (GOOD @ (np.eye(4) + 1e-3 * np.eye(4)[[1, 3, 3, 3]] * [[1], [0], [0], [0]]), ["sheared"]),
        (GOOD * [[1], [1], [1], [2]], ["bottom_row"]),
        (np.where(GOOD == 1, np.nan, GOOD), ["not_finite"]),
        (GOOD[:3], ["shape"]),
        (np.zeros((4, 4)), ["bottom_row", "scaled"]),
    ],
)
def test_every_way_not_to_be_rigid_has_its_name(matrix, codes):
    assert [r.code for r in why_not_rigid(matrix)] == codes
    assert is_rigid(matrix) is (not codes)
    assert all(r.text for r in why_not_rigid(matrix))


def test_rounding_to_five_decimals_always_passes_and_a_tenth_of_a_degree_of_shear_never():
    rng = np.random.default_rng(6)
    for motion in exp6(rng.normal(size=(300, 6))):
        assert is_rigid(np.round(motion, 5))
        sheared = motion.copy()
        sheared[:3, :3] = motion[:3, :3] @ (np.eye(3) + 4 * RIGID_ENTRY_TOLERANCE * np.eye(3, k=1))
        assert [r.code for r in why_not_rigid(sheared)] == ["sheared"]


def test_nearest_rotation_is_never_a_mirror():
    rng = np.random.default_rng(7)
    for _ in range(50):
        found = nearest_rotation(rng.normal(size=(3, 3)))
        assert np.linalg.det(found) == pytest.approx(1)
        np.testing.assert_allclose(found @ found.T, np.eye(3), atol=1e-14)


@pytest.mark.parametrize(
    "call",
    [
        lambda: transform(np.eye(3), [0, 0, 0]),
        lambda: transform(np.eye(4), [0, 0]),
        lambda: pose(np.eye(3), [0, math.nan, 0]),
        lambda: translation([1, 2]),
        lambda: rotation_about([0, 0, 0], 1.0),
        lambda: exp6([1, 2, 3]),
        lambda: mean_rotation(np.zeros((0, 3, 3))),
        lambda: mean_rotation(np.stack([np.eye(3)] * 2), [1.0, -1.0]),
    ],
)
def test_wrong_shapes_are_named(call):
    with pytest.raises(ValueError, match=":"):
        call()
