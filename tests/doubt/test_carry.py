"""Values that carry where their doubt comes from: correlation, shares, derivatives."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.doubt.montecarlo import carried_draws, monte_carlo, normal_draws
from mountproof.doubt.propagate import carried_dof, interval, propagate, resolution_u
from mountproof.geometry.carry import (
    exact,
    from_covariance,
    measured,
    numeric_jacobian,
    shares,
    stack,
    through,
)

numbers = st.floats(-50.0, 50.0)
doubts = st.floats(0.01, 3.0)


@given(numbers, doubts, numbers, doubts)
def test_a_difference_with_itself_is_nothing(a, ua, b, ub):
    x, y = measured(a, ua, "reading/x"), measured(b, ub, "reading/y")
    gone = (x + y) - x - y
    assert gone.value == pytest.approx(0.0, abs=1e-12)
    assert gone.u == pytest.approx(0.0, abs=1e-12)
    assert (x - x).u == 0.0
    assert (x + (-x)).u == 0.0
    assert (stack([x, y, x]).linear([[1.0, 2.0, -1.0]])).u == pytest.approx(2 * ub)
    assert (x - y).u == pytest.approx(math.hypot(ua, ub))
    assert (-x + 3.0).value == pytest.approx(3.0 - a)


@given(numbers, doubts, numbers, doubts)
def test_shared_sources_stay_shared(a, ua, b, ub):
    x, y = measured(a, ua, "length/x"), measured(b, ub, "length/y")
    both = through(lambda v: [v[0] + v[1], v[0] * v[1]], stack([x, y]))
    want = np.array([[1.0, 1.0], [b, a]])
    assert both.cov == pytest.approx(want @ np.diag([ua**2, ub**2]) @ want.T, rel=1e-6, abs=1e-6)


def test_shares_add_up_and_are_named_by_group():
    x = stack(
        [measured(1.0, 3.0, "reading/a"), measured(1.0, 4.0, "reading/b"), measured(1.0, 12.0, "length/c")]
    )
    total = x.linear([[1.0, 1.0, 1.0]])
    assert total.u == 13.0
    assert list(total.variances()) == ["length", "reading"]
    assert shares(total) == pytest.approx({"length": 144 / 169, "reading": 25 / 169})
    assert total.without("length").u == pytest.approx(5.0)
    assert carried_dof(total, [("reading", 8.0)]) == pytest.approx(13**4 / (25**2 / 8.0))


def test_covariance_survives():
    cov = np.array([[2.0, -1.0], [-1.0, 3.0]])
    x = from_covariance([1.0, 2.0], cov, "record")
    assert x.cov == pytest.approx(cov)
    assert x[1].u == pytest.approx(math.sqrt(3.0))
    assert through(lambda v: v[0] + v[1], x).u == pytest.approx(math.sqrt(3.0))


@given(st.lists(st.floats(0.2, 3.0), min_size=3, max_size=3))
def test_derivatives_against_closed_forms(at):
    def f(v):
        return [np.sin(v[0]) * v[1] ** 3, np.exp(v[2]) / v[0], np.arctan2(v[1], v[2])]

    x, y, z = at
    want = [
        [math.cos(x) * y**3, 3 * math.sin(x) * y**2, 0.0],
        [-math.exp(z) / x**2, 0.0, math.exp(z) / x],
        [0.0, z / (y**2 + z**2), -y / (y**2 + z**2)],
    ]
    assert numeric_jacobian(f, at, at) == pytest.approx(np.array(want), rel=1e-9, abs=1e-9)


def test_a_function_that_ends_nearby_is_refused():
    with pytest.raises(ValueError, match="not finite"), np.errstate(invalid="ignore"):
        numeric_jacobian(lambda v: np.sqrt(v), [0.0], [1.0])


def test_first_order_against_draws_with_correlation():
    cov = np.array([[0.04, 0.018], [0.018, 0.01]])

    def f(v):
        return np.hypot(v[0], v[1]) * np.cos(v[0] / 40.0)

    got = propagate(f, [30.0, 40.0], cov)
    drawn = f(normal_draws([30.0, 40.0], cov, 200_000, np.random.default_rng(7)).T)
    assert float(got.us[0]) == pytest.approx(float(np.std(drawn)), rel=0.01)
    left_out = propagate(f, [30.0, 40.0], np.sqrt(np.diag(cov)))
    assert float(left_out.us[0]) != pytest.approx(float(got.us[0]), rel=0.05)


def test_interval_covers_what_it_says():
    # five readings, u estimated from them: Student's factor covers 95 %, two does not
    rng = np.random.default_rng(8)
    x = rng.standard_normal((20_000, 5))
    mean, u = x.mean(axis=1), x.std(axis=1, ddof=1) / math.sqrt(5)
    low, high = interval(0.0, 1.0, 0.95, 4.0)
    assert np.mean((mean / u > low) & (mean / u < high)) == pytest.approx(0.95, abs=0.006)
    low, high = interval(0.0, 1.0)
    assert np.mean((mean / u > low) & (mean / u < high)) < 0.90


def test_shapes_are_checked():
    with pytest.raises(ValueError):
        propagate(lambda v: v[0], [1.0], [[1.0, 0.0], [0.0, 1.0]])
    with pytest.raises(ValueError):
        propagate(lambda v: v[0], [1.0, 2.0], [[1.0, 0.4], [0.3, 1.0]])
    with pytest.raises(ValueError):
        measured(1.0, -1.0, "x")
    with pytest.raises(ValueError):
        _ = exact([1.0, 2.0]).value
    with pytest.raises(ValueError):
        _ = exact([1.0, 2.0]) + exact([1.0])
    with pytest.raises(ValueError):
        resolution_u(-1.0)


def test_a_carried_value_can_be_checked_by_draws():
    cov = np.array([[2.0, -1.0], [-1.0, 3.0]])
    x = stack([from_covariance([30.0, 40.0], cov, "record"), measured(1.0, 0.1, "length/a")])
    got = monte_carlo(
        lambda v: np.hypot(v[:, 0], v[:, 1]) * v[:, 2],
        lambda n, rng: carried_draws(x, n, rng),
        np.random.default_rng(9),
        digits=1,
    )
    first = through(lambda v: np.hypot(v[0], v[1]) * v[2], x)
    assert got.settled[0]
    assert got.us[0] == pytest.approx(first.u, rel=0.05)
    assert got.values[0] == pytest.approx(first.value, abs=0.2)
