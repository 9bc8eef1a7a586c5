"""What a record-out pin reading means: two faults that cancel, one mounting read twice, the demo."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.demo_table import STRAIGHT, table
from bench.test_marks import demo_arms
from mountproof.bench.marks import hinge_opening
from mountproof.bench.mounting import contact_from_found, pin_meaning, predict_with_slide
from mountproof.bench.pin import Pin, Tooth, opening_from_gap, opening_from_pin, pin_from_opening, pin_lengths
from mountproof.geometry.carry import exact, measured

PIN = Pin(110.0, 62.0)
INCISOR = Tooth("incisor", 92.0, -42.0)
LENGTHS = pin_lengths(PIN, 0.5, 0.5)


def opening(a, b):
    return hinge_opening(demo_arms(STRAIGHT), table(), a, b).theta


def demo(set_mm=3.2, found=0.04):
    return pin_meaning(
        PIN,
        measured(set_mm, 0.05, "pin/set"),
        opening("A", "B"),
        opening("G", "F"),
        opening("A", "G"),
        measured(found, 0.05, "pin/found"),
        LENGTHS,
    )


def test_demo_pin_about_zero_proves_little():
    got = demo()
    assert got.needed_mip_mm.value == pytest.approx(4.18, abs=0.01)
    assert got.needed_contact_mm.value == pytest.approx(3.25, abs=0.02)
    # the marks predicted about zero, and about zero was found
    assert got.from_marks.pin_mm.value == pytest.approx(0.0, abs=0.06)
    assert abs(got.found_minus_from_marks.value) < 2 * got.found_minus_from_marks.u
    # but that is two faults that cancel: set 0.96 short, and contact 1.07 open
    parts = dict(got.parts)
    assert parts["setting against parallel members at MIP"].value == pytest.approx(-0.97, abs=0.02)
    assert parts["first contact stands open over MIP"].value == pytest.approx(1.06, abs=0.01)
    assert abs(got.found_minus_if_mip.value) > 5 * got.found_minus_if_mip.u
    assert math.degrees(got.tilt_at_mip_rad.value) == pytest.approx(-0.5, abs=0.03)


def test_the_same_mounting_read_with_another_setting():
    # trap 15: opened 3.2 it reads about zero, opened 4.37 about 1.2: the same mounting
    habit, wide = demo(3.2, 0.04), demo(4.37, 1.20)
    assert wide.from_marks.pin_mm.value == pytest.approx(1.13, abs=0.03)
    assert wide.from_marks.pin_mm.value - habit.from_marks.pin_mm.value == pytest.approx(1.17, abs=0.03)
    assert abs(wide.found_minus_from_marks.value) < 2 * wide.found_minus_from_marks.u
    assert habit.needed_mip_mm.value == wide.needed_mip_mm.value


@given(st.floats(0.0, 2.0), st.floats(1.0, 6.0), st.floats(-2.0, 2.0))
def test_parts_add_up_and_predictions_are_exact(slide, record, wrong):
    # a made-up patient: record opens `record` mm at the incisors over MIP, first contact `slide` mm
    over_mip = opening_from_gap(INCISOR, record + slide)
    contact = opening_from_gap(INCISOR, slide)
    set_mm = pin_from_opening(PIN, over_mip) + wrong
    found = pin_from_opening(PIN, opening_from_pin(PIN, set_mm) - over_mip + contact)
    got = pin_meaning(
        PIN, exact(set_mm), exact(over_mip), exact(over_mip - contact), exact(contact), exact(found)
    )
    assert sum(p.value for _, p in got.parts) == pytest.approx(found, abs=1e-9)
    assert got.from_marks.pin_mm.value == pytest.approx(found, abs=1e-9)
    assert got.found_minus_from_marks.value == pytest.approx(0.0, abs=1e-9)
    # the pin is not linear in the angle: the parts leave a rest of second order, no more
    assert abs(dict(got.parts)["rest"].value) < 0.08
    told = predict_with_slide(PIN, exact(set_mm), exact(over_mip), slide, INCISOR)
    assert told.pin_mm.value == pytest.approx(found, abs=1e-9)
    none = predict_with_slide(PIN, exact(set_mm), exact(over_mip), 0.0, INCISOR)
    assert none.pin_mm.value == pytest.approx(got.if_contact_is_mip.pin_mm.value, abs=1e-12)
    assert none.supposes == "CR contact = MIP"
    assert contact_from_found(PIN, exact(found), exact(set_mm), exact(over_mip)).value == pytest.approx(
        contact, abs=1e-9
    )


def test_two_faults_of_the_same_size_cancel():
    # trap 16: leverage -1.2 and slide +1.2
    over_mip = opening_from_pin(PIN, 4.4)
    contact = opening_from_pin(PIN, 1.2)
    got = pin_meaning(PIN, exact(3.2), exact(over_mip), None, exact(contact), exact(0.0))
    parts = dict(got.parts)
    assert parts["setting against parallel members at MIP"].value == pytest.approx(-1.2, abs=0.05)
    assert parts["first contact stands open over MIP"].value == pytest.approx(1.2, abs=1e-9)
    assert abs(parts["rest"].value) < 0.05
    assert got.from_marks is None
    assert got.found_minus_from_marks is None


def test_before_the_record_is_out_only_predictions_are_given():
    got = pin_meaning(PIN, measured(3.2, 0.05, "pin/set"), opening("A", "B"))
    assert got.parts == ()
    assert got.found_mm is None
    assert got.needed_contact_mm is None
    assert got.if_contact_is_mip.pin_mm.u > 0.05


def test_doubt_of_shared_lengths_is_counted_once():
    got = demo()
    plain = math.hypot(got.from_marks.pin_mm.u, 0.05)
    assert got.found_minus_from_marks.u == pytest.approx(plain, rel=1e-9)
    # setting and record turn by nearly the same angle about the same lengths: they all but cancel
    assert got.from_marks.pin_mm.without("pin").without("reading").without("mark").u < 0.02
