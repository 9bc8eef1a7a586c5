"""JCGM 100:2008 (GUM), Annex H.1: calibration of an end gauge. Inputs and results as printed there."""

import math

import numpy as np
import pytest

from mountproof.doubt.propagate import effective_dof, interval, propagate
from mountproof.geometry.quantile import coverage_factor
from published.agree import agrees

# l = lS + d - lS (dAlpha theta + alphaS dTheta); lengths in mm, temperatures in degrees Celsius
AT = [50.000623, 215e-6, 0.0, -0.1, 11.5e-6, 0.0]
U = [25e-6, 9.7e-6, 0.58e-6, 0.41, 1.2e-6, 0.029]
DOF = [18.0, 25.6, 50.0, math.inf, math.inf, 2.0]


def gauge(v):
    standard, difference, d_alpha, theta, alpha, d_theta = v
    return standard + difference - standard * (d_alpha * theta + alpha * d_theta)


def test_length_and_contributions():
    got = propagate(gauge, AT, U)
    agrees("50.000838", float(got.values[0]))
    nm = np.abs(got.contributions[0]) * 1e6
    agrees("25", nm[0])
    agrees("9.7", nm[1])
    agrees("2.9", nm[2])
    agrees("16.6", nm[5], inputs_half_range=0.0005 / 0.029 * 16.6)
    assert nm[4] == pytest.approx(0.0, abs=1e-6)  # alphaS has no first-order effect because dTheta is zero
    assert nm[3] == pytest.approx(0.0, abs=1e-6)
    agrees("32", float(got.us[0]) * 1e6)
    # printed 1002 nm2 from rounded contributions; unrounded 1005.56
    assert float(got.us[0] * 1e6) ** 2 == pytest.approx(1005.56, abs=0.05)


def test_uncertainty_of_the_difference():
    # H.1.3.2: 5.8 nm with 24, 3.9 nm with 5, 6.7 nm with 8 degrees of freedom
    parts = [5.8, 3.9, 6.7]
    agrees("9.7", math.sqrt(sum(p * p for p in parts)))
    agrees("25.6", effective_dof(parts, [24.0, 5.0, 8.0]), inputs_half_range=0.3)


def test_effective_degrees_of_freedom_and_expanded_uncertainty():
    got = propagate(gauge, AT, U)
    nu = effective_dof(got.contributions[0], DOF)
    agrees("16.7", nu)
    assert math.floor(nu) == 16
    agrees("2.92", coverage_factor(0.99, 16.0))
    low, high = interval(0.0, float(got.us[0]) * 1e6, 0.99, 16.0)
    agrees("93", high)
    assert low == -high
    agrees("92.62", high)


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
