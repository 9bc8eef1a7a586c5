"""Verdicts with a guard band."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.doubt.guard import judge, judge_difference, judge_interval

sizes = st.floats(0.0, 5.0)


@pytest.mark.parametrize(
    ("value", "u", "want"),
    [
        (0.05, 0.02, "agrees"),
        (0.0, 0.05, "agrees"),
        (0.09, 0.03, "doubtful"),  # the demo's small lift: 0.09 +- 0.06 against 0.10 and 0.20
        (0.15, 0.02, "doubtful"),
        (0.30, 0.04, "does not agree"),
        (0.20, 0.04, "cannot tell"),
        (0.01, 0.09, "cannot tell"),
        (math.nan, 0.01, "cannot tell"),
        (0.0, math.inf, "cannot tell"),
    ],
)
def test_two_limits(value, u, want):
    assert judge(value, u, 0.10, 0.20).verdict == want
    assert judge(-value, u, 0.10, 0.20).verdict == want


@pytest.mark.parametrize(
    ("value", "u", "want"), [(0.1, 0.05, "agrees"), (0.5, 0.05, "does not agree"), (0.3, 0.05, "cannot tell")]
)
def test_one_limit(value, u, want):
    assert judge(value, u, 0.3).verdict == want


@given(sizes, sizes, sizes, sizes)
def test_guard_band_keeps_its_promise(value, u, a, b):
    low, high = sorted((a, b))
    got = judge(value, u, low, high)
    if got.verdict == "agrees":
        assert value + 2 * u <= low
    if got.verdict == "does not agree":
        assert value - 2 * u > high
    if value + 2 * u <= low:
        assert got.verdict == "agrees"
    if value - 2 * u > high:
        assert got.verdict == "does not agree"


@given(sizes, st.floats(0.01, 1.0), sizes)
def test_less_doubt_never_turns_agreement_into_disagreement(value, u, limit):
    order = {"agrees": 0, "cannot tell": 1, "does not agree": 2}
    wide, narrow = judge(value, u, limit).verdict, judge(value, 0.5 * u, limit).verdict
    if wide != "cannot tell":
        assert narrow == wide
    assert order[narrow] in (0, 1, 2)


def test_false_verdicts_are_rare():
    # a value at the very limit: agrees and does not agree are each said in one case of forty or so
    rng = np.random.default_rng(6)
    said = [judge(0.3 + 0.05 * z, 0.05, 0.3).verdict for z in rng.standard_normal(40_000)]
    assert said.count("agrees") / 40_000 == pytest.approx(0.0228, abs=0.003)
    assert said.count("does not agree") / 40_000 == pytest.approx(0.0228, abs=0.003)


def test_difference_adds_both_doubts():
    got = judge_difference(0.04, 0.05, 0.0, 0.075, 0.3)
    assert got.verdict == "agrees"
    assert got.high == pytest.approx(0.04 + 2 * math.hypot(0.05, 0.075))


def test_nonsense_is_refused():
    for bad in ((0.1, 0.1, -0.1, None), (0.1, 0.1, 0.2, 0.1), (0.1, -0.1, 0.2, None)):
        with pytest.raises(ValueError):
            judge(*bad)


@given(st.floats(-2.0, 2.0), st.floats(0.0, 1.0), sizes, st.floats(1.0, 3.0))
def test_an_interval_is_judged_as_the_value_in_its_middle(value, u, limit, factor):
    low, high = value - 2.0 * u, value + 2.0 * u
    for redo in (None, factor * limit):
        assert judge_interval(low, high, limit, redo) == judge(value, u, limit, redo).verdict


def test_an_interval_need_not_lie_about_its_middle():
    assert judge_interval(-0.05, 0.09, 0.1, 0.2) == "agrees"
    assert judge_interval(-0.3, 0.09, 0.1, 0.2) == "cannot tell"
    assert judge_interval(-0.19, -0.01, 0.1, 0.2) == "doubtful"
    assert judge_interval(-0.9, -0.21, 0.1, 0.2) == "does not agree"
