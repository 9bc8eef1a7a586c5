"""A trial on duplicates: against a raster of its own, sums conserved, undone by going on from an earlier state."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contact
from mountproof.geometry.surface import prepare
from mountproof.geometry.sweep import sweep
from mountproof.occlusion.trial import Plan, State, begin, next_round, run, stop_at, stop_when_spent
from naive import trial as naive
from naive.bodies import Body, ball, placed

#: Bottom of the first ball and of the second over the plane, mm.
FIRST_MM, SECOND_MM = 0.30, 0.38
R_MM = 60.0


def casts(plane_cells: int = 61) -> tuple[Body, np.ndarray, Body, np.ndarray]:
    """Two balls (15, 16) above one plane (45, 46), the second a little later; numbers by face."""
    balls = [placed(ball(6, 1.5), (R_MM, 1.5 + gap, z)) for gap, z in ((FIRST_MM, -2.0), (SECOND_MM, 2.0))]
    upper = Body(
        np.concatenate([b.vertices for b in balls]),
        np.concatenate([balls[0].faces, balls[1].faces + len(balls[0].vertices)]).astype(np.int32),
    )
    x, z = np.meshgrid(np.linspace(-2, 2, plane_cells), np.linspace(-4, 4, 2 * plane_cells), indexing="ij")
    i = np.arange(x.size).reshape(x.shape)
    a, b, c, d = i[:-1, :-1].ravel(), i[1:, :-1].ravel(), i[:-1, 1:].ravel(), i[1:, 1:].ravel()
    faces = np.concatenate([np.stack([a, c, b], 1), np.stack([b, c, d], 1)]).astype(np.int32)
    lower = Body(np.stack([R_MM + x.ravel(), 0 * x.ravel(), z.ravel()], 1), faces)
    up_teeth = np.repeat(np.array([15, 16], np.int32), len(balls[0].faces))
    low_teeth = np.where(lower.vertices[faces][:, :, 2].mean(1) < 0, 45, 46).astype(np.int32)
    return upper, up_teeth, lower, low_teeth


def begun(end_mm: float = 0.9, **more: int) -> State:
    upper, up_teeth, lower, low_teeth = casts(**more)
    surfaces = prepare(*upper, arch="upper"), prepare(*lower, arch="lower")
    return begin(*surfaces, up_teeth, low_teeth, closing_map(*surfaces), end_mm / R_MM)


def test_rounds_equal_those_of_a_raster() -> None:
    states = run(begun(), Plan(0.05), stop_at(0.45 / R_MM))
    r, z = np.arange(R_MM - 0.9, R_MM + 0.9, 0.06), np.arange(-2.9, 2.9, 0.06)
    up = np.full((len(r), len(z)), np.nan)
    for i, at in enumerate(r):  # the balls by their closed form: the raster needs no mesh at all
        for j, zz in enumerate(z):
            for gap, middle in ((FIRST_MM, -2.0), (SECOND_MM, 2.0)):
                up[i, j] = np.fmin(up[i, j], _under_ball(at, zz - middle, gap))
    low = np.zeros_like(up)
    goals = []
    for before in states[:-1]:
        radius = np.hypot(*before.contact.point_mm[:2])
        goals.append(before.closing_rad + 0.05 / (radius * before.contact.rise))
    # each goal builds on where the meshes came to lie, so that no difference adds up
    closings, volumes = naive.rounds(r, z, up, low, goals)
    for after, closing in zip(states[1:], closings, strict=True):
        assert after.closing_rad * R_MM == pytest.approx(closing * R_MM, abs=0.02)
    mine = sum(cut.volume_mm3 for one in states[-1].rounds for cut in one.cuts)
    assert mine == pytest.approx(sum(volumes), rel=0.12)
    assert mine > 0.1


def _under_ball(r: float, z: float, gap: float, radius: float = 1.5) -> float:
    """Angle at which a circle of radius r about the hinge, at z from the ball's middle, enters the ball; NaN if never."""
    half2 = radius**2 - z**2
    if half2 <= 0.0:
        return np.nan
    middle = np.hypot(R_MM, radius + gap)
    cosine = (r * r + middle * middle - half2) / (2 * r * middle)
    return np.nan if cosine > 1.0 else np.arctan2(radius + gap, R_MM) - np.arccos(cosine)


