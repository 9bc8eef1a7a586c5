"""Steps in their natural numbers, held against rigid motions by finite displacement, mirrors and plain cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.doubt.chain import ROUTES, ChainStep, chain, rows, sds
from mountproof.doubt.faults import INCISORS_MM, MOLAR_MM
from mountproof.doubt.motions import MIDDLE_MM, as_twist, at_place, condyles_of
from mountproof.doubt.network import SHOWN
from mountproof.doubt.step_kinds import (
    PLATE_STOPS_MM,
    column_step,
    even_column_step,
    expansion_sd,
    facebow_step,
    hinge_covariance,
    hinge_motion,
    hinge_of_placement,
    material_step,
    motion_step,
    sd_at,
    stops_step,
    visit_step,
)
from mountproof.doubt.steps import (
    USUAL_STOPS_MM,
    Step,
    axis_motion,
    covariance,
    free_step,
    play_step,
    record_step,
    seat_step,
)
from mountproof.geometry.hinge import axis_error_shift
from mountproof.geometry.poses import exp6, opened, rotation_about, transform

HALF = 55.0
PLACES = np.array([MOLAR_MM, (MOLAR_MM[0], MOLAR_MM[1], -MOLAR_MM[2]), INCISORS_MM, (0.0, 0.0, HALF)])
#: The sign of each part of a motion when right and left change places.
MIRROR = np.diag([1.0, 1.0, -1.0, 1.0, -1.0, -1.0])
angles = st.floats(0.0, 0.15)
offs = st.tuples(*[st.floats(-6.0, 6.0)] * 4)


def closed_about(right: tuple[float, float], left: tuple[float, float], closing: float) -> np.ndarray:
    """Where places of the lower lie after opening about the true hinge and closing about two wrong hinge points (4, 3)."""
    at, other = np.array([*right, HALF]), np.array([*left, -HALF])
    along = (at - other) / np.linalg.norm(at - other)
    turn = rotation_about(along, closing)
    turn = turn[:3, :3]
    wide = transform(opened(closing), PLACES)
    return (wide - other) @ turn.T + other


@given(offs, angles)
def test_two_wrong_hinge_points_against_exact_turns(off: tuple[float, ...], closing: float) -> None:
    """(I - R) e at each condyle, yaw and roll in it, is the exact motion up to squares of the error over the width."""
    size = 1e-4  # small errors: what is left of the exact motion is of second order
    e = size * np.array(off)
    exact = closed_about((e[0], e[1]), (e[2], e[3]), closing) - PLACES
    parts = hinge_motion(closing, HALF) @ e
    for place, moved in zip(PLACES, exact, strict=True):
        down, ahead, right = at_place(place) @ parts
        assert np.allclose([ahead, -down, right], moved, atol=1e-9)


@given(offs, angles)
def test_each_condyle_shifts_by_its_own_error(off: tuple[float, ...], closing: float) -> None:
    at = condyles_of(HALF) @ hinge_motion(closing, HALF) @ np.array(off)
    for side in (0, 1):
        shift = axis_error_shift(closing, [off[2 * side], off[2 * side + 1], 0.0])
        assert np.allclose([at[2 + side], -at[side]], shift[:2], atol=1e-12)


def test_nothing_is_lost_where_nothing_was_opened() -> None:
    cov = hinge_covariance(5.0, 4.0, 0.5)
    assert not np.any(covariance(facebow_step(0.0, HALF, cov)))
    assert np.all(np.diag(covariance(facebow_step(0.03, HALF, cov)))[[0, 2, 3, 5]] > 0.0)


def test_hinge_points_that_err_alike_are_one_axis() -> None:
    """With everything shared there is no turn, and the small-angle axis of two numbers comes back."""
    step = facebow_step(0.02, HALF, hinge_covariance(3.0, 3.0, 1.0))
    cov = covariance(step)
    assert np.allclose(cov[[1, 2, 4, 5]], 0.0, atol=1e-15)
    one = axis_motion(0.02) @ (9.0 * np.eye(2)) @ axis_motion(0.02).T
    assert np.allclose(cov, one, atol=2e-4 * one.max() + 9.0 * 0.02**4)


def test_what_both_sides_share_lies_between_nought_and_one() -> None:
    for bad in (-0.1, 1.1):
        with pytest.raises(ValueError, match="between 0 and 1"):
            hinge_covariance(1.0, 1.0, bad)
    assert np.linalg.eigvalsh(hinge_covariance(2.0, 5.0, 0.7)).min() > 0.0


def test_wrong_placement_is_a_wrong_hinge_by_finite_displacement() -> None:
    """The hinge of casts that were moved by a drawn small motion lies off by its inverse at both points."""
    rng = np.random.default_rng(3)
    root = 1e-3 * rng.standard_normal((6, 6))
    cov = root @ root.T
    twists = rng.standard_normal((40_000, 6)) @ root.T
    seen = np.array(
        [
            np.concatenate([(transform(exp6(-t), [0.0, 0.0, s * HALF]))[:2] for s in (1.0, -1.0)])
            for t in twists[:4000]
        ]
    )
    expected = hinge_of_placement(cov, HALF)
    assert np.allclose(np.cov(seen.T), expected, rtol=0.12, atol=0.05 * expected.max())


def all_steps() -> list[Step]:
    return [
        record_step(0.1, HALF),
        visit_step(0.1, HALF),
        material_step(0.05, 0.015),
        stops_step("seat", 0.1),
        facebow_step(0.03, HALF, hinge_covariance(4.0, 4.0, 0.5)),
        free_step("luting", 0.09),
        even_column_step("stone_lower", 0.012, 0.5),
        column_step("stone", [(45, 20), (45, -20), (85, 0)], [22, 22, 30], 0.1),
        stops_step("plate", 0.035, PLATE_STOPS_MM),
        play_step(0.05, HALF),
    ]


@pytest.mark.parametrize("step", all_steps(), ids=lambda s: s.key)
def test_each_step_moves_places_as_the_rigid_motion_does(step: Step) -> None:
    """The adjoint of each natural number against the exact rigid motion, by finite displacement with poses."""
    h = 1e-5
    for k in range(step.motion.shape[1]):
        parts = step.motion[:, k]
        moved = transform(exp6(h * (as_twist(MIDDLE_MM) @ parts)), PLACES) - PLACES
        for place, shift in zip(PLACES, moved, strict=True):
            down, ahead, right = h * (at_place(place) @ parts)
            assert np.allclose([ahead, -down, right], shift, atol=1e-8)


@pytest.mark.parametrize("step", all_steps(), ids=lambda s: s.key)
def test_right_and_left_may_change_places(step: Step) -> None:
    """Nothing in an orderly step prefers a side: the covariance is the same in a mirror."""
    cov = covariance(step)
    assert np.allclose(MIRROR @ cov @ MIRROR.T, cov, atol=1e-12)


@given(st.lists(st.tuples(st.floats(40, 95), st.floats(-30, 30)), min_size=3, max_size=6))
def test_stops_in_natural_numbers_are_the_seat_as_it_was(stops: list[tuple[float, float]]) -> None:
    assert np.allclose(covariance(stops_step("seat", 0.1, stops)), covariance(seat_step(0.1, stops)))


def test_material_keeps_off_evenly_and_by_itself_at_stops() -> None:
    even = sd_at(material_step(0.05, 0.0), MOLAR_MM)
    assert np.allclose(even, [0.05, 0.0, 0.0], atol=1e-15)
    at_stop = (*USUAL_STOPS_MM[0][:1], MIDDLE_MM[1], USUAL_STOPS_MM[0][1])
    assert sd_at(material_step(0.0, 0.02), at_stop)[0] == pytest.approx(0.02)


def test_a_column_lifts_by_its_height_and_tilts_as_a_wedge() -> None:
    """20 mm x 0.05 % = 10 um (exact arithmetic of a free expansion); one third of the variance of a rectangle's bound."""
    places = [(45.0, 20.0), (45.0, -20.0), (85.0, 0.0)]
    even = column_step("stone", places, [20.0] * 3, 0.05)
    assert even.motion[:, 0] == pytest.approx([-0.010, 0.0, 0.0, 0.0, 0.0, 0.0])
    assert sd_at(even, MOLAR_MM)[0] == pytest.approx(0.010 / np.sqrt(3.0))
    assert expansion_sd(0.03) == pytest.approx(0.03 / np.sqrt(3.0))
    wedge = column_step("stone", places, [20.0, 20.0, 40.0], 0.10)
    front = (at_place((85.0, MIDDLE_MM[1], 0.0)) @ wedge.motion)[0, 0]
    back = (at_place((45.0, MIDDLE_MM[1], 0.0)) @ wedge.motion)[0, 0]
    assert front == pytest.approx(-0.040) and back == pytest.approx(-0.020)  # front lifted more
    with pytest.raises(ValueError, match="not in a line"):
        column_step("stone", [(45.0, 0.0), (60.0, 0.0), (85.0, 0.0)], [20.0] * 3, 0.1)


