"""Pin: closed forms against plain rotation matrices, exact inverses, table slope, wedge."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.bench.pin import (
    Pin,
    Tooth,
    carried_opening_from_pin,
    carried_pin_from_opening,
    members_tilt,
    opening_at,
    opening_from_gap,
    opening_from_pin,
    pin_from_motion,
    pin_from_opening,
    pin_lengths,
    pin_table,
    record_wedge,
    tip_travel,
    wax_layers,
)
from mountproof.geometry.carry import measured
from mountproof.geometry.poses import exp6, opened

DEMO = Pin(110.0, 62.0)
INCISOR, CANINE = Tooth("incisor", 92.0, -42.0), Tooth("canine", 84.0, -42.0)

pins = st.builds(
    Pin,
    st.floats(85.0, 160.0),
    st.floats(0.0, 110.0),
    st.sampled_from(["straight", "curved"]),
    st.floats(-0.3, 0.3),
)
angles = st.floats(math.radians(-4.0), math.radians(12.0))


def turned(x, y, theta):
    """Opening by plain matrix: Rz(-theta)."""
    c, s = math.cos(-theta), math.sin(-theta)
    return c * x - s * y, s * x + c * y


@given(pins, angles)
def test_pin_and_back(pin, theta):
    assert opening_from_pin(pin, pin_from_opening(pin, theta)) == pytest.approx(theta, abs=1e-9)


@given(pins, st.floats(-3.0, 15.0))
def test_back_and_pin(pin, mm):
    assert pin_from_opening(pin, opening_from_pin(pin, mm)) == pytest.approx(mm, abs=1e-9)


@given(st.floats(85.0, 160.0), st.floats(5.0, 110.0), st.floats(-0.3, 0.3), angles)
def test_straight_tip_rests_on_the_turned_table(x, below, slope, theta):
    pin = Pin(x, below, "straight", slope)
    mm = pin_from_opening(pin, theta)
    # two points of the table at zero, turned with the lower member; the tip at (x, -(below + mm)) must lie between
    a = turned(x - 10.0, -below - 10.0 * math.tan(slope), theta)
    b = turned(x + 10.0, -below + 10.0 * math.tan(slope), theta)
    tip = (x, -below - mm)
    cross = (b[0] - a[0]) * (tip[1] - a[1]) - (b[1] - a[1]) * (tip[0] - a[0])
    assert cross == pytest.approx(0.0, abs=1e-9)
    back = turned(tip[0], tip[1], -theta)  # the tip seen from the table
    assert back[0] - x == pytest.approx(tip_travel(pin, theta), abs=1e-9)


@given(st.floats(30.0, 110.0), st.floats(-60.0, 5.0), angles)
def test_places_turn_exactly(x, y, theta):
    x1, y1 = turned(x, y, theta)
    got = opening_at(Tooth("t", x, y), theta)
    assert got.gap_mm == pytest.approx(y - y1, abs=1e-10)
    assert got.back_mm == pytest.approx(x - x1, abs=1e-10)
    assert got.chord_mm == pytest.approx(math.hypot(x - x1, y - y1), abs=1e-10)
    assert opening_from_gap(Tooth("t", x, y), got.gap_mm) == pytest.approx(theta, abs=1e-9)


def test_opening_moves_the_lower_incisor_down_and_back():
    got = opening_at(INCISOR, opening_from_gap(INCISOR, 1.0))
    assert got.gap_mm == pytest.approx(1.0)
    assert got.back_mm == pytest.approx(0.46, abs=0.005)


def test_curved_pin_is_an_arc_and_stays_on_its_place():
    pin = Pin(110.0, 62.0, "curved")
    assert pin_from_opening(pin, 0.04) == pytest.approx(math.hypot(110.0, 62.0) * 0.04)
    assert tip_travel(pin, 0.04) == 0.0


def test_a_sloped_table_changes_the_height_by_travel_times_slope():
    # H4: height change = travel x tan(slope), to first order in the opening
    flat, sloped = Pin(110.0, 62.0), Pin(110.0, 62.0, "straight", math.radians(10.0))
    theta = math.radians(0.5)
    change = pin_from_opening(sloped, theta) - pin_from_opening(flat, theta)
    assert change == pytest.approx(-tip_travel(flat, theta) * math.tan(math.radians(10.0)), rel=0.03)


def test_travel_at_four_millimetres():
    # H4: 2 to 3 mm of travel at 4 mm of opening with a tip 62 mm below the hinge
    assert 2.0 < tip_travel(DEMO, opening_from_gap(INCISOR, 4.0)) < 3.0


def test_pin_table_is_the_exact_rotation():
    rows = pin_table(DEMO, [INCISOR, CANINE], [0.0, 1.2, 3.65])
    assert [round(p.gap_mm, 12) for p in rows[0].places] == [0.0, 0.0]
    assert rows[2].places[0].gap_mm == pytest.approx(3.0, abs=0.005)
    for row in rows:
        for tooth, place in zip([INCISOR, CANINE], row.places, strict=True):
            assert place.gap_mm == pytest.approx(
                tooth.y_mm - turned(tooth.x_mm, tooth.y_mm, row.theta_rad)[1]
            )


def test_wedge_is_decided_by_the_larger_opening():
    molar = Tooth("second molar", 50.0, -35.0)
    front = record_wedge({INCISOR: 3.0, molar: 1.0})
    assert front.decided_by == "incisor"
    assert front.thickness_mm["incisor"] == pytest.approx(3.0)
    assert front.thickness_mm["second molar"] == pytest.approx(
        1.62, abs=0.005
    )  # trap 25: 3 in front, 1.6 behind
    back = record_wedge({INCISOR: 1.0, molar: 1.5})
    assert back.decided_by == "second molar"
    assert back.thickness_mm["incisor"] == pytest.approx(2.8, abs=0.05)  # D14: 1.5 at the second molar is 2.8
    assert wax_layers(back.thickness_mm["incisor"], 1.4) == 2
    assert wax_layers(2.8, 1.4) == 2
    with pytest.raises(ValueError, match="at least one"):
        record_wedge({})


def test_doubt_of_lengths_and_angle_reaches_the_pin():
    theta, u = math.radians(2.25), math.radians(0.02)
    got = carried_pin_from_opening(DEMO, measured(theta, u, "reading/t"), pin_lengths(DEMO, 1.0, 1.0))
    assert got.value == pytest.approx(pin_from_opening(DEMO, theta))
    sec = 1.0 / math.cos(theta)
    by_hand = [
        (110.0 * sec**2 + 62.0 * sec * math.tan(theta)) * u,
        math.tan(theta) * 1.0,
        (sec - 1.0) * 1.0,
    ]
    assert got.u == pytest.approx(math.sqrt(sum(b * b for b in by_hand)), rel=1e-9)
    back = carried_opening_from_pin(DEMO, got, pin_lengths(DEMO, 1.0, 1.0))
    # the shared lengths cancel exactly on the way back: only the reading is left
    assert back.u == pytest.approx(u, rel=1e-8)


def test_members_tilt():
    assert members_tilt(DEMO, 3.2, 4.37) == pytest.approx(-math.radians(0.60), abs=2e-4)
    assert members_tilt(DEMO, 4.37, 4.37) == 0.0


def test_what_cannot_be():
    with pytest.raises(ValueError):
        Pin(-1.0, 62.0)
    with pytest.raises(ValueError):
        Pin(110.0, 62.0, "bent")
    with pytest.raises(ValueError):
        opening_from_gap(INCISOR, 200.0)
    with pytest.raises(ValueError):
        opening_from_pin(Pin(90.0, 110.0), -110.0)


def test_pin_against_draws():
    rng = np.random.default_rng(1)
    theta, x, h = rng.normal(0.039, 0.0006, 200_000), rng.normal(110, 1, 200_000), rng.normal(62, 1, 200_000)
    drawn = x * np.tan(theta) + h * (1 / np.cos(theta) - 1)
    got = carried_pin_from_opening(DEMO, measured(0.039, 0.0006, "reading/t"), pin_lengths(DEMO, 1.0, 1.0))
    assert got.u == pytest.approx(float(np.std(drawn)), rel=0.02)


@given(pins, angles)
def test_a_motion_that_only_opens_takes_the_pin_of_that_opening(pin, theta):
    assert pin_from_motion(pin, opened(theta)) == pytest.approx(pin_from_opening(pin, theta), abs=1e-9)


@given(pins, st.lists(st.floats(-1.0, 1.0), min_size=6, max_size=6))
def test_after_any_motion_the_tip_lies_on_the_moved_table(pin, six):
    motion = exp6(np.array(six) * [0.02, 0.02, 0.02, 1.5, 1.5, 1.5])
    mm = pin_from_motion(pin, motion)
    tip = np.array([pin.x_mm, -pin.below_mm, 0.0])
    at = tip - [0.0, mm, 0.0]
    if pin.kind == "curved":
        at = np.array([*turned(tip[0], tip[1], mm / pin.radius_mm), 0.0])
    # back in the lower member the table has not moved
    there = motion[:3, :3].T @ (at - motion[:3, 3])
    slope = pin.table_slope_rad
    assert (there - tip) @ [-math.sin(slope), math.cos(slope), 0.0] == pytest.approx(0.0, abs=1e-9)


def test_lifting_the_lower_straight_up_pushes_the_pin_up_by_as_much():
    lifted = np.eye(4)
    lifted[1, 3] = 0.4
    assert pin_from_motion(DEMO, lifted) == pytest.approx(-0.4)
    with pytest.raises(ValueError, match="table"):
        pin_from_motion(DEMO, exp6(np.array([0.0, 0.0, math.pi / 2, 0.0, 0.0, 0.0])))
