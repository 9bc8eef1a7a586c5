"""Pin, incisor and molar openings: a published rule of thirds, and exact tables anyone can recompute.

Tables come in the sagittal plane as (x, z up); the frame here is (x, y up), so z is y.
"""

import math

import numpy as np
import pytest

from mountproof.bench.pin import (
    Pin,
    Tooth,
    opening_at,
    opening_from_gap,
    opening_from_pin,
    pin_from_opening,
    pin_table,
    tip_travel,
)
from mountproof.geometry.support import outline_area
from published.agree import agrees

# Distances of Kaiser DA, Schelb E. Geometric study of incisal guide pin opening. J Prosthet Dent (year from memory):
# hinge to second molar, incisor and pin 2, 4 and 6 inches in one straight line.
INCH = 25.4
MOLAR_A, INCISOR_A, PIN_A = (
    Tooth("second molar", 2 * INCH, 0.0),
    Tooth("incisor", 4 * INCH, 0.0),
    Pin(6 * INCH, 0.0),
)

# Mean anatomy: hinge to incisor 90.50 mm in the sagittal plane, 34.3 mm above the occlusal plane (means of a study of
# 120 scans, PMID 26734666); molars 30 and 40 mm behind the incisor are our choice.
INCISOR, MOLAR_1, MOLAR_2 = Tooth("I", 83.75, -34.3), Tooth("M1", 54.0, -34.3), Tooth("M2", 44.0, -34.3)


class TestRuleOfThirds:
    """Kaiser and Schelb: pin : incisor : molar = 3 : 2 : 1."""

    def test_factors(self):
        # at 10 degrees; they use b = a tan(theta), and print 0.333 and 0.666 (truncated: 0.667)
        theta = math.radians(10.0)
        molar, incisor, pin = (a * INCH * math.tan(theta) for a in (2, 4, 6))
        assert pin == pytest.approx(pin_from_opening(PIN_A, theta), abs=1e-12)
        agrees("0.333", molar / pin)
        assert incisor / pin == pytest.approx(2 / 3)
        for printed, inches in (("0.352654", molar), ("0.705308", incisor), ("1.057962", pin)):
            agrees(printed, inches / INCH)

    @pytest.mark.parametrize(
        ("pin_mm", "molar", "incisor"), [(1.5, 0.5, 1.0), (1.0, 0.3, 0.6), (0.5, 0.2, 0.3)]
    )
    def test_examples(self, pin_mm, molar, incisor):
        # printed to a tenth of a millimetre; 0.667 is truncated to 0.6 there, so their rounding is a tenth, not half
        (row,) = pin_table(PIN_A, [MOLAR_A, INCISOR_A], [pin_mm])
        assert row.places[0].gap_mm == pytest.approx(molar, abs=0.05)
        assert row.places[1].gap_mm == pytest.approx(incisor, abs=0.1)
        assert row.places[1].gap_mm == pytest.approx(pin_mm * 2 / 3, abs=1e-3)

    def test_three_millimetres_at_the_incisor(self):
        theta = opening_from_gap(INCISOR_A, 3.0)
        agrees("1.692050", math.degrees(theta))
        agrees("4.501963", pin_from_opening(PIN_A, theta))  # the linear rule says 4.5
        assert opening_at(MOLAR_A, theta).gap_mm == pytest.approx(1.5, abs=1e-12)


# thickness at the incisor, opening (degrees), gap at M1 and M2, incisor back, chord
OPENINGS = [
    (1.0, "0.685826", "0.6439", "0.5242", "0.41656", "1.0833"),
    (2.0, "1.375148", "1.2860", "1.0461", "0.84727", "2.1721"),
    (3.0, "2.068120", "1.9264", "1.5655", "1.29236", "3.2665"),
    (6.0, "4.170593", "3.8364", "3.1091", "2.71629", "6.5862"),
]


@pytest.mark.parametrize(("gap", "degrees", "m1", "m2", "back", "chord"), OPENINGS)
def test_opening_from_record_thickness(gap, degrees, m1, m2, back, chord):
    theta = opening_from_gap(INCISOR, gap)
    agrees(degrees, math.degrees(theta))
    agrees(m1, opening_at(MOLAR_1, theta).gap_mm)
    agrees(m2, opening_at(MOLAR_2, theta).gap_mm)
    agrees(back, opening_at(INCISOR, theta).back_mm)
    agrees(chord, opening_at(INCISOR, theta).chord_mm)
    assert opening_from_gap(MOLAR_2, opening_at(MOLAR_2, theta).gap_mm) == pytest.approx(theta, abs=1e-12)


def test_small_openings_and_the_inverse_rule():
    theta = opening_from_gap(INCISOR, 1e-6)
    place = opening_at(INCISOR, theta)
    assert opening_at(MOLAR_2, theta).gap_mm / place.gap_mm == pytest.approx(0.525373, abs=1e-6)
    assert place.back_mm / place.gap_mm == pytest.approx(0.409552, abs=1e-6)
    # a premature contact of 1 mm at M2 opens the incisor by
    agrees("1.91156", opening_at(INCISOR, opening_from_gap(MOLAR_2, 1.0)).gap_mm)


