"""What the doubt of the axis costs: many axes at once against the motions one by one, and its limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.geometry.hinge import close_to_stop, opening_for_gap, two_sided_error, zero_direction
from mountproof.geometry.poses import transform
from mountproof.records.axis_cost import (
    cost_at,
    errors_at,
    opening_for_cost,
    turn_of,
    unit_draws,
)

INCISORS, MOLAR = np.array([92.0, -42.0, 0.0]), np.array([50.0, -35.0, 0.0])
ANGLE = st.floats(0.001, 0.12)
OFF = st.tuples(st.floats(-9, 9), st.floats(-9, 9))


@given(ANGLE, OFF, OFF)
def test_equal_angle_is_the_motion_of_the_two_sided_error(angle, right, left):
    places = np.array([[50, -35, 28.0], [50, -35, -28.0], [92, -42, 0.0]])
    got = errors_at(angle, [right], [left], 110.0, places)[0]
    want = transform(two_sided_error(angle, right, left, 110.0), places) - places
    np.testing.assert_allclose(got, want, atol=1e-10)


@given(ANGLE, OFF)
def test_closed_to_a_stop_is_the_one_by_one_motion(angle, off):
    got = errors_at(angle, [off], [off], 110.0, [MOLAR, INCISORS], MOLAR)[0]
    motion = close_to_stop(angle, [*off, 0.0], MOLAR).motion
    np.testing.assert_allclose(
        got, transform(motion, np.array([MOLAR, INCISORS])) - [MOLAR, INCISORS], atol=1e-9
    )


@given(ANGLE, OFF, OFF)
def test_a_stop_comes_back_to_its_height_about_a_tilted_axis_too(angle, right, left):
    stop = np.array([50.0, -35.0, 28.0])
    assert abs(errors_at(angle, [right], [left], 110.0, stop, stop)[0, 0, 1]) < 1e-9


def test_no_opening_costs_nothing_and_a_known_axis_costs_nothing():
    none = cost_at(0.0, 5.0, MOLAR, INCISORS, 0.3)
    assert none.rms_mm < 1e-12 and none.high_mm < 1e-12 and none.even_mm == 0.0 and none.beyond == 0.0
    assert cost_at(0.04, 1e-9, MOLAR, INCISORS, 0.3).rms_mm < 1e-9
    assert turn_of(0.0, 10.0, 110.0) == 0.0


def test_an_error_along_the_line_to_the_tooth_costs_next_to_nothing_there():
    theta = opening_for_gap(3, INCISORS)
    along = 5.0 * zero_direction(MOLAR)[:2]
    across = np.array([-along[1], along[0]])
    free = np.linalg.norm(errors_at(theta, [along], [along], 110.0, MOLAR, MOLAR))
    dear = np.linalg.norm(errors_at(theta, [across], [across], 110.0, MOLAR, MOLAR))
    assert free < 0.1 * dear and dear > 0.15
    found = cost_at(theta, 5.0, MOLAR, INCISORS, 0.3).free_rad
    assert math.tan(found) == pytest.approx(-35 / 50)


@given(st.floats(0.005, 0.08), st.floats(1.0, 7.0))
def test_the_cost_grows_with_the_opening(angle, sd):
    few = unit_draws(2000)
    a, b = (cost_at(t, sd, MOLAR, INCISORS, 0.3, few).rms_mm for t in (angle, 1.3 * angle))
    assert 1.2 * a < b < 1.45 * a


def test_first_order_of_the_root_mean_square():
    """theta |M| / x_M times the SD of one coordinate: only the part across the line to the tooth counts."""
    theta, sd = 0.01, 0.5
    want = theta * math.hypot(50, 35) / 50 * sd
    assert cost_at(theta, sd, MOLAR, INCISORS, 0.3).rms_mm == pytest.approx(want, rel=0.01)


def test_the_thickest_record_that_stays_within_a_limit_costs_just_that():
    angle = opening_for_cost(0.1, 4.0, [MOLAR, INCISORS], INCISORS)
    few = unit_draws(20_000)
    worst = max(cost_at(angle, 4.0, p, INCISORS, 0.1, few).rms_mm for p in (MOLAR, INCISORS))
    assert worst == pytest.approx(0.1, abs=1e-6)
    with pytest.raises(ValueError, match="above zero"):
        opening_for_cost(0.0, 4.0, [MOLAR], INCISORS)


def test_one_side_off_turns_the_jaw_by_trap_18():
    theta = opening_for_gap(3, INCISORS)
    assert math.degrees(turn_of(theta, 10.0, 110.0)) == pytest.approx(0.17, abs=0.005)
    right, left = np.array([50, -35, 28.0]), np.array([50, -35, -28.0])
    both = errors_at(theta, [[10, 0]], [[0, 0]], 110.0, [right, left])[0]
    assert np.linalg.norm(both[0] - both[1]) == pytest.approx(turn_of(theta, 10, 110) * 56, rel=0.01)


def test_the_same_seed_gives_the_same_answer():
    np.testing.assert_array_equal(unit_draws(100, 3), unit_draws(100, 3))
    assert not np.array_equal(unit_draws(100, 3), unit_draws(100, 4))
