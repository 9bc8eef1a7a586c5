"""The bench answers against what a hostile or hurried bench enters: slips, too few marks, marks known by half."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from answers import kestrel
from mountproof.answers.result import Sheet, Verdict, Why
from mountproof.answers.sheet import answer
from mountproof.phantom import truth

STRAIGHT = ("UR-LR", "UCR-LCR", "UA-LA", "UCL-LCL", "UL-LL")


def table_of(whole: dict[str, Any]) -> tuple[list[str], list[list[str]]]:
    rows = [line.split() for line in whole["marks"]["readings_mm"].splitlines() if line.split()]
    return rows[0][1:], rows[1:]


def put(whole: dict[str, Any], states: list[str], rows: list[list[str]]) -> dict[str, Any]:
    whole["marks"]["readings_mm"] = "\n".join("  ".join(row) for row in [["pair", *states], *rows])
    return whole


def only_pairs(whole: dict[str, Any], *pairs: str) -> dict[str, Any]:
    states, rows = table_of(whole)
    return put(whole, states, [row for row in rows if row[0] in pairs])


def by_distance(whole: dict[str, Any]) -> dict[str, Any]:
    """The same marks, known by their distance from the hinge only."""
    for name, p in whole["marks"]["places"].items():
        from_hinge = round(math.hypot(p["ahead_mm"], p["above_mm"]), 2)
        whole["marks"]["places"][name] = {"arch": p["arch"], "from_hinge_mm": from_hinge, "u_mm": 0.5}
    return whole


def asked(whole: dict[str, Any], *questions: str) -> Sheet:
    return answer(kestrel.case(**whole), questions or None)


def test_a_questioned_reading_is_left_out_aloud_and_what_it_would_change_is_said() -> None:
    sheet = answer(kestrel.with_cell("UCR-LCR", "A", "30.85"), ["pin", "mounting"])
    pin = sheet["pin"]
    assert pin["pin_mip"].value == pytest.approx(4.24, abs=0.1)
    assert "UCR-LCR in A" in pin.headline
    assert "9.9 mm" in pin.headline
    assert "6.5 mm" not in sheet["mounting"].headline
    for found in sheet.answers.values():
        assert [r.why for r in found.reasons].count(Why.QUESTIONED) == 1
        assert any("UCR-LCR in state A" in need.reading for need in found.needs)


@pytest.mark.parametrize(("pair", "state", "typed"), [("UR-LR", "A", "16.10"), ("UR-LR", "B", "63.10")])
def test_a_slip_beyond_any_triangle_is_a_question_not_the_end_of_the_answer(
    pair: str, state: str, typed: str
) -> None:
    sheet = answer(kestrel.with_cell(pair, state, typed), ["pin", "record", "mounting"])
    assert not sheet.faults
    assert sheet["pin"]["pin_mip"].value == pytest.approx(4.24, abs=0.15)
    assert "remount" not in " ".join(need.reading for need in sheet["mounting"].needs)
    assert sheet["record"].verdict is Verdict.DOUBTFUL
    assert any(typed in text for text in sheet.questions)


def test_marks_known_by_distance_only_are_no_better_known_than_marks_with_places() -> None:
    with_places = asked(only_pairs(kestrel.data(), "UA-LA"), "pin")["pin"]
    without = asked(by_distance(only_pairs(kestrel.data(), "UA-LA")), "pin")["pin"]
    for key in ("pin_mip", "pin_cr"):
        u, bare = with_places[key].u, without[key].u
        assert u is not None
        assert bare is not None
        assert bare == pytest.approx(u, rel=0.15), key
    assert without.verdict is Verdict.CANNOT_TELL
    assert "roughly" in without.headline
    assert any("shift" in a.what for a in without.assumptions)


def test_the_interval_of_marks_known_by_distance_covers_joints_that_shifted() -> None:
    """Draws of a shift of the joints by what is assumed; the opening without it is the truth (JCGM 101 as the check)."""
    rng = np.random.default_rng(417)
    whole = kestrel.data()
    whole["instrument"]["pin"].pop("calibration")
    spots = {
        n: np.array([p["ahead_mm"], p["above_mm"], p["right_mm"]], dtype=float)
        for n, p in whole["marks"]["places"].items()
    }
    angle = math.radians(2.2)
    c, s = math.cos(angle), math.sin(angle)
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    covered = 0
    draws = 60
    for _ in range(draws):
        shift = rng.normal(0.0, 1.0, 3) * [1.0, 0.7, 0.5]
        rows = []
        for pair in STRAIGHT:
            upper, lower = (spots[name] for name in pair.split("-"))
            there = turn @ lower + shift
            rows.append([pair, *(f"{np.linalg.norm(at - upper):.4f}" for at in (lower, there))])
        case = by_distance(put({**kestrel.data()}, ["A", "B"], rows))
        pin = asked(case, "pin")["pin"]["opening"]
        assert pin.low is not None
        assert pin.high is not None
        covered += pin.low <= 2.2 <= pin.high
    assert covered >= 51  # 95 % of 60 is 57; fewer than 51 in 1 of 1000


def test_a_slip_among_marks_known_by_distance_is_asked_about() -> None:
    whole = by_distance(only_pairs(kestrel.data(), *STRAIGHT))
    states, rows = table_of(whole)
    next(r for r in rows if r[0] == "UA-LA")[1 + states.index("B")] = "46.20"
    found = asked(put(whole, states, rows), "pin")["pin"]
    assert any(r.why is Why.QUESTIONED and "UA-LA" in r.text for r in found.reasons)


def test_the_next_measurement_is_the_one_that_carries_the_doubt() -> None:
    one = asked(only_pairs(kestrel.data(), "UA-LA"), "pin")["pin"]
    assert any("further pairs" in need.reading for need in one.needs)
    assert not any("three times" in need.reading for need in one.needs)
    whole = kestrel.data()
    states, rows = table_of(whole)
    for row in rows:
        for s in ("A", "B"):
            at = 1 + states.index(s)
            row[at] = "/".join(f"{float(row[at]) + d:.2f}" for d in (0.0, 0.05, -0.05))
    thrice = asked(put(whole, states, rows), "pin")["pin"]
    assert not any("every pair three times" in need.reading for need in thrice.needs)


def test_one_number_is_the_same_in_pin_and_mounting() -> None:
    """The pin reads one mark a millimetre from zero: its prediction in marks and in millimetres is one number."""
    whole = kestrel.data()
    whole["instrument"]["pin"].pop("calibration")
    sheet = asked(whole, "pin", "mounting")
    pin, mounting = sheet["pin"], sheet["mounting"]
    assert pin["record_out_if_mip"].value == pytest.approx(mounting["predicted_if_mip"].value, abs=1e-9)
    assert pin["record_out_if_slide"].value == pytest.approx(mounting["predicted"].value, abs=1e-9)


def test_movement_and_slide_are_told_without_the_instruments_lengths() -> None:
    whole = kestrel.data()
    del whole["instrument"]
    found = answer(kestrel.case(instrument=None), ["mounting"])["mounting"]
    assert found["lift"].value == pytest.approx(0.06, abs=0.03)
    assert any(need.field == "instrument.pin" for need in found.needs)
    assert any("condyles" in a.what for a in found.assumptions)


def with_columns(new: dict[str, tuple[dict[str, Any], str, dict[str, float]]]) -> dict[str, Any]:
    """The demo case with further columns: name -> (state, column it is copied from, change by pair or ``*``)."""
    whole = kestrel.data()
    states, rows = table_of(whole)
    for name, (state, like, change) in new.items():
        whole["marks"]["states"][name] = state
        for row in rows:
            moved = float(row[1 + states.index(like)]) + change.get(row[0], change.get("*", 0.0))
            row.append(f"{moved:.2f}")
    return put(whole, [*states, *new], rows)


SECOND = {"kind": "record in, after set", "record": "record 2"}


def test_a_second_record_counts_only_where_it_was_measured_and_is_held_against_itself() -> None:
    named_only = kestrel.data()
    named_only["marks"]["states"]["K"] = SECOND
    found = asked(named_only, "mounting")["mounting"]
    assert "not verified by a second record" in found.headline
    seats = asked(with_columns({"K": (SECOND, "C", {})}), "mounting")["mounting"]
    assert "record 2 seats on the mounting" in seats.headline
    assert seats["second_record"].value == pytest.approx(0.0, abs=1e-9)
    off = asked(with_columns({"K": (SECOND, "C", {"*": 1.0})}), "mounting")["mounting"]
    assert off.verdict is Verdict.DISAGREES
    assert "record 2 does not seat" in off.headline
    assert any("record 2 seated once more" in need.reading for need in off.needs)


def shifted_in_set(shift_mm: list[float]) -> dict[str, Any]:
    """The demo case with the lower cast shifted during set, lift and tilt as they were."""
    whole = kestrel.data()
    states, rows = table_of(whole)
    moved = np.eye(4)
    moved[:3, 3] = shift_mm
    pose = truth.pose("F")
    for row in rows:
        upper, lower = row[0].split("-")
        change = truth.distance_mm((upper, lower), moved @ pose) - truth.distance_mm((upper, lower), pose)
        at = 1 + states.index("F")
        row[at] = f"{float(row[at]) + change:.2f}"
    return put(whole, states, rows)


@pytest.mark.parametrize(("shift", "way"), [([0.0, 0.0, 0.5], "right"), ([0.5, 0.0, 0.0], "forward")])
def test_a_cast_that_went_sideways_or_forward_while_setting_is_seen(shift: list[float], way: str) -> None:
    found = asked(shifted_in_set(shift), "mounting")["mounting"]
    assert found.verdict is Verdict.DISAGREES
    assert way in found.headline
    assert "nothing moved" not in found.headline.lower()
    still = asked(kestrel.data(), "mounting")["mounting"]
    assert not any(q.key in ("set_forward", "set_right") for q in still.quantities)


def test_foils_alone_do_not_make_a_mounting_agree() -> None:
    found = answer(kestrel.case(marks=None, instrument=None, pin_readings=None), ["mounting"])["mounting"]
    assert found.verdict is Verdict.CANNOT_TELL
    assert "foils agree" in found.headline


@pytest.mark.parametrize("record", ["protrusive", "MIP"])
def test_a_record_that_was_not_measured_is_not_what_the_pin_is_answered_for(record: str) -> None:
    sheet = answer(kestrel.case(mounted_on=record), ["pin", "mounting"])
    assert record in sheet["pin"].headline
    assert any(need.field == "mounted_on" for need in sheet["pin"].needs)
    assert "seats on the mounting" not in sheet["mounting"].headline


def test_columns_of_different_records_are_not_read_as_movement() -> None:
    whole = kestrel.data()
    del whole["mounted_on"]
    states, rows = table_of(whole)
    kept = ["A", "C", "F"]
    whole["marks"]["states"] = {s: whole["marks"]["states"][s] for s in kept}
    whole["pin_readings"] = []
    put(whole, kept, [[r[0], *(r[1 + states.index(s)] for s in kept)] for r in rows])
    sheet = asked(whole, "mounting")
    assert not any(q.key == "lift" for q in sheet["mounting"].quantities)
    assert any(need.field == "mounted_on" for need in sheet["mounting"].needs)


def test_two_columns_of_one_record_are_one_record() -> None:
    same = {"kind": "record in", "record": "record 1"}
    found = asked(with_columns({"B2": (same, "B", {"*": 0.6})}), "record")["record"]
    assert "mount on record 1" not in " ".join(need.reading for need in found.needs)
    assert any("B2" in note for note in found.notes)
    before = answer(kestrel.case(), ["record"])["record"]
    assert found.headline == before.headline


def test_straight_pairs_do_not_say_that_records_agree_where_they_cannot_see() -> None:
    found = asked(only_pairs(kestrel.data(), *STRAIGHT), "record")["record"]
    assert found.verdict is Verdict.CANNOT_TELL
    assert any(r.why is Why.NOT_CARRIED and "fore-aft" in r.text for r in found.reasons)


def test_repeats_and_gaps_of_re_seating_are_used_or_named() -> None:
    whole = kestrel.data()
    table = whole["marks"]["reseat_mm"]
    first = answer(kestrel.case(), ["record"])["record"]["reseat_sd"].value
    whole["marks"]["reseat_mm"] = table.replace("38.15  38.00", "38.15/38.55  38.00")
    assert asked(whole, "record")["record"]["reseat_sd"].value > first + 0.01
    whole["marks"]["reseat_mm"] = table.replace("UA-LA    42.55", "UA-LA    -    ")
    gap = asked(whole, "record")["record"]
    assert any("UA-LA" in need.reading and "re-seating" in need.reading for need in gap.needs)


def test_without_mip_the_records_need_mip_and_the_pin_is_still_held_against_the_marks() -> None:
    whole = kestrel.data()
    states, rows = table_of(whole)
    del whole["marks"]["states"]["A"]
    kept = [s for s in states if s != "A"]
    put(whole, kept, [[r[0], *(r[1 + states.index(s)] for s in kept)] for r in rows])
    sheet = asked(whole, "record", "mounting")
    assert any("MIP" in need.reading for need in sheet["record"].needs)
    full = answer(kestrel.case(), ["mounting"])["mounting"]
    for key in ("predicted", "found_minus_predicted"):
        assert sheet["mounting"][key].value == pytest.approx(full[key].value, abs=0.01), key


def test_pin_readings_that_contradict_each_other_are_asked_about() -> None:
    twice = kestrel.data()
    twice["pin_readings"].append({"state": "G", "reads": 5.0})
    found = asked(twice, "mounting")["mounting"]
    assert any(r.why is Why.QUESTIONED and "5" in r.text for r in found.reasons)
    slipped = kestrel.data()
    slipped["pin_readings"].append({"state": "F", "reads": 2.0})
    found = asked(slipped, "mounting")["mounting"]
    assert any("slipped" in r.text for r in found.reasons)
    assert found.verdict in (Verdict.DOUBTFUL, Verdict.DISAGREES)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"calibration": [(2, 2), (4, 9), (6, 6)]}, "one line"),
        ({"counts": "down on opening"}, "count down"),
        ({"mm_per_mark": 1.5}, "1.5 mm"),
    ],
)
def test_a_calibration_that_contradicts_itself_or_what_is_stated_is_asked_about(
    change: dict[str, Any], words: str
) -> None:
    whole = kestrel.data()
    pin = whole["instrument"]["pin"]
    pin.update(change)
    if "calibration" in change:
        pin["calibration"] = [{"block_mm": mm, "reads": reads} for mm, reads in change["calibration"]]
    found = asked(whole, "pin")["pin"]
    assert found.verdict is Verdict.DOUBTFUL
    assert any(words in r.text for r in found.reasons)
    assert not any("scale again" in r.text for r in answer(kestrel.case(), ["pin"])["pin"].reasons)


def with_bench(**change: Any) -> dict[str, Any]:
    whole = kestrel.data()
    whole["bench"].update(change)
    return whole


def test_the_powder_for_a_gap_uses_the_density_of_the_sheet() -> None:
    sheet = {"water_ml_per_100g": 24, "powder_density_g_per_ml": 2.3}
    found = asked(with_bench(base_area_mm2=2400, sheet=sheet), "stone")["stone"]
    assert found["powder"].value == pytest.approx(2400 * 22e-3 / (1 / 2.3 + 0.24), rel=1e-9)
    assert not any("density" in a.what for a in found.assumptions)


@pytest.mark.parametrize(
    ("gap", "limits"),
    [
        (0, None),
        (22, {"gap_in_one_pour": {"decent": 0, "redo": 0}}),
        (22, {"lift_of_stone": {"decent": 0, "redo": 0}}),
    ],
)
def test_no_gap_and_limits_of_zero_are_answered(gap: float, limits: dict[str, Any] | None) -> None:
    whole = with_bench(mean_gap_mm=gap)
    if limits is not None:
        whole["limits"] = limits
    found = asked(whole, "stone")["stone"]
    assert found.headline
    assert not any(q.key == "lift" for q in found.quantities)


def test_stand_ins_of_the_stone_answer_are_shown() -> None:
    gaps = [
        {"ahead_mm": x, "right_mm": z, "gap_mm": h} for x, z, h in ((60, 20, 22), (60, -20, 24), (90, 0, 28))
    ]
    whole = with_bench(gaps=gaps)
    del whole["bench"]["mean_gap_mm"]
    shown = {a.field for a in asked(whole, "stone")["stone"].assumptions}
    assert {"bench.gaps", "bench.luted_at"} <= shown


@pytest.mark.parametrize("change", [{"closure": "firm"}, {"thickness_um": 40}])
def test_foils_of_different_closure_or_thickness_are_not_compared(change: dict[str, Any]) -> None:
    whole = kestrel.data()
    whole["foils"][1].update(change)
    found = asked(whole, "mounting")["mounting"]
    assert "foils agree" not in found.headline
    assert any(need.field == "foils" and "not compared" in need.why for need in found.needs)


def test_one_faulty_question_does_not_keep_the_others_out_of_the_cache() -> None:
    whole = kestrel.data()
    whole["instrument"]["pin"]["calibration"] = [{"block_mm": b, "reads": 2.0} for b in (2, 6)]
    kept: dict[str, Any] = {}
    sheet = answer(kestrel.case(**whole), cache=kept)
    assert sheet.faults
    assert f"stone {sheet['stone'].digest}" in kept
    assert f"pin {sheet['pin'].digest}" not in kept


def test_a_kept_answer_is_the_answer_to_its_own_question() -> None:
    """Pin and record read the same parts of a case, so do guidance and change: their digests are the same."""
    plain = answer(kestrel.case())
    kept: dict[str, Any] = {}
    for _ in range(2):
        sheet = answer(kestrel.case(), cache=kept)
        assert dict(sheet.answers) == dict(plain.answers)
        assert [found.key for found in sheet.answers.values()] == list(sheet.answers)


@pytest.mark.parametrize("u_mm", [0.5, 0.1, 0.001])
def test_the_closing_to_first_contact_does_not_hang_on_where_the_marks_were_in_mip(u_mm: float) -> None:
    """Marks are entered as they stand in MIP; at first contact the lower ones stand a slide away from there."""
    whole = kestrel.data()
    for place in whole["marks"]["places"].values():
        place["u_mm"] = u_mm
    found = asked(whole, "pin")["pin"]
    assert found["pin_cr"].value == pytest.approx(3.215, abs=0.02)
    assert not any(r.why is Why.QUESTIONED for r in found.reasons)


def test_a_table_that_contradicts_itself_throughout_loses_no_reading() -> None:
    whole = kestrel.data()
    whole["caliper"] = {"resolution_mm": 0.001, "sd_mm": 0.002}
    found = asked(whole, "pin")["pin"]
    assert found.verdict is Verdict.DOUBTFUL
    assert "without" not in found.headline
    assert any("cannot be right" in need.why for need in found.needs)


def test_a_questioned_mean_shows_what_was_typed() -> None:
    found = answer(kestrel.with_cell("UR-LR", "A", "36.10/36.05/63.05"), ["pin"])["pin"]
    assert any("36.10, 36.05, 63.05" in r.text for r in found.reasons)


def test_two_marks_on_one_spot_are_a_fault_with_a_next_step() -> None:
    whole = kestrel.data()
    whole["marks"]["places"]["LR"] = dict(whole["marks"]["places"]["UR"], arch="lower")
    sheet = asked(whole, "pin", "record", "mounting", "stone")
    assert {fault.code for fault in sheet.faults} == {"marks.one_spot"}
    assert sheet["stone"].verdict is not Verdict.CANNOT_TELL


def test_a_tooth_that_never_opens_so_far_does_not_end_the_answer() -> None:
    found = answer(kestrel.case(teeth_at={"odd": {"ahead_mm": 1, "above_mm": -150}}), ["pin"])["pin"]
    assert found["pin_mip"].value == pytest.approx(4.24, abs=0.01)
