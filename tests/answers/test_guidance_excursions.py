"""Question 6, what disoccludes: scans driven along the settings, and the gap behind from numbers alone."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import numpy as np
import pytest

from answers.test_guidance import STILL, asked, going, relations, slope
from docs.console import prepare
from mountproof.answers.contacts import noted_closing
from mountproof.answers.excursion_data import GuidanceEvidence, Travel
from mountproof.answers.guidance_driven import drive
from mountproof.answers.guidance_excursions import watched
from mountproof.answers.guidance_paths import SIDES, excursions
from mountproof.answers.guidance_ranges import joint_range
from mountproof.answers.guidance_table import set_table
from mountproof.answers.guidance_typed import typed_joints
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import quiet
from mountproof.answers.result import Answer
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case, RecordKind
from mountproof.geometry.carry import exact
from mountproof.geometry.protrusion import level_protrusion
from mountproof.phantom.truth import Condyles
from mountproof.teeth import arch_of, side_of
from surfaces.cli_bench import bench_case


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("guided") / "scans-guided"
    prepare("scans-guided", place)
    return place


@pytest.fixture(scope="module")
def sheet(folder: Path) -> dict[str, Answer]:
    return dict(answer(load_case(folder), ["contacts", "guidance"]).answers)


def travels(found: Answer) -> dict[str, Travel]:
    assert isinstance(found.evidence, GuidanceEvidence)
    return {t.direction: t for t in found.evidence.travels}


def test_every_direction_is_driven_from_first_contact_on(sheet: dict[str, Answer]) -> None:
    found = travels(sheet["guidance"])
    assert list(found) == ["ahead", "right", "left"]
    first = sheet["contacts"].evidence.table.pairs[0]
    for t in found.values():
        assert t.guides[0] == (first.upper_tooth, first.lower_tooth)
        assert t.incisor_mm[0] < 1e-9 and (np.diff(t.incisor_mm) > 0.0).all()
        assert t.gap_mm.shape == (len(t.teeth), len(t.travel_mm))
        # somebody guides at every station, and nothing passes through anything
        assert t.gap_mm.min(axis=0) == pytest.approx(np.zeros(len(t.travel_mm)), abs=1e-9)
        on = t.travel_mm >= t.from_mm
        least = t.gap_mm[:, on].min(axis=1)
        assert (t.low_mm <= least).all() and (least <= t.high_mm).all()


def test_incisal_advance_is_not_condylar_advance(sheet: dict[str, Answer]) -> None:
    """Trade trap 45."""
    ahead = travels(sheet["guidance"])["ahead"]
    assert ahead.incisor_mm[-1] > ahead.travel_mm[-1] + 0.3


def test_what_touches_follows_from_the_range(sheet: dict[str, Answer]) -> None:
    for t in travels(sheet["guidance"]).values():
        for low, high, touch in zip(t.low_mm, t.high_mm, t.touch, strict=True):
            if high <= t.touch_mm:
                assert touch == "always"
            elif low <= t.touch_mm:
                assert touch == "depends"
            else:
                assert touch in {"never", "unknown"}
    headline = sheet["guidance"].headline
    assert "touch whatever is set: 15" in headline and "with some settings: 16" in headline


def test_the_nonworking_side_is_the_one_the_jaw_leaves(sheet: dict[str, Answer]) -> None:
    """Trade traps 2 and 3: the jaw going right works on the right, and the left back teeth should part."""
    for side, t in travels(sheet["guidance"]).items():
        back = [t.teeth[i] for i in watched(t)]
        assert back and all(arch_of(n) == "upper" for n in back)
        if side != "ahead":
            assert {side_of(n) for n in back} == {"left" if side == "right" else "right"}


def test_another_plane_changes_angles_and_moves_no_tooth(folder: Path, sheet: dict[str, Answer]) -> None:
    """Trade traps 6 and 47."""
    text = (folder / "case.toml").read_text(encoding="utf-8").replace('"0 +- 0.5"', '"10 +- 0.5"')
    tilted = answer(parse_case(text, folder=folder), ["guidance"])["guidance"]
    plain = sheet["guidance"]
    assert plain["horizontal_right"].value - tilted["horizontal_right"].value == pytest.approx(10.0)
    assert tilted["gap_behind"].value == plain["gap_behind"].value
    for one, other in zip(travels(plain).values(), travels(tilted).values(), strict=True):
        assert np.array_equal(one.gap_mm, other.gap_mm) and one.guides == other.guides


def test_a_scan_that_cannot_be_used_leaves_the_settings(
    folder: Path, tmp_path: Path, sheet: dict[str, Answer]
) -> None:
    shutil.copytree(folder, tmp_path / "c")
    whole = (tmp_path / "c" / "lower.stl").read_bytes()
    (tmp_path / "c" / "lower.stl").write_bytes(whole[: len(whole) // 2])
    found = asked(load_case(tmp_path / "c"))
    assert found["horizontal_right"].value == sheet["guidance"]["horizontal_right"].value
    assert not travels(found) and any("Who guides is not told" in note for note in found.notes)


def test_a_least_gap_lies_between_its_ends_and_is_never_below_nothing(sheet: dict[str, Answer]) -> None:
    for direction in ("ahead", "right", "left"):
        q = sheet["guidance"][f"least_gap_{direction}"]
        assert q.low is not None and q.high is not None and q.assumed
        assert 0.0 <= q.low <= q.value <= q.high


def test_tables_name_every_upper_tooth_once(sheet: dict[str, Answer]) -> None:
    tables = [t for t in sheet["guidance"].tables if "Gap at each upper tooth" in t.title]
    assert len(tables) == 3
    for table, t in zip(tables, travels(sheet["guidance"]).values(), strict=True):
        assert [row[0] for row in table.rows] == [str(n) for n in t.teeth if arch_of(n) == "upper"]


def test_the_card_has_both_joints_and_what_was_not_told(sheet: dict[str, Answer]) -> None:
    found = sheet["guidance"]
    assert isinstance(found.evidence, GuidanceEvidence)
    right, left = found.evidence.joints
    assert (right.side, left.side) == ("right", "left")
    by = {s.words: s for s in right.settings}
    assert by["immediate translation"].value == found["immediate_right"].value
    assert by["horizontal inclination"].low == pytest.approx(found["horizontal_right"].low)
    assert by["horizontal inclination"].along_mm == pytest.approx(7.4, abs=0.1)


# --- from numbers alone ---------------------------------------------------------------------------------


@pytest.mark.parametrize("deg", [25.0, 38.0])
def test_the_gap_behind_is_that_of_a_level_protrusion(deg: float) -> None:
    down = 5.0 * slope(deg)
    case = relations(
        {
            "centric": ("CR", STILL),
            "ahead": ("protrusive", Condyles((5.0, 0.0, -down), (5.0, 0.0, -down), 1.0)),
        }
    )
    told = asked(case)["gap_behind"]
    gone = level_protrusion(5.0 / math.cos(math.radians(deg)), math.radians(deg), [92.0, -42.0, 0.0])
    molar = np.array([50.0, -35.0, 0.0, 1.0])
    assert told.value == pytest.approx(float((molar - gone.motion @ molar)[1]), abs=1e-4)
    assert told.u is not None and told.u > 0.0


def test_a_caliper_case_tells_the_gap_behind_and_drives_nothing(tmp_path: Path) -> None:
    found = asked(load_case(bench_case(tmp_path / "c")))
    assert found["gap_behind"].value > 1.0
    assert isinstance(found.evidence, GuidanceEvidence) and not found.evidence.travels


def ranged(records: dict[str, tuple[str, Condyles]]) -> tuple[dict[str, object], Ledger]:
    ledger = Ledger("guidance")
    case: Case = relations(records, "record_repeat_mm = 0.001\n")
    found = excursions(case, ledger, quiet)
    return {side: joint_range(side, found, ledger) for side in SIDES}, ledger


def test_one_lateral_record_is_shift_or_slope_but_always_the_same_end() -> None:
    """Trade trap 43: every way inward that is tried goes through the one place that was recorded."""
    forward, shift, angle = 6.0, 0.5, 8.0
    medial = shift + forward * slope(angle)
    joints, ledger = ranged({
        "centric": ("CR", STILL), "side": ("left lateral", going(forward, 5.0, medial, moving="right")),
    })  # fmt: skip
    right = joints["right"]
    for inward, at_once in (right.ways[0], right.ways[-1]):
        assert at_once + forward * math.tan(inward) == pytest.approx(medial, abs=1e-6)
    assert right.ways[0][1] == 0.0 and right.ways[-1][1] == 1.0
    assert right.sideways is not None and right.ahead is None
    assert any("immediate shift of the right joint" in a.what for a in ledger.assumptions)


def test_what_no_record_told_is_a_declared_range() -> None:
    """Trade trap 44: the way sideways is not taken for that straight ahead."""
    moved = Condyles((5.0, 0.0, -3.5), (5.0, 0.0, -3.5), 0.8)
    joints, ledger = ranged({"centric": ("CR", STILL), "ahead": ("protrusive", moved)})
    for side in SIDES:
        one = joints[side]
        assert one.sideways.middle > one.ahead.middle and one.sideways.high > one.ahead.high
        assert {shift for _, shift in one.ways} == {0.0, 1.0}
    assert sum("steeper" in a.what for a in ledger.assumptions) == 2


def test_two_amounts_give_their_own_range() -> None:
    joints, ledger = ranged({
        "centric": ("CR", STILL),
        **{f"side {n}": ("left lateral", going(f, 0.8 * f, 0.4 + f * slope(8.0), moving="right"))
           for n, f in enumerate((2.0, 9.0))},
    })  # fmt: skip
    right = joints["right"]
    assert right.ways[0] == (pytest.approx(math.radians(8.0), abs=1e-6), pytest.approx(0.4, abs=1e-6))
    # too large a shift goes with too small a slope
    assert right.ways[1][0] < right.ways[0][0] and right.ways[1][1] > right.ways[0][1]
    assert not any("right joint" in a.what for a in ledger.assumptions)
    assert RecordKind.LEFT.value == "left lateral"


# --- device and stop in front ------------------------------------------------------------------------------


def test_a_device_by_lengths_opens_as_the_trade_says(tmp_path: Path) -> None:
    """1.5 mm at the second molars: 2.8 mm at the incisors, 3.4 mm at a straight pin 110 ahead and 62 below (stand-in skull)."""
    table = next(
        t for t in asked(load_case(bench_case(tmp_path / "c"))).tables if "Occlusal device" in t.title
    )
    row = next(r for r in table.rows if r[0] == "1.5")
    assert [float(cell) for cell in row[1:]] == pytest.approx([2.8, 3.4], abs=0.06)


def test_a_device_on_scans_names_the_tightest_tooth_and_the_gaps_behind(sheet: dict[str, Answer]) -> None:
    table = next(t for t in sheet["guidance"].tables if "stop in front" in t.title)
    assert [row[0] for row in table.rows] == ["1.5", "2.0"]
    pins = [float(row[3]) for row in table.rows]
    assert 2.0 < pins[0] < pins[1] < 6.0
    for row in table.rows:
        upper, lower = map(int, row[1].split(" / "))
        assert arch_of(upper) == "upper" and arch_of(lower) == "lower"
        assert len(row) == 7
    # a higher stop leaves more open behind
    first, second = ([float(c.split()[0]) for c in row[4:] if " at " in c] for row in table.rows)
    assert all(b > a for a, b in zip(first, second, strict=False))


def test_a_typed_joint_is_driven_as_it_was_typed() -> None:
    typed = parse_case(
        'code = "x"\n[settings]\nright = { inclination_deg = "35 +- 2", over_mm = 4, lateral_deg = "10 +- 1", '
        "shift_mm = 0.5 }\nleft = { inclination_deg = 30 }\n"
    )
    ledger = Ledger("guidance")
    both = typed_joints(typed, exact(0.0), ledger)
    right, left = (joint_range(side, (), ledger, both[side]) for side in SIDES)
    assert right.ahead is not None and right.ahead == right.sideways
    assert np.degrees([right.ahead.low, right.ahead.middle]) == pytest.approx([35.0 - 3.92, 35.0])
    assert right.forward_mm == 4.0
    assert right.ways[0] == pytest.approx((math.radians(10.0), 0.5)) and len(right.ways) == 5
    # nobody typed how the left one comes inward: the usual range, said
    assert left.ways[1][0] == 0.0 and any(
        "comes inward" in a.what and "left" in a.what for a in ledger.assumptions
    )


def test_a_steep_table_takes_the_scans_over_from_their_teeth(folder: Path, sheet: dict[str, Answer]) -> None:
    """Typed joints drive the scans straight ahead; a table of 70 degrees holds them wider than their front teeth do."""
    typed = parse_case(
        'code = "x"\n[instrument]\nname = "a"\n[instrument.pin]\nkind = "straight"\nahead_mm = 110\nbelow_mm = 62\n'
        "[settings]\nright = { inclination_deg = 35, over_mm = 3 }\nleft = { inclination_deg = 30, over_mm = 3 }\n"
        "table_deg = 70\n"
    )
    ledger = Ledger("guidance")
    both = typed_joints(typed, exact(0.0), ledger)
    joints = {side: joint_range(side, (), ledger, both[side])._replace(sideways=None) for side in SIDES}
    closed = noted_closing(load_case(folder), quiet).closed
    assert closed is not None and closed.first is not None
    table = set_table(typed, closed.first.closing_rad, ledger)
    (ahead,) = drive(closed, joints, 55.0, np.array([92.0, -42.0, 0.0]), quiet, table)
    assert not ahead.by_table[0] and all(ahead.by_table[1:]) and all(g is None for g in ahead.guides[1:])
    back = watched(ahead)
    assert back and float(np.min(ahead.gap_mm[list(back), -1])) > 1.0
