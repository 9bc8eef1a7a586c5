"""Question 6 on what is set: typed settings stand in where no record was measured, and the instrument has its ends."""

from __future__ import annotations

import cmath
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from answers.test_guidance import STILL, asked, relations
from mountproof.answers.excursion_data import GuidanceEvidence
from mountproof.answers.guidance import Joint
from mountproof.answers.guidance_reach import fitted
from mountproof.answers.result import Answer, Table, Verdict, Why
from mountproof.bench.pin import Tooth
from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case, Takes
from mountproof.geometry.carry import exact
from mountproof.phantom.truth import Condyles
from mountproof.records.settings import Split, Told, at_a_mark, inward_by_convention
from surfaces.cli_bench import bench_case

PIN = '\n[instrument.pin]\nkind = "straight"\nahead_mm = 110\nbelow_mm = 62\n'
SETTINGS = """
[settings]
right = { inclination_deg = "35 +- 1", over_mm = 6, lateral_deg = 10, shift_mm = 0.3, source = "its scale" }
left = { inclination_deg = 30 }
"""
FRONT, LAST = Tooth("incisors", 92.0, -42.0), Tooth("second molars", 50.0, -35.0)


def typed(more: str = "", tilt: float | None = None) -> Case:
    plane = "" if tilt is None else f'[plane]\nname = "Camper"\ntilt_deg = {tilt}\n'
    return parse_case(f'code = "x"\n[instrument]\nname = "a"\n{PIN}{plane}{SETTINGS}{more}')


def table(found: Answer, begins: str) -> Table:
    return next(t for t in found.tables if t.title.startswith(begins))


def test_typed_settings_stand_as_typed_and_never_as_measured() -> None:
    found = asked(typed())
    assert found.headline.startswith(
        "No record tells an inclination; set, as typed: right joint 35 and left joint 30"
    )
    assert found.verdict is Verdict.CANNOT_TELL
    assert not [q for q in found.quantities if q.key.startswith("horizontal_")]
    own = [q for q in found.quantities if q.key.startswith("typed_")]
    assert len(own) == 4 and all(q.note == "typed, not measured" for q in own)
    assert [a.what for a in found.assumptions if "how far ahead" in a.what and "left" in a.what]
    assert isinstance(found.evidence, GuidanceEvidence)
    right = found.evidence.joints[0].settings
    assert [s.typed for s in right] == [True, False, True, True] and right[0].along_mm == 6.0
    # no record: still asked for
    assert any("protrusive record" in need.reading for need in found.needs)


def test_the_gap_behind_follows_from_what_is_typed() -> None:
    """By G8's way with level incisors: about travel (1 - 50/92) tan(mean), 5 x 0.4565 x 0.6387 = 1.46 mm."""
    got = asked(typed())["gap_behind"].value
    mean = 0.5 * (math.tan(math.radians(35.0)) + math.tan(math.radians(30.0)))
    assert got == pytest.approx(5.0 * (1.0 - 50.0 / 92.0) * mean, abs=0.08)


def test_an_incisal_table_takes_its_share() -> None:
    """In the sagittal plane by hand: the axis 5 mm ahead and down its path, closed until the tip lies on the tilted table.

    To first order a tooth goes down by the shares of path and table in its distance (trade.md D13).
    """
    found = table(asked(typed("table_deg = 20\n")), "How far teeth part")
    rows = {row[0]: row for row in found.rows}
    condyle = 0.5 * (math.tan(math.radians(35.0)) + math.tan(math.radians(30.0)))
    front, tip = math.tan(math.radians(20.0)), complex(110.0, -62.0)
    ahead = complex(5.0, -5.0 * condyle)

    def over(turn: float) -> float:
        seen = (tip - ahead) * cmath.exp(-1j * turn)  # the tip as the lower sees it
        return seen.imag - (tip.imag - front * (seen.real - tip.real))

    turn = brentq(over, -0.1, 0.1)
    for name, x, y in (("incisors", 92.0, -42.0), ("second molars", 50.0, -35.0)):
        down = y - (ahead + complex(x, y) * cmath.exp(1j * turn)).imag
        shown = float(rows[name][2].split("±")[0])
        assert shown == pytest.approx(down, abs=0.02)
        assert shown == pytest.approx(5.0 * (condyle * (110.0 - x) + front * x) / 110.0, rel=0.08)


def test_typed_against_a_plane_are_turned_by_its_tilt() -> None:
    on_scale, on_plane = asked(typed(tilt=10.0)), asked(typed('against = "Camper"\n', tilt=10.0))
    # on its own scale 35 read 25 against a plane that falls 10 degrees to the front
    assert on_scale["typed_inclination_right"].value == pytest.approx(25.0)
    assert on_plane["typed_inclination_right"].value == pytest.approx(35.0)


