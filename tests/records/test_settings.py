"""Condylar settings: closed forms, refusals, and laws of sides."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.geometry.carry import Carried, exact, from_covariance, measured
from mountproof.records.settings import (
    between_paths,
    gap_at,
    horizontal,
    lateral,
    nonarcon_setting,
    path_between,
    translation_split,
    within_range,
)

DEG = math.pi / 180.0


def path(x: float, y: float, z: float, u: float = 0.05, name: str = "p") -> Carried:
    """A path with the same doubt along each axis."""
    return from_covariance([x, y, z], u**2 * np.eye(3), name)


@given(st.floats(-20.0, 70.0), st.floats(2.0, 9.0), st.floats(-15.0, 15.0))
def test_an_inclination_is_the_slope_less_the_tilt_of_the_plane(
    deg: float, along: float, tilt: float
) -> None:
    told = horizontal(
        path(along * math.cos(deg * DEG), -along * math.sin(deg * DEG), 0.3),
        measured(tilt * DEG, 0.01, "tilt"),
    )
    assert told.angle is not None
    assert told.angle.value == pytest.approx((deg - tilt) * DEG, abs=1e-9)
    assert told.along_mm == pytest.approx(along)
    # doubt across the path over its length, and that of the plane
    assert told.angle.u == pytest.approx(math.hypot(0.05 / along, 0.01), rel=1e-6)


@given(st.floats(1.5, 5.0), st.floats(0.5, 4.0))
def test_a_longer_path_on_a_curve_reads_flatter(first: float, more: float) -> None:
    # On an arc of 17 mm that begins at 45 degrees a chord of length c lies at 45 degrees less asin(c / 34), closed form.
    def told(length: float) -> float:
        angle = 45.0 * DEG - math.asin(length / 34.0)
        found = horizontal(path(length * math.cos(angle), -length * math.sin(angle), 0.0))
        assert found.angle is not None
        return found.angle.value

    assert told(first) - told(first + more) == pytest.approx(
        math.asin((first + more) / 34.0) - math.asin(first / 34.0)
    )
    assert told(first) > told(first + more)


def test_the_joint_that_stays_has_no_direction() -> None:
    for p in (path(0.3, 0.1, 0.4), path(-2.0, 0.1, 0.4)):
        told = horizontal(p)
        assert told.angle is None and told.why


@pytest.mark.parametrize(("shift", "apparent"), [(0.0, 7.5), (0.75, 14.394417)])
def test_a_shift_at_the_start_reads_as_a_wider_angle(shift: float, apparent: float) -> None:
    # 6 mm ahead at 7.5 degrees; with 0.75 mm of immediate translation one line reads 14.394417 degrees (closed form).
    told = lateral(path(6.0, -3.0, 6.0 * math.tan(7.5 * DEG) + shift, 0.02), 1)
    assert told.angle is not None
    assert told.angle.value / DEG == pytest.approx(apparent, abs=1e-6)


def test_a_lateral_angle_that_the_readings_leave_open_is_refused() -> None:
    told = lateral(path(5.5, -4.0, 1.0, 0.5), 1)
    assert told.angle is None and "either way" in told.why


@given(st.floats(0.0, 1.5), st.floats(0.0, 20.0), st.floats(1.5, 3.0), st.floats(2.5, 4.0))
def test_two_amounts_split_the_shift_from_the_slope(
    shift: float, deg: float, first: float, more: float
) -> None:
    paths = [path(x, -0.6 * x, shift + x * math.tan(deg * DEG), 0.01, f"p{x}") for x in (first, first + more)]
    split = translation_split(paths, 1)
    assert split.immediate is not None and split.progressive is not None
    assert split.immediate.value == pytest.approx(shift, abs=1e-9)
    assert split.progressive.value == pytest.approx(deg * DEG, abs=1e-9)
    # the same joint of a mirrored jaw
    other = translation_split([p.linear(np.diag([1.0, 1.0, -1.0])) for p in paths], -1)
    assert other.immediate is not None and other.immediate.value == pytest.approx(shift, abs=1e-9)


@pytest.mark.parametrize(
    "paths",
    [
        [path(6.0, -3.0, 1.5)],
        [path(5.0, -3.0, 1.5), path(6.0, -3.5, 1.6)],
        [path(3.0, -3.0, 1.5, 0.4, "a"), path(6.0, -3.5, 1.6, 0.4, "b")],
    ],
)
def test_what_does_not_split_is_refused(paths: list[Carried]) -> None:
    split = translation_split(paths, 1)
    assert split.immediate is None and split.progressive is None and split.why


def test_no_third_side() -> None:
    with pytest.raises(ValueError, match="medial_sign"):
        lateral(path(5.0, -3.0, 1.0), 0)
    with pytest.raises(ValueError, match="medial_sign"):
        translation_split([], 2)


def test_the_path_sideways_against_the_path_ahead() -> None:
    ahead, sideways = horizontal(path(5.0, -4.0, 0.0, name="a")), horizontal(path(5.0, -4.5, 0.0, name="b"))
    more = between_paths(ahead, sideways)
    assert more is not None and more.value == pytest.approx(math.atan2(4.5, 5.0) - math.atan2(4.0, 5.0))
    assert between_paths(ahead, horizontal(path(0.1, 0.0, 0.0))) is None


def test_five_degrees_at_the_second_molar() -> None:
    # Common practice for the places (hinge to incisors 92, to second molars 50 mm): 0.22 mm over 4 mm for small angles.
    more = gap_at(4.0, measured(30.0 * DEG, 2.0 * DEG, "a"), 5.0 * DEG, 50.0, 92.0)
    assert more.value == pytest.approx(0.22, abs=0.02)
    assert gap_at(4.0, exact(0.5), 0.1, 92.0, 92.0).value == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(ValueError, match="incisors"):
        gap_at(4.0, exact(0.5), 0.1, 50.0, 0.0)


def test_an_instrument_takes_what_its_range_allows_and_says_so() -> None:
    assert within_range(-2.0, 0.0, 30.0) == (0.0, True)
    assert within_range(12.0, 0.0, 30.0) == (12.0, False)
    with pytest.raises(ValueError, match="range"):
        within_range(1.0, 3.0, 2.0)


def test_the_guide_of_a_nonarcon_turns_with_the_lower() -> None:
    # 3 mm at the incisors open the hinge by 1.88 degrees (own geometry): the guide is set flatter by as much.
    set_to = nonarcon_setting(exact(35.0 * DEG), exact(1.88 * DEG))
    assert set_to.value / DEG == pytest.approx(33.12)
    assert nonarcon_setting(exact(0.6), None).value == 0.6


def test_a_path_lies_between_two_records_that_scatter() -> None:
    start, end = exact([0.0, 0.0, 55.0]), exact([5.0, -3.0, 55.2])
    way = path_between(start, end, 0.15, "protrusive")
    assert way.values == pytest.approx([5.0, -3.0, 0.2])
    assert way.us == pytest.approx([0.15 * math.sqrt(2.0)] * 3)
    assert path_between(start, end, 0.0, "x").us == pytest.approx([0.0] * 3)
