"""What is added at the end of a trial: closed forms on balls over a plane, nobody built up twice, and limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.geometry.contact import first_contact
from mountproof.occlusion.trial import Plan, State, run, stop_at
from mountproof.occlusion.trial_filled import filled
from occlusion.test_trial import FIRST_MM, R_MM, SECOND_MM, begun

GAP_MM = SECOND_MM - FIRST_MM


@pytest.fixture(scope="module")
def closed() -> State:
    """Two balls (15, 16) above a plane (45, 46), closed until the first meets; the second stays 0.08 mm open."""
    return begun()


@pytest.mark.parametrize("share", ["both", "upper", "lower"])
def test_an_open_pair_is_built_up_until_it_meets(closed: State, share) -> None:
    got = filled(closed, Plan(0.05, share), 0.5)
    assert got.open_mm == ()
    # the arches close as far as before, and the second pair holds now
    assert got.state.closing_rad == pytest.approx(closed.closing_rad, abs=2e-4 / R_MM)
    assert {(m.upper_label, m.lower_label) for m in got.state.met} == {(15, 45), (16, 46)}
    heights = {cut.tooth: cut.along_mm for cut in got.added}
    parts = {"both": {16: 0.5, 46: 0.5}, "upper": {16: 1.0}, "lower": {46: 1.0}}[share]
    assert set(heights) == set(parts)
    # at its rim the patch is raised by what is open there: the gap and the band above it
    for tooth, part in parts.items():
        assert part * GAP_MM <= heights[tooth] <= part * (GAP_MM + 0.1) + 1e-3
    # a ball of radius R stands within the band over a disc of area 2 pi R band: filled, gap times area and half a band more
    area = 2.0 * math.pi * 1.5 * 0.1
    whole = sum(cut.volume_mm3 for cut in got.added)
    assert whole == pytest.approx(area * (GAP_MM + 0.05), rel=0.12)
    again = first_contact(got.state.upper.surface, got.state.lower.surface)
    assert again is not None and again.closing_rad == got.state.closing_rad


def test_what_holds_is_left_alone_and_limits_are_kept(closed: State) -> None:
    touched = {cut.tooth for cut in filled(closed, Plan(), 0.5).added}
    assert touched == {16, 46}
    short = filled(closed, Plan(), GAP_MM - 0.01)
    assert short.added == () and short.state.closing_rad == closed.closing_rad
    ((upper, lower, gap_mm),) = short.open_mm
    assert (upper, lower) == (16, 46) and gap_mm == pytest.approx(GAP_MM, abs=3e-3)
    kept = filled(closed, Plan(excluded=frozenset({16, 46})), 0.5)
    assert kept.added == () and kept.open_mm[0][:2] == (16, 46)
    alone = filled(closed, Plan(excluded=frozenset({16})), 0.5)
    assert {cut.tooth for cut in alone.added} == {46}
    for wrong in (-0.1, math.nan, math.inf):
        with pytest.raises(ValueError, match="0 mm or more"):
            filled(closed, Plan(), wrong)


@settings(max_examples=4)
@given(down=st.floats(0.33, 0.37))
def test_after_rounds_only_what_is_still_open_is_filled_and_undoing_it_is_going_on(down: float) -> None:
    state = run(begun(), Plan(0.02), stop_at(down / R_MM))[-1]
    before = state.upper.surface.rest_mm.copy()
    got = filled(state, Plan(), 0.5)
    assert {cut.tooth for cut in got.added} == {16, 46}
    low = min(cut.along_mm for cut in got.added)
    assert low >= 0.5 * (SECOND_MM - R_MM * state.closing_rad) - 2e-3
    assert np.array_equal(state.upper.surface.rest_mm, before)  # a frozen state: to undo is to go on from it
