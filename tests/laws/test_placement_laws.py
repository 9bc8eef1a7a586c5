"""Laws of placing a cast: landmark pairs, trilateration and average anatomy follow the frames they are told in."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from laws.motions import cloud, clouds, law, poses
from mountproof.faults import FaultError
from mountproof.geometry.average import average_placement
from mountproof.geometry.distances import readings_from_table
from mountproof.geometry.landmarks import leave_one_out, match, register
from mountproof.geometry.poses import exp6, inverse, moved_cov, point_cov, transform
from mountproof.geometry.trilaterate import trilaterate

SEED = st.integers(0, 2**32 - 1)


def same(a, b, atol=1e-9):
    np.testing.assert_allclose(a, b, rtol=0, atol=atol)


def noisy(points, seed, sd):
    return points + np.random.default_rng(seed).normal(size=points.shape) * sd


@law
@given(clouds, poses, SEED)
def test_faultless_pairs_give_the_motion_exactly(points, motion, seed):
    sds = np.random.default_rng(seed).uniform(0.02, 0.3, len(points))
    found = register(transform(motion, points), points, sds)
    same(found.pose, motion)
    assert found.rms_mm < 1e-10
    assert found.guilty is None and found.swapped is None


@law
@given(clouds, poses, poses, SEED)
def test_a_registration_moves_with_both_frames(points, there, here, seed):
    targets = noisy(points, seed, 0.1)
    sds = np.random.default_rng(seed).uniform(0.05, 0.2, len(points))
    plain = register(targets, points, sds)
    moved = register(transform(there, targets), transform(here, points), sds)
    same(moved.pose, there @ plain.pose @ inverse(here))
    same(moved.chi2, plain.chi2, 1e-6)
    want = moved_cov(plain.cov6, there)
    same(moved.cov6, want, 1e-7 * np.abs(want).max())


@law
@given(clouds, poses, SEED)
def test_no_small_motion_does_better(points, motion, seed):
    """By the cost itself, in many directions: the closed form is at the bottom, weights included."""
    rng = np.random.default_rng(seed)
    sds = rng.uniform(0.05, 0.5, len(points))
    targets = noisy(transform(motion, points), seed, 0.3)
    found = register(targets, points, sds)

    def cost(pose):
        return (((targets - transform(pose, points)) / sds[:, None]) ** 2).sum()

    best = cost(found.pose)
    same(best, found.chi2, 1e-9 * best + 1e-9)
    middle = targets.mean(axis=0)
    for _ in range(12):
        xi = rng.normal(size=6) * [1e-3] * 6
        xi[3:] -= np.cross(xi[:3], middle)
        assert cost(exp6(xi) @ found.pose) >= best - 1e-9 * (1 + best)


@law
@given(clouds, poses, SEED)
def test_never_a_reflection(points, motion, seed):
    mirrored = noisy(transform(motion, points) * [1, 1, -1], seed, 0.01)
    found = match(mirrored, points)
    assert np.linalg.det(found.pose[:3, :3]) > 0
    again = match(mirrored, points, mirror=True)
    assert np.linalg.det(again.pose[:3, :3]) < 0
    assert again.rms_mm < 0.1 < found.rms_mm


@law
@given(poses, SEED, st.integers(3, 6))
def test_landmarks_in_a_line_are_refused(motion, seed, count):
    rng = np.random.default_rng(seed)
    line = np.outer(np.linspace(-30, 30, count), [0.2, 0.1, 1.0]) + rng.normal(size=(count, 3)) * 1e-4
    with pytest.raises(FaultError) as error:
        register(transform(motion, line), line, 0.1)
    assert [f.code for f in error.value.faults] == ["landmarks.in_line"]


@law
@given(SEED, poses, st.integers(5, 8))
def test_the_bad_pair_is_named(seed, motion, count):
    rng = np.random.default_rng(seed)
    points = cloud(seed, count)
    bad = int(rng.integers(count))
    targets = noisy(transform(motion, points), seed, 0.05)
    away = rng.normal(size=3)
    targets[bad] += 2.0 * away / np.linalg.norm(away)
    found = register(targets, points, 0.05)
    blames = leave_one_out(targets, points, np.full(count, 0.05))
    assert blames[0].pair == bad
    if found.guilty is not None:
        assert found.guilty.pair == bad
        assert 1.0 < found.guilty.miss_mm < 6.0


@law
@given(SEED, poses, st.integers(4, 7))
def test_two_names_exchanged_are_noticed(seed, motion, count):
    points = cloud(seed, count)
    targets = noisy(transform(motion, points), seed, 0.05)
    targets[[1, 2]] = targets[[2, 1]]
    found = register(targets, points, 0.05)
    assert found.swapped == (1, 2)
    assert found.guilty is None


def table(points, landmarks):
    return [[float(np.linalg.norm(np.asarray(p) - q)) for q in landmarks] for p in points]


HINGE = [[0.0, 0.0, 55.0], [0.0, 0.0, -55.0]]
THIRD = [110.0, 45.0, 0.0]


@law
@given(SEED, poses, st.booleans())
def test_trilateration_finds_the_cast_in_any_scan_frame(seed, scan_from_upper, third):
    landmarks = cloud(seed, 3)
    scan = transform(scan_from_upper, landmarks)
    points = [*HINGE, THIRD] if third else HINGE
    average = average_placement(*scan)
    found = trilaterate(readings_from_table(points, scan, table(points, landmarks), 0.05), average.pose, 0.1)
    assert found.settled and not found.findings
    assert found.reach.closing and found.reach.pin is third and found.turn_assumed is not third
    placed = transform(found.pose, scan)
    # Closing sees distances from the axis and along it, and the angles between landmarks: not the common turn.
    same(placed[:, 2], landmarks[:, 2], 1e-5)
    same(np.hypot(placed[:, 0], placed[:, 1]), np.hypot(landmarks[:, 0], landmarks[:, 1]), 1e-5)
    phi = np.arctan2(placed[:, 1], placed[:, 0]) - np.arctan2(landmarks[:, 1], landmarks[:, 0])
    same(phi - phi[0], 0, 1e-6)
    if third:
        same(placed, landmarks, 1e-5)
    else:
        assert np.sqrt(found.cov6[2, 2]) == pytest.approx(0.1, rel=1e-3)


@law
@given(SEED, poses, poses, st.sampled_from([0, 1, 2]))
def test_average_placement_does_not_see_the_scan_frame(seed, here, there, _):
    landmarks = cloud(seed, 3)
    a, b = average_placement(*transform(here, landmarks)), average_placement(*transform(there, landmarks))
    same(a.pose @ here, b.pose @ there, 1e-9)
    same(a.cov6, b.cov6, 0)
    front = transform(a.pose, transform(here, landmarks))
    same(front[1:, 1].mean(), -34.3, 40)
    assert front[1, 2] > 0 > front[2, 2]
    assert front[0, 0] > front[1:, 0].max()


@law
@given(SEED)
def test_more_landmarks_never_make_a_point_more_doubtful(seed):
    points = cloud(seed, 8)
    fewer, more = register(points[:4], points[:4], 0.1), register(points, points, 0.1)
    place = [0.0, 0.0, 55.0]
    assert (
        math.sqrt(np.trace(point_cov(more.cov6, place)))
        <= math.sqrt(np.trace(point_cov(fewer.cov6, place))) + 1e-12
    )