# pin x, below, straight or curved, readings for 1, 2, 3 and 6 mm at the incisor
PINS = [
    (152.4, 0.0, "straight", ("1.8243", "3.6584", "5.5033", "11.1129")),
    (152.4, 34.3, "straight", ("1.8268", "3.6683", "5.5257", "11.2040")),
    (140.0, 60.0, "straight", ("1.6802", "3.3781", "5.0947", "10.3680")),
    (120.0, 90.0, "straight", ("1.4429", "2.9066", "4.3920", "8.9893")),
    (140.0, 60.0, "curved", ("1.8232", "3.6557", "5.4979", "11.0871")),
]


@pytest.mark.parametrize(("x", "below", "kind", "readings"), PINS)
def test_pin_compensation(x, below, kind, readings):
    pin = Pin(x, below, kind)
    for gap, printed in zip((1.0, 2.0, 3.0, 6.0), readings, strict=True):
        theta = opening_from_gap(INCISOR, gap)
        mm = pin_from_opening(pin, theta)
        agrees(printed, mm)
        assert opening_from_pin(pin, mm) == pytest.approx(theta, abs=1e-12)
        if kind == "straight":
            moved = x * math.cos(theta) + (below + mm) * math.sin(theta) - x
            assert tip_travel(pin, theta) == pytest.approx(moved, abs=1e-12)


# Average skull and pin of our own invention (X 110, 62 below; incisor 92/-42, canine X 84, molars 60/-37 and 50/-35),
# tables computed by an independent program
SKULL = {"incisor": (92, -42), "canine": (84, -42), "first molar": (60, -37), "second molar": (50, -35)}
SKULL_PIN = Pin(110.0, 62.0)
TABLE_9 = [
    (1, "0.62", "0.91", "0.65", "0.54", "1.20", "1.38", "0.46"),
    (2, "1.25", "1.83", "1.30", "1.08", "2.42", "2.76", "0.94"),
    (3, "1.88", "2.74", "1.95", "1.62", "3.65", "4.15", "1.43"),
    (4, "2.52", "3.65", "2.60", "2.16", "4.90", "5.55", "1.93"),
    (5, "3.16", "4.56", "3.25", "2.70", "6.16", "6.95", "2.45"),
    (9, "5.75", "8.21", "5.82", "4.83", "11.38", "12.66", "4.67"),
]


@pytest.mark.parametrize("row", TABLE_9, ids=lambda r: f"{r[0]} mm")
def test_opening_table(row):
    gap, degrees, canine, m1, m2, straight, curved, back = row
    incisor = Tooth("incisor", *SKULL["incisor"])
    theta = opening_from_gap(incisor, gap)
    agrees(degrees, math.degrees(theta))
    # the heights of the other places are not printed with the table: they can move a gap by versine x their spread
    room = 2 * math.sin(theta / 2) ** 2 * 5.0
    for printed, name in ((canine, "canine"), (m1, "first molar"), (m2, "second molar")):
        agrees(printed, opening_at(Tooth(name, *SKULL[name]), theta).gap_mm, inputs_half_range=room)
    agrees(straight, pin_from_opening(SKULL_PIN, theta))
    agrees(curved, pin_from_opening(Pin(110.0, 62.0, "curved"), theta))
    agrees(back, opening_at(incisor, theta).back_mm)


def test_pin_to_incisor_ratio():
    printed = {85: ("1.20", "1.32", "1.44"), 92: ("1.11", "1.22", "1.33"), 100: ("1.02", "1.12", "1.22")}
    for x, ratios in printed.items():
        for pin_x, ratio in zip((100, 110, 120), ratios, strict=True):
            theta = opening_from_gap(Tooth("incisor", x, -42), 3.0)
            agrees(ratio, pin_from_opening(Pin(pin_x, 62.0), theta) / 3.0)


def test_the_habit_is_short():
    # H1: for 3 mm between marks the equal-millimetre pin is short by 0.65 (incisal), 1.0 (canine), 2.7 and 3.9 mm
    for name, short in (
        ("incisor", "0.65"),
        ("canine", "1.0"),
        ("first molar", "2.7"),
        ("second molar", "3.9"),
    ):
        theta = opening_from_gap(Tooth(name, *SKULL[name]), 3.0)
        agrees(short, pin_from_opening(SKULL_PIN, theta) - 3.0, inputs_half_range=0.005)


def test_closure_for_each_millimetre_removed():
    # incisal closure per mm removed at second molar 1.84, first molar 1.53, canine 1.10
    for name, printed in (("second molar", "1.84"), ("first molar", "1.53"), ("canine", "1.10")):
        x, _ = SKULL[name]
        agrees(printed, 92 / x)
        theta = opening_from_gap(Tooth(name, *SKULL[name]), 1e-4)
        assert opening_at(Tooth("incisor", 92, -42), theta).gap_mm / 1e-4 == pytest.approx(92 / x, rel=1e-4)


def test_common_practice_a_record_that_adds_four_millimetres():
    # common practice, no source: a record that adds 4 mm between marks at the incisor, a pin graduated 1.5 mm a notch
    theta = opening_from_gap(Tooth("incisor", 92, -42), 4.0)
    assert pin_from_opening(SKULL_PIN, theta) / 1.5 == pytest.approx(3.27, abs=0.01)


def test_equilateral_triangle_of_four_inches():
    # Bonwill: side 4 in = 101.6 mm, height 87.98818 mm, exact
    height = 101.6 * math.sqrt(3) / 2
    agrees("87.98818", height)
    agrees("86.60254", 100 * math.sqrt(3) / 2)
    area = outline_area(np.array([[0.0, -50.8], [0.0, 50.8], [height, 0.0]]))
    assert 2 * area / 101.6 == pytest.approx(height, abs=1e-9)
