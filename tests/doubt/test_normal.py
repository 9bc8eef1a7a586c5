"""Logarithms of normal probabilities, against the general library's own (scipy.special.log_ndtr)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import log_ndtr

from mountproof.doubt.normal import below, log_above, log_below, log_between

_Z = st.floats(-200.0, 200.0)


@given(_Z)
def test_logarithms_of_tails_are_those_of_the_library(z: float) -> None:
    assert float(log_below(np.array(z))) == pytest.approx(log_ndtr(z), rel=3e-7, abs=3e-7)
    assert float(log_above(np.array(z))) == pytest.approx(log_ndtr(-z), rel=3e-7, abs=3e-7)


@given(st.floats(-25.0, 25.0))
def test_they_are_the_logarithms_of_the_probability_itself(z: float) -> None:
    assert np.exp(log_below(np.array(z))) == pytest.approx(float(below(np.array(z))), rel=1e-12)


@given(st.floats(-40.0, 40.0), st.floats(-7.0, 1.8))
def test_what_lies_between_is_the_integral_however_narrow_or_far(middle: float, size: float) -> None:
    wide = 10.0**size
    low, high = middle - 0.5 * wide, middle + 0.5 * wide
    peak = min(max(0.0, low), high)

    # about the highest density, so that nothing underflows in the reference either
    def part(u: float) -> float:
        return float(np.exp(-0.5 * (u - peak) * (u + peak)))

    far = (max(low, peak - 40.0), min(high, peak + 40.0))
    steep = 30.0 / max(1.0, abs(peak))
    at = [p for p in (peak - steep, peak, peak + steep) if far[0] < p < far[1]]
    whole = quad(part, *far, points=at or None, epsabs=0.0, epsrel=1e-10, limit=400)[0]
    wanted = np.log(whole) - 0.5 * peak * peak - 0.5 * np.log(2.0 * np.pi)
    assert float(log_between(np.array(low), np.array(high))[0]) == pytest.approx(wanted, abs=5e-7)


@given(st.floats(-30.0, 30.0), st.floats(0.01, 5.0))
def test_slopes_are_those_of_the_logarithm(low: float, wide: float) -> None:
    high, h = low + wide, 1e-4 * min(1.0, wide)
    _, by_low, by_high = (float(v) for v in log_between(np.array(low), np.array(high)))
    edges = np.array([low - h, low + h])
    lows = log_between(edges, np.array(high))[0]
    highs = log_between(np.array(low), edges + wide)[0]
    size = max(1.0, abs(low), abs(high), 1.0 / wide)
    assert by_low == pytest.approx((lows[1] - lows[0]) / (2 * h), rel=1e-3, abs=1e-2 * size)
    assert by_high == pytest.approx((highs[1] - highs[0]) / (2 * h), rel=1e-3, abs=1e-2 * size)


@given(st.floats(-50.0, 50.0), st.floats(0.001, 10.0))
def test_between_is_the_same_in_the_mirror_and_open_ends_are_tails(low: float, wide: float) -> None:
    a, b = np.array(low), np.array(low + wide)
    assert float(log_between(a, b)[0]) == pytest.approx(float(log_between(-b, -a)[0]), abs=1e-9)
    assert float(log_between(np.array(-np.inf), a)[0]) == pytest.approx(float(log_below(a)), abs=1e-12)
    assert float(log_between(a, np.array(np.inf))[0]) == pytest.approx(float(log_above(a)), abs=1e-12)


def test_an_empty_interval_is_told() -> None:
    with pytest.raises(ValueError, match="begins below"):
        log_between(np.array(1.0), np.array(1.0))
