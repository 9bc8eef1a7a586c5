"""Screw axes and centres of rotation: printed cases, and how noise in them grows."""

import math

import numpy as np
import pytest

from mountproof.geometry.hinge_fit import hinge_from_records
from mountproof.geometry.landmarks import match, register
from mountproof.geometry.poses import (
    closed,
    exp6,
    inverse,
    log6,
    opened,
    pose,
    rotation_z,
    transform,
    translation,
)
from mountproof.geometry.screw import crossing, pose_of, screw_cov, screw_of, turn_centre_sd_mm
from published.agree import agrees
from published.frame import from_sagittal


def test_quarter_turn():
    screw = screw_of(translation([3, 1, 3]) @ rotation_z(math.pi / 2))
    assert math.degrees(screw.angle_rad) == pytest.approx(90, abs=1e-12)
    np.testing.assert_allclose(screw.direction, [0, 0, 1], atol=1e-15)
    np.testing.assert_allclose(screw.point_mm, [1, 2, 0], atol=1e-14)
    assert screw.slide_mm == pytest.approx(3, abs=1e-15)
    assert screw.pitch_mm_per_rad == pytest.approx(6 / math.pi, rel=1e-14)


def test_third_of_a_turn_about_a_diagonal():
    motion = pose([[0, 0, 1], [1, 0, 0], [0, 1, 0]], np.array([1, -2, 1]) + 2 / math.sqrt(3))
    screw = screw_of(motion)
    assert math.degrees(screw.angle_rad) == pytest.approx(120, abs=1e-12)
    np.testing.assert_allclose(screw.direction, np.full(3, 1 / math.sqrt(3)), atol=1e-14)
    assert screw.slide_mm == pytest.approx(2, abs=1e-14)
    away = screw.point_mm - [1, -1, 0]
    np.testing.assert_allclose(np.cross(away, screw.direction), 0, atol=1e-13)


def test_lynch_and_park_example():
    """Lynch and Park, Modern Robotics (2017), Example 3.26 (place from memory): theta 30 deg, q and v as printed 3.37."""
    s_b = translation([1, 2, 0]) @ rotation_z(math.radians(30))
    s_c = translation([2, 1, 0]) @ rotation_z(math.radians(60))
    motion = s_c @ inverse(s_b)
    screw = screw_of(motion)
    agrees("30", math.degrees(screw.angle_rad))
    np.testing.assert_allclose(screw.direction, [0, 0, 1], atol=1e-14)
    agrees("3.37", screw.point_mm[0])
    agrees("3.37", screw.point_mm[1])
    agrees("3.366025", screw.point_mm[0])
    v = log6(motion)[3:] / screw.angle_rad
    agrees("3.37", v[0])
    agrees("-3.37", v[1])
    agrees("3.366025", v[0])
    agrees("-3.366025", v[1])


def test_reuleaux_two_ways():
    """Rotation by -10 degrees about (2, -3): perpendicular bisectors (Reuleaux) and least squares give it back."""
    before = [from_sagittal(50, -40), from_sagittal(100, -35)]
    printed = [("42.84579", "-47.772999"), ("92.954418", "-51.53137")]
    about = from_sagittal(2, -3)
    turn = translation(about) @ rotation_z(math.radians(-10)) @ translation(-about)
    after = [transform(turn, p) for p in before]
    for got, (x, z) in zip(after, printed, strict=True):
        agrees(x, got[0])
        agrees(z, got[1])
    # Bisectors: (p' - p) . (c - (p + p')/2) = 0 for both points.
    rows = np.array([(a - b)[:2] for a, b in zip(after, before, strict=True)])
    right = np.array([(a - b)[:2] @ ((a + b)[:2] / 2) for a, b in zip(after, before, strict=True)])
    np.testing.assert_allclose(np.linalg.solve(rows, right), [2, -3], atol=1e-11)
    tip = about + np.array([0, 0, 9])
    found = screw_of(match([*after, tip], [*before, tip]).pose)
    np.testing.assert_allclose(found.point_mm[:2], [2, -3], atol=1e-10)
    assert found.slide_mm == pytest.approx(0, abs=1e-12)


