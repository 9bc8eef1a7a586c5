"""What teeth need at a vertical dimension: who is reshaped, budgets, and the height of MIP, by hand and by finite steps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.geometry.carry import from_covariance
from mountproof.geometry.contact import first_contact
from mountproof.geometry.poses import pose, rotation_z, transform
from mountproof.geometry.surface import moved, prepare
from mountproof.geometry.sweep import Sweep
from mountproof.occlusion.change import (
    blocked,
    carried_closing,
    carried_height,
    height_closing,
    needs,
    parts_of,
    window,
)
from naive.bodies import ball, placed, turned


def found(pairs: dict[tuple[int, int], float], angles=(0.0, 0.01, 0.02), radius=50.0) -> Sweep:
    """A made-up sweep of pairs that meet at these closings: depth r (t - g), all at one radius, a unit of area."""
    t = np.array(angles)
    meets = np.array(list(pairs.values()))
    deep = np.maximum(radius * (t - meets[:, None]), 0.0)
    gap = np.maximum(radius * (meets[:, None] - t), 0.0)
    up, low = np.array(list(pairs)).T
    zero = np.zeros_like(deep)
    inf = np.full(len(pairs), np.inf)
    return Sweep(t, up, low, meets, deep, deep, zero, zero, zero, deep, zero, inf, gap, inf, gap)


def test_an_overlap_is_shared_or_left_to_the_opponent() -> None:
    assert parts_of(16, 46, "both") == (0.5, 0.5)
    assert parts_of(16, 46, "upper") == (1.0, 0.0)
    assert parts_of(16, 46, "both", {16}) == (0.0, 1.0)
    assert parts_of(16, 46, "upper", {16}) is None
    assert parts_of(16, 0, "both") == (1.0, 0.0)
    assert parts_of(16, 0, "lower") is None


@given(
    share=st.sampled_from(["both", "upper", "lower"]), out=st.sets(st.sampled_from([14, 15, 16, 44, 45, 46]))
)
def test_what_comes_off_both_sums_up_to_the_overlap_unless_neither_may_be_reshaped(share, out) -> None:
    swept = found({(16, 46): 0.0, (15, 45): 0.004, (14, 44): 0.015})
    got = needs(swept, share, out)
    stopped = {(u, w) for u, w, _ in blocked(swept, share, out)}
    for n, pair in enumerate(zip(swept.upper_labels, swept.lower_labels, strict=True)):
        total = sum(got.off_mm3[got.teeth.index(tooth)] for tooth in pair)
        assert total == pytest.approx(0.0 if pair in stopped else swept.volume_mm3[n])
        for tooth in out & set(pair):
            assert not got.off_mm[got.teeth.index(tooth)].any()


def test_a_tooth_lacks_what_its_nearest_opponent_leaves_open() -> None:
    got = needs(found({(16, 46): 0.012, (16, 47): 0.018}))
    assert got.add_mm[got.teeth.index(16)] == pytest.approx([0.6, 0.1, 0.0])
    assert got.add_mm[got.teeth.index(47)] == pytest.approx([0.9, 0.4, 0.0])


def test_budgets_bound_the_closing_and_without_any_nothing_is_claimed() -> None:
    got = needs(found({(16, 46): 0.002, (15, 45): 0.006, (11, 41): 0.030}))
    free = window(got, {})
    assert (free.least.tooth, free.most.tooth) == (0, 0) and free.open
    # half of 50 (t - 0.002) is 0.1 at t = 0.006; half of 50 (t - 0.006) is 0.3 at 0.018
    bound = window(got, {16: 0.1, 45: 0.3})
    assert bound.most.tooth == 16
    assert bound.most.closing_rad == pytest.approx(
        0.006, abs=2.1e-3
    )  # straight between the angles of the sweep
    # 50 (0.030 - t) is 1.25 at t = 0.005
    both = window(got, {16: 0.1}, {11: 1.25})
    assert both.least.tooth == 11
    assert both.least.closing_rad == pytest.approx(0.005)
    assert both.open and not window(got, {16: 0.1}, {11: 0.6}).open


@given(closing=st.floats(-0.03, 0.06), up=st.floats(-2, 2), ahead=st.floats(-2, 2))
def test_the_height_of_mip_is_reached_exactly(closing, up, ahead) -> None:
    start = pose(rotation_z(-0.04)[:3, :3], [ahead, 0.2, 0.1])
    place = np.array([90.0, -40.0, 2.0])
    high = transform(rotation_z(closing) @ start, place)[1]
    mip = np.eye(4)
    mip[:3, 3] = [up, high - place[1], 0.5]
    assert height_closing(start, mip, place) == pytest.approx(closing, abs=1e-12)


def test_a_height_that_is_never_reached_is_refused() -> None:
    mip = np.eye(4)
    mip[1, 3] = 200.0
    with pytest.raises(ValueError, match="never stands"):
        height_closing(np.eye(4), mip, np.array([90.0, -40.0, 0.0]))


@pytest.mark.parametrize("way", range(6))
def test_doubt_of_closings_follows_small_motions(way) -> None:
    """First order against the same small motion done for real, for a contact and for the height of MIP."""
    step = np.zeros(6)
    step[way] = 1e-5
    small = np.eye(4)
    small[:3, :3] += np.array([[0, -step[2], step[1]], [step[2], 0, -step[0]], [-step[1], step[0], 0]])
    small[:3, 3] = step[3:]
    upper = prepare(*placed(ball(4, 3.0), (60, -20, 1)), arch="upper")
    low = turned(placed(ball(4, 2.0), (60.4, -25.5, 0.3)), -0.02)
    lower = prepare(*low, arch="lower")
    contact = first_contact(upper, lower)
    back = rotation_z(-contact.closing_rad) @ small @ rotation_z(contact.closing_rad)
    u, _, v = np.linalg.svd(back[:3, :3])
    back[:3, :3] = u @ v
    again = first_contact(upper, moved(lower, back))
    one = np.zeros((6, 6))
    one[way, way] = 1.0
    unit = from_covariance(np.zeros(6), one, "way")
    slope = (again.closing_rad - contact.closing_rad) / 1e-5
    assert abs(slope) == pytest.approx(carried_closing(contact, unit).u, rel=0.02, abs=2e-4)
    place, start, mip = np.array([90.0, -40.0, 2.0]), rotation_z(-0.03), np.eye(4)
    closing = height_closing(start, mip, place)
    there = rotation_z(-closing) @ small @ rotation_z(closing) @ start
    moved_there = (height_closing(there, mip, place) - closing) / 1e-5
    still = from_covariance(np.zeros(6), np.zeros((6, 6)), "mip")
    assert abs(moved_there) == pytest.approx(
        carried_height(closing, start, place, unit, still).u, rel=1e-3, abs=1e-6
    )
    of_mip = (height_closing(start, small @ mip, place) - closing) / 1e-5
    assert abs(of_mip) == pytest.approx(
        carried_height(closing, start, place, still, unit).u, rel=1e-3, abs=1e-6
    )
