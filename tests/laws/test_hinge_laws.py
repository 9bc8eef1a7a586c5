"""Laws of the hinge: where an axis error shows, how it mirrors, how screws and their doubt move with the frame."""

import math

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from laws.motions import covariances, law, poses, vectors
from mountproof.geometry.hinge import (
    axis_error_cov,
    axis_error_length_mm,
    axis_error_shift,
    close_to_stop,
    opening_for_gap,
    split_gap,
    two_sided_error,
    zero_direction,
)
from mountproof.geometry.hinge_fit import hinge_from_records
from mountproof.geometry.poses import (
    closed,
    exp6,
    inverse,
    log6,
    moved_cov,
    opened,
    rotation_z,
    transform,
    translation,
)
from mountproof.geometry.protrusion import path_of, with_axis_error
from mountproof.geometry.screw import pose_of, screw_cov, screw_of

THETA = st.floats(0.005, 0.15)
OFF = vectors(st.floats(-10, 10))
TOOTH = st.tuples(st.floats(35, 105), st.floats(-50, -20), st.floats(-30, 30)).map(np.array)
MIRROR = np.diag([1.0, 1.0, -1.0, 1.0])


def same(a, b, atol=1e-11):
    np.testing.assert_allclose(a, b, rtol=0, atol=atol)


@law
@given(THETA, OFF, TOOTH)
def test_a_wrong_axis_shifts_every_tooth_alike(theta, off, tooth):
    """By the motions themselves: open about the true axis, close about the wrong one."""
    by_motion = translation(off) @ closed(theta) @ translation(-off) @ opened(theta)
    shift = transform(by_motion, tooth) - tooth
    same(shift, axis_error_shift(theta, off))
    flat = np.hypot(off[0], off[1])
    same(np.linalg.norm(shift), axis_error_length_mm(theta, flat))
    same(axis_error_length_mm(theta, flat), 2 * flat * math.sin(theta / 2))
    # Square to the axis error but for half the closing.
    assert abs(shift @ off) <= np.linalg.norm(shift) * flat * math.sin(theta / 2) + 1e-12


@law
@given(OFF, TOOTH)
def test_no_change_of_opening_costs_nothing(off, tooth):
    same(axis_error_shift(0.0, off), 0, 0)
    same(close_to_stop(0.0, off, tooth).motion, np.eye(4))
    same(axis_error_cov(0.0, np.eye(4), 110), 0, 0)


@law
@given(THETA, OFF, TOOTH)
def test_no_axis_error_costs_nothing(theta, off, tooth):
    assume(np.hypot(off[0], off[1]) > 0.1)
    same(axis_error_shift(theta, [0, 0, 0]), 0, 0)
    stop = close_to_stop(theta, [0, 0, off[2]], tooth)
    same(stop.motion, np.eye(4))
    same(stop.closing_rad, theta, 1e-13)


@law
@given(THETA, OFF, TOOTH)
def test_the_stop_is_back_at_its_height(theta, off, tooth):
    stop = close_to_stop(theta, off, tooth)
    back = transform(stop.motion, tooth)
    same(back[1], tooth[1])
    same(back[2], tooth[2])
    assert stop.closing_rad > 0


@law
@given(st.floats(0.01, 0.1), st.floats(0.5, 8), TOOTH, st.floats(-0.3, 0.3))
def test_there_is_a_direction_that_costs_nothing_and_it_turns_with_the_plane(theta, size, tooth, tilt):
    along = zero_direction(tooth)
    across = np.array([-along[1], along[0], 0])
    kind = np.abs(transform(close_to_stop(theta, size * along, tooth).motion, tooth) - tooth).max()
    harsh = np.abs(transform(close_to_stop(theta, size * across, tooth).motion, tooth) - tooth).max()
    # First order in the axis vanishes along the direction: what is left is theta^2 times smaller in kind.
    assert kind <= harsh * theta * 2
    same(zero_direction(transform(rotation_z(tilt), tooth)), rotation_z(tilt)[:3, :3] @ along)


@law
@given(THETA, THETA, OFF)
def test_split_gap_is_zero_only_for_equal_records_or_the_true_axis(first, second, off):
    gap = np.linalg.norm(split_gap(first, second, off))
    same(gap, axis_error_length_mm(first - second, np.hypot(off[0], off[1])))
    same(split_gap(first, first, off), 0, 0)
    # By motions: the cast mounted with the first record, and where the second record puts it.
    mounted = translation(off) @ closed(first) @ translation(-off) @ opened(first)
    second_in = translation(off) @ closed(second) @ translation(-off) @ opened(second)
    # Both are shifts; their difference, seen where the second record holds the jaw open, is the gap.
    apart = (mounted[:3, 3] - second_in[:3, 3]) @ rotation_z(second)[:3, :3]
    same(apart, split_gap(first, second, off))


