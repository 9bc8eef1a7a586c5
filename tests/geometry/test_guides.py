"""Axis poses that two condylar guides carry: closed forms, rigidity, sides, and what trade rules say of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.geometry.guides import (
    OTHER,
    OUTWARD,
    Curved,
    Guide,
    Straight,
    Tabled,
    axis_through,
    condyles,
    drop_mm,
    protruded,
    sideways,
)
from mountproof.geometry.poses import closed, exp6, inverse, transform
from mountproof.geometry.protrusion import level_protrusion
from mountproof.geometry.stops import Table, plane_closing, table_closing
from published.agree import agrees
from published.frame import from_sagittal

WIDTH = 110.0
angles = st.floats(-0.3, 1.1)
ways = st.floats(0.0, 9.0)
widths = st.floats(80.0, 150.0)


@pytest.mark.parametrize(("forward", "chord"), [(2.0, "40.6"), (5.0, "34.7"), (6.0, "32.9")])
def test_a_curved_guide_reads_flatter_the_farther_it_goes(forward: float, chord: str) -> None:
    """Trade trap 40: an arc of 17 mm that begins at 45 degrees; chords worked out by hand from the circle."""
    down = drop_mm(Curved(math.radians(45.0), 17.0), forward)
    agrees(chord, math.degrees(math.atan2(down, forward)))


@given(angles, st.floats(5.0, 60.0), st.floats(0.0, 1.0))
def test_a_curved_guide_lies_on_its_circle(a: float, r: float, part: float) -> None:
    x = part * r * (1.0 + math.sin(a)) * 0.999
    down = drop_mm(Curved(a, r), x)
    # the centre lies across the direction in which the guide leaves, below the jaw where it flattens
    centre = np.array([r * math.sin(a), -r * math.cos(a)])
    assert math.hypot(*(np.array([x, down]) - centre)) == pytest.approx(r, abs=1e-9)
    assert drop_mm(Curved(a, 1e9), min(x, 9.0)) == pytest.approx(drop_mm(Straight(a), min(x, 9.0)), abs=1e-5)


def test_a_guide_by_points_is_straight_between_them_and_ends() -> None:
    guide = Tabled((0.0, 2.0, 6.0), (0.0, 2.0, 4.0))
    assert [drop_mm(guide, x) for x in (0.0, 1.0, 2.0, 4.0, 6.0)] == [0.0, 1.0, 2.0, 3.0, 4.0]
    with pytest.raises(ValueError, match="ends at 6"):
        drop_mm(guide, 6.1)


@pytest.mark.parametrize(
    ("slope", "forward"),
    [
        (Straight(0.5), -0.1), (Straight(1.6), 1.0), (Curved(0.5, 0.0), 1.0), (Curved(0.5, 5.0), 9.0),
        (Tabled((0.0,), (0.0,)), 0.0), (Tabled((1.0, 2.0), (0.0, 1.0)), 0.0), (Tabled((0.0, 0.0), (0.0, 1.0)), 0.0),
        (Straight(0.5), math.nan),
    ],
)  # fmt: skip
def test_a_guide_that_is_none_is_refused(slope: Straight | Curved | Tabled, forward: float) -> None:
    with pytest.raises(ValueError):
        drop_mm(slope, forward)


@given(angles, angles, ways, ways, widths, st.floats(-1.0, 1.0))
def test_protrusion_keeps_the_distance_and_stays_on_both_guides(
    a: float, b: float, right: float, left: float, width: float, aside: float
) -> None:
    axis = protruded(Straight(a), Straight(b), right, left, width, aside)
    r, l = condyles(axis, width)  # noqa: E741
    assert np.linalg.norm(r - l) == pytest.approx(width, abs=1e-9)
    assert r[:2] == pytest.approx([right, -right * math.tan(a)], abs=1e-9)
    assert l[:2] == pytest.approx([left, -left * math.tan(b)], abs=1e-9)
    assert 0.5 * (r[2] + l[2]) == pytest.approx(aside, abs=1e-9)
    turn = axis[:3, :3]
    assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)


def test_even_protrusion_is_a_shift_and_nothing_else() -> None:
    axis = protruded(Straight(0.6), Straight(0.6), 5.0, 5.0, WIDTH)
    assert axis == pytest.approx(
        np.array([[1, 0, 0, 5.0], [0, 1, 0, -5.0 * math.tan(0.6)], [0, 0, 1, 0], [0, 0, 0, 1]])
    )


def test_unequal_ways_turn_the_jaw_to_the_side_that_stays_back() -> None:
    """Trade trap 42: 5.0 right and 4.7 left is a turn to the left, by the difference over the width."""
    axis = protruded(Straight(0.0), Straight(0.0), 5.0, 4.7, WIDTH)
    incisors = transform(axis, [92.0, -42.0, 0.0])
    assert incisors[2] < -0.2
    assert math.asin(axis[0, 2]) == pytest.approx(math.asin(0.3 / WIDTH))


@given(
    angles,
    st.floats(-0.2, 0.4),
    st.floats(0.0, 1.5),
    st.floats(0.0, 8.0),
    widths,
    st.sampled_from(["right", "left"]),
)
def test_a_lateral_movement_keeps_the_distance(a, b, shift, travel, width, side) -> None:
    guide = Guide(Straight(0.5), Straight(a), b, shift)
    axis = sideways(guide, side, travel, width)
    points = dict(zip(("right", "left"), condyles(axis, width), strict=True))
    moving, working = points[side], points[OTHER[side]]
    assert np.linalg.norm(moving - working) == pytest.approx(width, abs=1e-9)
    forward = max(travel - shift, 0.0)
    inward = min(travel, shift) + forward * math.tan(b)
    assert moving == pytest.approx(
        [forward, -forward * math.tan(a), OUTWARD[side] * (0.5 * width - inward)], abs=1e-9
    )
    # the working condyle stays in its place but for the side
    assert working[:2] == pytest.approx([0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize(("inward", "shift", "medial", "apparent"), [
    (7.5, 0.0, "0.789915", "7.500000"), (7.5, 0.75, "1.539915", "14.394417"),
])  # fmt: skip
def test_g9_shift_and_slope_of_the_nonworking_condyle(inward, shift, medial, apparent) -> None:
    """Bennett angle by rigid geometry: 6 mm forward; with an immediate shift it reads as one line of 14.4 degrees."""
    guide = Guide(Straight(0.6), Straight(0.6), math.radians(inward), shift)
    for side in ("right", "left"):
        right, left = condyles(sideways(guide, side, 6.0 + shift, WIDTH), WIDTH)
        point = right if side == "right" else left
        gone = WIDTH / 2 - abs(point[2])
        agrees(medial, gone)
        agrees(apparent, math.degrees(math.atan2(gone, point[0])))


def test_g9_path_of_6_mm_at_33_degrees() -> None:
    axis = protruded(Straight(math.radians(33.0)), Straight(math.radians(33.0)), 5.032023, 5.032023, WIDTH)
    assert axis[:2, 3] == pytest.approx([5.032023, -3.267834], abs=1e-6)


def test_the_jaw_going_left_moves_the_right_condyle_and_the_incisors_to_the_left() -> None:
    """Trade traps 3 and 4: the nonworking condyle goes forward, down and inward; the working one hardly moves."""
    axis = sideways(Guide(Straight(0.6), Straight(0.7), 0.15, 0.0), "right", 4.0, WIDTH)
    right, left = condyles(axis, WIDTH)
    assert right[0] == 4.0 and right[1] < -3.0 and right[2] < WIDTH / 2
    assert np.linalg.norm(left - [0, 0, -WIDTH / 2]) < 0.6
    assert transform(axis, [92.0, -42.0, 0.0])[2] < -3.0


@given(st.floats(0.0, 1.2), st.floats(0.0, 7.0))
def test_left_is_the_mirror_of_right(shift: float, travel: float) -> None:
    guide = Guide(Straight(0.6), Curved(0.7, 20.0), 0.15, shift)
    mirror = np.diag([1.0, 1.0, -1.0, 1.0])
    one = sideways(guide, "right", travel, WIDTH, (0.1, 0.2, 1.0))
    other = sideways(guide, "left", travel, WIDTH, (0.1, 0.2, 1.0))
    assert mirror @ one @ mirror == pytest.approx(other, abs=1e-9)


def test_a_working_condyle_may_go_up_and_back_as_it_goes_out() -> None:
    way = np.array([-0.2, 0.3, 1.0])
    axis = sideways(Guide(Straight(0.6), Straight(0.6), 0.1, 0.8), "right", 5.0, WIDTH, way)
    left = condyles(axis, WIDTH)[1] - [0, 0, -WIDTH / 2]
    assert np.cross(left, way * [1, 1, -1]) == pytest.approx(np.zeros(3), abs=1e-9)
    assert left[2] < 0.0


def test_what_a_joint_cannot_do_is_refused() -> None:
    guide = Guide(Straight(0.6), Straight(0.6))
    with pytest.raises(ValueError, match="from 0 up"):
        sideways(guide, "right", -1.0, WIDTH)
    with pytest.raises(ValueError, match="outward"):
        sideways(guide, "right", 1.0, WIDTH, (0.0, 0.0, -1.0))
    with pytest.raises(ValueError, match="distance"):
        protruded(Straight(0.0), Straight(0.0), 200.0, 0.0, WIDTH)
    with pytest.raises(ValueError, match="right condylar"):
        axis_through([0, 0, -55], [0, 0, 55])


# --- stops in closed form ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("anatomy", "degrees", "turn", "gap", "advance"),
    [
        ("GA", 30, "1.69205", "1.5000", None), ("GA", 33, None, "1.6339", None), ("GA", 40, None, "1.9284", None),
        ("GB", 30, "2.0380", "1.4136", "6.3629"), ("GB", 33, "2.2186", "1.5388", "6.2971"),
        ("GB", 40, "2.6150", "1.8136", "6.0740"),
    ],
)  # fmt: skip
def test_g8_incisors_on_a_level_plane(anatomy, degrees, turn, gap, advance) -> None:
    """The gap that opens behind in protrusion, by guides and a stop; numbers of the closed form, 6 mm along the path."""
    incisor, molar = {
        "GA": (from_sagittal(101.6, 0), from_sagittal(50.8, 0)),
        "GB": (from_sagittal(83.75, -34.3), from_sagittal(44, -34.3)),
    }[anatomy]
    a = math.radians(degrees)
    axis = protruded(Straight(a), Straight(a), 6.0 * math.cos(a), 6.0 * math.cos(a), WIDTH)
    closing = plane_closing(axis, incisor, incisor, [0.0, -1.0, 0.0])
    motion = axis @ closed(closing)
    if turn is not None:
        agrees(turn, math.degrees(closing))
    agrees(gap, -(transform(motion, molar) - molar)[1])
    if advance is not None:
        agrees(advance, (transform(motion, incisor) - incisor)[0])
    assert motion == pytest.approx(level_protrusion(6.0, a, incisor).motion, abs=1e-12)


def test_a_pin_on_a_table_guides_as_its_mirror_on_a_plane() -> None:
    """A tip on the upper over a plane of the lower: seen from the lower it is the upper that moves."""
    tip = np.array([110.0, -62.0, 0.0])
    table = Table(tuple(tip), ahead_rad=0.3, right_rad=0.5, left_rad=0.4)
    still = np.eye(4)
    assert table_closing(table, still) == pytest.approx(0.0, abs=1e-15)
    axis = protruded(Straight(0.6), Straight(0.6), 4.0, 4.0, WIDTH)
    motion = axis @ closed(table_closing(table, axis))
    seen = transform(inverse(motion), tip) - tip
    # the jaw has gone ahead, so the tip stands behind the middle of the table, and higher by its slope
    assert seen[0] < -3.0 and seen[1] == pytest.approx(-math.tan(0.3) * seen[0], abs=1e-12)


@pytest.mark.parametrize(("moving", "wing"), [("right", "left_rad"), ("left", "right_rad")])
def test_a_wing_of_the_table_guides_to_its_side(moving: str, wing: str) -> None:
    tip = np.array([110.0, -62.0, 0.0])
    guide = Guide(Straight(0.6), Straight(0.6), 0.1)
    axis = sideways(guide, moving, 4.0, WIDTH)
    flat = table_closing(Table(tuple(tip)), axis)
    for name in ("left_rad", "right_rad"):
        met = table_closing(Table(tuple(tip), **{name: 0.5}), axis)
        assert (met < flat - 0.005) == (name == wing)
    motion = axis @ closed(table_closing(Table(tuple(tip), **{wing: 0.5}), axis))
    seen = transform(inverse(motion), tip) - tip
    assert seen[1] == pytest.approx(math.tan(0.5) * abs(seen[2]), abs=1e-12)


@given(st.floats(0.1, 8.0))
def test_a_longer_pin_opens_by_what_the_pin_formula_says(pin: float) -> None:
    tip = (110.0, -62.0, 0.0)
    opening = -table_closing(Table(tip, pin_mm=pin), np.eye(4))
    # straight pin on a flat table: s = x tan t + |y| (1 / cos t - 1)
    assert tip[0] * math.tan(opening) + 62.0 * (1.0 / math.cos(opening) - 1.0) == pytest.approx(pin, abs=1e-9)
    assert -table_closing(Table(tip, pin_mm=pin, zero_rad=0.02), np.eye(4)) == pytest.approx(opening - 0.02)


@given(st.floats(-0.2, 1.0), st.floats(0.0, 7.0), st.lists(st.floats(-0.03, 0.03), min_size=3, max_size=3))
def test_a_stop_on_a_plane_rests_on_it(slope: float, travel: float, off: list[float]) -> None:
    axis = sideways(Guide(Straight(0.5), Straight(0.6), 0.2), "left", travel, WIDTH) @ exp6([*off, 0, 0, 0])
    point = np.array([90.0, -40.0, 3.0])
    normal = np.array([-math.sin(slope), -math.cos(slope), 0.1])
    through = point + np.array([1.0, 0.0, 0.0])
    closing = plane_closing(axis, point, through, normal)
    gone = transform(axis @ closed(closing), point)
    assert float(normal @ (gone - through)) == pytest.approx(0.0, abs=1e-9)


def test_a_stop_that_is_out_of_reach_is_never_met() -> None:
    assert plane_closing(np.eye(4), [90.0, -40.0, 0.0], [0.0, 500.0, 0.0], [0.0, -1.0, 0.0]) == math.inf
    assert table_closing(Table((10.0, -62.0, 0.0), pin_mm=-60.0), np.eye(4)) == math.inf


@given(st.floats(0.3, 0.8), st.floats(0.0, 0.6), st.floats(30.0, 80.0))
def test_a_tooth_goes_down_by_its_share_of_both_guides(condyle: float, front: float, ahead: float) -> None:
    """At first order the slope at a tooth is that of the path and of the front in the shares of its distance."""
    incisor, tooth = np.array([92.0, 0.0, 0.0]), np.array([ahead, 0.0, 0.0])
    travel = 1e-4
    axis = protruded(Straight(condyle), Straight(condyle), travel, travel, WIDTH)
    closing = plane_closing(axis, incisor, incisor, [-math.sin(front), -math.cos(front), 0.0])
    down = -(transform(axis @ closed(closing), tooth) - tooth)[1] / travel
    share = (92.0 - ahead) / 92.0 * math.tan(condyle) + ahead / 92.0 * math.tan(front)
    assert down == pytest.approx(share, abs=1e-4)


def test_five_degrees_of_the_path_are_a_fifth_of_a_millimetre_at_the_second_molar() -> None:
    """Trade trap 46: over 4 mm, incisors sliding level, on a stand-in skull (common practice, no source)."""
    gaps = []
    for deg in (30.0, 35.0):
        a = math.radians(deg)
        axis = protruded(Straight(a), Straight(a), 4.0, 4.0, WIDTH)
        for y in (0.0, -40.0):
            incisor, molar = np.array([92.0, y, 0.0]), np.array([50.0, y, 0.0])
            motion = axis @ closed(plane_closing(axis, incisor, incisor, [0.0, -1.0, 0.0]))
            gaps.append(-(transform(motion, molar) - molar)[1])
    # at the height of the axis, and 40 mm below it
    assert [gaps[2] - gaps[0], gaps[3] - gaps[1]] == pytest.approx([0.22, 0.22], abs=0.005)
