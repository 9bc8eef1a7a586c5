"""Many small motions closed at once, against one by one, and against a general-purpose collision library."""

from __future__ import annotations

import os
from functools import lru_cache

import numpy as np
import pytest

from mountproof.faults import Cancelled
from mountproof.geometry.contact import first_contact
from mountproof.geometry.draws import Closings, Near, closings, near
from mountproof.geometry.poses import exp6
from mountproof.geometry.surface import moved, prepare
from mountproof.phantom.arch import build_arch
from mountproof.phantom.truth import record_pose
from naive import collide

_TRIANGLES = 6_000
_BAND_MM, _TURN_RAD, _SHIFT_MM = 0.3, 0.03, 1.2


@lru_cache(maxsize=1)
def ready() -> Near:
    up, low = build_arch("upper", _TRIANGLES), build_arch("lower", _TRIANGLES)
    lower = moved(prepare(low.vertices_mm, low.faces, arch="lower"), record_pose(1))
    return near(
        prepare(up.vertices_mm, up.faces, arch="upper"),
        lower,
        up.teeth,
        low.teeth,
        band_mm=_BAND_MM,
        turn_rad=_TURN_RAD,
        shift_mm=_SHIFT_MM,
    )


def motions(count: int, *, seed: int = 5, deg: float = 0.25, mm: float = 0.2) -> np.ndarray:
    """Motions (count, 4, 4) about the middle of the lower."""
    drawn = np.random.default_rng(seed).standard_normal((count, 6))
    out = exp6(drawn * np.repeat([np.radians(deg), mm], 3))
    middle = ready().middle_mm
    out[:, :3, 3] += middle - out[:, :3, :3] @ middle
    return out


def pairs_at(motion: np.ndarray) -> dict[tuple[int, int], tuple[float, float, float]]:
    """Every pair of teeth by itself: closing, radius, rise."""
    r = ready()
    out = {}
    for u, upper in r.upper_surfaces.items():
        for w, lower in r.lower_surfaces.items():
            got = first_contact(upper, moved(lower, motion @ lower.pose))
            if got is not None:
                out[u, w] = (got.closing_rad, float(np.hypot(*got.point_mm[:2])), got.rise)
    return out


def test_every_motion_closes_as_it_does_by_itself() -> None:
    r, drawn = ready(), motions(200)
    found = closings(r, drawn)
    for k, motion in enumerate(drawn):
        alone = first_contact(r.upper, moved(r.lower, motion @ r.lower.pose))
        assert alone is not None
        assert found.closing_rad[k] == pytest.approx(alone.closing_rad, abs=1e-11)


@pytest.mark.parametrize("seed", [1, 2])
def test_every_pair_of_teeth_near_the_first_is_told_and_no_other(seed: int) -> None:
    drawn = motions(6, seed=seed)
    found = closings(ready(), drawn)
    for k, motion in enumerate(drawn):
        alone = pairs_at(motion)
        first = min(alone, key=lambda p: alone[p][0])
        assert found.pairs[found.first_pair[k]] == first
        for pair, (angle, radius, rise) in alone.items():
            behind = (angle - found.closing_rad[k]) * radius
            told = found.pairs.index(pair) if pair in found.pairs else None
            got = np.nan if told is None else found.pair_closing_rad[k, told]
            if behind <= _BAND_MM - 1e-9:
                assert told is not None
                assert got == pytest.approx(angle, abs=1e-11)
                assert found.pair_radius_mm[k, told] == pytest.approx(radius, abs=1e-6)
                assert found.pair_rise[k, told] == pytest.approx(rise, abs=1e-5)
                assert found.pair_gap_mm[k, told] == pytest.approx(behind, abs=1e-8)
            elif behind > _BAND_MM + 1e-9:
                assert np.isnan(got)


def test_two_teeth_close_at_every_motion_as_by_themselves() -> None:
    """One pair of first molars: small enough that faults can be planted in its bounds (tests/planted)."""
    whole = ready()
    upper, lower = whole.upper_surfaces[16], whole.lower_surfaces[46]
    r = near(
        upper,
        lower,
        np.full(len(upper.faces), 16),
        np.full(len(lower.faces), 46),
        band_mm=0.3,
        turn_rad=0.05,
        shift_mm=2.0,
    )
    drawn = motions(12 if "PLANTED" in os.environ else 300, seed=11, deg=0.4, mm=0.4)
    found = closings(r, drawn)
    alone = [first_contact(upper, moved(lower, m @ lower.pose)) for m in drawn]
    assert found.closing_rad == pytest.approx(
        [np.inf if a is None else a.closing_rad for a in alone], abs=1e-11
    )


