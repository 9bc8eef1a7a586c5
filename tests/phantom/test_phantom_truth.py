"""The known truth of the made-up case against its caliper table and the numbers the case was made with."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.phantom import kestrel, truth
from mountproof.phantom.arch import build_arch

COLUMNS = "ABCDEFGHIJ"
#: Rounding to 0.05 (uniform) and the SD of one reading, together, mm.
READING_SD = float(np.hypot(kestrel.CALIPER_SD_MM, kestrel.CALIPER_STEP_MM / np.sqrt(12.0)))


def _residuals(state: str) -> np.ndarray:
    column = COLUMNS.index(state)
    pose = truth.pose(state)
    return np.array([row[column] - truth.distance_mm(pair, pose) for pair, row in kestrel.TABLE_MM.items()])


@pytest.mark.parametrize("state", list(COLUMNS))
def test_each_pose_gives_its_column_of_the_table(state: str) -> None:
    r = _residuals(state)
    assert len(r) == 13
    assert np.abs(r).max() < 3.5 * READING_SD
    # A chi-square of 13 readings: between its 0.05 % and 99.95 % points (from memory: 2.6 and 36.5).
    assert 2.6 < (r**2).sum() / READING_SD**2 < 36.5


def test_the_whole_table_has_the_scatter_of_its_caliper() -> None:
    r = np.concatenate([_residuals(s) for s in COLUMNS])
    assert abs(r.mean()) < 3 * READING_SD / np.sqrt(r.size)
    assert abs(r.std() / READING_SD - 1.0) < 0.2


def test_a_wrong_sign_anywhere_would_show() -> None:
    # Negative control: turning the opening, swapping the sides or changing the axes does not fit the table.
    good = truth.RECORDS[0]
    swap = truth.Condyles(good.left_mm, good.right_mm, good.pitch_deg)
    mirror = truth.Condyles(
        (good.right_mm[0], -good.right_mm[1] + 0.5, good.right_mm[2]),
        (good.left_mm[0], -good.left_mm[1] + 0.5, good.left_mm[2]),
        good.pitch_deg,
    )
    closed = good._replace(pitch_deg=-good.pitch_deg)
    for wrong in (swap, mirror, closed):
        pose = truth.pose_of(wrong)
        r = np.array([row[1] - truth.distance_mm(p, pose) for p, row in kestrel.TABLE_MM.items()])
        assert (r**2).sum() / READING_SD**2 > 36.5


def test_poses_are_rigid_and_put_the_condyles_where_they_say() -> None:
    half = kestrel.INTERCONDYLAR_MM / 2
    for state in COLUMNS:
        m = truth.pose(state)
        assert np.abs(m[:3, :3] @ m[:3, :3].T - np.eye(3)).max() < 1e-14
        assert abs(np.linalg.det(m[:3, :3]) - 1.0) < 1e-14
    for record in truth.RECORDS:
        m = truth.pose_of(record)
        for side, moved in ((half, record.right_mm), (-half, record.left_mm)):
            at = m[:3, :3] @ np.array([0.0, 0.0, side]) + m[:3, 3]
            assert np.abs(at - np.array([0.0, 0.0, side]) - truth.to_program_axes(moved)).max() < 0.003


def test_pin_of_the_case() -> None:
    # The case was made with these: 2.25 degrees is 4.37 mm on the pin, 0.63 degrees 1.21 mm.
    assert round(truth.pin_mm(np.radians(2.25)), 2) == 4.37
    assert round(truth.pin_mm(np.radians(0.63)), 2) == 1.21
    assert round(truth.PIN_PARALLEL_MIP_MM - truth.PIN_PARALLEL_CR_MM, 2) == 1.21
    assert round(np.degrees(truth.closing_rad()), 2) == 1.63


@given(st.floats(-0.1, 0.2))
def test_opening_of_pin_undoes_pin(opening: float) -> None:
    assert abs(truth.opening_of_pin_rad(truth.pin_mm(opening)) - opening) < 1e-12


def test_slide_of_the_case() -> None:
    forward, left, up = truth.slide_mm(truth.INCISORS_MM)
    assert np.abs(np.array([forward, left, up]) - np.array(truth.SLIDE_INCISORS_MM)).max() < 0.02
    x, y, z = truth.SECOND_MOLAR_MM
    # The case was made with (0.89, 0.09, 0.40) on the right and (0.74, 0.09, 0.48) on the left.
    assert np.abs(np.array(truth.slide_mm((x, y, z))) - [0.89, 0.09, 0.40]).max() < 0.02
    assert np.abs(np.array(truth.slide_mm((x, y, -z))) - [0.74, 0.09, 0.48]).max() < 0.02


def test_changes_of_the_straight_pairs() -> None:
    straight = [("UR", "LR"), ("UCR", "LCR"), ("UA", "LA"), ("UCL", "LCL"), ("UL", "LL")]
    change = [round(kestrel.TABLE_MM[p][1] - kestrel.TABLE_MM[p][0], 2) for p in straight]
    assert change == [1.95, 3.00, 3.50, 3.00, 2.05]
    habit = 0.5 * (change[2] + (change[1] + change[3]) / 2)
    assert abs(habit - kestrel.PIN_OPENED_MM) < 0.06
    lifted = [round(kestrel.TABLE_MM[p][5] - kestrel.TABLE_MM[p][1], 2) for p in straight]
    assert lifted == [0.05, 0.10, 0.10, 0.10, 0.10]


def test_marks_lie_on_the_bases() -> None:
    for arch, marks in (("upper", kestrel.UPPER_MARKS_MM), ("lower", kestrel.LOWER_MARKS_MM)):
        cast = build_arch(arch, 214_000)  # type: ignore[arg-type]
        gum = cast.vertices_mm[np.unique(cast.faces[cast.teeth == 0])]
        for name, place in marks.items():
            near = gum[np.abs(gum - np.array(place)).max(axis=1) < 4.0]
            level = near[np.abs(near[:, 1] - place[1]) < 2.5]
            off = np.hypot(level[:, 0] - place[0], level[:, 2] - place[2]).min()
            assert off < 0.6, f"{name} lies {off:.2f} mm off the wall of the base"


def test_readings_are_repeatable_rounded_and_scatter_as_told() -> None:
    a, b = truth.readings(5, repeats=40), truth.readings(5, repeats=40)
    assert a.tobytes() == b.tobytes()
    assert a.shape == (13, 10, 40)
    steps = a / kestrel.CALIPER_STEP_MM
    assert np.abs(steps - np.round(steps)).max() < 1e-9
    exact = truth.readings(1, sd_mm=0.0, step_mm=0.0)
    assert exact[0, 0, 0] == truth.distance_mm(("UR", "LR"), np.eye(4))
    assert abs((a - exact).std() / READING_SD - 1.0) < 0.03
    assert abs((a - exact).mean()) < 0.002


def test_states_that_do_not_exist_are_refused() -> None:
    with pytest.raises(ValueError, match="state"):
        truth.pose("K")
    with pytest.raises(ValueError, match="record"):
        truth.record_pose(5)


def test_record_3_stands_out_on_the_left() -> None:
    others = np.array([truth.RECORDS[k].left_mm for k in (0, 1, 3)]).mean(axis=0)
    forward, _, up = np.array(truth.RECORDS[2].left_mm) - others
    assert 0.25 < forward < 0.40
    assert -0.45 < up < -0.35


def test_excursions_follow_their_inclinations() -> None:
    half = kestrel.INTERCONDYLAR_MM / 2
    base = truth.pose("B")
    for state, side, deg in (("H", half, 38.0), ("H", -half, 33.0), ("I", half, 42.0), ("J", -half, 37.0)):
        hinge = np.array([0.0, 0.0, side])
        m = truth.pose(state)
        d = (m[:3, :3] @ hinge + m[:3, 3]) - (base[:3, :3] @ hinge + base[:3, 3])
        # The lower keeps its width, so a condyle stands a little off the straight line: under 0.3 degrees.
        assert abs(np.degrees(np.arctan2(-d[1], d[0])) - deg) < 0.3