@given(st.integers(0, 1000))
def test_a_twist_goes_to_parts_and_back(seed: int) -> None:
    root = np.random.default_rng(seed).standard_normal((6, 6))
    cov = covariance(motion_step("registration", root @ root.T))
    a = as_twist(MIDDLE_MM)
    assert np.allclose(a @ cov @ a.T, root @ root.T, atol=1e-8 * np.abs(a).max() ** 2)


def small_chain() -> list[ChainStep]:
    return [
        ChainStep("record", "record/0", record_step(0.1, HALF), 12.0),
        ChainStep("record/1", "record/1", record_step(0.1, HALF)),
        ChainStep("visit", "record/0", visit_step(0.1, HALF), also=("record/1",)),
        ChainStep("seat", "seat/0", stops_step("seat", 0.1)),
        ChainStep("luting", "set", free_step("luting", 0.09)),
        ChainStep("plate", "set", stops_step("plate", 0.035, PLATE_STOPS_MM)),
    ]


def test_steps_that_share_a_block_are_all_seen_there() -> None:
    made = chain(("a", "b"), small_chain())
    picked = made.network.pick("set") @ made.network.honest
    seen = {key for key, where in made.columns.items() if np.any(picked[:, where])}
    assert seen == {"luting", "plate"}
    assert made.dofs["record"] == 12.0 and np.isinf(made.dofs["seat"])


