"""First order and draws on the same model: closed forms, each other, coverage, threads, speed."""

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from mountproof.doubt.blocks import Input, input_block, join, normal_block, sample
from mountproof.doubt.montecarlo import monte_carlo
from mountproof.doubt.two_engines import _factor, compare, first_order, two_engines


def rng(seed=1):
    return np.random.default_rng(seed)


def bent(x):
    """Two outputs that bend, of five inputs."""
    return np.stack([np.hypot(x[:, 0], x[:, 1]) + x[:, 2] * x[:, 3], np.sin(x[:, 3]) + x[:, 4]], axis=1)


def five(link=0.0):
    a = normal_block("a", [3.0, 4.0], [[0.04, 0.01], [0.01, 0.09]])
    b = normal_block("b", [1.0, 0.3], [0.1, 0.2])
    c = normal_block("c", [0.0], [0.05])
    return join([a, b, c], {("b", "c"): [[0.0], [link]]} if link else None)


@given(st.integers(0, 10_000))
@settings(max_examples=25)
def test_linear_models_are_exact(seed):
    g = rng(seed)
    half = g.standard_normal((5, 5))
    cov = half @ half.T
    j = g.standard_normal((3, 5))
    joined = join(
        [normal_block("a", g.standard_normal(2), cov[:2, :2]), normal_block("b", np.zeros(3), cov[2:, 2:])],
        {("a", "b"): cov[:2, 2:]},
    )
    got = first_order(lambda x: x @ j.T, joined)
    assert got.jacobian == pytest.approx(j, rel=1e-9, abs=1e-9)
    assert got.cov == pytest.approx(j @ cov @ j.T, rel=1e-8, abs=1e-8)
    assert got.high == pytest.approx(
        got.values + 1.959963984540054 * np.sqrt(np.diag(j @ cov @ j.T)), rel=1e-8
    )
    given_j = first_order(lambda x: x @ j.T, joined, jacobian=j)
    assert given_j.us == pytest.approx(got.us, rel=1e-9)
    assert np.all(np.isinf(got.dofs))


def test_both_engines_meet_where_nothing_bends_much():
    both = two_engines(bent, five(0.004), rng(), digits=1)
    assert not np.any(both.compared.differs)
    assert np.all(both.compared.sure)
    assert np.all(both.drawn.settled)
    assert both.drawn.us == pytest.approx(both.first.us, rel=0.02)
    # the link adds 2 cos(0.3) 0.004 to the variance of the second output
    want = (math.cos(0.3) * 0.2) ** 2 + 0.05**2 + 2 * math.cos(0.3) * 0.004
    assert both.first.us[1] ** 2 == pytest.approx(want, rel=1e-6)
    assert both.drawn.us[1] ** 2 == pytest.approx(want, rel=0.05)


def test_what_first_order_cannot_see_is_told():
    """A square at its bottom: no slope, so first order says no doubt; the draws are chi-square."""
    x = join([normal_block("x", [0.0], [1.0])])
    both = two_engines(lambda v: v**2, x, rng(), digits=1)
    assert both.first.us[0] == pytest.approx(0.0, abs=1e-9)
    assert both.drawn.values[0] == pytest.approx(1.0, abs=0.02)
    assert both.drawn.symmetric[0] == pytest.approx(stats.chi2.ppf([0.025, 0.975], 1), abs=0.06)
    assert both.drawn.shortest[0] == pytest.approx([0.0, stats.chi2.ppf(0.95, 1)], abs=0.06)
    assert both.compared.differs[0]
    assert both.compared.sure[0]


def test_nothing_in_doubt_has_no_doubt():
    x = join([normal_block("x", [2.0], [0.0])])
    both = two_engines(lambda v: np.sqrt(v), x, rng())
    assert both.first.us[0] == both.drawn.us[0] == 0.0
    assert both.drawn.settled[0]
    assert not both.compared.differs[0]


def test_degrees_of_freedom_of_blocks():
    """Welch and Satterthwaite by hand, and the interval with the next lower integer."""
    parts = [(3.0, 5.0), (2.0, 9.0), (1.0, math.inf)]
    joined = join([normal_block(str(i), [0.0], [u], nu) for i, (u, nu) in enumerate(parts)])
    got = first_order(lambda x: x.sum(axis=1), joined)
    nu = 14.0**2 / (81 / 5 + 16 / 9)
    assert got.dofs[0] == pytest.approx(nu)
    assert got.high[0] == pytest.approx(stats.t.ppf(0.975, math.floor(nu)) * math.sqrt(14.0), rel=1e-9)
    one = join([normal_block("x", [0.0, 0.0], [1.0, 1.0], 4.0)])
    both = two_engines(lambda x: x[:, 0], one, rng(2), digits=1)
    assert both.first.high[0] == pytest.approx(stats.t.ppf(0.975, 4), rel=1e-9)
    assert not both.compared.differs[0]


@pytest.mark.parametrize("p", [0.68, 0.95, 0.99])
def test_coverage_factors_are_those_of_a_library(p):
    for dof in (1.0, 2.0, 4.0, 5.0, 7.0, 16.0, 60.0, 1999.0, math.inf):
        want = stats.t.ppf(0.5 + p / 2, dof) if dof < math.inf else stats.norm.ppf(0.5 + p / 2)
        assert _factor(p, dof) == pytest.approx(want, rel=1e-8)


