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
from mountproof.occlusion.change import (
    carried_closing,
    carried_height,
    crossing,
    height_closing,
    parts_of,
)
from naive.bodies import ball, placed, turned


def test_an_overlap_is_shared_or_left_to_the_opponent() -> None:
    assert parts_of(16, 46, "both") == (0.5, 0.5)
    assert parts_of(16, 46, "upper") == (1.0, 0.0)
    assert parts_of(16, 46, "both", {16}) == (0.0, 1.0)
    assert parts_of(16, 46, "upper", {16}) is None
    assert parts_of(16, 0, "both") == (1.0, 0.0)
    assert parts_of(16, 0, "lower") is None


@given(
    share=st.sampled_from(["both", "upper", "lower"]),
    out=st.sets(st.sampled_from([16, 46])),
    pair=st.sampled_from([(16, 46), (0, 46), (16, 0)]),
)
def test_both_parts_make_up_the_overlap_and_what_is_left_out_keeps_its_shape(share, out, pair) -> None:
    parts = parts_of(*pair, share, out)
    if parts is None:
        return
    assert sum(parts) == 1.0
    for tooth, part in zip(pair, parts, strict=True):
        assert part == 0.0 or (tooth != 0 and tooth not in out)


def test_a_curve_passes_a_level_where_it_does() -> None:
    angles, rising = np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.0, 3.0])
    assert crossing(angles, rising, 1.5) == pytest.approx(1.5)
    assert crossing(angles, rising, 0.0) == pytest.approx(1.0)
    assert crossing(angles, rising + 1.0, 0.5) == 0.0
    assert crossing(angles, rising, 4.0) == np.inf and crossing(angles, rising, 3.0) == 2.0


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
