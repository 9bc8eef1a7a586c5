"""The small solver and the chi-square tail against a general-purpose library."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.stats import chi2

from mountproof.geometry.least_squares import chi2_tail, gauss_newton


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 8, 13, 30, 61])
def test_tail(dof):
    for x in (0.0, 1e-6, 0.3, 1.0, 5.0, 17.0, 80.0, 300.0):
        assert chi2_tail(x, dof) == pytest.approx(chi2.sf(x, dof), rel=1e-12)


def test_tail_without_freedom_and_with_nonsense():
    assert chi2_tail(0.0, 0) == 1.0
    for bad in ((-1.0, 3), (1.0, -1), (math.nan, 3)):
        with pytest.raises(ValueError, match="negative"):
            chi2_tail(*bad)


def plus(state, step):
    return state + step


def test_a_straight_problem_takes_one_step_and_one_to_see_it():
    rng = np.random.default_rng(1)
    rows, right = rng.normal(size=(9, 4)), rng.normal(size=9)
    fit = gauss_newton(np.zeros(4), lambda x: (rows @ x - right, rows), plus)
    np.testing.assert_allclose(fit.state, np.linalg.lstsq(rows, right, rcond=None)[0], atol=1e-13)
    assert fit.settled and fit.rounds == 2


def test_a_curved_valley_against_a_library():
    """Rosenbrock's valley, in which an undamped step goes uphill."""

    def weighted(p):
        x, y = p
        return np.array([10 * (y - x * x), 1 - x]), np.array([[-20 * x, 10], [-1, 0.0]])

    fit = gauss_newton(np.array([-1.2, 1.0]), weighted, plus)
    assert fit.settled
    np.testing.assert_allclose(fit.state, [1, 1], atol=1e-8)

    def bent(p):
        x, y = p
        residual = np.array([math.exp(0.4 * x) - y, x + 0.3 * y * y - 2, math.sin(x) - 0.2 * y])
        return residual, np.array([[0.4 * math.exp(0.4 * x), -1], [1, 0.6 * y], [math.cos(x), -0.2]])

    ours = gauss_newton(np.array([3.0, -2.0]), bent, plus)
    theirs = least_squares(lambda p: bent(p)[0], [3.0, -2.0], xtol=1e-14, ftol=1e-14, gtol=1e-14)
    assert ours.settled
    assert ours.chi2 == pytest.approx(2 * theirs.cost, rel=1e-8)


def test_unseen_directions_are_left_alone():
    rows = np.array([[1.0, 1.0, 0.0]])
    fit = gauss_newton(np.array([0.0, 0.0, 5.0]), lambda x: (rows @ x - 2, rows), plus)
    np.testing.assert_allclose(fit.state, [1, 1, 5], atol=1e-15)


def test_a_search_that_does_not_settle_says_so():
    def weighted(p):
        return np.array([math.exp(-p[0])]), np.array([[-math.exp(-p[0])]])

    fit = gauss_newton(np.array([0.0]), weighted, plus, max_rounds=4)
    assert not fit.settled and fit.rounds == 4
