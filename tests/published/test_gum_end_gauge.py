"""JCGM 100:2008 (GUM), Annex H.1: calibration of an end gauge. Inputs and results as printed there."""

import math

import numpy as np
import pytest

from mountproof.doubt.blocks import join, normal_block
from mountproof.doubt.propagate import effective_dof, propagate
from mountproof.doubt.two_engines import first_order, two_engines
from mountproof.geometry.quantile import coverage_factor
from published.agree import agrees

# l = lS + d - lS (dAlpha theta + alphaS dTheta); lengths in mm, temperatures in degrees Celsius
NAMES = ["standard", "difference", "d_alpha", "theta", "alpha", "d_theta"]
AT = [50.000623, 215e-6, 0.0, -0.1, 11.5e-6, 0.0]
U = [25e-6, 9.7e-6, 0.58e-6, 0.41, 1.2e-6, 0.029]
DOF = [18.0, 25.6, 50.0, math.inf, math.inf, 2.0]
INPUTS = join([normal_block(k, [x], [u], nu) for k, x, u, nu in zip(NAMES, AT, U, DOF, strict=True)])


def gauge(v):
    standard, difference, d_alpha, theta, alpha, d_theta = v
    return standard + difference - standard * (d_alpha * theta + alpha * d_theta)


def gauge_rows(x):
    return gauge(x.T)


def test_length_and_contributions():
    got = first_order(gauge_rows, INPUTS)
    agrees("50.000838", float(got.values[0]))
    nm = np.sqrt(got.own[0]) * 1e6
    agrees("25", nm[0])
    agrees("9.7", nm[1])
    agrees("2.9", nm[2])
    agrees("16.6", nm[5], inputs_half_range=0.0005 / 0.029 * 16.6)
    assert nm[4] == pytest.approx(0.0, abs=1e-6)  # alphaS has no first-order effect because dTheta is zero
    assert nm[3] == pytest.approx(0.0, abs=1e-6)
    agrees("32", float(got.us[0]) * 1e6)
    # printed 1002 nm2 from rounded contributions; unrounded 1005.56
    assert float(got.us[0] * 1e6) ** 2 == pytest.approx(1005.56, abs=0.05)
    # the same through the function that takes one point at a time
    assert got.jacobian == pytest.approx(propagate(gauge, AT, U).jacobian, rel=1e-12, abs=1e-12)


def test_uncertainty_of_the_difference():
    # H.1.3.2: 5.8 nm with 24, 3.9 nm with 5, 6.7 nm with 8 degrees of freedom
    parts = [5.8, 3.9, 6.7]
    agrees("9.7", math.sqrt(sum(p * p for p in parts)))
    agrees("25.6", effective_dof(parts, [24.0, 5.0, 8.0]), inputs_half_range=0.3)


def test_effective_degrees_of_freedom_and_expanded_uncertainty():
    got = first_order(gauge_rows, INPUTS, p=0.99)
    agrees("16.7", float(got.dofs[0]))
    agrees("2.92", coverage_factor(0.99, 16.0))
    agrees("93", float(got.high[0] - got.values[0]) * 1e6)
    agrees("92.62", float(got.high[0] - got.values[0]) * 1e6)
    assert got.values[0] - got.low[0] == pytest.approx(got.high[0] - got.values[0], rel=1e-9)
    # U95 = 2.12 x 32 nm, exact 67.2
    u95 = first_order(gauge_rows, INPUTS)
    agrees("67.2", float(u95.high[0] - u95.values[0]) * 1e6)


def test_first_order_does_not_stand_beside_the_draws():
    """Its two terms of second order count (32 against 34 nm), and few degrees of freedom spread the draws further."""
    both = two_engines(gauge_rows, INPUTS, np.random.default_rng(7), digits=2, p=0.99, most=200_000)
    assert both.drawn.us[0] > 33.91e-6
    assert both.compared.differs[0]


def test_second_order_terms():
    # H.1.7: the two terms of second order that count are 11.7 (printed; 11.9 unrounded) and 1.7 nm, u_c = 34 nm
    got = propagate(gauge, AT, U, second_order=True)
    agrees("34", float(got.us[0]) * 1e6)
    agrees("33.91", float(got.us[0]) * 1e6)
    d_alpha_theta = 50.000623 * 0.58e-6 * 0.41 * 1e6
    alpha_d_theta = 50.000623 * 1.2e-6 * 0.029 * 1e6
    agrees("11.9", d_alpha_theta)
    agrees("1.7", alpha_d_theta)
    assert float(got.second_order[0]) * 1e12 == pytest.approx(d_alpha_theta**2 + alpha_d_theta**2, rel=1e-6)


def test_second_order_needs_independent_inputs():
    with pytest.raises(ValueError, match="independent"):
        propagate(lambda v: v[0] * v[1], [1.0, 1.0], [[1.0, 0.5], [0.5, 1.0]], second_order=True)