def test_motions_larger_than_prepared_for_are_closed_as_well() -> None:
    r = ready()
    drawn = motions(5, seed=9, deg=3.0, mm=2.5)
    found = closings(r, np.concatenate([motions(70), drawn]))
    for k, motion in enumerate(drawn):
        alone = first_contact(r.upper, moved(r.lower, motion @ r.lower.pose))
        assert (alone is None) == (not np.isfinite(found.closing_rad[70 + k]))
        if alone is not None:
            assert found.closing_rad[70 + k] == pytest.approx(alone.closing_rad, abs=1e-12)


def test_a_general_purpose_collision_library_closes_the_same() -> None:
    """coal: touching or not, halved to 1e-7 rad, on 25 motions of the whole arches."""
    r, drawn = ready(), motions(25, seed=3)
    found = closings(r, drawn)
    upper = collide.model((r.upper.vertices_mm, r.upper.faces))
    for motion, closing in zip(drawn, found.closing_rad, strict=True):
        there = moved(r.lower, motion @ r.lower.pose)
        lower = collide.model((there.vertices_mm, there.faces))
        assert not collide.touches(upper, lower, closing - 1e-7)
        assert collide.touches(upper, lower, closing + 1e-7)


def same(a: Closings, b: Closings) -> bool:
    return a.pairs == b.pairs and all(
        np.array_equal(getattr(a, f), getattr(b, f), equal_nan=True) for f in a._fields if f != "pairs"
    )


def test_two_threads_and_one_give_the_same_bytes() -> None:
    drawn = motions(400)
    assert same(closings(ready(), drawn, threads=2), closings(ready(), drawn))


def test_neither_order_nor_company_changes_a_motion() -> None:
    drawn = motions(150)
    found, back = closings(ready(), drawn), closings(ready(), drawn[::-1])
    assert np.array_equal(found.closing_rad, back.closing_rad[::-1])
    assert np.array_equal(found.first_pair, back.first_pair[::-1])
    few = closings(ready(), drawn[:3])
    assert np.array_equal(few.closing_rad, found.closing_rad[:3])


def test_a_twist_is_its_pose() -> None:
    drawn = np.random.default_rng(1).standard_normal((20, 6)) * np.repeat([0.002, 0.05], 3)
    assert same(closings(ready(), drawn), closings(ready(), exp6(drawn)))


def test_a_turn_about_the_hinge_is_taken_back_whole() -> None:
    turns = np.zeros((5, 6))
    turns[:, 2] = np.linspace(-0.01, 0.01, 5)
    found = closings(ready(), turns)
    assert found.closing_rad + turns[:, 2] == pytest.approx(found.closing_rad[2], abs=1e-12)
    assert len(set(found.first_pair.tolist())) == 1


def test_progress_is_told_and_may_stop_the_work() -> None:
    seen: list[float] = []
    closings(ready(), motions(100), told=seen.append)
    assert seen == sorted(seen) and seen[-1] == 1.0

    def stop(share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        closings(ready(), motions(100), told=stop)


def test_what_cannot_be_meant_is_refused() -> None:
    r = ready()
    with pytest.raises(ValueError, match="an upper and a lower"):
        near(r.lower, r.upper, np.zeros(1), np.zeros(1), band_mm=0.1, turn_rad=0.1, shift_mm=0.1)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="band_mm"):
        near(r.upper, r.lower, np.zeros(1), np.zeros(1), band_mm=np.nan, turn_rad=0.1, shift_mm=0.1)  # type: ignore[arg-type]
    mirrored = np.diag([1.0, 1.0, -1.0, 1.0])[None]
    with pytest.raises(ValueError, match="no rigid motion"):
        closings(r, mirrored)
    with pytest.raises(ValueError, match="motions"):
        closings(r, np.zeros((3, 5)))


def test_no_motion_gives_no_contact() -> None:
    found = closings(ready(), np.zeros((0, 6)))
    assert found.closing_rad.shape == (0,) and found.pair_closing_rad.shape[0] == 0


def test_parts_are_the_faces_of_a_label() -> None:
    r = ready()
    assert {p.upper_label for p in r.pairs} <= set(r.upper_surfaces)
    assert sum(len(s.tree_faces) for s in r.upper_surfaces.values()) == len(r.upper.tree_faces)
