"""The invented case tooth by tooth on plane inclines: order, depths, pin and rounds, against a simulation without meshes.

Depths, gaps and lengths are those of the demo case, all invented; the inclines follow from them in closed form.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from mountproof.bench.pin import Pin, pin_from_opening
from mountproof.geometry.closing import closing_map
from mountproof.geometry.surface import prepare
from mountproof.occlusion.trial import Plan, State, begin, run, stop_at
from naive import trial as naive
from occlusion.inclined_planes import facet, grid_faces, turned

#: Hinge to pin forward and down, mm, and how far first contact stands open over MIP (degrees).
PIN = Pin(110.0, 62.0)
MIP_RAD = math.radians(0.63)
#: Where the teeth stand ahead of the hinge, and how far below it, mm.
AHEAD_MM = {17: 50.0, 16: 60.0, 15: 68.0, 14: 76.0, 24: 76.0, 25: 68.0, 26: 60.0, 27: 50.0}
BELOW_MM = 38.0
#: What overlaps at the height of MIP, and how far apart each pair is when 15 meets, mm across.
DEPTH_MM = {15: 0.38, 14: 0.32, 16: 0.28, 17: 0.23, 24: 0.23, 25: 0.21, 26: 0.19, 27: 0.16}
GAP_MM = {15: 0.0, 14: 0.22, 16: 0.22, 17: 0.22, 25: 0.27, 24: 0.30, 26: 0.30, 27: 0.34}
#: The front stays so much short of meeting at the height of MIP, mm along closure.
FRONT_SHORT_MM = 0.3
STEP_MM, HOLDS_MM, HALF_MM, GRID = 0.05, 0.028, 0.4, 9
RADIUS_MM = {t: math.hypot(x, BELOW_MM) for t, x in AHEAD_MM.items()}
#: A plane whose depth grows by d + g over the way to MIP: across over along.
RISE = {t: (DEPTH_MM[t] + GAP_MM[t]) / (MIP_RAD * RADIUS_MM[t]) for t in AHEAD_MM}


def opposite(tooth: int) -> int:
    return tooth + 30 if tooth < 20 else tooth + 10


def body(order: np.random.Generator | None = None) -> State:
    """Eight pairs of facets and one in front; every upper facet is its lower one turned until it meets when it is to."""
    uppers, lowers, up_teeth, low_teeth = [], [], [], []
    for tooth, x in (*AHEAD_MM.items(), (11, 92.0)):
        z = (1.0 if tooth < 20 else -1.0) * (26.0 if tooth % 10 > 1 else 4.0)
        if tooth == 11:
            tilt, meets = 30.0, MIP_RAD + FRONT_SHORT_MM / math.hypot(x, BELOW_MM)
        else:
            tilt = math.degrees(math.acos(RISE[tooth]))
            meets = GAP_MM[tooth] / (RISE[tooth] * RADIUS_MM[tooth])
        lower = facet(tilt, x_mm=x, y_mm=-BELOW_MM, z_mm=z, half_mm=HALF_MM, n=GRID)
        uppers.append(turned(lower, meets))
        lowers.append(lower)
        up_teeth += [tooth] * (2 * (GRID - 1) ** 2)
        low_teeth += [opposite(tooth)] * (2 * (GRID - 1) ** 2)
    faces = np.concatenate([grid_faces(GRID) + k * GRID**2 for k in range(len(lowers))])
    arches = [(np.concatenate(uppers), faces, np.array(up_teeth, np.int32)),
              (np.concatenate(lowers), faces, np.array(low_teeth, np.int32))]  # fmt: skip
    if order is not None:
        arches = [renumbered(*arch, order) for arch in arches]
    up, low = (prepare(v, f, arch=a) for (v, f, _), a in zip(arches, ("upper", "lower"), strict=True))
    return begin(up, low, arches[0][2], arches[1][2], closing_map(up, low), MIP_RAD * 1.3)


def renumbered(
    vertices: np.ndarray, faces: np.ndarray, teeth: np.ndarray, order: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The same surface: vertices and faces in another order, the corners of a face turned on."""
    place = order.permutation(len(vertices))
    moved = np.empty_like(vertices)
    moved[place] = vertices
    rows = order.permutation(len(faces))
    return moved, np.roll(place[faces[rows]], int(order.integers(3)), axis=1).astype(np.int32), teeth[rows]


def pin(closing_rad: float) -> float:
    return pin_from_opening(PIN, MIP_RAD - closing_rad)