@law
@given(THETA, OFF, OFF, st.floats(90, 130), TOOTH)
def test_left_and_right_mirror(theta, right, left, width, tooth):
    here = two_sided_error(theta, right[:2], left[:2], width)
    there = two_sided_error(theta, left[:2], right[:2], width)
    same(MIRROR @ here @ MIRROR, there)
    both = two_sided_error(theta, right[:2], right[:2], width)
    same(transform(both, tooth) - tooth, axis_error_shift(theta, [right[0], right[1], 0]))


@law
@given(THETA, st.floats(90, 130), st.integers(0, 2**32 - 1))
def test_doubt_of_the_axis_is_that_of_the_exact_motion(theta, width, seed):
    """Each column of the first-order rule against central differences of the exact motion."""
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(4, 4))
    h = 1e-4
    columns = [
        (
            log6(two_sided_error(theta, *np.split(h * e, 2), width))
            - log6(two_sided_error(theta, *np.split(-h * e, 2), width))
        )
        / (2 * h)
        for e in np.eye(4)
    ]
    jacobian = np.stack(columns, axis=1)
    same(jacobian @ root @ root.T @ jacobian.T, axis_error_cov(theta, root @ root.T, width), 1e-9)


@law
@given(st.floats(0.2, 9), TOOTH)
def test_an_opening_gives_back_its_gap(gap, tooth):
    theta = opening_for_gap(gap, tooth)
    same((tooth - transform(opened(theta), tooth))[1], gap)


@law
@given(poses, poses)
def test_a_screw_gives_back_its_motion_and_moves_with_the_frame(motion, frame):
    screw = screw_of(motion)
    size = 1e-9 * (1 + np.abs(np.nan_to_num(screw.point_mm)).max())
    same(pose_of(screw), motion, size)
    assume(0.01 < screw.angle_rad < 3.0)
    seen = screw_of(frame @ motion @ inverse(frame))
    same(seen.angle_rad, screw.angle_rad, 1e-11)
    same(seen.direction, frame[:3, :3] @ screw.direction, 1e-9)
    same(seen.slide_mm, screw.slide_mm, 1e-6)
    # Another point of the same axis, since the nearest to the origin is another one there.
    moved = transform(frame, screw.point_mm)
    same(np.cross(moved - seen.point_mm, seen.direction), 0, 1e-6)


@law
@given(poses, covariances, vectors())
def test_doubt_of_a_screw_is_that_of_its_formula(motion, cov, near):
    screw = screw_of(motion, near_mm=near)
    assume(0.05 < screw.angle_rad < 3.0)
    h = 1e-6

    def told(xi):
        s = screw_of(exp6(xi) @ motion, near_mm=near)
        return np.concatenate([s.direction, s.point_mm, [s.angle_rad, s.slide_mm]])

    jacobian = np.stack([(told(h * e) - told(-h * e)) / (2 * h) for e in np.eye(6)], axis=1)
    want = jacobian @ cov @ jacobian.T
    same(screw_cov(screw, cov, near), want, 1e-5 * np.abs(want).max() + 1e-12)


@law
@given(poses, poses, st.floats(0.02, 0.15), st.floats(0.02, 0.1), covariances)
def test_a_hinge_is_found_again(where, _, first, second, cov):
    """Records opened about an axis near the nominal one give back that axis and nothing slid."""
    small = exp6(log6(where) * np.array([0.02, 0.02, 0, 0.05, 0.05, 0]))
    start = exp6([0.01, -0.02, 0.005, 1, -2, 0.5])
    records = [small @ opened(t) @ inverse(small) @ start for t in (0.0, first, first + second)]
    fit = hinge_from_records(records, [cov] * 3, 110.0)
    assert fit.settled and fit.dof == 6
    ends = transform(small, [[0, 0, -200], [0, 0, 200]])
    for z, found in ((55.0, fit.right_mm), (-55.0, fit.left_mm)):
        share = (z - ends[0, 2]) / (ends[1, 2] - ends[0, 2])
        same(found, (ends[0] + share * (ends[1] - ends[0]))[:2], 1e-6)
    same(fit.closings_rad, [0, -first, -first - second], 1e-9)
    same(fit.slides_mm, 0, 1e-6)


@law
@given(poses, TOOTH, OFF, st.floats(-0.1, 0.1))
def test_a_path_read_beside_the_condyle(_, place, off, turn):
    motion = translation([5, -3, 0]) @ rotation_z(turn)
    read = path_of(motion, place + off)
    same(read, with_axis_error(path_of(motion, place), turn, off))


@law
@given(covariances, poses)
def test_moving_a_covariance_keeps_it_one(cov, frame):
    moved = moved_cov(cov, frame)
    same(moved, moved.T, 1e-9 * np.abs(moved).max())
    assert np.linalg.eigvalsh((moved + moved.T) / 2).min() > -1e-9 * np.abs(moved).max()
