"""JCGM 101:2008, examples 9.2 (additive model), 9.3 (mass), 9.5 (end gauge), through both engines at once.

The printed figures of 9.3 and 9.5 are from memory and were recomputed with 4e6 draws of an independent program;
9.2 has closed forms (Irwin-Hall), asserted as well.
"""

import math

import numpy as np
import pytest

from mountproof.doubt.blocks import Input, input_block, join
from mountproof.doubt.montecarlo import monte_carlo, numerical_tolerance
from mountproof.doubt.propagate import propagate
from mountproof.doubt.two_engines import two_engines
from published.agree import agrees

ROOT3 = math.sqrt(3.0)


def both(f, inputs, seed, **more):
    joined = join([input_block(f"x{i}", one) for i, one in enumerate(inputs)])
    return two_engines(f, joined, np.random.default_rng(seed), **more)


def additive(inputs, seed, **more):
    return both(lambda x: x.sum(axis=1), inputs, seed, **more)


def end_agrees(printed, drawn, end):
    agrees(printed, float(drawn.symmetric[0, end]), draws_se=float(drawn.standard_errors[0, 2 + end]))


def test_9_2_2_four_normals():
    first, drawn, compared = additive([Input("normal", 0.0, 1.0)] * 4, 1, digits=2, most=2_000_000)
    agrees("2.0", float(drawn.us[0]), draws_se=float(drawn.standard_errors[0, 1]))
    end_agrees("3.92", drawn, 1)
    end_agrees("-3.92", drawn, 0)
    agrees("3.92", float(first.high[0]))
    assert not compared.differs[0]
    assert compared.sure[0]


def test_9_2_3_four_rectangles():
    first, drawn, compared = additive([Input("rectangular", 0.0, ROOT3)] * 4, 2, digits=2, most=1_000_000)
    end_agrees("3.88", drawn, 1)
    # Irwin-Hall of four, exact
    assert drawn.symmetric[0, 1] == pytest.approx(3.879407, abs=4 * drawn.standard_errors[0, 3] + 1e-3)
    agrees("3.92", float(first.high[0]))
    # The standard: with two digits, 0.05, they say the same; 0.04 apart
    assert not compared.differs[0]
    assert compared.high_by[0] == pytest.approx(3.919928 - 3.879407, abs=4 * drawn.standard_errors[0, 3])


def test_9_2_4_one_large_rectangle():
    wide = [Input("rectangular", 0.0, ROOT3)] * 3 + [Input("rectangular", 0.0, 10.0 * ROOT3)]
    first, drawn, compared = additive(wide, 3, digits=3, most=1_000_000)
    agrees("10.1", float(drawn.us[0]), draws_se=float(drawn.standard_errors[0, 1]))
    end_agrees("17.0", drawn, 1)
    assert drawn.symmetric[0, 1] == pytest.approx(17.015814, abs=0.02)  # for 1e6 draws
    agrees("19.9", float(first.high[0]))
    assert compared.differs[0]
    assert compared.sure[0]


def mass(x):
    reference, extra, air, weight, standard = x.T
    return (reference + extra) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100_000.0


