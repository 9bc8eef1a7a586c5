"""Charts, nested variances and pooling: closed forms, slow twins, published numbers, and what was planted."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.doubt.control_chart import (
    D2,
    LIMIT_OF_RANGES,
    LIMIT_OF_VALUES,
    RUN,
    control_chart,
    seen_within,
)
from mountproof.doubt.nested_variance import nested_variance
from mountproof.records.pooled import Between, Cell, pooled, visit_variance
from mountproof.records.repeats import pooled_sd
from mountproof.records.visits import one_way


def test_constants_of_the_chart() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.2: d2 = 1.128, 3 / d2 = 2.66; D4 = 3.267 for ranges of two
    assert pytest.approx(1.128, abs=5e-4) == D2
    assert pytest.approx(2.66, abs=5e-3) == LIMIT_OF_VALUES
    assert pytest.approx(3.267, abs=1e-3) == LIMIT_OF_RANGES


def test_no_limits_before_twenty() -> None:
    x = np.random.default_rng(1).standard_normal(19).tolist()
    assert control_chart([*x[:10], 50.0, *x[11:]]).limits is None
    assert control_chart([*x, 0.1]).limits is not None
    assert control_chart([1.0] * 30).limits is None
    with pytest.raises(ValueError, match="finite"):
        control_chart([math.nan] * 30)


def test_a_point_a_jump_and_a_run_are_named() -> None:
    base = [0.1, -0.1] * 10
    assert control_chart(base).in_control
    out = control_chart([*base, 0.1, 2.0])
    assert out.outside == (21,) and out.jumps == (21,)
    assert control_chart([*base, *[0.05] * (RUN - 1)]).runs == ()
    assert control_chart([*base, *[0.05] * RUN]).runs == ((20, 27),)
    # a value on the mean itself ends a run
    assert control_chart([*base, *[0.05] * 4, 0.0, *[0.05] * 4]).runs == ()


def _naive_signs(x: list[float]) -> tuple[set[int], set[int]]:
    base = x[:20]
    mean = sum(base) / 20
    step = sum(abs(b - a) for a, b in pairwise(base)) / 19
    outside = {i for i, v in enumerate(x) if abs(v - mean) > 3 * step / D2}
    run = {
        j
        for i in range(len(x) - 7)
        for j in range(i, i + 8)
        if all(v > mean for v in x[i : i + 8]) or all(v < mean for v in x[i : i + 8])
    }
    return outside, run


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(-1, 1).map(lambda v: round(v, 3)), min_size=25, max_size=45),
    st.integers(-40, 40),
    st.integers(1, 9),
)
def test_chart_is_its_slow_twin_and_goes_with_shift_and_scale(x: list[float], shift: int, scale: int) -> None:
    chart = control_chart(x)
    if chart.limits is None or min(abs(v - chart.limits.mean) for v in x) < 1e-9:
        return
    if min(min(abs(v - chart.limits.low), abs(v - chart.limits.high)) for v in x) < 1e-9:
        return
    outside, run = _naive_signs(x)
    assert set(chart.outside) == outside
    assert {j for a, b in chart.runs for j in range(a, b + 1)} == run
    moved = control_chart([scale * v + shift for v in x])
    assert moved.limits is not None
    assert moved.outside == chart.outside and moved.runs == chart.runs
    assert moved.limits.sd == pytest.approx(scale * chart.limits.sd, rel=1e-9)


def test_a_shift_of_three_tenths_is_found_within_ten_cases() -> None:
    # pin residuals that scatter by 0.15 mm (SD): the planted 0.3 mm is two of these
    rng = np.random.default_rng(7)
    found = quiet = 0
    for _ in range(400):
        x = 0.15 * rng.standard_normal(40)
        x[30:] += 0.3
        chart = control_chart(x.tolist())
        signs = {*chart.outside, *(j for a, b in chart.runs for j in range(a + RUN - 1, b + 1))}
        found += any(i >= 30 for i in signs)
        still = control_chart([*x[:30].tolist(), *(x[30:] - 0.3).tolist()])
        quiet += any(i >= 30 for i in (*still.outside, *(b for a, b in still.runs)))
    assert found / 400 > 0.93
    assert found / 400 == pytest.approx(seen_within(2.0, 10, 30), abs=0.03)
    assert quiet / 400 == pytest.approx(seen_within(0.0, 10, 30), abs=0.05)
    # where the scatter is that of a good bench, hardly one is missed
    assert seen_within(3.0, 10) > 0.99


def _twin(y: np.ndarray, codes: list[np.ndarray]) -> list[float]:
    """Variances by whole projection matrices."""
    n = len(y)
    z = [np.ones((n, 1)), *(np.equal.outer(c, np.unique(c)).astype(float) for c in codes), np.eye(n)]
    proj = [m @ np.linalg.pinv(m) for m in z]
    a = [proj[i + 1] - proj[i] for i in range(len(z) - 1)]
    c = np.array([[np.trace(q @ m @ m.T) for m in z[1:]] for q in a])
    return np.linalg.solve(c, [y @ q @ y for q in a]).tolist()


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_nested_is_its_slow_twin_whatever_the_order(data: st.DataObject) -> None:
    sizes = data.draw(st.lists(st.lists(st.integers(1, 4), min_size=2, max_size=3), min_size=2, max_size=4))
    sizes[0][0] = 3
    labels = [(i, j) for i, inner in enumerate(sizes) for j, n in enumerate(inner) for _ in range(n)]
    y = np.random.default_rng(data.draw(st.integers(0, 99))).normal(5.0, 1.0, len(labels))
    found = nested_variance(y.tolist(), labels, draws=200)
    coarse = np.array([i for i, _ in labels])
    fine = np.array([10 * i + j for i, j in labels])
    assert [lv.variance for lv in found.levels] == pytest.approx(_twin(y, [coarse, fine]), abs=1e-9)
    order = data.draw(st.permutations(range(len(y))))
    again = nested_variance([y[i] for i in order], [labels[i] for i in order], draws=200)
    assert [lv.variance for lv in again.levels] == pytest.approx(
        [lv.variance for lv in found.levels], abs=1e-9
    )
    assert sum(found.shares) == pytest.approx(1.0)


def test_one_level_is_the_analysis_of_visits() -> None:
    rng = np.random.default_rng(3)
    groups = [rng.normal(rng.normal(), 0.5, n).tolist() for n in (2, 5, 1, 4)]
    labels = [(i,) for i, g in enumerate(groups) for _ in g]
    found = nested_variance([v for g in groups for v in g], labels)
    expected = one_way(groups)
    assert found.levels[0].variance == pytest.approx(expected.between)
    assert found.levels[1].variance == pytest.approx(expected.within)
    assert found.levels[1].low_sd == pytest.approx(expected.within_sd[0], rel=0.02)


_PARTS = """
.29 -.56 1.34 .47 -.80 .02 .59 -.31 2.26 -1.36 | .41 -.68 1.17 .50 -.92 -.11 .75 -.20 1.99 -1.25
.64 -.58 1.27 .64 -.84 -.21 .66 -.17 2.01 -1.31 | .08 -.47 1.19 .01 -.56 -.20 .47 -.63 1.80 -1.68
.25 -1.22 .94 1.03 -1.20 .22 .55 .08 2.12 -1.62 | .07 -.68 1.34 .20 -1.28 .06 .83 -.34 2.19 -1.50
.04 -1.38 .88 .14 -1.46 -.29 .02 -.46 1.77 -1.49 | -.11 -1.13 1.09 .20 -1.07 -.67 .01 -.56 1.45 -1.77
-.15 -.96 .67 .11 -1.45 -.49 .21 -.49 1.87 -2.16
"""


def test_published_sums_of_squares() -> None:
    # 10 parts x 3 persons x 3 trials (example of an automotive measurement manual, 4th edition; shared/checks.md Q6):
    # part 88.361934; person and interaction together are what lies between persons within a part
    rows = np.array(
        [[float(v) for v in row.split()] for row in _PARTS.replace("\n", "|").split("|") if row.strip()]
    )
    values, labels = [], []
    for k, row in enumerate(rows):
        for part, v in enumerate(row):
            values.append(float(v))
            labels.append((part, k // 3))
    found = nested_variance(values, labels)
    assert found.levels[0].square == pytest.approx(88.361934, abs=1e-5)
    assert found.levels[1].square == pytest.approx(3.167262 + 0.358982, abs=1e-5)
    assert found.levels[2].square == pytest.approx(2.758933, abs=1e-5)
    assert [lv.dof for lv in found.levels] == [9, 20, 60]


@pytest.mark.parametrize("sizes", [(3, 3, 3, 3, 3, 3, 3, 3), (1, 2, 6, 3, 1, 5, 2, 4)])
def test_intervals_cover(sizes: tuple[int, ...]) -> None:
    rng = np.random.default_rng(8)
    true = (0.3, 0.2, 0.25)
    labels = [(g // 2, g) for g, n in enumerate(sizes) for _ in range(n)]
    hits = np.zeros(3)
    estimates = np.zeros(3)
    rounds = 400
    for _ in range(rounds):
        top, mid = true[0] * rng.standard_normal(4), true[1] * rng.standard_normal(8)
        y = [top[a] + mid[b] + true[2] * rng.standard_normal() for a, b in labels]
        found = nested_variance(y, labels, draws=1000)
        hits += [lv.low_sd <= t <= lv.high_sd for lv, t in zip(found.levels, true, strict=True)]
        estimates += [lv.variance or 0.0 for lv in found.levels]
    assert np.all(hits / rounds > 0.92)
    assert estimates / rounds == pytest.approx(np.square(true), rel=0.25)


def test_a_variance_below_zero_is_kept_and_an_untold_level_is_none() -> None:
    found = nested_variance([1.0, -1.0, 1.0, -1.0], [("a",), ("a",), ("b",), ("b",)])
    assert found.levels[0].variance is not None and found.levels[0].variance < 0.0
    assert found.levels[0].low_sd == 0.0 and found.shares[0] == 0.0
    alone = nested_variance([1.0, 2.0, 3.0, 5.0], [("a", 1), ("a", 1), ("b", 2), ("b", 2)])
    assert alone.levels[1].variance is None and math.isinf(alone.levels[1].high_sd)
    with pytest.raises(ValueError, match="two values"):
        nested_variance([1.0, 2.0], [("a",), ("b",)])


def test_pooling_is_that_of_the_repeats_and_covers() -> None:
    rng = np.random.default_rng(5)
    hits = 0
    for _ in range(300):
        groups = [rng.normal(rng.normal(), 0.2, n).tolist() for n in (3, 2, 4, 3)]
        cells = [Cell(str(i), float(np.var(g, ddof=1)), len(g) - 1) for i, g in enumerate(groups)]
        found = pooled(cells)
        if not found.beyond:
            expected = pooled_sd(groups)
            assert (found.sd, found.dof) == pytest.approx((expected.sd, expected.dof))
        hits += found.low <= 0.2 <= found.high
    assert hits / 300 == pytest.approx(0.95, abs=0.035)


def test_a_case_that_scatters_too_much_is_named() -> None:
    cells = [Cell(f"K{i}", 0.04, 2) for i in range(12)]
    found = pooled([*cells, Cell("odd", 4.0, 2)])
    assert found.beyond == ("odd",) and found.sd == pytest.approx(0.2) and found.dof == 24
    assert pooled(cells).beyond == ()


def test_what_a_visit_adds() -> None:
    rng = np.random.default_rng(6)
    within, visit, rows = 0.15, 0.1, []
    for _ in range(2000):
        x = visit * rng.standard_normal((3, 1)) + within * rng.standard_normal((3, 2))
        rows.append(Between(2.0 * float(np.var(x.mean(axis=1), ddof=1)), 2, 2.0))
    variance, dof = visit_variance(within**2, rows)
    assert dof == 4000 and variance == pytest.approx(visit**2, rel=0.1)
