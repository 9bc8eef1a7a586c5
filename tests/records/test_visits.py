"""Within and between visits."""

import numpy as np
import pytest
from scipy import stats

from mountproof.records.visits import one_way


def test_against_a_general_purpose_library():
    rng = np.random.default_rng(1)
    groups = [rng.normal(m, 0.2, k).tolist() for m, k in ((0.0, 3), (0.3, 2), (0.1, 4), (0.2, 1))]
    book = stats.f_oneway(*groups)
    got = one_way(groups)
    assert got.ratio == pytest.approx(book.statistic)
    assert got.tail == pytest.approx(book.pvalue)


@pytest.mark.parametrize("between", [0.0, 0.1, 0.4])
def test_intervals_cover(between):
    rng = np.random.default_rng(2)
    trials = 1500
    draws = between * rng.normal(size=(trials, 3, 1)) + 0.1 * rng.normal(size=(trials, 3, 3))
    found = [one_way(d.tolist()) for d in draws]
    within = np.mean([f.within_sd[0] <= 0.1 <= f.within_sd[1] for f in found])
    outer = np.mean([f.between_sd[0] <= between <= f.between_sd[1] for f in found])
    assert within == pytest.approx(0.95, abs=0.02)
    assert 0.94 <= outer <= 0.99
    # unbiased, ends below zero kept
    assert np.mean([f.between for f in found]) == pytest.approx(between**2, abs=0.15 * between**2 + 2e-3)
    if between == 0.0:
        assert min(f.between for f in found) < 0.0


def test_equal_values_and_too_few():
    got = one_way([[1.0, 1.0], [1.0, 1.0]])
    assert got.between == 0.0
    assert got.tail == 1.0
    assert got.alike == 0.0
    for groups in ([[1.0, 2.0]], [[1.0], [2.0]], [[1.0, np.nan], [2.0, 3.0]]):
        with pytest.raises(ValueError):
            one_way(groups)
