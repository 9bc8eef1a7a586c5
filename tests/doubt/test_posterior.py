"""Weighted draws against the update in closed form, rejection sampling, textbook formulas, and themselves."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from mountproof.doubt.posterior import (
    ENOUGH,
    adapted,
    chance,
    condition,
    enough,
    linear_look,
    quantile,
    resampled,
    summary,
    surprise_of_draws,
    weights_of,
)


def rng(seed=1):
    return np.random.default_rng(seed)


def kalman(mean, cov, h, y, r):
    """The update as textbooks have it, by an inverse."""
    gain = cov @ h.T @ np.linalg.inv(h @ cov @ h.T + r)
    return mean + gain @ (y - h @ mean), cov - gain @ h @ cov


def normal_case(seed, k=4, m=2):
    g = rng(seed)
    half = g.standard_normal((k, k))
    noise = g.standard_normal((m, m))
    return (
        g.standard_normal(k), half @ half.T + 0.1 * np.eye(k), g.standard_normal((m, k)),
        3 * g.standard_normal(m), noise @ noise.T + 0.2 * np.eye(m),
    )  # fmt: skip


@given(st.lists(st.floats(-700.0, 5.0), min_size=2, max_size=40))
def test_weights_by_plain_sums(logs):
    got = weights_of(logs)
    plain = np.exp(np.array(logs) - max(logs))
    assert got.weights == pytest.approx(plain / plain.sum(), abs=1e-15)
    assert got.weights.sum() == pytest.approx(1.0)
    assert got.ess >= 1.0 - 1e-12
    assert got.ess == pytest.approx(1 / np.sum(got.weights**2), rel=1e-9)
    assert got.log_mean == pytest.approx(math.log(np.mean(plain)) + max(logs))
    # far below what a float can hold, the weights are the same
    assert weights_of(np.array(logs) - 1e4).weights == pytest.approx(got.weights, rel=1e-9, abs=1e-15)


def test_no_reading_changes_no_bit():
    x = rng().standard_normal((1000, 3))
    none = weights_of(np.zeros(1000))
    assert np.all(none.weights == 1.0 / 1000)
    assert none.ess == 1000.0
    assert none.log_mean == 0.0
    flat = weights_of(np.full(1000, -123.456))  # a reading that says the same of all
    before, after = summary(x, np.full(1000, 1.0 / 1000)), summary(x, flat.weights)
    for a, b in zip(before, after, strict=True):
        assert np.array_equal(a, b)
    assert np.array_equal(resampled(none.weights, 1000, rng()), np.arange(1000))
    mean, cov = np.array([1.0, 2.0]), np.array([[2.0, 0.5], [0.5, 1.0]])
    left = condition(mean, cov, ())
    assert np.array_equal(left.mean, mean) and np.array_equal(left.cov, cov)
    assert left.surprise == 1.0
    got = adapted(lambda z: np.zeros(len(z)), mean, cov, rng(2), n=1000)
    assert got.rounds == 1
    assert np.all(got.weights.weights == 1.0 / 1000)
    assert got.draws.mean(axis=0) == pytest.approx(mean, abs=0.15)


@given(st.integers(0, 1000))
@settings(max_examples=25)
def test_condition_is_the_textbook_update(seed):
    mean, cov, h, y, r = normal_case(seed)
    got = condition(mean, cov, [linear_look("y", h, y, r)])
    want_mean, want_cov = kalman(mean, cov, h, y, r)
    assert got.mean == pytest.approx(want_mean, abs=1e-8)
    assert got.cov == pytest.approx(want_cov, abs=1e-8)
    # two looks one after the other, in either order, are both at once
    one, two = (linear_look(str(i), h[i], y[i : i + 1], r[i : i + 1, i : i + 1]) for i in (0, 1))
    both = condition(mean, cov, [one, two])
    for a, b in ((one, two), (two, one)):
        first = condition(mean, cov, [a])
        then = condition(first.mean, first.cov, [b])
        assert then.mean == pytest.approx(both.mean, abs=1e-7)
        assert then.cov == pytest.approx(both.cov, abs=1e-7)
    s = h @ cov @ h.T + r
    assert got.distance == pytest.approx((y - h @ mean) @ np.linalg.solve(s, y - h @ mean))
    assert got.surprise == pytest.approx(stats.chi2.sf(got.distance, 2), abs=1e-12)
    for i, key in enumerate("01"):
        z = (y[i] - h[i] @ mean) / math.sqrt(s[i, i])
        assert both.alone[key] == pytest.approx(2 * stats.norm.sf(abs(z)), abs=1e-12)


def log_normal(x, h, y, r):
    d = x @ h.T - y
    return -0.5 * np.sum(d * np.linalg.solve(r, d.T).T, axis=1)


def test_weighted_draws_meet_the_update():
    mean, cov, h, y, r = normal_case(3)
    y = h @ mean + 0.5
    x = rng(4).multivariate_normal(mean, cov, size=200_000)
    w = weights_of(log_normal(x, h, y, r))
    got = summary(x, w.weights)
    want_mean, want_cov = kalman(mean, cov, h, y, r)
    sd = np.sqrt(np.diag(want_cov))
    assert np.all(np.abs(got.mean - want_mean) < 4 * got.mean_se)
    assert np.all(got.mean_se < 0.05 * sd)
    assert got.cov == pytest.approx(want_cov, abs=0.05 * float(sd.max()) ** 2)
    for end, se, z in ((got.low, got.low_se, -1.959964), (got.high, got.high_se, 1.959964)):
        assert np.all(np.abs(end - (want_mean + z * sd)) < 4 * se)
    hit = chance(x[:, 0] > want_mean[0] + 0.3, w.weights)
    assert abs(hit.share - stats.norm.sf(0.3 / sd[0])) < 4 * hit.se


def test_errors_are_those_of_many_runs():
    mean, cov, h, y, r = normal_case(5)
    y = h @ mean + 0.7
    runs = []
    for k in range(150):
        x = rng(100 + k).multivariate_normal(mean, cov, size=3000)
        w = weights_of(log_normal(x, h, y, r)).weights
        runs.append((summary(x, w), chance(x[:, 0] > mean[0], w)))
    for name in ("mean", "low", "high"):
        spread = np.std([getattr(s, name) for s, _ in runs], axis=0, ddof=1)
        told = np.mean([getattr(s, name + "_se") for s, _ in runs], axis=0)
        assert told == pytest.approx(spread, rel=0.25), name
    assert np.mean([c.se for _, c in runs]) == pytest.approx(np.std([c.share for _, c in runs]), rel=0.2)


def test_against_rejection_sampling():
    """A bent likelihood on two inputs: accept draws with the chance of the reading, and compare."""

    def log_likelihood(x):
        return -0.5 * ((np.hypot(x[:, 0], x[:, 1]) - 1.2) / 0.15) ** 2 - np.abs(x[:, 0] - x[:, 1])

    mean, cov = np.array([0.3, 0.6]), np.array([[0.5, 0.2], [0.2, 0.4]])
    g = rng(6)
    x = g.multivariate_normal(mean, cov, size=400_000)
    kept = x[g.random(len(x)) < np.exp(log_likelihood(x))]  # likelihood is at most one
    assert len(kept) > 20_000
    got = adapted(log_likelihood, mean, cov, rng(7), n=20_000, least=10_000)
    assert got.enough.enough
    told = summary(got.draws, got.weights.weights)
    se = np.sqrt(told.mean_se**2 + kept.var(axis=0) / len(kept))
    assert np.all(np.abs(told.mean - kept.mean(axis=0)) < 4 * se)
    assert told.cov == pytest.approx(np.cov(kept, rowvar=False), abs=0.02)
    for level, (value, error) in (
        (q, quantile(got.draws, got.weights.weights, q)) for q in (0.025, 0.5, 0.975)
    ):
        assert np.all(np.abs(value - np.quantile(kept, level, axis=0)) < 5 * error + 0.02)
    # the chance of the reading at all, both ways
    chance_of = len(kept) / len(x)
    assert math.exp(got.weights.log_mean) == pytest.approx(chance_of, rel=0.03)


def test_a_sharp_reading_far_out_is_reached_in_steps():
    """Ten inputs, eight read to a hundredth, four SDs out: no draw of the prior is near; the exact answer is known."""
    g = rng(8)
    k, m = 10, 8
    half = g.standard_normal((k, k))
    mean, cov = g.standard_normal(k), half @ half.T
    h = g.standard_normal((m, k))
    r = (0.01**2) * np.diag(np.diag(h @ cov @ h.T))
    y = h @ mean + 2.0 * np.sqrt(np.diag(h @ cov @ h.T))
    plain = weights_of(log_normal(g.multivariate_normal(mean, cov, size=4096), h, y, r))
    assert not enough(plain).enough
    got = adapted(lambda x: log_normal(x, h, y, r), mean, cov, rng(9), n=4096, rounds=60)
    assert got.enough.enough
    assert got.rounds > 2
    want_mean, want_cov = kalman(mean, cov, h, y, r)
    told = summary(got.draws, got.weights.weights)
    assert np.all(np.abs(told.mean - want_mean) < 5 * told.mean_se)
    assert np.all(told.mean_se < 0.1 * np.sqrt(np.diag(want_cov)))
    assert np.sqrt(np.diag(told.cov)) == pytest.approx(np.sqrt(np.diag(want_cov)), rel=0.15)
    s = h @ cov @ h.T + r
    evidence = stats.multivariate_normal(h @ mean, s).logpdf(y)
    peak = stats.multivariate_normal(np.zeros(m), r).logpdf(np.zeros(m))
    assert got.weights.log_mean == pytest.approx(evidence - peak, abs=0.2)


def test_linear_readings_first_and_bent_ones_after_are_all_at_once():
    mean, cov, h, y, r = normal_case(20)
    y = h @ mean + np.sqrt(np.diag(h @ cov @ h.T + r))

    def bent(x):
        return -0.5 * ((np.hypot(x[:, 0], x[:, 1]) - 2.0) / 0.3) ** 2

    first = condition(mean, cov, [linear_look("y", h, y, r)])
    staged = adapted(bent, first.mean, first.cov, rng(21), n=8000, least=3000)
    whole = adapted(lambda x: bent(x) + log_normal(x, h, y, r), mean, cov, rng(22), n=8000, least=3000)
    assert staged.enough.enough and whole.enough.enough
    a, b = (summary(one.draws, one.weights.weights) for one in (staged, whole))
    assert np.all(np.abs(a.mean - b.mean) < 4 * np.hypot(a.mean_se, b.mean_se))
    assert a.cov == pytest.approx(b.cov, abs=0.1 * float(np.diag(a.cov).max()))
    # a look without noise leaves a direction without doubt, and draws stay on it
    exact = condition(mean, cov, [linear_look("y", h[:1], y[:1], [[0.0]])])
    held = adapted(bent, exact.mean, exact.cov, rng(23), n=2000)
    assert held.draws @ h[0] == pytest.approx(np.full(len(held.draws), y[0]), abs=1e-6)


def test_two_sharp_readings_of_sixty_inputs():
    """What was not read stays as it was, and does not drown what was."""
    g = rng(24)
    k, h, r = 60, rng(25).standard_normal((2, 60)), np.diag([0.1, 0.05]) ** 2
    y = np.array([12.0, -9.0])
    got = adapted(lambda x: log_normal(x, h, y, r), np.zeros(k), np.eye(k), g)
    assert got.enough.enough
    assert got.rounds < 15
    want_mean, want_cov = kalman(np.zeros(k), np.eye(k), h, y, r)
    told = summary(got.draws, got.weights.weights)
    assert np.all(np.abs(told.mean - want_mean) < 5 * told.mean_se)
    ahead, sd = told.mean @ h.T, np.sqrt(np.diag(h @ want_cov @ h.T))
    assert np.all(np.abs(ahead - h @ want_mean) < sd)
    assert np.sqrt(np.diag(h @ told.cov @ h.T)) == pytest.approx(sd, rel=0.15)


def test_a_window_that_few_draws_pass():
    got = adapted(
        lambda x: np.where(np.abs(x[:, 0] - 2.6) < 0.1, 0.0, -np.inf), np.zeros(8), np.eye(8), rng(26), n=2000
    )
    assert got.enough.enough
    told = summary(got.draws, got.weights.weights)
    want = stats.truncnorm(2.5, 2.7).mean()
    assert abs(told.mean[0] - want) < 4 * told.mean_se[0]
    assert math.exp(got.weights.log_mean) == pytest.approx(stats.norm.sf(2.5) - stats.norm.sf(2.7), rel=0.2)


def test_work_tells_where_it_is():
    seen = []
    adapted(
        lambda x: -0.5 * ((x[:, 0] - 4) / 0.01) ** 2,
        [0.0],
        [[1.0]],
        rng(27),
        n=500,
        rounds=10,
        tell=seen.append,
    )
    assert seen == pytest.approx([0.1 * k for k in range(2, 2 + len(seen))])


def test_too_few_rounds_say_so():
    got = adapted(lambda x: -0.5 * ((x[:, 0] - 6.0) / 1e-4) ** 2, [0.0], [[1.0]], rng(10), n=1000, rounds=2)
    assert not got.enough.enough
    assert got.rounds == 2
    assert got.enough.draws_needed > 1000
    assert got.enough.least == ENOUGH


def test_two_places_are_both_kept():
    """A reading that two places explain alike: the prior's part of the proposal keeps both."""

    def log_likelihood(x):
        return np.logaddexp(-0.5 * ((x[:, 0] - 2) / 0.1) ** 2, -0.5 * ((x[:, 0] + 2) / 0.1) ** 2)

    got = adapted(log_likelihood, [0.0], [[1.0]], rng(11), n=8000, least=1500)
    assert got.enough.enough
    right = chance(got.draws[:, 0] > 0, got.weights.weights)
    assert abs(right.share - 0.5) < 4 * right.se


