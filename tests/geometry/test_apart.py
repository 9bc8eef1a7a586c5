"""How far the lower opens for a stated thickness: closed forms of balls and plates, and the trade's rule for a device."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from mountproof.geometry.apart import opening_apart
from mountproof.geometry.poses import opened, transform
from mountproof.phantom.bodies import ball_mesh


def test_two_balls_are_as_far_apart_as_their_centres_less_two_radii() -> None:
    centre, radius, length = np.array([55.0, -30.0, 8.0]), 3.0, 1.5
    up, f, _ = ball_mesh(tuple(centre), radius, 60)
    low, g, _ = ball_mesh(tuple(centre - [0.0, 2 * radius, 0.0]), radius, 60)

    def apart(t: float) -> float:
        return float(
            np.linalg.norm(transform(opened(t), centre - [0.0, 2 * radius, 0.0]) - centre)
            - 2 * radius
            - length
        )

    want = brentq(apart, 0.0, 0.2)
    got = opening_apart(up, f, low, g, length)
    assert got.opening_rad == pytest.approx(want, rel=0.01)  # flat faces lie inside the balls
    assert np.linalg.norm(got.place_mm - centre) == pytest.approx(radius, abs=0.02)


def plate(x0: float, x1: float, y: float) -> tuple[np.ndarray, np.ndarray]:
    corners = np.array([[x0, y, -20.0], [x1, y, -20.0], [x1, y, 20.0], [x0, y, 20.0]])
    return corners, np.array([[0, 1, 2], [0, 2, 3]])


def test_level_plates_open_by_their_rearmost_edge() -> None:
    """A point x ahead at the height of the axis sinks by x sin t; the distance is across the upper plate."""
    up, f = plate(50.0, 92.0, 0.0)
    got = opening_apart(up, f, up.copy(), f, 1.5)
    assert math.sin(got.opening_rad) * 50.0 == pytest.approx(1.5, abs=2e-3)
    assert got.place_mm[0] < 50.1
    # a device of 1.5 mm at the second molars opens the incisors by 2.8 mm (own geometry of the trade page, 92 and 50 mm)
    assert 92.0 * math.sin(got.opening_rad) == pytest.approx(2.76, abs=0.01)


def test_more_thickness_opens_more() -> None:
    up, f, _ = ball_mesh((55.0, -30.0, 8.0), 3.0, 30)
    low, g, _ = ball_mesh((55.0, -36.0, 8.0), 3.0, 30)
    openings = [opening_apart(up, f, low, g, mm).opening_rad for mm in (0.5, 1.0, 2.0)]
    assert openings == sorted(openings) and openings[2] > 3.5 * openings[0]


def test_what_cannot_be_is_refused() -> None:
    up, f = plate(50.0, 92.0, 0.0)
    with pytest.raises(ValueError, match="above 0"):
        opening_apart(up, f, up, f, 0.0)
    with pytest.raises(ValueError, match="so far"):
        opening_apart(up, f, up, f, 200.0)