TOOTH = np.array([[50.0, -40], [100, -35], [75, -60]])
NEAR = np.array([[-10.0, 0], [10, 0], [0, 15]])
SIGMA = 0.05


def centre_draws(markers, theta, trials=4000, seed=11):
    """Centres of rotation of noisy plane markers, by complex numbers: another route than matrices."""
    rng = np.random.default_rng(seed)
    turned = markers @ np.array([[math.cos(theta), math.sin(theta)], [-math.sin(theta), math.cos(theta)]])
    noise = rng.normal(size=(2, trials, *markers.shape)) * SIGMA
    before, after = markers + noise[0], turned + noise[1]
    p, q = before[..., 0] + 1j * before[..., 1], after[..., 0] + 1j * after[..., 1]
    a, b = p.mean(axis=1), q.mean(axis=1)
    spin = ((q - b[:, None]) * (p - a[:, None]).conj()).sum(axis=1)
    spin = spin / np.abs(spin)
    return (b - spin * a) / (1 - spin), np.angle(spin)


@pytest.mark.parametrize(
    ("markers", "degrees", "formula", "drawn"),
    [
        (TOOTH, 2, "4.73", "4.76"),
        (TOOTH, 5, "1.892", "1.91"),
        (TOOTH, 8.5, "1.113", "1.11"),
        (TOOTH, 10, "0.947", "0.93"),
        (TOOTH, 20, "0.475", "0.48"),
        (NEAR, 2, "1.740", None),
        (NEAR, 5, "0.696", None),
        (NEAR, 10, "0.3485", None),
        (NEAR, 20, "0.1749", None),
    ],
)
def test_g11_noise_in_a_centre(markers, degrees, formula, drawn):
    """Formula, draws (4000, five percent), and the general first-order covariance of a screw all agree."""
    theta = math.radians(degrees)
    middle = markers.mean(axis=0)
    distance, spread = np.linalg.norm(middle), math.sqrt(((markers - middle) ** 2).sum(axis=1).mean())
    sd_angle, sd_centre = turn_centre_sd_mm(SIGMA, 3, theta, distance, spread)
    # The table was made from d and rho printed with two decimals.
    printed_inputs = sd_centre * (0.005 / spread + 0.005 / distance)
    agrees(formula, sd_centre, inputs_half_range=printed_inputs)
    centres, angles = centre_draws(markers, theta)
    # The centre's distribution has long tails: its spread is compared inside five SDs of the formula.
    inside = np.abs(centres) < 5 * sd_centre
    assert inside.mean() > 0.999
    assert math.sqrt((np.abs(centres[inside]) ** 2).mean()) == pytest.approx(sd_centre, rel=0.05)
    assert angles.std() == pytest.approx(sd_angle, rel=0.05)
    if drawn is not None:
        # Printed draws were others: two sets of 4000 differ by their standard errors, 1.1 % each.
        agrees(drawn, sd_centre, draws_se=sd_centre / math.sqrt(2 * 4000) * math.sqrt(2))
    spatial = np.column_stack([markers, np.zeros(3)])
    found = register(transform(closed(theta), spatial), spatial, SIGMA * math.sqrt(2))
    screw = screw_of(found.pose, toward=(0, 0, 1))
    at = crossing(screw, screw_cov(screw, found.cov6), 0.0)
    np.testing.assert_allclose(at.point_mm, 0, atol=1e-9)
    assert math.sqrt(np.trace(at.cov_mm2)) == pytest.approx(sd_centre, rel=0.02)


def test_g11_doubt_grows_as_one_over_the_angle():
    sds = [turn_centre_sd_mm(SIGMA, 3, t, 87.46, 23.09)[1] for t in (0.02, 0.04, 0.08)]
    assert sds[0] / sds[1] == pytest.approx(2, rel=2e-3)
    assert sds[1] / sds[2] == pytest.approx(2, rel=2e-3)