def test_resampling_keeps_shares_to_one_draw():
    g = rng(12)
    w = g.dirichlet(np.full(50, 0.3))
    got = np.bincount(resampled(w, 4000, g), minlength=50)
    assert np.all(np.abs(got - 4000 * w) < 1.0 + 1e-6)
    assert np.array_equal(resampled(w, 100, rng(1)), resampled(w, 100, rng(1)))
    w[-5:] = 0.0
    assert resampled(w / w.sum(), 4000, g).max() < 45


def test_surprise_by_draws_is_the_closed_form():
    mean, cov, h, _, r = normal_case(13)
    s = h @ cov @ h.T + r
    for size in (0.5, 1.5, 2.5):
        found = h @ mean + size * np.linalg.cholesky(s)[:, 0]
        exact = condition(mean, cov, [linear_look("y", h, found, r)]).surprise
        drawn = surprise_of_draws(rng(14).multivariate_normal(h @ mean, s, size=40_000), found)
        assert abs(drawn.share - exact) < 4 * drawn.se + 0.003
    far = surprise_of_draws(rng(14).multivariate_normal(h @ mean, s, size=2000), h @ mean + 100.0)
    assert far.share == pytest.approx(1 / 2001)
    # predictions that hang together entirely: a reading beside their line is foretold by none
    line = np.outer(rng(15).standard_normal(2000), [1.0, 2.0])
    assert surprise_of_draws(line, [1.0, 2.0]).share > 0.2
    assert surprise_of_draws(line, [1.0, 1.0]).share == pytest.approx(1 / 2001)


