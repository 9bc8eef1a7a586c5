"""Closed-form first contacts against dense sampling of the true (not meshed) surfaces."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from mountproof.phantom import bodies
from mountproof.phantom.bodies import turned

Array = NDArray[np.float64]


def _ball_points(centre: tuple[float, float, float], radius: float, n: int = 40_000) -> Array:
    """Points spread evenly over a ball by the golden angle: about 0.02 radius apart for 40 000."""
    k = np.arange(n) + 0.5
    h = 1.0 - 2.0 * k / n
    a = np.pi * (1.0 + 5.0**0.5) * k
    s = np.sqrt(1.0 - h * h)
    return np.array(centre) + radius * np.stack([s * np.cos(a), s * np.sin(a), h], axis=1)


def _agrees(clearance: Callable[[float], float], closing: float, rough: float) -> None:
    """The bodies are apart all the way to the closing angle, touch there, and overlap beyond it."""
    for t in np.linspace(0.0, closing, 60)[:-1]:
        assert clearance(float(t)) > 0.0, f"they overlap at {t}, before {closing}"
    assert abs(clearance(closing)) < rough
    assert clearance(closing + 2e-3) < 0.0


angles = st.floats(-0.5, 0.5)


@settings(max_examples=25)
@given(angles, angles, st.floats(0.5, 4.0), st.floats(-25.0, 25.0), st.floats(0.3, 4.0))
def test_ball_under_plane(tilt_x: float, tilt_z: float, radius: float, z: float, gap: float) -> None:
    plane, normal = (66.0, -33.0, z + 1.0), (tilt_x, -1.0, tilt_z)
    n = np.array(normal) / np.linalg.norm(normal)
    centre = tuple((np.array(plane) + n * (radius + gap)).tolist())
    built = bodies.ball_under_plane(centre, radius, plane, normal)
    points = _ball_points(centre, radius)
    _agrees(
        lambda t: float(((turned(points, t) - np.array(plane)) @ n).min()), built.closing_rad, 5e-4 * radius
    )
    assert abs((built.point_mm - np.array(plane)) @ n) < 1e-12
    assert abs(np.linalg.norm(turned(np.array(centre), built.closing_rad) - built.point_mm) - radius) < 1e-12


@settings(max_examples=25)
@given(st.floats(0.5, 4.0), st.floats(0.5, 4.0), angles, angles, st.floats(0.05, 0.3))
def test_ball_under_ball(upper: float, lower: float, ahead: float, aside: float, gap: float) -> None:
    u = (70.0, -35.0, 22.0)
    reach = (upper + lower) * (1.0 + gap)
    way = np.array([ahead, -1.0, aside]) / np.linalg.norm([ahead, -1.0, aside])
    c = tuple((np.array(u) + reach * way).tolist())
    try:
        built = bodies.ball_under_ball(u, upper, c, lower)
    except ValueError:
        # The arc of closing leads past the other ball: it really does not come nearer than both radii.
        turns = np.linspace(0.0, 1.0, 4001)
        assert min(np.linalg.norm(turned(np.array(c), t) - np.array(u)) for t in turns) >= upper + lower
        reject()
    points = _ball_points(c, lower)
    _agrees(
        lambda t: float((np.linalg.norm(turned(points, t) - np.array(u), axis=1) - upper).min()),
        built.closing_rad,
        1e-3 * lower,
    )
    assert abs(np.linalg.norm(built.point_mm - np.array(u)) - upper) < 1e-12


@settings(max_examples=40)
@given(st.floats(-2.5, 2.5), st.floats(3.0, 6.0), st.floats(15.0, 55.0), st.floats(15.0, 55.0))
def test_ridge_in_notch(ahead: float, below: float, front: float, back: float) -> None:
    notch = (68.0, -34.0)
    ridge = (notch[0] + ahead, notch[1] - below)
    built = bodies.ridge_in_notch(ridge, notch, front, back)
    slope = {True: np.tan(np.radians(front)), False: np.tan(np.radians(back))}

    def clearance(t: float) -> float:
        at = turned(np.array([*ridge, 0.0]), t)
        dx = float(at[0] - notch[0])
        return float(notch[1] - abs(dx) * slope[dx >= 0] - at[1])

    _agrees(clearance, built.closing_rad, 1e-11)


@settings(max_examples=40)
@given(st.floats(-3.0, 3.0), st.floats(3.5, 5.0), st.floats(50.0, 65.0), st.floats(15.0, 35.0))
def test_cone_in_cone(ahead: float, below: float, wide: float, narrow: float) -> None:
    apex = (68.0, -34.0, 20.0)
    point = (apex[0] + ahead, apex[1] - below)
    built = bodies.cone_in_cone(apex, wide, point, narrow)
    along, around = np.meshgrid(np.linspace(0.0, 3.0, 60), np.linspace(0, 2 * np.pi, 361), indexing="ij")
    reach = along * np.tan(np.radians(narrow))
    flank = np.stack(
        [point[0] + reach * np.cos(around), point[1] - along, apex[2] + reach * np.sin(around)], axis=-1
    ).reshape(-1, 3)

    def clearance(t: float) -> float:
        p = turned(flank, t) - np.array(apex)
        return float((-p[:, 1] * np.tan(np.radians(wide)) - np.hypot(p[:, 0], p[:, 2])).min())

    _agrees(clearance, built.closing_rad, 1e-11)


@pytest.mark.parametrize("rings", [20, 40, 80])
def test_ball_meshes_lie_inside_by_no_more_than_they_say(rings: int) -> None:
    v, f, slack = bodies.ball_mesh((60.0, -30.0, 5.0), 2.5, rings)
    d = np.linalg.norm(v - np.array([60.0, -30.0, 5.0]), axis=1)
    assert np.abs(d - 2.5).max() < 1e-12
    rng = np.random.default_rng(3)
    w = rng.dirichlet((1.0, 1.0, 1.0), size=len(f))
    inside = np.einsum("ij,ijk->ik", w, v[f])
    depth = 2.5 - np.linalg.norm(inside - np.array([60.0, -30.0, 5.0]), axis=1)
    assert depth.min() >= -1e-12
    assert 0.3 * slack < depth.max() <= slack + 1e-12
    # Twice as fine, four times as close.
    assert abs(slack / bodies.ball_mesh((0.0, 0.0, 0.0), 2.5, 2 * rings)[2] - 4.0) < 0.1
    # Closed and wound outwards: the volume is just under that of the ball.
    t = v[f] - np.array([60.0, -30.0, 5.0])
    volume = np.einsum("ij,ij->", t[:, 0], np.cross(t[:, 1], t[:, 2])) / 6.0
    ball = 4.0 / 3.0 * np.pi * 2.5**3
    assert 0.0 < ball - volume < 4.0 * np.pi * 2.5**2 * slack


def test_bodies_that_never_meet_are_refused() -> None:
    with pytest.raises(ValueError, match="never"):
        bodies.ball_under_plane((60.0, -30.0, 0.0), 1.0, (400.0, 0.0, 0.0), (-1.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="overlap"):
        bodies.ball_under_ball((60.0, -30.0, 0.0), 2.0, (60.0, -33.0, 0.0), 2.0)
    with pytest.raises(ValueError, match="flank"):
        bodies.cone_in_cone((68.0, -34.0, 20.0), 40.0, (69.0, -38.0), 39.5)
    with pytest.raises(ValueError, match="even"):
        bodies.cone_in_cone((68.0, -34.0, 20.0), 60.0, (69.0, -38.0), 20.0, 45)
    assert bodies.least_angle(1.0, 0.0, 2.0) is None
    assert bodies.least_angle(0.0, 0.0, 0.0) is None


@settings(max_examples=60)
@given(st.floats(0.1, 5), st.floats(-3.1, 3.1), st.floats(0.01, 6.27))
def test_least_angle_is_the_first_root(size: float, phase: float, t: float) -> None:
    a, b = size * np.cos(phase), size * np.sin(phase)
    c = float(a * np.cos(t) + b * np.sin(t))
    got = bodies.least_angle(a, b, c)
    if got is None:  # only where rounding lifts c above the greatest value
        assert abs(c) > size * (1 - 1e-12)
        return
    assert got <= t + 1e-6
    assert abs(a * np.cos(got) + b * np.sin(got) - c) < 1e-9
    earlier = np.linspace(0.0, got, 200)[1:-1]
    side = a * np.cos(earlier) + b * np.sin(earlier) - c
    assert (side > -1e-9).all() or (side < 1e-9).all()