def test_what_a_visit_has_of_its_own_cancels_between_its_records() -> None:
    made = chain(("a", "b"), small_chain())
    picked = made.network.pick("record/0", minus=("record/1",)) @ made.network.honest
    assert not np.any(picked[:, made.columns["visit"]])
    shown = made.network.pick(*SHOWN) @ made.network.honest
    assert np.any(shown[:, made.columns["visit"]])


def test_wanted_rows_add_up_step_by_step() -> None:
    made = chain(("a", "b"), small_chain())
    at = np.stack([at_place(p) for p in PLACES])
    own = sds(made, ROUTES["mounted"], at)
    whole = rows(made, ROUTES["mounted"], at)
    variance = np.einsum("mij,jk,mik->mi", whole, made.network.honest_cov, whole)
    assert np.allclose(sum(v**2 for v in own.values()), variance)
    scans = sds(made, ROUTES["scans"], at)
    assert not np.any(scans["luting"]) and np.any(scans["record"])


def test_a_key_stands_once_and_a_block_is_known() -> None:
    one = ChainStep("seat", "seat/0", stops_step("seat", 0.1))
    with pytest.raises(ValueError, match="key of its own"):
        chain(("a",), [one, one])
    with pytest.raises(KeyError):
        chain(("a",), [one._replace(block="nowhere")])
