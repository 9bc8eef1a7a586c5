"""Opening from marks: closed form against rotation matrices, the habit, and the invented case."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.demo_table import LOWER, STRAIGHT, UPPER, in_frame, table
from mountproof.bench.marks import (
    Arms,
    arms_from_places,
    distance_from_psi,
    equal_millimetre_habit,
    hinge_opening,
    opening_from_pair,
    psi_from_distance,
)
from mountproof.bench.pin import Pin, Tooth, carried_pin_from_opening, opening_from_gap, pin_from_opening
from mountproof.bench.readings import Reading, reading, resolution_u
from mountproof.faults import FaultError

PIN = Pin(110.0, 62.0)


def rz(theta):
    c, s = math.cos(theta), math.sin(theta)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def demo_arms(pairs=STRAIGHT, u=0.0):
    return [
        arms_from_places(p, in_frame(UPPER[p.split("-")[0]]), in_frame(LOWER[p.split("-")[1]]), u)
        for p in pairs
    ]


places = st.tuples(st.floats(35.0, 105.0), st.floats(-40.0, -10.0), st.floats(-40.0, 40.0))
drops = st.tuples(st.floats(-8.0, 8.0), st.floats(-45.0, -25.0), st.floats(-6.0, 6.0))


@given(places, drops, st.floats(math.radians(0.3), math.radians(6.0)))
def test_opening_is_exact(upper, drop, theta):
    p = np.array(upper)
    q = p + np.array(drop)
    d0, d1 = np.linalg.norm(q - p), np.linalg.norm(rz(-theta) @ q - p)
    arms = arms_from_places("a-b", p, q)
    got = opening_from_pair(d0, d1, arms.a_mm, arms.b_mm, arms.dz_mm)
    assert got == pytest.approx(theta, abs=1e-9)


@given(places, drops, st.floats(1.0, 8.0), st.sampled_from(["straight", "curved"]))
def test_pin_within_five_hundredths_over_one_to_eight_millimetres(upper, drop, gap, kind):
    pin = Pin(110.0, 62.0, kind)
    theta = opening_from_gap(Tooth("incisor", 92.0, -42.0), gap)
    p = np.array(upper)
    q = p + np.array(drop)
    readings = {
        s: {"a-b": Reading(float(np.linalg.norm(rz(-t) @ q - p)), 0.045)}
        for s, t in (("A", 0.0), ("B", theta))
    }
    got = hinge_opening([arms_from_places("a-b", p, q)], readings, "A", "B")
    assert pin_from_opening(pin, got.theta.value) == pytest.approx(pin_from_opening(pin, theta), abs=1e-9)


@given(st.floats(30.0, 120.0), st.floats(0.7, 1.4), st.floats(0.0, 20.0), st.floats(0.05, 1.2))
def test_psi_and_back(a, ratio, dz, psi):
    d = distance_from_psi(psi, a, a * ratio, dz)
    assert psi_from_distance(d, a, a * ratio, dz) == pytest.approx(psi, abs=1e-9)


def test_equal_arms_have_the_short_form():
    assert psi_from_distance(38.0, 80.0, 80.0, 3.0) == pytest.approx(
        2 * math.asin(math.sqrt(38.0**2 - 3.0**2) / 160.0), abs=1e-14
    )


@given(places, drops, st.floats(0.01, 0.1), st.floats(-0.4, 0.4))
def test_zero_error_of_the_caliper_cancels(upper, drop, theta, zero):
    # trap 32: an offset of every reading moves the opening by far less than the offset itself
    p = np.array(upper)
    q = p + np.array(drop)
    arms = arms_from_places("a-b", p, q)
    d0, d1 = np.linalg.norm(q - p), np.linalg.norm(rz(-theta) @ q - p)
    plain = opening_from_pair(d0, d1, arms.a_mm, arms.b_mm, arms.dz_mm)
    shifted = opening_from_pair(d0 + zero, d1 + zero, arms.a_mm, arms.b_mm, arms.dz_mm)
    assert abs(shifted - plain) < 0.03 * theta


def test_moving_a_mark_forward_changes_the_distance_not_the_angle():
    # trap 10
    theta = math.radians(2.0)
    got = []
    for forward in (0.0, 20.0):
        p, q = np.array([50.0 + forward, -20.0, 30.0]), np.array([52.0 + forward, -56.0, 29.0])
        d0, d1 = np.linalg.norm(q - p), np.linalg.norm(rz(-theta) @ q - p)
        arms = arms_from_places("a-b", p, q)
        got.append((d1 - d0, opening_from_pair(d0, d1, arms.a_mm, arms.b_mm, arms.dz_mm)))
    assert got[1][0] > got[0][0] * 1.3
    assert got[0][1] == pytest.approx(got[1][1], abs=1e-12)


def test_demo_changes_and_pin_at_mip():
    got = hinge_opening(demo_arms(), table(), "A", "B")
    assert [round(p.change_mm, 2) for p in got.pairs] == [1.95, 3.00, 3.50, 3.00, 2.05]
    pin = carried_pin_from_opening(PIN, got.theta)
    assert pin.value == pytest.approx(4.18, abs=0.01)
    assert pin.u == pytest.approx(0.04, abs=0.005)
    assert got.dof == 4
    # the pairs agree with a pure hinge within the caliper, although truth is 4.37: they cannot see it
    assert got.inflation == pytest.approx(1.0, abs=0.3)
    assert abs(pin.value - 4.37) > 3 * pin.u


def test_demo_pin_at_cr_contact_and_opening_of_contact():
    record = hinge_opening(demo_arms(), table(), "G", "F")
    assert carried_pin_from_opening(PIN, record.theta).value == pytest.approx(3.25, abs=0.02)
    assert carried_pin_from_opening(PIN, record.theta).u == pytest.approx(0.04, abs=0.005)
    contact = hinge_opening(demo_arms(), table(), "A", "G")
    assert carried_pin_from_opening(PIN, contact.theta).value == pytest.approx(1.06, abs=0.01)
    # two openings that share a state are correlated: A->F is A->G and G->F, and nothing else
    whole = hinge_opening(demo_arms(), table(), "A", "F")
    rest = whole.theta - contact.theta - record.theta
    assert abs(rest.value) < 1e-5
    assert rest.u < 1e-2 * whole.theta.u


def test_what_the_habit_sets():
    near = [a for a in demo_arms() if a.pair in ("UCR-LCR", "UA-LA", "UCL-LCL")]
    assert equal_millimetre_habit(near, table(), "A", "B") == pytest.approx(3.2, abs=0.05)


def test_the_lengths_are_systematic_and_shared():
    plain = hinge_opening(demo_arms(), table(), "A", "B").theta
    lengths = hinge_opening(demo_arms(u=1.0), table(), "A", "B").theta
    assert lengths.value == plain.value
    assert lengths.u > plain.u
    assert set(lengths.variances()) == {"reading", "mark"}
    # 1 mm on arms of 55 to 110 mm is one to two per cent of the opening for each pair, less for five together
    assert 0.003 < math.sqrt(lengths.variances()["mark"]) / lengths.value < 0.02


def test_repeats_and_rounding():
    assert resolution_u(0.05) == pytest.approx(0.0144, abs=1e-4)
    one, three = reading([38.05], 0.045, 0.05), reading([38.05, 38.10, 38.00], 0.045, 0.05)
    assert one.u_mm == pytest.approx(0.045)
    assert three.u_mm == pytest.approx(0.045 / math.sqrt(3))
    assert three.mean_mm == pytest.approx(38.05)
    # D5: the difference of two single readings 0.07 (0.064 at 0.045), of means of three 0.04
    assert math.hypot(one.u_mm, one.u_mm) == pytest.approx(0.064, abs=0.001)
    assert math.hypot(three.u_mm, three.u_mm) == pytest.approx(0.037, abs=0.001)
    # trap 36: rounded readings have no infinite precision
    assert reading([38.05] * 9, 0.0, 0.05).u_mm == pytest.approx(resolution_u(0.05))
    with pytest.raises(ValueError):
        reading([], 0.045, 0.05)


def test_impossible_reading_names_itself():
    arms = [Arms("UA-LA", 95.0, 110.0)]
    readings = {"A": {"UA-LA": Reading(39.1, 0.05)}, "B": {"UA-LA": Reading(4.26, 0.05)}}
    with pytest.raises(FaultError) as e:
        hinge_opening(arms, readings, "A", "B")
    (fault,) = e.value.faults
    assert fault.field == "marks.B.UA-LA"
    assert "15.00 to" in fault.allowed
    with pytest.raises(ValueError, match="no pair"):
        hinge_opening(arms, readings, "A", "Z")


def test_doubt_of_the_opening_against_draws():
    rng = np.random.default_rng(3)
    arms = demo_arms()
    first = hinge_opening(arms, table(), "A", "B").theta
    drawn = []
    for _ in range(1500):
        noisy = {
            s: {p: Reading(r.mean_mm + 0.045 * rng.standard_normal(), r.u_mm) for p, r in row.items()}
            for s, row in table(STRAIGHT, "AB").items()
        }
        drawn.append(hinge_opening(arms, noisy, "A", "B").theta.value)
    assert first.u == pytest.approx(float(np.std(drawn)), rel=0.05)


def test_residuals_speak_when_one_side_lifts():
    tilted = {
        s: {
            p: r._replace(mean_mm=r.mean_mm + (0.4 if s == "B" and p in ("UR-LR", "UCR-LCR") else 0.0))
            for p, r in row.items()
        }
        for s, row in table().items()
    }
    got = hinge_opening(demo_arms(), tilted, "A", "B")
    assert got.tail < 1e-4
    assert got.inflation > 2.0
