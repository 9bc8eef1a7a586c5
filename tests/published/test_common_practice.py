"""What benches commonly do, as check values: common practice, no source."""

from __future__ import annotations

import math

import pytest

from mountproof.answers.sheet import answer
from mountproof.bench.luting import luting_plan
from mountproof.bench.pin import Pin, pin_from_opening
from mountproof.case.model import Case
from mountproof.faults import FaultError

_PIN = Pin(110.0, 62.0)


def _bench_case(thickness_mm: float) -> Case:
    """One pair of marks at the incisors, 38 mm apart, and a record that turns the lower about the hinge only.

    The record adds ``thickness_mm`` between the marks; the pin is graduated 1.5 mm a notch.
    """
    rho = 100.0
    theta = 2 * math.asin((38.0 + thickness_mm) / (2 * rho)) - 2 * math.asin(38.0 / (2 * rho))
    notches = pin_from_opening(_PIN, theta) / 1.5
    return Case(
        code="COMMON",
        instrument={
            "name": "x",
            "pin": {
                "kind": "straight",
                "ahead_mm": "110 +- 0.1",
                "below_mm": "62 +- 0.1",
                "mm_per_mark": 1.5,
                "zero_reads": 0,
            },
        },
        caliper={"resolution_mm": 0.01, "sd_mm": 0.01},
        marks={
            "places": {
                "U": {"arch": "upper", "from_hinge_mm": rho, "u_mm": 0.1},
                "L": {"arch": "lower", "from_hinge_mm": rho, "u_mm": 0.1},
            },
            "states": {
                "A": {"kind": "MIP by hand"},
                "B": {"kind": "record in"},
                "G": {"kind": "record out, first contact"},
            },
            "readings_mm": f"pair A B G\nU-L 38.00 {38 + thickness_mm:.2f} 38.00",
        },
        pin_readings=[
            {"state": "B", "reads": round(notches, 4), "set_by_hand": True},
            {"state": "G", "reads": 0.0},
        ],
    )


def test_a_record_of_four_millimetres_and_a_pin_of_one_and_a_half_a_notch() -> None:
    """A record that adds 4 mm between marks; a pin graduated 1.5 mm a notch; the pin at zero with the record out."""
    sheet = answer(_bench_case(4.0), ["pin", "mounting"])
    pin = sheet["pin"]
    theta = 2 * math.asin(42 / 200) - 2 * math.asin(38 / 200)
    mm = 110 * math.tan(theta) + 62 * (1 / math.cos(theta) - 1)
    assert pin["pin_mip"].value == pytest.approx(mm, abs=1e-9)
    assert pin["pin_mip_reads"].value == pytest.approx(mm / 1.5, abs=1e-9)
    # The habit would open the pin by 4 mm; it stands farther from the hinge than the marks.
    assert mm > 4.4
    # With no slide, a pin set to the answer reads zero once the record is out.
    assert pin["record_out_if_mip"].value == pytest.approx(0.0, abs=1e-4)
    assert sheet["mounting"]["predicted"].value == pytest.approx(0.0, abs=1e-4)


def test_stone_by_common_practice() -> None:
    """100 g of mounting stone to 26 mL; hand mix 30 to 45 s; work within 2 to 3 min; set about 5 min."""
    stone = answer(Case(code="COMMON", bench={"powder_g": 100, "water_ml": 26}), ["stone"])["stone"]
    assert stone["water_for_powder"].value == pytest.approx(26.0)
    assert stone["deviation"].value == pytest.approx(0.0, abs=1e-12)
    times = {row[0]: row for table in stone.tables if table.title.startswith("Times") for row in table.rows}
    assert 30 <= float(times["stop mixing"][1].split()[0]) <= 45
    assert 2 <= float(times["poured by"][1].split()[0]) <= 3
    assert times["initial set"][1] == "5 min"
    assert all(row[3] == "assumed" for row in times.values())


def test_lute_rigidly_at_three_points() -> None:
    """Two places are a hinge, three in a line are little more; three spread ones hold."""
    teeth = {"incisors": (92.0, 0.0), "right": (50.0, 28.0), "left": (50.0, -28.0)}
    for places in ([(90.0, 0.0), (55.0, 27.0)], [(90.0, 0.0), (70.0, 0.5), (50.0, 0.0)]):
        with pytest.raises(FaultError):
            luting_plan(places, teeth, 0.05)
    assert (
        luting_plan([(90.0, 0.0), (55.0, 27.0), (55.0, -27.0)], teeth, 0.05).amplification["incisors"] < 1.5
    )