def test_records_go_before_what_is_typed(tmp_path: Path) -> None:
    case = load_case(bench_case(tmp_path / "c"))
    before = asked(case)
    more = parse_case('code = "x"\n[settings]\nright = { inclination_deg = 70 }\n')
    after = asked(case.model_copy(update={"settings": more.settings}))
    assert after["horizontal_right"] == before["horizontal_right"]
    assert after["gap_behind"] == before["gap_behind"]
    assert any("70 degrees is set and the records tell 36" in note for note in after.notes)


def test_a_range_that_ends_is_told_with_its_cost() -> None:
    """Records of 40 degrees, an instrument up to 30: 5 (1 - 50/92)(tan 30 - tan 40) = -0.597 mm at 5 mm, by hand."""
    takes = "takes.inclination = { lowest_deg = 0, highest_deg = 30, step_deg = 4 }"
    head = f'[instrument]\nname = "a"\ncondyles = "arcon"\n{takes}\n{PIN}'
    down = -5.0 * math.tan(math.radians(40.0))
    moved = Condyles((5.0, 0.0, down), (5.0, 0.0, down), 2.0)
    case = relations({"CR 1": ("CR", STILL), "P": ("protrusive", moved)}, head)
    found = asked(case.model_copy(update={"record_repeat_mm": 0.01}))
    rows = table(found, "What this articulator takes").rows
    assert [row[0] for row in rows] == ["right joint", "left joint"]
    assert rows[0][2:5] == ("40.0 degrees", "28.0 degrees", "end of its range, and its marks")
    clamped = [r for r in found.reasons if "ends before it" in r.text]
    assert len(clamped) == 2 and all(r.why is Why.BETWEEN and r.limit == 30.0 for r in clamped)
    by_hand = 5.0 * (1.0 - 50.0 / 92.0) * (math.tan(math.radians(30.0)) - math.tan(math.radians(40.0)))
    assert f"{by_hand:+.2f} mm at 5 mm" in clamped[0].text
    assert found.verdict is not Verdict.AGREES


def joint(split: Split) -> Joint:
    return Joint("right", None, None, Told(exact(0.2), 5.0), split, 0.0)


def test_a_shift_below_nothing_is_put_to_nothing_and_it_is_said() -> None:
    """Trap 24: noise splits into a negative shift; no instrument has one."""
    split = Split(exact(-0.3), exact(math.radians(12.0)))
    slope, shift = fitted(joint(split), exact(math.radians(33.0)), Takes(), FRONT, LAST, 55.0)[1:]
    assert shift.clamped and shift.asked == -0.3 and shift.end == 0.0
    assert shift.end_cost_mm == pytest.approx((0.3, 0.3), abs=1e-9)
    assert not slope.clamped and slope.cost_mm == (0.0, 0.0)


def test_a_lateral_angle_cut_short_costs_its_way_inward() -> None:
    """5 mm ahead: 5 (tan 25 - tan 15) = 0.99 mm inward is missing; the molars go with the axis."""
    takes = Takes.model_validate({"lateral": {"highest_deg": 15}})
    split = Split(exact(0.0), exact(math.radians(25.0)))
    slope = fitted(joint(split), exact(math.radians(33.0)), takes, FRONT, LAST, 55.0)[1]
    assert slope.clamped
    inward = 5.0 * (math.tan(math.radians(25.0)) - math.tan(math.radians(15.0)))
    assert slope.end_cost_mm[1] == pytest.approx(inward, rel=0.05)


@given(st.floats(-80.0, 80.0), st.floats(0.1, 15.0), st.floats(-20.0, 0.0), st.floats(20.0, 60.0))
def test_a_mark_is_the_nearest_within_the_ends(value: float, step: float, low: float, high: float) -> None:
    mark = at_a_mark(value, step, low, high)
    assert abs(mark / step - round(mark / step)) < 1e-6 and low - 1e-6 <= mark <= high + 1e-6
    inside = min(max(value, low), high)
    assert abs(mark - inside) <= step * (1.0 + 1e-6)
    if low + step <= value <= high - step:
        assert abs(mark - value) <= 0.5 * step * (1.0 + 1e-9)


def test_a_scale_without_a_mark_between_its_ends_takes_an_end() -> None:
    assert at_a_mark(3.0, 10.0, 1.0, 4.0) == 3.0
    assert at_a_mark(9.0, 10.0, 1.0, 4.0) == 4.0
    with pytest.raises(ValueError, match="step"):
        at_a_mark(1.0, 0.0)


@pytest.mark.parametrize(
    ("inclination", "lateral"),
    [(0, 12.0), (20, 14.5), (25, 15.125), (30, 15.75), (33, 16.125), (35, 16.375), (40, 17.0), (45, 17.625), (60, 19.5)],
)  # fmt: skip
def test_t2_the_convention_is_what_it_is(inclination: float, lateral: float) -> None:
    """The formula of 1930, checks.md T2: its arithmetic; 33 gives 16.125, not the 15 that is quoted with it."""
    assert inward_by_convention(inclination) == lateral
