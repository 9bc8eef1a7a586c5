"""Rigid registration: printed cases of Kabsch (Acta Cryst 1976;A32:922) and Horn (J Opt Soc Am A 1987;4:629)."""

import itertools
import math

import numpy as np
import pytest

from mountproof.geometry.landmarks import match, register
from mountproof.geometry.poses import exp6, log6, point_cov, transform
from mountproof.geometry.sphere import fit_sphere
from published.agree import agrees

P = np.array([[0.0, 0, 0], [1, 0, 0], [0, 2, 0], [0, 0, 3]])


def test_k1_recovers_a_quarter_turn():
    found = match([[1, 2, 3], [1, 3, 3], [-1, 2, 3], [1, 2, 6]], P)
    np.testing.assert_allclose(found.pose[:3, :3], [[0, -1, 0], [1, 0, 0], [0, 0, 1]], atol=1e-12)
    np.testing.assert_allclose(found.pose[:3, 3], [1, 2, 3], atol=1e-12)
    assert found.rms_mm < 1e-12


def test_k2_never_reflects():
    found = match(P * [1, 1, -1], P)
    assert np.linalg.det(found.pose[:3, :3]) == pytest.approx(1, abs=1e-12)
    agrees("0.6713023905", found.rms_mm)


def test_k2_against_brute_force():
    """Another route: many starts of small turns about the best so far; none gets below the closed form."""
    rng = np.random.default_rng(1987)
    targets = P * [1, 1, -1]

    def rms(motion):
        moved = transform(motion, P)
        moved = moved + (targets - moved).mean(axis=0)
        return math.sqrt(((targets - moved) ** 2).sum() / len(P))

    best = math.inf
    for _ in range(30):
        here = exp6(np.append(rng.normal(size=3) * 2, [0, 0, 0]))
        now, step = rms(here), 0.5
        while step > 1e-7:
            trials = [exp6(np.append(rng.normal(size=3) * step, [0, 0, 0])) @ here for _ in range(12)]
            values = [rms(t) for t in trials]
            k = int(np.argmin(values))
            if values[k] < now:
                here, now = trials[k], values[k]
            else:
                step /= 2
        best = min(best, now)
    assert best == pytest.approx(match(targets, P).rms_mm, abs=1e-9)
    assert best >= match(targets, P).rms_mm - 1e-12


def test_k3_two_points():
    agrees("0.1000", match([[0, 0, 0], [10.2, 0, 0]], [[5, 5, 5], [5, 15, 5]]).rms_mm)


@pytest.mark.parametrize("n", [3, 4, 6])
def test_doubt_of_a_registration_by_draws(n):
    """The covariance against 4000 registrations of the same landmarks with fresh noise on both ends."""
    rng = np.random.default_rng(n)
    landmarks = np.array(
        [[84, -35, 1], [50, -36, 25], [48, -33, -26], [75, -20, 15], [60, -50, -10], [90, -30, 9.0]]
    )[:n]
    truth = exp6([0.3, -0.5, 0.2, 10, -4, 7])
    sd = 0.1
    found = register(transform(truth, landmarks), landmarks, sd)
    xi = []
    for _ in range(4000):
        targets = transform(truth, landmarks) + rng.normal(size=(n, 3)) * sd / math.sqrt(2)
        sources = landmarks + rng.normal(size=(n, 3)) * sd / math.sqrt(2)
        xi.append(log6(match(targets, sources).pose @ np.linalg.inv(truth)))
    got = np.cov(np.array(xi).T)
    root = np.linalg.cholesky(found.cov6)
    white = np.linalg.solve(root, np.linalg.solve(root, got).T)
    # Eigenvalues of the whitened sample scatter around one as 1 +- sqrt(6/4000) and its like.
    assert np.abs(np.linalg.eigvalsh(white) - 1).max() < 0.15
    for place in (landmarks[0], [0, 0, 55.0]):
        at = transform(truth, np.asarray(place, dtype=float))
        shifts = np.array([transform(exp6(x), at) - at for x in xi])
        want = np.sqrt(np.trace(point_cov(found.cov6, at)))
        assert np.sqrt((shifts**2).sum(axis=1).mean()) == pytest.approx(want, rel=0.05)


def test_residuals_are_chi_square_with_three_n_less_six():
    rng = np.random.default_rng(6)
    landmarks = np.array([[84, -35, 1], [50, -36, 25], [48, -33, -26], [75, -20, 15.0]])
    chi2 = [register(landmarks + rng.normal(size=(4, 3)) * 0.2, landmarks, 0.2).chi2 for _ in range(1500)]
    assert np.mean(chi2) == pytest.approx(6, abs=3 * math.sqrt(12 / 1500))


def test_false_blame_is_as_rare_as_it_says():
    """A set without a fault blames a pair in fewer than two of a hundred (the level is one, the bound is loose)."""
    rng = np.random.default_rng(7)
    landmarks = np.array([[84, -35, 1], [50, -36, 25], [48, -33, -26], [75, -20, 15], [60, -50, -10.0]])
    blamed = [
        register(landmarks + rng.normal(size=(5, 3)) * 0.1, landmarks, 0.1).guilty is not None
        for _ in range(1500)
    ]
    assert np.mean(blamed) < 0.02


def test_t11_sphere_of_four_inch():
    """Points of a sphere of 101.6 mm (the 4 inch of Monson) give it back to 1e-9."""
    rng = np.random.default_rng(11)
    away = rng.normal(size=(14, 3)) * [1, 0.3, 1] + [0, 3, 0]
    points = np.array([10.0, 60, -3]) + 101.6 * away / np.linalg.norm(away, axis=1)[:, None]
    found = fit_sphere(points)
    assert found.settled
    assert found.radius_mm == pytest.approx(101.6, abs=1e-9)
    np.testing.assert_allclose(found.centre_mm, [10, 60, -3], atol=1e-9)
    assert found.rms_mm < 1e-10


def test_every_corner_of_a_box_gives_its_sphere():
    corners = np.array(list(itertools.product((-2.0, 4.0), (0.0, 4.0), (-3.0, 9.0))))
    found = fit_sphere(corners)
    assert found.radius_mm == pytest.approx(7.0, abs=1e-12)
