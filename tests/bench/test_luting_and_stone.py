"""Luted places, powder and water, pours, wedge, clock."""

import math
from datetime import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.bench.luting import best_third_place, luting_plan
from mountproof.bench.stone import (
    Sheet,
    clock,
    density,
    expansion_lift_mm,
    filled_in,
    mix_for_volume,
    mix_volume_ml,
    pours,
    ratio_deviation_percent,
    steps,
    volume_of_gap,
    wedge_lift,
)
from mountproof.faults import FaultError
from mountproof.geometry.carry import measured

TEETH = {"36": (60.0, -25.0), "46": (60.0, 25.0), "37": (50.0, -28.0), "47": (50.0, 28.0), "41": (92.0, 3.0)}


def test_three_places_hold():
    got = luting_plan([(90.0, 2.0), (56.0, 27.0), (55.0, -27.0)], TEETH, 0.05)
    assert got.places == 3
    assert got.area_mm2 == pytest.approx(0.5 * abs((56 - 90) * (-27 - 2) - (27 - 2) * (55 - 90)))
    assert max(got.amplification.values()) < 1.3
    assert got.worst_tooth in got.amplification
    assert 0 < got.loose_tilt_rad < math.radians(0.2)


@pytest.mark.parametrize(
    ("places", "code"),
    [
        ([(90.0, 0.0), (55.0, 27.0)], "luting.few"),
        ([], "luting.few"),
        ([(90.0, 0.0), (70.0, 10.0), (50.0, 20.0)], "luting.line"),
        ([(90.0, 0.0), (70.0, 10.0), (50.0, 22.0)], "luting.line"),
        ([(92.0, 0.0), (88.0, 10.0), (88.0, -10.0)], "luting.line"),  # all in front: trap 37
    ],
)
def test_a_line_is_refused(places, code):
    # H18: two places are a hinge
    with pytest.raises(FaultError) as e:
        luting_plan(places, TEETH, 0.05)
    (fault,) = e.value.faults
    assert fault.code == code
    assert "one more place" in fault.todo


def test_what_three_places_leave_loose_against_draws():
    places = np.array([(90.0, 2.0), (56.0, 27.0), (55.0, -10.0)])
    got = luting_plan([tuple(p) for p in places], TEETH, 0.05, refuse_beyond=9.0)
    rng = np.random.default_rng(1)
    design = np.column_stack([np.ones(3), places])
    planes = np.linalg.solve(design, 0.05 * rng.standard_normal((3, 40_000)))
    across = np.array([-got.loose_about[1], got.loose_about[0]])
    assert got.loose_tilt_rad == pytest.approx(float(np.std(across @ planes[1:])), rel=0.02)


def test_the_best_third_place():
    name, grows = best_third_place(
        [(90.0, 0.0), (55.0, 27.0)],
        {"near": (72.0, 14.0), "other side": (55.0, -27.0), "behind": (50.0, 20.0)},
        TEETH,
    )
    assert name == "other side"
    assert grows < 1.5
    assert best_third_place([(90.0, 0.0), (50.0, 0.0)], {"line": (70.0, 0.0)}, TEETH) == ("", math.inf)


@given(st.floats(1.0, 600.0), st.floats(15.0, 60.0))
def test_mix_fills_the_volume(volume, water):
    mix = mix_for_volume(volume, water)
    assert mix_volume_ml(mix.powder_g.value, mix.water_ml.value) == pytest.approx(volume)
    assert ratio_deviation_percent(mix.powder_g.value, mix.water_ml.value, water) == pytest.approx(
        0.0, abs=1e-9
    )


def test_doubt_of_the_gap_reaches_the_scale():
    volume = volume_of_gap(measured(2400.0, 120.0, "length/area"), measured(22.0, 1.0, "length/gap"))
    assert volume.value == pytest.approx(52.8)
    assert volume.u == pytest.approx(52.8 * math.hypot(0.05, 1 / 22), rel=1e-6)
    mix = mix_for_volume(volume, 24.0, density())
    assert mix.powder_g.value == pytest.approx(52.8 / (1 / 2.75 + 0.24))
    assert set(mix.powder_g.variances()) == {"length", "assumed"}
    assert mix.water_ml.value == pytest.approx(0.24 * mix.powder_g.value)


def test_one_pour_or_two():
    # D6: 22 mm with 0.08 % lifts 18 um
    one = pours(18.0, 0.08, 20.0, 0.03)
    assert one.heights_mm == (18.0,)
    assert one.because == ""
    high = pours(35.0, 0.05, 20.0, 0.03)
    assert high.heights_mm == (30.0, 5.0)
    assert high.because == "height"
    assert high.lift_mm == pytest.approx(expansion_lift_mm(5.0, 0.05))
    assert pours(18.0, 0.30, 20.0, 0.03).because == "lift"
    assert pours(35.0, 0.30, 20.0, 0.03).because == "height and lift"
    assert pours(4.0, 5.0, 20.0, 0.03).heights_mm == (4.0,)  # too thin to be split


def test_wedge_tilts_as_well_as_lifts():
    # trap 66: 10 to 30 mm, 0.15 %: 30 um end to end
    places = [(0.0, 20.0), (0.0, -20.0), (40.0, 20.0), (40.0, -20.0)]
    got = wedge_lift(places, [30.0, 30.0, 10.0, 10.0], 0.15)
    assert (got.largest_mm - got.least_mm) == pytest.approx(0.030)
    assert got.pitch_rad == pytest.approx(-math.atan(0.030 / 40.0))
    assert got.roll_rad == pytest.approx(0.0, abs=1e-12)
    assert got.middle_mm == pytest.approx(0.030)
    with pytest.raises(ValueError, match="line"):
        wedge_lift([(0, 0), (10, 0), (20, 0)], [1, 2, 3], 0.1)


def test_clock_counts_from_powder_into_water():
    # trap 67
    sheet = Sheet(mix_s=30.0, work_min=3.0, set_min=6.0)
    moments = steps(sheet)
    assert [m.assumed for m in moments] == [False, False, False, False, True, True]
    at = {m.name: t for m, t in clock(datetime(2026, 3, 17, 10, 2), moments)}
    assert at["stop mixing"] == datetime(2026, 3, 17, 10, 2, 30)
    assert at["poured by"] == datetime(2026, 3, 17, 10, 5)
    assert at["initial set"] == datetime(2026, 3, 17, 10, 8)
    assert at["may be released"] == datetime(2026, 3, 17, 10, 47)
    times = [t for _, t in clock(datetime(2026, 3, 17, 23, 50), moments)]
    assert times == sorted(times)
    assert times[-1].day == 18  # over midnight
    with pytest.raises(ValueError, match="before"):
        steps(Sheet(work_min=10.0, set_min=5.0))


def test_every_default_is_named_as_assumed():
    full, assumed = filled_in(Sheet(water_ml_per_100g=24.0))
    assert full.water_ml_per_100g == 24.0
    assert set(assumed) == set(Sheet._fields) - {"water_ml_per_100g"}
    assert all(v is not None for v in full)


def test_nonsense_is_refused():
    for bad in (
        lambda: mix_for_volume(10.0, 0.0),
        lambda: mix_for_volume(-1.0, 24.0),
        lambda: mix_volume_ml(-1, 2),
    ):
        with pytest.raises(ValueError):
            bad()
    with pytest.raises(ValueError):
        ratio_deviation_percent(0.0, 10.0, 24.0)
    with pytest.raises(ValueError):
        pours(0.0, 0.1, 20.0, 0.03)
    with pytest.raises(ValueError):
        luting_plan([(0, 0), (1, 0), (0, 1)], {}, 0.1)
