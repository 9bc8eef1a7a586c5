"""The plane of the mounted upper cast from three heights, and how well published axes are known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.geometry.poses import exp6, transform
from mountproof.records.facebow import (
    EARS,
    LOCATED,
    POINTS,
    Heights,
    occlusal_plane,
    plane_of,
    sd_of_mean_distance,
    sd_of_share,
    share_within,
)


def test_pitch_and_cant_by_hand():
    plane = occlusal_plane(Heights(61.0, 66.0, 67.0, 40.0, 54.0), 0.1, 0.5)
    pitch, cant = plane.values
    assert math.degrees(pitch) == pytest.approx(math.degrees(math.atan(5.5 / 40)))
    assert math.degrees(cant) == pytest.approx(math.degrees(math.atan(1.0 / 54)))
    assert cant > 0  # the right molar hangs lower: lower on the patient's right
    # pitch: 0.1 sqrt(1 + 1/2) over 40 mm and the length; cant: 0.1 sqrt 2 over 54
    slope = 1 / (1 + (5.5 / 40) ** 2)
    want = slope * math.hypot(0.1 * math.sqrt(1.5) / 40, 5.5 / 40**2 * 0.5)
    assert plane.us[0] == pytest.approx(want, rel=1e-6)
    assert plane.us[1] == pytest.approx(0.1 * math.sqrt(2) / 54, rel=0.01)


def test_covariance_by_draws():
    heights, rng = Heights(61.0, 66.0, 68.0, 40.0, 54.0), np.random.default_rng(3)
    u = np.array([0.2, 0.2, 0.2, 0.7, 0.7])
    draws = np.array(heights) + rng.normal(size=(40_000, 5)) * u
    got = np.cov(
        np.array([[math.atan((0.5 * (r + m) - f) / b), math.atan((m - r) / a)] for f, r, m, b, a in draws]).T
    )
    want = occlusal_plane(heights, 0.2, 0.7).cov
    np.testing.assert_allclose(np.diag(got), np.diag(want), rtol=0.03)
    assert abs(got[0, 1] - want[0, 1]) < 0.02 * math.sqrt(want[0, 0] * want[1, 1])


@given(st.floats(-0.15, 0.15), st.floats(-0.3, 0.3))
def test_a_cast_that_is_tilted_shows_that_tilt(cant, pitch):
    level = np.array([[90.0, -40.0, 0.0], [50.0, -40.0, 27.0], [50.0, -40.0, -27.0]])
    for twist, index, angle in (([cant, 0, 0], 1, cant), ([0, 0, -pitch], 0, pitch)):
        points = transform(exp6([*twist, 0, 0, 0]), level)
        got = plane_of(*points)
        assert got[index] == pytest.approx(angle, abs=1e-9)
        assert got[1 - index] == pytest.approx(0.0, abs=1e-9)


def test_lengths_that_are_none():
    with pytest.raises(ValueError, match="above zero"):
        occlusal_plane(Heights(60, 65, 65, 0, 54), 0.1, 0.5)


@given(st.floats(0.02, 0.98), st.floats(0.5, 12))
def test_share_and_sd_are_one_thing(share, within):
    assert share_within(sd_of_share(share, within), within) == pytest.approx(share, rel=1e-9)


def test_the_mean_distance_of_draws():
    d = np.random.default_rng(5).normal(size=(200_000, 2)) * 3.0
    assert sd_of_mean_distance(float(np.hypot(*d.T).mean())) == pytest.approx(3.0, rel=0.005)


def test_bands_are_in_order_and_inside_what_is_published():
    assert LOCATED.high_mm < EARS.low_mm < EARS.high_mm < POINTS.high_mm
    for band in (LOCATED, EARS, POINTS):
        assert band.low_mm < band.sd_mm < band.high_mm
        assert band.u_mm == pytest.approx((band.high_mm - band.low_mm) / math.sqrt(12))
    assert pytest.approx((1.9, 8.2), abs=0.05) == (POINTS.low_mm, POINTS.high_mm)
    for bad in ((0.0, 5.0), (1.0, 5.0), (0.5, 0.0)):
        with pytest.raises(ValueError, match="share"):
            sd_of_share(*bad)