def test_surprise_is_uniform_for_honest_readings():
    g = rng(16)
    mean, cov, h, _, r = normal_case(17)
    told = []
    for _ in range(800):
        y = h @ g.multivariate_normal(mean, cov) + g.multivariate_normal([0, 0], r)
        told.append(condition(mean, cov, [linear_look("y", h, y, r)]).surprise)
    assert stats.kstest(told, "uniform").pvalue > 0.01


def test_intervals_cover_what_they_say():
    """600 truths with a bent reading each: the 95 % interval of the weighted draws holds 93 to 97 percent."""
    g = rng(18)
    held = 0
    mean, cov = np.array([1.0, 2.0]), np.array([[0.3, 0.1], [0.1, 0.2]])
    for k in range(600):
        truth = g.multivariate_normal(mean, cov)
        read = math.hypot(*truth) + 0.2 * g.standard_normal()
        got = adapted(
            lambda x, read=read: -0.5 * ((np.hypot(x[:, 0], x[:, 1]) - read) / 0.2) ** 2,
            mean, cov, rng(1000 + k), n=2000,
        )  # fmt: skip
        assert got.enough.enough
        told = summary(got.draws, got.weights.weights)
        held += bool(told.low[0] <= truth[0] <= told.high[0])
    assert 0.93 <= held / 600 <= 0.97


def test_what_cannot_be_weighed_is_refused():
    for call in (
        lambda: weights_of([]),
        lambda: weights_of([0.0, math.nan]),
        lambda: weights_of([0.0, math.inf]),
        lambda: weights_of([-math.inf, -math.inf]),
        lambda: summary(np.zeros(3), np.ones(3)),
        lambda: adapted(lambda x: np.zeros(len(x)), [0.0], [[1.0]], rng(), n=100),
        lambda: linear_look("y", [[1.0, 0.0]], [1.0, 2.0], [[1.0]]),
        lambda: surprise_of_draws(np.zeros((10, 2)), [1.0]),
    ):
        with pytest.raises(ValueError):
            call()
    half = weights_of([0.0, -math.inf, 0.0])
    assert list(half.weights) == [0.5, 0.0, 0.5]
    assert half.ess == 2.0
