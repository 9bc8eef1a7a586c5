"""Casts by hand against the mouth: planted patterns of misses are found, chance is not taken for one; widths."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import betaln

from mountproof.bench.hand_casts import pattern_chances, width_change
from mountproof.geometry.quantile import beta_cdf, binomial_interval, f_tail
from mountproof.teeth import is_posterior, mirrored, right_to_left, side_of

TEETH = [t for t in right_to_left("upper") if t % 10 < 8]


def best(missed, teeth=TEETH):
    chances = pattern_chances(teeth, missed)
    assert sum(chances.values()) == pytest.approx(1.0)
    return max(chances, key=lambda k: chances[k])


@pytest.mark.parametrize(
    ("missed", "pattern"),
    [
        ([], "none"),
        ([14], "none"),
        ([17, 16, 15, 14, 13], "right"),
        ([23, 24, 25, 26], "left"),
        ([17, 16, 15, 25, 26, 27], "back"),
        ([13, 12, 11, 21, 22], "front"),
        ([17, 14, 12, 22, 25, 26, 11], "scattered"),
    ],
)
def test_planted_patterns(missed, pattern):
    assert best(missed) == pattern


@given(st.sets(st.sampled_from(TEETH)))
def test_right_and_left_change_places_in_a_mirror(missed):
    here, there = (
        pattern_chances(TEETH, sorted(missed)),
        pattern_chances(TEETH, [mirrored(t) for t in missed]),
    )
    assert here["right"] == pytest.approx(there["left"])
    for pattern in ("none", "scattered", "back", "front"):
        assert here[pattern] == pytest.approx(there[pattern])


def test_the_likelihood_is_that_of_beta_and_binomial():
    """Against the same sums by a general library: right half, any share inside, one in twenty outside."""
    missed = [16, 15, 24]
    inside = [t for t in TEETH if side_of(t) == "right"]
    k_in, k_out, n_in, n_out = 2, 1, len(inside), len(TEETH) - len(inside)
    right = betaln(1 + k_in, 1 + n_in - k_in) + betaln(1 + k_out, 19 + n_out - k_out) - betaln(1, 19)
    none = betaln(1 + 3, 19 + len(TEETH) - 3) - betaln(1, 19)
    chances = pattern_chances(TEETH, missed)
    assert math.log(chances["right"] / chances["none"]) == pytest.approx(right - none, rel=1e-12)


def test_slips_alone_are_seldom_taken_for_a_pattern():
    rng = np.random.default_rng(7)
    wrong = 0
    for _ in range(500):
        missed = [t for t in TEETH if rng.random() < 0.04]
        chances = pattern_chances(TEETH, missed)
        wrong += max(v for k, v in chances.items() if k != "none") > 0.8
    assert wrong <= 5


def test_patterns_that_these_teeth_cannot_tell_are_not_weighed():
    back = [t for t in TEETH if is_posterior(t)]
    assert "back" not in pattern_chances(back, [16]) and "front" not in pattern_chances(back, [16])
    with pytest.raises(ValueError, match="checked"):
        pattern_chances([16, 15], [26])
    with pytest.raises(ValueError, match="checked"):
        pattern_chances([], [])


def test_binomial_interval_covers_and_is_that_of_the_general_library():
    from scipy.stats import binomtest, f

    for k, n in ((0, 8), (1, 8), (5, 14), (14, 14)):
        want = binomtest(k, n).proportion_ci(method="exact")
        assert binomial_interval(k, n) == pytest.approx((want.low, want.high), abs=1e-9)
    assert beta_cdf(0.5, 2.0, 2.0) == pytest.approx(0.5)
    assert f_tail(3.1, 4, 12) == pytest.approx(f.sf(3.1, 4, 12), rel=1e-10)
    for bad in ((3, 2), (-1, 2), (0, 0)):
        with pytest.raises(ValueError, match="k of n"):
            binomial_interval(*bad)


def test_a_planted_narrow_cast_is_found_with_the_offset_of_the_caliper_gone():
    mouth = [56.02, 55.98, 56.01, 55.99, 56.00]
    cast = [v - 0.15 for v in mouth]
    plain = width_change(mouth, cast, 0.02, 0.01, "width/lower")
    assert plain.value == pytest.approx(-0.15)
    assert plain.u == pytest.approx(0.02 * math.sqrt(2 / 5), rel=1e-6)
    off = width_change([v + 0.3 for v in mouth], [v + 0.3 for v in cast], 0.02, 0.01, "width/lower")
    assert off.value == pytest.approx(plain.value)


def test_repeats_that_scatter_more_than_the_caliper_count_with_their_own_scatter():
    found = width_change([56.0, 56.2], [55.9, 56.1], 0.02, 0.05, "w")
    assert found.u == pytest.approx(0.1 * math.sqrt(2), rel=1e-9)
    single = width_change([56.0], [55.9], 0.001, 0.05, "w")
    assert single.u == pytest.approx(math.sqrt(2) * 0.05 / math.sqrt(12))
    with pytest.raises(ValueError, match="mouth"):
        width_change([], [55.9], 0.02, 0.05, "w")