def test_screw_doubt_by_draws_at_the_hinge_points():
    """2.3 degrees between two records, registered to 0.02 mm over three landmarks: the axis where the hinge points are."""
    cov = register(
        [[84, -35, 1], [50, -36, 25], [48, -33, -26]], [[84, -35, 1], [50, -36, 25], [48, -33, -26]], 0.02
    ).cov6
    motion = opened(math.radians(5))
    root = np.linalg.cholesky(cov)
    rng = np.random.default_rng(5)
    screw = screw_of(motion, toward=(0, 0, 1))
    cov8 = screw_cov(screw, cov)
    for z in (55.0, -55.0):
        drawn = []
        for _ in range(4000):
            s = screw_of(exp6(root @ rng.normal(size=6)) @ motion, toward=(0, 0, 1))
            drawn.append((s.point_mm + s.direction * (z - s.point_mm[2]) / s.direction[2])[:2])
        want = crossing(screw, cov8, z)
        np.testing.assert_allclose(want.point_mm, [0, 0, z], atol=1e-9)
        got = np.cov(np.array(drawn).T)
        np.testing.assert_allclose(np.sqrt(np.diag(got)), np.sqrt(np.diag(want.cov_mm2)[:2]), rtol=0.05)


def test_hinge_of_many_records_by_draws():
    """Three noisy records: SDs as the spread of 100 fits; chi-square with its mean; and a facebow's axis improves it."""
    cov = np.diag([4e-4] * 3 + [0.02] * 3) ** 2
    root = np.linalg.cholesky(cov)
    truth = [opened(t) for t in (0.0, 0.05, 0.1)]
    rng = np.random.default_rng(44)
    fits = [
        hinge_from_records([exp6(root @ rng.normal(size=6)) @ p for p in truth], [cov] * 3, 110.0)
        for _ in range(100)
    ]
    assert all(f.settled for f in fits)
    found = np.array([[*f.right_mm, *f.left_mm] for f in fits])
    want = np.sqrt(np.diag(np.mean([f.cov_mm2 for f in fits], axis=0)))
    np.testing.assert_allclose(found.std(axis=0), want, rtol=0.25)
    assert np.mean([f.chi2 for f in fits]) == pytest.approx(6, abs=3 * math.sqrt(12 / 100))
    facebow = np.eye(4) * 3.0**2
    both = hinge_from_records(truth, [cov] * 3, 110.0, prior_mm=[2, 1, -1, 0], prior_cov_mm2=facebow)
    alone = hinge_from_records(truth, [cov] * 3, 110.0)
    # Independent sources: informations add, in the linear neighbourhood of the truth.
    want_cov = np.linalg.inv(np.linalg.inv(alone.cov_mm2) + np.linalg.inv(facebow))
    np.testing.assert_allclose(both.cov_mm2, want_cov, rtol=0.02, atol=1e-4)
    assert (np.diag(both.cov_mm2) < np.minimum(np.diag(alone.cov_mm2), 9.0)).all()


def test_records_that_slid_are_not_one_hinge():
    cov = np.diag([4e-4] * 3 + [0.02] * 3) ** 2
    fit = hinge_from_records([np.eye(4), translation([0, 0, 0.5]) @ opened(0.08)], [cov] * 2, 110.0)
    assert fit.dof == 1
    assert fit.p_value < 1e-6
    assert fit.slides_mm[1] == pytest.approx(0.5, abs=0.01)


def test_a_screw_survives_tiny_angles():
    """A hundred-millionth of a degree about a far axis: the point keeps the digits that the motion holds."""
    about = translation([10, -7, 3])
    motion = exp6([0, 0, 1e-10, 0, 0, 0])
    screw = screw_of(about @ motion @ inverse(about), near_mm=(10, -7, 3))
    assert screw.angle_rad == pytest.approx(1e-10, rel=1e-6)
    # The translation, 1e-9 mm, is a difference of numbers near ten: six of its digits survive.
    np.testing.assert_allclose(screw.point_mm, [10, -7, 3], atol=1e-4)
    np.testing.assert_allclose(pose_of(screw), about @ motion @ inverse(about), atol=1e-14)