def test_9_3_mass():
    inputs = [
        Input("normal", 100_000.0, 0.050),
        Input("normal", 1.234, 0.020),
        Input("rectangular", 1.20, 0.10),
        Input("rectangular", 8000.0, 1000.0),
        Input("rectangular", 8000.0, 50.0),
    ]
    first, drawn, compared = both(mass, inputs, 4, digits=2, most=1_500_000)
    errors = drawn.standard_errors[0]
    agrees("1.2341", float(drawn.values[0]), draws_se=errors[0])
    agrees("0.0754", float(drawn.us[0]), draws_se=errors[1])
    # ends: printed 1.0834 and 1.3825 are those of the shortest interval, recomputed symmetric 1.0844 and 1.3837
    agrees("1.0844", float(drawn.symmetric[0, 0]), draws_se=errors[2] + 0.0005)
    agrees("1.3837", float(drawn.symmetric[0, 1]), draws_se=errors[3] + 0.0005)
    agrees("1.0834", float(drawn.shortest[0, 0]), draws_se=0.0007)
    agrees("1.3825", float(drawn.shortest[0, 1]), draws_se=0.0007)
    assert np.diff(drawn.shortest[0]) <= np.diff(drawn.symmetric[0])
    agrees("1.2340", float(first.values[0]))
    agrees("0.0539", float(first.us[0]))
    agrees("1.1285", float(first.low[0]), inputs_half_range=0.00001)
    agrees("1.3395", float(first.high[0]), inputs_half_range=0.00001)
    # Table 6: the two differ by 0.0451 and 0.0430, where 0.005 is allowed
    agrees("0.0451", float(compared.low_by[0]), draws_se=errors[2] + 0.0005)
    agrees("0.0430", float(compared.high_by[0]), draws_se=errors[3] + 0.0005)
    assert compared.differs[0]
    # with the terms of second order the guide's u is 0.0750
    at, us = [one.centre for one in inputs], [one.u for one in inputs]
    second = propagate(lambda v: mass(np.asarray(v)[None])[0], at, us, second_order=True)
    agrees("0.0750", float(second.us[0]))


def test_9_5_end_gauge():
    # deviation from 50 mm in nm; inputs of 9.5.2: t distributions, a normal, an arcsine and rectangles with
    # inexactly known limits (here at their middle)
    inputs = [
        Input("student", 50_000_623.0, 25.0, dof=18),
        Input("student", 215.0, 6.0, dof=24),  # observed difference
        Input("student", 0.0, 4.0, dof=5),  # random effect of the comparator
        Input("student", 0.0, 7.0, dof=8),  # systematic effect of the comparator
        Input("rectangular", 11.5e-6, 2e-6),  # expansion of the standard
        Input("normal", -0.1, 0.2),  # mean of the temperature
        Input("arcsine", 0.0, 0.5),  # its cycle
        Input("rectangular", 0.0, 1e-6),  # difference of expansions
        Input("rectangular", 0.0, 0.05),  # difference of temperatures
    ]

    def gauge(x):
        standard, d0, d1, d2, alpha, mean, cycle, d_alpha, d_theta = x.T
        theta = mean + cycle
        return standard + d0 + d1 + d2 - standard * (d_alpha * theta + alpha * d_theta) - 50_000_000.0

    first, drawn, compared = both(gauge, inputs, 5, p=0.99, digits=2, most=2_000_000)
    agrees("838", float(drawn.values[0]), draws_se=float(drawn.standard_errors[0, 0]))
    agrees("36", float(drawn.us[0]), draws_se=float(drawn.standard_errors[0, 1]))
    # 99 %: [745, 932]; the limits known inexactly (left out here) move them by less than 1 nm
    errors = drawn.standard_errors[0]
    agrees("745", float(drawn.symmetric[0, 0]), draws_se=errors[2], inputs_half_range=1.0)
    agrees("932", float(drawn.symmetric[0, 1]), draws_se=errors[3], inputs_half_range=1.0)
    # first order says 32 nm where the draws say 36, and does not pass to two digits
    agrees("32", float(first.us[0]), inputs_half_range=0.5)
    assert compared.differs[0]


def test_numerical_tolerance_7_9_2():
    # 7.9.2 examples: 100.02147 g with u = 0.00035 g, two digits: 0.000005 g; u = 2 K, one digit: 0.5 K
    assert numerical_tolerance(0.00035, 2) == pytest.approx(0.000005)
    assert numerical_tolerance(2.0, 1) == pytest.approx(0.5)
    assert numerical_tolerance(0.0996, 2) == pytest.approx(0.005)


def test_too_few_draws_are_said_to_be_too_few():
    drawn = monte_carlo(
        lambda x: x,
        lambda n, rng: rng.standard_normal((n, 1)),
        np.random.default_rng(6),
        digits=4,
        most=50_000,
    )
    assert drawn.n == 50_000
    assert not drawn.settled[0]
