"""Refusals of the hinge functions, and the axis frame they share."""

import numpy as np
import pytest

from mountproof.geometry.average import cast_frame
from mountproof.geometry.hinge import close_to_stop, opening_for_gap, zero_direction
from mountproof.geometry.hinge_fit import axis_pose, hinge_from_records
from mountproof.geometry.poses import is_rigid, opened, transform, translation
from mountproof.geometry.protrusion import level_protrusion, side_shift_angle
from mountproof.geometry.screw import Screw, crossing, pose_of, screw_cov, screw_of
from mountproof.geometry.sphere import fit_sphere


def test_the_axis_frame_runs_through_both_hinge_points():
    four = [3.0, -2.0, -1.0, 4.0]
    frame = axis_pose(four, 110.0)
    assert is_rigid(frame)
    for x, y, z in ((3, -2, 55), (-1, 4, -55)):
        away = np.array([x, y, z]) - frame[:3, 3]
        np.testing.assert_allclose(np.cross(away, frame[:3, 2]), 0, atol=1e-13)
    np.testing.assert_allclose(axis_pose([0, 0, 0, 0], 110.0), np.eye(4), atol=0)


def test_a_shift_has_no_axis():
    screw = screw_of(translation([0, 3, 4]))
    assert screw.angle_rad == 0 and screw.slide_mm == 5
    assert np.isnan(screw.point_mm).all() and np.isinf(screw.pitch_mm_per_rad)
    np.testing.assert_array_equal(pose_of(screw), translation([0, 3, 4]))
    assert screw_of(np.eye(4)).slide_mm == 0
    with pytest.raises(ValueError, match="no axis"):
        screw_cov(screw, np.eye(6))


def test_toward_chooses_the_sign():
    opening = screw_of(opened(0.04), toward=(0, 0, 1))
    assert opening.angle_rad == pytest.approx(-0.04)
    np.testing.assert_allclose(opening.direction, [0, 0, 1], atol=1e-15)
    assert screw_of(opened(0.04)).angle_rad == pytest.approx(0.04)
    np.testing.assert_allclose(pose_of(opening), opened(0.04), atol=1e-15)


@pytest.mark.parametrize(
    "call",
    [
        lambda: opening_for_gap(90.0, [84, -34, 0]),
        lambda: opening_for_gap(1.0, [-5, -34, 0]),
        lambda: close_to_stop(0.05, [50, 0, 0], [44, -34, 0]),
        lambda: close_to_stop(0.05, [40, 0, 0], [44, 34, 0]),
        lambda: zero_direction([0, 0, 5]),
        lambda: level_protrusion(200, 1.0, [84, -34, 0]),
        lambda: side_shift_angle([5, -3, 1], 0),
        lambda: cast_frame([0, 0, 0], [0, 0, 5], [0, 0, -5]),
        lambda: hinge_from_records([np.eye(4)], [np.eye(6)], 110),
        lambda: hinge_from_records([np.eye(4), np.eye(4)], [np.eye(6)] * 2, 110),
        lambda: hinge_from_records([np.eye(4), opened(0.1)], [np.eye(6)] * 2, 110, prior_mm=[0, 0, 0, 0]),
        lambda: crossing(Screw(np.array([1.0, 0, 0]), np.zeros(3), 0.1, 0.0), np.eye(8), 55),
        lambda: fit_sphere([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]]),
        lambda: fit_sphere([[0, 0, 0], [1, 0, 0], [0, 1, 0]]),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError, match=r"\w"):
        call()


def test_a_closing_goes_on_past_the_stop_of_another_tooth():
    """With a stop at the second molar an anterior axis error leaves the incisors off too, by another amount."""
    theta = opening_for_gap(3, [83.75, -34.3, 0])
    stop = close_to_stop(theta, [5, 0, 0], [44, -34.3, 0])
    molar = transform(stop.motion, [44, -34.3, 0]) - [44, -34.3, 0]
    incisor = transform(stop.motion, [83.75, -34.3, 0]) - [83.75, -34.3, 0]
    assert abs(molar[1]) < 1e-12 and incisor[1] > 0.05
