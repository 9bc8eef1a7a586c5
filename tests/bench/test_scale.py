"""Graduations: direction, zero, notches, calibration, and what the marks can mean."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.bench.pin import Pin, Tooth
from mountproof.bench.scale import calibrate, mm_from_reading, reading_from_mm, scale_meanings, stated_scale
from mountproof.faults import FaultError
from mountproof.geometry.carry import measured


@given(st.floats(0.4, 2.5), st.booleans(), st.floats(-20.0, 20.0), st.floats(-5.0, 12.0))
def test_scale_and_back(mm_per_mark, up, zero, mm):
    scale = stated_scale(mm_per_mark, up, zero)
    assert mm_from_reading(scale, reading_from_mm(scale, mm)).value == pytest.approx(mm, abs=1e-9)
    assert scale.counts_up is up
    assert scale.mm_per_mark == pytest.approx(mm_per_mark)


def test_notches_of_one_and_a_half_millimetres():
    # common practice, no source: a pin graduated 1.5 mm a notch
    assert reading_from_mm(stated_scale(1.5), 4.5).value == pytest.approx(3.0)


def test_a_scale_that_counts_down():
    # trap 13: the sign would double the fault
    got = calibrate([2.0, 6.0], [8.0, 4.0], 0.02, 0.05)
    assert not got.scale.counts_up
    assert got.scale.zero == pytest.approx(10.0)
    assert mm_from_reading(got.scale, 7.0).value == pytest.approx(3.0)


def test_two_blocks_have_the_textbook_covariance():
    got = calibrate([2.0, 6.0], [2.0, 6.0], 0.0, 0.05)
    assert got.scale.mm_per_mark == pytest.approx(1.0)
    assert got.scale.zero == pytest.approx(0.0, abs=1e-12)
    design = np.array([[1.0, 2.0], [1.0, 6.0]])
    want = 0.05**2 * np.linalg.inv(design.T @ design)
    assert got.scale.zero_and_slope.cov == pytest.approx(want)
    # interpolating at a block gives back the doubt of that block, extrapolating more
    assert reading_from_mm(got.scale, 2.0).u == pytest.approx(0.05)
    assert reading_from_mm(got.scale, 12.0).u > 0.1
    assert got.dof == 0


def test_more_blocks_are_checked_against_each_other():
    good = calibrate([2.0, 4.0, 6.0], [2.0, 4.05, 6.0], 0.02, 0.05)
    assert good.dof == 1
    assert good.chi_square < 3.84
    bad = calibrate([2.0, 4.0, 6.0], [2.0, 4.6, 6.0], 0.02, 0.05)
    assert bad.chi_square > 20.0


def test_zero_seen_with_parallel_members_replaces_the_intercept():
    got = calibrate([2.0, 6.0], [2.0, 6.0], 0.02, 0.05, zero=measured(0.3, 0.05, "scale/parallel"))
    assert got.scale.zero == pytest.approx(0.3)
    assert mm_from_reading(got.scale, 3.3).value == pytest.approx(3.0)


def test_what_cannot_be_calibrated_is_said():
    for blocks, readings in (([2.0], [2.0]), ([2.0, 2.0], [2.0, 2.1]), ([2.0, 6.0], [3.0, 3.02])):
        with pytest.raises(FaultError) as e:
            calibrate(blocks, readings, 0.02, 0.05)
        assert e.value.faults[0].code == "scale.calibration"
        assert e.value.faults[0].todo


def test_arc_and_straight_are_told_apart():
    # H3: 13 % between straight and arc for the same number
    pin, incisor = Pin(110.0, 62.0), Tooth("incisor", 92.0, -42.0)
    straight = calibrate([2.0, 6.0], [2.0, 6.0], 0.02, 0.05).scale
    assert scale_meanings(straight, pin, incisor)[0].name == "1 mm along the pin"
    ratio = pin.radius_mm / pin.x_mm
    arc = calibrate([2.0, 6.0], [2.0 * ratio, 6.0 * ratio], 0.02, 0.05).scale
    assert [m.name for m in scale_meanings(arc, pin, incisor)] == ["1 mm of arc about the hinge"]
    assert ratio == pytest.approx(1.15, abs=0.01)
    teeth = calibrate([2.0, 6.0], [2.0 / 1.22, 6.0 / 1.22], 0.02, 0.05).scale
    assert scale_meanings(teeth, pin, incisor)[0].name == "1 mm of opening at the incisors"
    notches = calibrate([2.0, 6.0], [2.0 / 1.37, 6.0 / 1.37], 0.01, 0.02).scale
    assert scale_meanings(notches, pin, incisor) == ()
    assert scale_meanings(stated_scale(1.0), pin)[0].off_by_u == 0.0


def test_calibration_against_draws():
    rng = np.random.default_rng(2)
    n = 100_000
    b = np.array([2.0, 6.0])[:, None] + 0.03 * rng.standard_normal((2, n))
    g = np.array([2.1, 5.9])[:, None] + 0.05 * rng.standard_normal((2, n))
    slope = (g[1] - g[0]) / (b[1] - b[0])
    zero = g[0] - slope * b[0]
    mm = (4.0 - zero) / slope
    got = mm_from_reading(calibrate([2.0, 6.0], [2.1, 5.9], 0.03, 0.05).scale, 4.0)
    assert got.u == pytest.approx(float(np.std(mm)), rel=0.02)


def test_nonsense_is_refused():
    with pytest.raises(ValueError):
        stated_scale(0.0)
    with pytest.raises(ValueError):
        calibrate([1.0, 2.0], [1.0, math.nan], 0.01, 0.01)
    with pytest.raises(ValueError):
        calibrate([1.0, 2.0], [1.0, 2.0], -0.01, 0.01)
