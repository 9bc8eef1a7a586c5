"""What moved between two states: the demo, planted lift and tilt, silence."""

import math

import numpy as np
import pytest

from bench.demo_table import LOWER, PAIRS, SD_MM, STRAIGHT, in_frame, table
from bench.test_pose import demo_marks, made
from mountproof.bench.movement import movement
from mountproof.doubt.guard import judge
from mountproof.geometry.poses import exp6


def about_the_marks(turn):
    """A turn about the middle of the lower marks."""
    middle = np.mean([in_frame(v) for v in LOWER.values()], axis=0)
    return [*turn, *-np.cross(turn, middle)]


def states(pairs, twist, rng=None, repeats=1):
    marks = demo_marks(pairs, u=0.0)
    sd = SD_MM / math.sqrt(repeats)
    return marks, made(marks, {"B": np.eye(4), "F": exp6(twist)}, rng, sd)


def test_demo_small_lift_and_no_tilt():
    got = movement(demo_marks(STRAIGHT), table(), "B", "F")
    assert [round(p.change_mm, 2) for p in got.pairs] == [0.05, 0.10, 0.10, 0.10, 0.10]
    assert not any(p.beyond for p in got.pairs)
    # 2.8 SD of one reading (trap: 0.14 mm for 0.05 mm readings)
    assert got.pairs[0].limit_mm == pytest.approx(2.77 * SD_MM, abs=0.001)
    # mean 0.09 +- 0.06 (two SDs): below the redo limit, flagged
    assert got.mean.value == pytest.approx(0.09, abs=0.005)
    assert 2 * got.mean.u == pytest.approx(0.06, abs=0.005)
    assert got.lift.value == pytest.approx(0.09, abs=0.005)
    assert judge(got.lift.value, got.lift.u, 0.10, 0.20).verdict == "doubtful"
    assert abs(got.pitch.value) < 2 * got.pitch.u
    assert abs(got.roll.value) < 2 * got.roll.u
    # all thirteen pairs see it against the truth of 0.05
    more = movement(demo_marks(PAIRS), table(), "B", "F")
    assert abs(more.lift.value - 0.05) < 2 * more.lift.u


@pytest.mark.parametrize("pairs", [STRAIGHT, PAIRS], ids=["5", "13"])
def test_planted_lift_and_tilt_are_found(pairs):
    marks, lifted = states(pairs, [0, 0, 0, 0, -0.2, 0])
    got = movement(marks, lifted, "B", "F")
    assert got.lift.value == pytest.approx(0.2, abs=0.002)
    assert got.lift.value > got.lift_detectable_mm
    tilt = math.radians(0.15)
    marks, rolled = states(pairs, about_the_marks([tilt, 0, 0]), repeats=3)
    got = movement(marks, rolled, "B", "F")
    assert got.roll.value == pytest.approx(tilt, rel=0.06)
    assert got.roll.value > got.tilt_detectable_rad
    marks, opened = states(pairs, about_the_marks([0, 0, -tilt]), repeats=3)
    got = movement(marks, opened, "B", "F")
    assert got.pitch.value == pytest.approx(tilt, rel=0.06)
    assert got.pitch.value > 1.96 * got.pitch.u


def test_silent_at_three_hundredths():
    rng = np.random.default_rng(9)
    loud = 0
    for _ in range(200):
        marks, still = states(STRAIGHT, [0, 0, 0, 0, -0.03, 0], rng, repeats=3)
        got = movement(marks, still, "B", "F")
        loud += judge(got.lift.value, got.lift.u, 0.10, 0.20).verdict == "does not agree"
    assert loud == 0


def test_no_movement_is_called_movement_as_often_as_promised():
    rng = np.random.default_rng(10)
    marks = demo_marks(STRAIGHT, u=0.0)
    tails, beyond = [], 0
    for _ in range(600):
        still = made(marks, {"B": np.eye(4), "F": np.eye(4)}, rng)
        got = movement(marks, still, "B", "F")
        tails.append(got.still_tail < 0.05)
        beyond += abs(got.lift.value) > got.lift_detectable_mm
    assert np.mean(tails) == pytest.approx(0.05, abs=0.027)
    assert beyond / 600 == pytest.approx(0.05, abs=0.027)


def test_signs():
    # the right side lowered: right pairs longer, left pairs shorter; opening: front pairs longer
    marks, rolled = states(STRAIGHT, [0.004, 0, 0, 0, 0, 0])
    got = {p.pair: p.change_mm for p in movement(marks, rolled, "B", "F").pairs}
    assert got["UR-LR"] > 0.1 > -0.1 > got["UL-LL"]


def test_one_side_lifted_in_the_variant_story():
    # 0.25 mm on the right during set
    marks, lifted = states(STRAIGHT, [0.25 / 68.0, 0, 0, 0, -0.125, 0])
    got = movement(marks, lifted, "B", "F")
    assert got.pairs[0].beyond
    assert not got.pairs[-1].beyond
    assert got.roll.value > got.tilt_detectable_rad


def test_few_pairs_say_only_what_they_carry():
    two = movement(demo_marks(("UA-LA", "UR-LR")), table(), "B", "F")
    assert two.lift is None
    assert two.tilt_detectable_rad == math.inf
    line = movement(demo_marks(("UA-LA", "UA-LCR", "UA-LCL")), table(), "B", "F")
    assert line.mean.u > 0
    with pytest.raises(ValueError, match="no pair"):
        movement(demo_marks(), table(), "B", "Z")