def test_the_second_joins_when_the_first_has_come_down_to_it() -> None:
    states = run(begun(), Plan(0.02), stop_at(0.46 / R_MM))
    firsts = [state.rounds[-1].first for state in states[1:]]
    assert firsts[0] == (15, 45)
    joined = next(n for n, s in enumerate(states) if s.rounds and (16, 46) in s.rounds[-1].holding)
    assert states[joined].closing_rad * R_MM == pytest.approx(SECOND_MM, abs=0.02)
    assert all(a.closing_rad < b.closing_rad for a, b in pairwise(states))


@pytest.mark.parametrize("share", ["both", "upper", "lower"])
def test_sums_are_conserved_and_the_masters_are_not_touched(share) -> None:
    upper, up_teeth, lower, low_teeth = casts()
    kept = upper.vertices.copy(), lower.vertices.copy()
    surfaces = prepare(*upper, arch="upper"), prepare(*lower, arch="lower")
    chart = closing_map(*surfaces)
    states = run(
        begin(*surfaces, up_teeth, low_teeth, chart, 0.9 / R_MM), Plan(0.05, share), stop_at(0.5 / R_MM)
    )
    assert (upper.vertices == kept[0]).all() and (lower.vertices == kept[1]).all()
    last = states[-1]
    of_rounds: dict[int, float] = {}
    for one in last.rounds:
        for cut in one.cuts:
            of_rounds[cut.tooth] = of_rounds.get(cut.tooth, 0.0) + cut.volume_mm3
    totals = {cut.tooth: cut for cut in last.totals()}
    assert {t: c.volume_mm3 for t, c in totals.items()} == pytest.approx(of_rounds, abs=1e-7)
    touched = {"both": {15, 16, 45, 46}, "upper": {15, 16}, "lower": {45, 46}}[share]
    assert set(totals) == touched
    # all that overlapped came off, and hardly more
    whole = sweep(*surfaces, up_teeth, low_teeth, [last.closing_rad], chart=chart).volume_mm3.sum()
    off = sum(cut.volume_mm3 for cut in totals.values())
    assert whole * 0.98 <= off <= whole * 1.25
    again = first_contact(last.upper.surface, last.lower.surface)
    assert again is not None and again.closing_rad == last.closing_rad


def test_to_undo_is_to_go_on_from_an_earlier_state() -> None:
    states = run(begun(), Plan(0.05), lambda s: len(s.rounds) >= 3)
    again = next_round(states[1], Plan(0.05))
    assert again.closing_rad == states[2].closing_rad
    assert (again.upper.surface.rest_mm == states[2].upper.surface.rest_mm).all()
    branch = next_round(states[1], Plan(0.05, "upper"))
    assert (branch.lower.surface.rest_mm == states[1].lower.surface.rest_mm).all()
    assert len(states[1].rounds) == 1


def test_a_tooth_that_keeps_its_shape_leaves_all_to_its_opponent_and_two_of_them_end_the_trial() -> None:
    one = next_round(begun(), Plan(0.05, "both", frozenset({15})))
    assert {cut.tooth for cut in one.rounds[-1].cuts} == {45}
    assert next_round(begun(), Plan(0.05, "both", frozenset({15, 45}))).stopped == "blocked"
    assert next_round(begun(0.32), Plan(0.05)).stopped == "end"
    stopped = begun()._replace(stopped="end")
    assert next_round(stopped, Plan()) is stopped


def test_the_clinicians_own_budget_ends_a_trial() -> None:
    states = run(begun(), Plan(0.04), stop_when_spent({45: 0.05}))
    spent = [{c.tooth: c.across_mm for c in s.totals()}.get(45, 0.0) for s in states]
    assert spent[-1] >= 0.05 > spent[-2]
    free = run(begun(), Plan(0.1), stop_when_spent({}), most_rounds=3)
    assert len(free) == 4


def test_wide_faces_still_come_down() -> None:
    """A ball meets a face between its corners: the corners are lowered, or it is said that the faces are too wide."""
    states = run(begun(plane_cells=5), Plan(0.05, "lower"), stop_at(0.4 / R_MM), most_rounds=20)
    assert states[-1].stopped == "coarse" or states[-1].closing_rad * R_MM >= 0.4
    assert all(a.closing_rad <= b.closing_rad for a, b in pairwise(states))


def test_nothing_that_meets_is_no_trial() -> None:
    with pytest.raises(ValueError, match="nothing meets"):
        begun(0.1)