@pytest.fixture(scope="module")
def by_marks() -> tuple[State, ...]:
    return run(body(), Plan(STEP_MM, only_holding=True, holds_mm=HOLDS_MM), stop_at(MIP_RAD))


def test_every_round_is_that_of_a_simulation_without_meshes(by_marks: tuple[State, ...]) -> None:
    log, off = naive.inclines(GAP_MM, RISE, RADIUS_MM, STEP_MM, HOLDS_MM, MIP_RAD)
    assert len(by_marks) - 1 == len(log)
    for before, after, (first, held, closing) in zip(by_marks[:-1], by_marks[1:], log, strict=True):
        assert before.closing_rad == pytest.approx(closing, abs=2e-5)
        assert after.rounds[-1].first == (first, opposite(first))
        assert {c.tooth for c in after.rounds[-1].cuts} == held | {opposite(t) for t in held}
    totals = {c.tooth: c.across_mm for c in by_marks[-1].totals()}
    for tooth, mm in off.items():
        assert totals[tooth] + totals[opposite(tooth)] == pytest.approx(mm, rel=0.02)


def test_the_story_comes_out_in_its_order_at_its_pins_and_with_its_depths(
    by_marks: tuple[State, ...],
) -> None:
    assert pin(by_marks[0].closing_rad) == pytest.approx(1.21, abs=0.01)
    rounds = by_marks[-1].rounds
    assert len(rounds) == pytest.approx(17, abs=1)
    assert [one.first[0] for one in rounds[:4]] == [15, 15, 15, 15]
    taken = [{c.tooth for c in one.cuts if c.tooth < 30} for one in rounds]
    assert taken[:3] == [{15}, {15}, {15}] and 14 in taken[3]
    joins = {t: next(n for n, touched in enumerate(taken) if t in touched) for t in AHEAD_MM}
    assert sorted(joins, key=joins.__getitem__)[:4] == [15, 14, 16, 17]
    left = min(joins[t] for t in joins if t > 20)
    assert left > joins[17]
    # the story has the left side join at +0.49; a round is 0.07 mm of the pin on average
    assert pin(by_marks[left].closing_rad) == pytest.approx(0.49, abs=0.08)
    pins = [pin(state.closing_rad) for state in by_marks]
    assert all(a > b for a, b in pairwise(pins)) and pins[-1] <= 0.0 < pins[-2]
    totals = {c.tooth: c.across_mm for c in by_marks[-1].totals()}
    assert set(totals) == {t for tooth in AHEAD_MM for t in (tooth, opposite(tooth))}  # no front contact
    for tooth, mm in DEPTH_MM.items():
        # whole steps: what the story has, and less than one step more
        assert mm - 0.005 <= totals[tooth] + totals[opposite(tooth)] <= mm + STEP_MM + 0.005
        assert totals[tooth] == pytest.approx(totals[opposite(tooth)], rel=0.03)


def test_taking_all_that_overlaps_comes_to_the_same_depths_in_fewer_rounds(
    by_marks: tuple[State, ...],
) -> None:
    states = run(body(), Plan(STEP_MM, holds_mm=HOLDS_MM), stop_at(MIP_RAD))
    log, off = naive.inclines(GAP_MM, RISE, RADIUS_MM, STEP_MM, HOLDS_MM, MIP_RAD, only_holding=False)
    assert len(states) - 1 == len(log) < len(by_marks) - 1
    for state, (_, _, closing) in zip(states, log, strict=False):
        assert state.closing_rad == pytest.approx(closing, abs=4e-5)
    totals = {c.tooth: c.across_mm for c in states[-1].totals()}
    for tooth, mm in off.items():
        assert totals[tooth] + totals[opposite(tooth)] == pytest.approx(mm, abs=0.006)
        assert DEPTH_MM[tooth] <= mm + 0.001 <= DEPTH_MM[tooth] + STEP_MM


@pytest.mark.parametrize("only_holding", [False, True])
def test_the_numbering_of_the_triangles_does_not_show(only_holding: bool) -> None:
    """To the part of a step that a round may leave: a hundredth."""
    plan = Plan(STEP_MM, only_holding=only_holding, holds_mm=HOLDS_MM)
    ends = [run(body(order), plan, lambda s: len(s.rounds) >= 6)[-1]
            for order in (None, np.random.default_rng(4))]  # fmt: skip
    one, other = ends
    assert one.closing_rad * 78.0 == pytest.approx(other.closing_rad * 78.0, abs=1e-3)
    a, b = ({c.tooth: c.across_mm for c in end.totals()} for end in ends)
    assert a == pytest.approx(b, abs=1e-3)