def test_threads_change_no_bit():
    one, two = (two_engines(bent, five(0.004), rng(3), threads=k, most=100_000) for k in (1, 2))
    for a, b in zip(one.drawn, two.drawn, strict=True):
        assert np.array_equal(a, b)
    again = two_engines(bent, five(0.004), rng(3), most=100_000)
    assert np.array_equal(one.drawn.outcomes, again.drawn.outcomes)
    other = two_engines(bent, five(0.004), rng(4), most=100_000)
    assert not np.array_equal(one.drawn.outcomes[:100], other.drawn.outcomes[:100])
    # the generator goes on from the same place, too
    left = [rng(3), rng(3)]
    for g, k in zip(left, (1, 2), strict=True):
        two_engines(bent, five(), g, threads=k, most=50_000)
    assert left[0].random() == left[1].random()


def test_progress_is_told_and_can_stop_the_work():
    seen = []

    def tell(fraction):
        seen.append(fraction)
        if len(seen) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        two_engines(bent, five(), rng(), digits=4, most=200_000, tell=tell, threads=2)
    assert seen == pytest.approx([0.05, 0.10, 0.15])


def test_bounded_draws_say_that_they_did_not_settle():
    drawn = two_engines(bent, five(), rng(), digits=4, most=30_000).drawn
    assert drawn.n == 30_000
    assert not np.any(drawn.settled)
    absolute = monte_carlo(
        bent, lambda n, g: sample(five(), n, g), rng(), tolerance=[0.3, 0.003], most=400_000
    )
    assert np.all(absolute.settled)
    assert np.all(2 * absolute.standard_errors <= [[0.3], [0.003]])
    assert 40_000 < absolute.n < 400_000
    small = monte_carlo(bent, lambda n, g: sample(five(), n, g), rng(), tolerance=0.1, block=2000)
    assert small.n == 8000


def test_what_is_no_model_is_refused():
    for f in (lambda x: x[:, :1] * np.inf, lambda x: x[:-1], lambda x: np.zeros((len(x), 2, 2))):
        with pytest.raises(ValueError), np.errstate(invalid="ignore"):
            monte_carlo(f, lambda n, g: sample(five(), n, g), rng())
    with pytest.raises(ValueError):
        first_order(bent, five(), jacobian=np.zeros((2, 4)))
    with pytest.raises(ValueError):
        monte_carlo(bent, lambda n, g: sample(five(), n, g), rng(), p=1.0)


def test_the_comparison_is_unsure_near_its_limit():
    both = two_engines(bent, five(), rng(), most=40_000)
    at = both.drawn.symmetric + np.array([[-both.compared.tolerance[0], 0.0], [0.0, 0.0]])
    moved = both.first._replace(low=at[:, 0], high=at[:, 1])
    got = compare(moved, both.drawn)
    assert not got.sure[0]
    assert got.sure[1]
    assert not got.differs[1]


def test_intervals_cover_what_they_say():
    """2 000 cases, half of them bent: a truth, what is read of it, and the interval that the reading gives."""
    g = rng(5)
    held = {"first": 0, "drawn": 0}
    for case in range(2000):
        truth = g.uniform(1.0, 3.0, 3)
        half = 0.1 * g.standard_normal((3, 3))
        cov = half @ half.T + 0.002 * np.eye(3)
        read = g.multivariate_normal(truth, cov)
        joined = join([normal_block("a", read[:2], cov[:2, :2]), normal_block("b", read[2:], cov[2:, 2:])],
                      {("a", "b"): cov[:2, 2:]})  # fmt: skip
        if case % 2:
            w = g.standard_normal(3)

            def f(x, w=w):
                return x @ w
        else:

            def f(x):
                return x[:, 0] * np.exp(0.3 * x[:, 1]) / np.hypot(x[:, 2], 1.0)

        both = two_engines(f, joined, g, block=2000, most=4000)
        true = float(f(truth[None])[0])
        held["first"] += bool(both.first.low[0] <= true <= both.first.high[0])
        held["drawn"] += bool(both.drawn.symmetric[0, 0] <= true <= both.drawn.symmetric[0, 1])
    assert 0.93 < held["first"] / 2000 < 0.97
    assert 0.93 < held["drawn"] / 2000 < 0.97


def test_first_order_is_quick():
    """Sixty inputs, a hundred outputs, some blocks with few degrees of freedom: below 50 ms, best of ten."""
    g = rng(6)
    j = g.standard_normal((100, 60))
    blocks = [normal_block(str(i), np.zeros(6), np.full(6, 0.1), 5.0 + i) for i in range(9)]
    blocks.append(normal_block("more", np.zeros(6), np.full(6, 0.2)))
    joined = join(blocks)
    took = []
    for _ in range(10):
        _factor.cache_clear()
        start = time.perf_counter()
        first_order(lambda x: np.sin(x) @ j.T, joined)
        took.append(time.perf_counter() - start)
    assert min(took) < 0.05, took


def test_a_rectangle_and_a_normal_against_their_convolution():
    joined = join([input_block("r", Input("rectangular", 1.0, 1.0)), normal_block("n", [0.0], [0.2])])
    both = two_engines(lambda x: x.sum(axis=1), joined, rng(), digits=2, most=600_000)
    grid = np.linspace(-2.0, 4.0, 60_001)
    z = (grid - 2.0) / 0.2, grid / 0.2
    cdf = 0.1 * (
        (z[1] * stats.norm.cdf(z[1]) + stats.norm.pdf(z[1]))
        - (z[0] * stats.norm.cdf(z[0]) + stats.norm.pdf(z[0]))
    )
    want = np.interp([0.025, 0.975], cdf, grid)
    assert both.drawn.symmetric[0] == pytest.approx(
        want, abs=4 * float(both.drawn.standard_errors[0, 2:].max())
    )
    assert both.first.us[0] == pytest.approx(math.sqrt(1 / 3 + 0.04))
