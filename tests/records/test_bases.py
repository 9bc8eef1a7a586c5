"""Record bases and tracings: planted scatter is found, what differs between sittings is told from chance, stops."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mountproof.records.bases import push_range, stop_to_add, tracing, worst_amplification


def test_range_of_a_pushed_base():
    found = push_range({"rest": 42.60, "right": 42.75, "left": 42.50}, 0.045, "push/lower")
    assert found.value == pytest.approx(0.25)
    assert found.u == pytest.approx(0.045 * math.sqrt(2))
    still = push_range({"rest": 42.6, "right": 42.6}, 0.045, "push/lower")
    assert still.value == 0.0 and still.u == pytest.approx(0.045 * math.sqrt(2))
    with pytest.raises(ValueError, match="two readings"):
        push_range({"rest": 42.6}, 0.045, "push")


def test_scatter_of_one_sitting_is_the_sd_of_both_axes():
    points = np.random.default_rng(2).normal(size=(9, 2)) * [0.3, 0.1]
    found = tracing(points, ["a"] * 9)
    assert found.sd_mm == pytest.approx(math.sqrt(np.trace(np.cov(points.T)) / 2))
    assert found.between_mm is None and not found.between_seen and found.dof == 8
    assert found.low_mm < found.sd_mm < found.high_mm
    assert abs(math.degrees(found.long_rad)) < 20  # it scatters ahead and back
    np.testing.assert_allclose(found.mean_u_mm, points.std(axis=0, ddof=1) / 3)


def test_interval_covers_the_true_scatter():
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(600):
        found = tracing(rng.normal(size=(8, 2)) * 0.2, ["a"] * 4 + ["b"] * 4)
        inside += found.low_mm <= 0.2 <= found.high_mm
    assert 0.93 <= inside / 600 <= 0.97


def test_sittings_apart_are_seen_and_sittings_alike_are_not():
    rng = np.random.default_rng(12)
    names = ["a"] * 5 + ["b"] * 5 + ["c"] * 5
    alike = [tracing(rng.normal(size=(15, 2)) * 0.1, names) for _ in range(400)]
    assert 0.02 <= np.mean([t.between_seen for t in alike]) <= 0.08
    apart = []
    for _ in range(400):
        shift = np.repeat(rng.normal(size=(3, 2)) * 0.4, 5, axis=0)
        apart.append(tracing(shift + rng.normal(size=(15, 2)) * 0.1, names))
    assert np.mean([t.between_seen for t in apart]) > 0.9
    assert math.sqrt(np.mean([t.between_mm**2 for t in apart])) == pytest.approx(0.4, rel=0.1)


def test_too_few_tips():
    for names in (["a", "b"], ["a"]):
        with pytest.raises(ValueError, match="two tips"):
            tracing(np.zeros((len(names), 2)), names)
    with pytest.raises(ValueError, match="sitting of every tip"):
        tracing([[0, 0], [0, 1]], ["a"])


TEETH = np.array([[92, 0], [84, 17], [84, -17], [60, 25], [60, -25], [50, 28], [50, -28]], dtype=float)


def test_the_stop_to_add_is_where_nothing_holds_yet():
    front = TEETH[:3]  # six front teeth bear: the back is left free
    assert worst_amplification(front, TEETH) > 2.0
    found = stop_to_add(front, TEETH[3:], TEETH)
    assert found.candidate in (2, 3)  # a second molar
    assert found.after < found.before
    # one side only: the other side's molar
    side = np.array([[84, 17], [60, 25], [50, 28.0]])
    assert TEETH[3 + stop_to_add(side, TEETH[3:], TEETH).candidate][1] < 0


def test_two_stops_hold_no_plane_and_a_third_may():
    assert worst_amplification(TEETH[:2], TEETH) == math.inf
    assert worst_amplification([], TEETH) == math.inf
    found = stop_to_add(TEETH[[5, 6]], TEETH[[0, 3]], TEETH)
    assert found.before == math.inf and found.candidate == 0 and found.after < 1.5
    assert stop_to_add([[50, 28], [60, 14]], [[70.0, 0.0]], TEETH).after == math.inf  # still in one line
    with pytest.raises(ValueError, match="least one place"):
        stop_to_add(TEETH[:3], np.zeros((0, 2)), TEETH)
