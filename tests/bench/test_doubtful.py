"""Slips of the pen are questioned, honest tables are not, and nothing is dropped."""

import numpy as np
import pytest

from bench.demo_table import PAIRS, STRAIGHT, table
from bench.test_pose import EXCURSIONS, demo_marks
from mountproof.bench.doubtful import questions, slips


def with_slip(pairs, state, pair, typed):
    out = table(pairs)
    out[state][pair] = out[state][pair]._replace(mean_mm=typed)
    return out


@pytest.mark.parametrize("pairs", [PAIRS, STRAIGHT], ids=["13", "5"])
def test_the_demo_table_raises_no_question(pairs):
    assert questions(demo_marks(pairs), table(pairs), "A", slack=EXCURSIONS) == ()


@pytest.mark.parametrize("pairs", [PAIRS, STRAIGHT], ids=["13", "5"])
@pytest.mark.parametrize(
    ("state", "pair", "typed", "meant", "how"),
    [
        ("A", "UCR-LCR", 30.85, 38.05, "two digits swapped"),  # the story's slip
        ("B", "UCR-LCR", 41.50, 41.05, "two digits swapped"),
        ("B", "UA-LA", 46.20, 42.60, "two digits swapped"),
        ("F", "UL-LL", 48.20, 38.20, "whole centimetres"),
        ("C", "UA-LA", 4.295, 42.95, "decimal point moved"),
        ("G", "UR-LR", 35.55, 36.55, "one digit mistyped"),
    ],
)
def test_a_slip_is_named_with_what_was_expected(pairs, state, pair, typed, meant, how):
    before = with_slip(pairs, state, pair, typed)
    (asked,) = questions(demo_marks(pairs), before, "A", slack=EXCURSIONS)
    assert (asked.state, asked.pair, asked.found_mm) == (state, pair, typed)
    assert asked.expected_mm == pytest.approx(meant, abs=3 * asked.expected_u_mm + 0.05)
    assert asked.expected_u_mm < 0.15
    assert how in [s.how for s in asked.slips]
    named = next(s for s in asked.slips if s.how == how)
    assert named.value_mm == pytest.approx(meant, abs=0.06 if how == "one digit mistyped" else 0.006)
    assert before == with_slip(pairs, state, pair, typed)  # the table is untouched


def test_two_slips_are_both_found():
    typed = with_slip(PAIRS, "A", "UCR-LCR", 30.85)
    typed["F"]["UL-LL"] = typed["F"]["UL-LL"]._replace(mean_mm=32.80)
    asked = questions(demo_marks(), typed, "A", slack=EXCURSIONS)
    assert {(q.state, q.pair) for q in asked} == {("A", "UCR-LCR"), ("F", "UL-LL")}


def test_false_alarms_are_as_rare_as_promised():
    rng = np.random.default_rng(5)
    marks = demo_marks(u=0.0)
    from bench.test_pose import made
    from mountproof.geometry.poses import exp6

    poses = {
        "A": np.eye(4),
        "B": exp6([0.002, -0.003, -0.037, -0.3, 0.2, 0.1]),
        "G": exp6([0, 0.003, -0.01, 0.3, 0, 0]),
    }
    alarms = sum(bool(questions(marks, made(marks, poses, rng), "A")) for _ in range(150))
    assert alarms <= 6  # one in a hundred is promised; six of 150 happen once in three thousand


@pytest.mark.parametrize(
    ("found", "expected", "how", "value"),
    [
        (30.85, 38.05, "two digits swapped", 38.05),
        (3.805, 38.05, "decimal point moved", 38.05),
        (380.5, 38.05, "decimal point moved", 38.05),
        (28.05, 38.06, "whole centimetres", 38.05),
        (38.65, 38.05, "one digit mistyped", 38.05),
    ],
)
def test_slips_by_themselves(found, expected, how, value):
    assert any(s.how == how and s.value_mm == pytest.approx(value) for s in slips(found, expected, 0.03))


def test_no_slip_is_made_up():
    assert slips(55.0, 38.05, 0.03) == ()
