"""Shares of the variance against functions whose shares are known, closed forms, and what may not change them."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.doubt.blocks import Input, input_block, join, normal_block, sample
from mountproof.doubt.shares import called_shares, drawn_shares, linear_shares


def rng(seed=1):
    return np.random.default_rng(seed)


def uniforms(n, low, high):
    half = (high - low) / 2
    return join([input_block(f"x{i}", Input("rectangular", low + half, half)) for i in range(n)])


ISHIGAMI = uniforms(3, -math.pi, math.pi)


def ishigami(x, a=7.0, b=0.1):
    return np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])


def ishigami_shares(a=7.0, b=0.1):
    """Closed form (Ishigami and Homma 1990, from memory; the integrals are elementary)."""
    v1 = 0.5 * (1 + b * math.pi**4 / 5) ** 2
    v2, v13 = a**2 / 8, b**2 * math.pi**8 * (1 / 18 - 1 / 50)
    v = v1 + v2 + v13
    return v, np.array([v1, v2, 0.0]) / v, np.array([v1 + v13, v2, v13]) / v


def within(got, se, want, times=4.0):
    assert np.all(np.abs(got - want) <= times * se + 1e-12), (got, want, se)


def test_ishigami():
    v, first, total = ishigami_shares()
    assert first == pytest.approx([0.3139, 0.4424, 0.0], abs=1e-4)  # as printed in many places
    assert total == pytest.approx([0.5576, 0.4424, 0.2437], abs=1e-4)
    got = called_shares(ishigami, ISHIGAMI, 8192, rng())
    assert got.variances[0] == pytest.approx(v, rel=0.03)
    within(got.first[0], got.first_se[0], first)
    within(got.total[0], got.total_se[0], total)
    assert np.all(got.first_se < 0.025)
    assert got.evaluations == 5 * 8192
    assert got.together[0] == pytest.approx(1 - first.sum(), abs=0.06)


def test_g_function_of_sobol():
    """prod (|4x - 2| + a)/(1 + a): V_i = 1/(3 (1 + a)^2), all others by products (Sobol 1993, from memory)."""
    a = np.array([0.0, 1.0, 4.5, 9.0])
    v = 1 / (3 * (1 + a) ** 2)
    whole = np.prod(1 + v) - 1
    first, total = v / whole, v * np.prod(1 + v) / (1 + v) / whole
    got = called_shares(
        lambda x: np.prod((np.abs(4 * x - 2) + a) / (1 + a), axis=1), uniforms(4, 0, 1), 8192, rng(2)
    )
    within(got.first[0], got.first_se[0], first)
    within(got.total[0], got.total_se[0], total)


def test_standard_errors_are_those_of_many_runs():
    _, first, total = ishigami_shares()
    runs = [called_shares(ishigami, ISHIGAMI, 1024, rng(100 + k)) for k in range(60)]
    for name, want in (("first", first), ("total", total)):
        every = np.array([getattr(r, name)[0] for r in runs])
        told = np.array([getattr(r, name + "_se")[0] for r in runs]).mean(axis=0)
        if name == "first":  # the third is zero, and told as zero where it came out below
            every, told, want = every[:, :2], told[:2], want[:2]
        assert told == pytest.approx(every.std(axis=0, ddof=1), rel=0.35)
        assert np.all(np.abs(every.mean(axis=0) - want) < 4 * told / math.sqrt(60))


LINKED = join(
    [
        normal_block("a", [0.0, 1.0], [[1.0, 0.3], [0.3, 2.0]]),
        normal_block("b", [2.0], [1.5]),
        normal_block("c", [0.0], [0.5]),
    ],
    {("a", "b"): [[-0.7], [0.2]]},
)
FREE = join(
    [normal_block("a", [0.0, 1.0], [[1.0, 0.3], [0.3, 2.0]]), normal_block("b", [2.0], [1.5]),
     normal_block("c", [0.0], [0.5])]
)  # fmt: skip
J = np.array([[1.0, -1.0, 2.0, 3.0], [0.0, 0.0, 0.0, 1.0], [0.0, 1.0, 0.0, 0.0]])


def test_linear_shares_without_links_are_those_of_calls():
    want = linear_shares(J, FREE)
    for part in (want.known, want.left):
        assert part == pytest.approx(want.own)
    assert want.shared == pytest.approx(np.zeros((3, 3)))
    assert want.own.sum(axis=1) == pytest.approx(np.ones(3))
    got = called_shares(lambda x: x @ J.T, FREE, 8192, rng(3))
    within(got.first, got.first_se, want.own)
    within(got.total, got.total_se, want.own)
    assert got.variances == pytest.approx(want.variances, rel=0.05)
    # what a step does not touch at all is zero without any noise
    assert got.total[1, 0] == got.first[1, 0] == 0.0


def test_linear_shares_with_links_against_conditional_draws():
    got = linear_shares(J, LINKED)
    assert (got.own + got.shared).sum(axis=1) == pytest.approx(np.ones(3))
    assert np.any(got.shared[0] < 0.0)
    # brute: the part of the variance that a regression on the block's numbers explains, and on all others
    x = sample(LINKED, 200_000, rng(4))
    y = (x - LINKED.centre) @ J.T
    for i, where in enumerate(LINKED.columns.values()):
        own = x[:, where] - LINKED.centre[where]
        rest = np.delete(x - LINKED.centre, np.r_[where], axis=1)
        for block, want in ((own, got.known[:, i]), (rest, 1 - got.left[:, i])):
            fit = block @ np.linalg.lstsq(block, y, rcond=None)[0]
            assert fit.var(axis=0) / y.var(axis=0) == pytest.approx(want, abs=0.01)


@given(st.integers(0, 1000), st.floats(0.01, 100.0), st.floats(-50.0, 50.0))
@settings(max_examples=20)
def test_shares_do_not_change_with_unit_zero_or_order(seed, scale, shift):
    g = rng(seed)
    half = g.standard_normal((4, 4))
    cov = half @ half.T
    blocks = [normal_block("a", [0.0, 0.0], cov[:2, :2]), normal_block("b", [0.0, 0.0], cov[2:, 2:])]
    joined, link = join(blocks, {("a", "b"): cov[:2, 2:]}), g.standard_normal((1, 4))
    got = linear_shares(link, joined)
    assert linear_shares(scale * link, joined).shared == pytest.approx(got.shared, abs=1e-9)
    turned = linear_shares(link[:, [2, 3, 0, 1]], join(blocks[::-1], {("a", "b"): cov[:2, 2:]}))
    assert turned.names == ("b", "a")
    for part in ("own", "shared", "known", "left"):
        assert getattr(turned, part)[:, ::-1] == pytest.approx(getattr(got, part), abs=1e-9)
    one = called_shares(ishigami, ISHIGAMI, 256, rng(seed))
    other = called_shares(lambda x: scale * ishigami(x) + shift, ISHIGAMI, 256, rng(seed))
    assert other.first == pytest.approx(one.first, rel=1e-6, abs=1e-9)
    assert other.total_se == pytest.approx(one.total_se, rel=1e-6, abs=1e-9)


def test_blocks_that_hang_together_need_one_group():
    with pytest.raises(ValueError, match="one group"):
        called_shares(lambda x: x @ J.T, LINKED, 1024, rng())
    got = called_shares(lambda x: x @ J.T, LINKED, 8192, rng(), {"ab": ("a", "b"), "c": ("c",)})
    want = linear_shares(J, LINKED)
    within(got.first[:, 1], got.first_se[:, 1], want.own[:, 2])
    assert got.names == ("ab", "c")
    assert got.evaluations == 4 * 8192


def test_negative_estimates_are_told_as_zero():
    got = [called_shares(ishigami, ISHIGAMI, 128, rng(k)) for k in range(30)]
    flags = np.array([g.at_zero[0, 2, 0] for g in got])
    assert 0 < flags.sum() < 30
    for g, flag in zip(got, flags, strict=True):
        assert (g.first[0, 2] == 0.0) == flag
        assert np.all(g.first >= 0.0)


def test_shares_from_draws_that_are_there():
    x = sample(ISHIGAMI, 20_000, rng(5))
    _, first, _ = ishigami_shares()
    got = drawn_shares(ISHIGAMI, x, ishigami(x), degree=8)
    within(got.first[0], got.first_se[0], first)
    # a surface of second degree misses what bends: a lower bound, and said to be one
    low = drawn_shares(ISHIGAMI, x, ishigami(x))
    assert np.all(low.first[0] <= first + 4 * low.first_se[0])
    z = sample(FREE, 20_000, rng(6))
    straight = drawn_shares(FREE, z, z @ J.T)
    within(straight.first, straight.first_se, linear_shares(J, FREE).own)
    # linked blocks go in one group here as well; a product of two numbers of a group is seen
    joint = drawn_shares(
        FREE, z, (z[:, 0] - 0.0) * (z[:, 1] - 1.0) + z[:, 3], groups={"a": "a", "bc": ("b", "c")}
    )
    product = 1.0 * 2.0 + 0.3**2
    within(joint.first[0], joint.first_se[0], np.array([product, 0.25]) / (product + 0.25))


def test_own_errors_of_drawn_shares_hold_and_fall_as_the_root_of_the_draws():
    """Forty runs of each size on the closed form: errors of eight times the draws are a root of eight smaller, and cover."""
    _, first, _ = ishigami_shares()
    told = {}
    for n in (500, 4000):
        runs = []
        for k in range(40):
            x = sample(ISHIGAMI, n, rng(1000 + k))
            runs.append(drawn_shares(ISHIGAMI, x, ishigami(x), degree=8))
        got, se = (np.array([getattr(r, name)[0, :2] for r in runs]) for name in ("first", "first_se"))
        told[n] = se.mean(axis=0)
        assert told[n] == pytest.approx(got.std(axis=0, ddof=1), rel=0.35)
        # 95 % wanted of 80: 4 SDs of chance below is 85 %
        assert np.mean(np.abs(got - first[:2]) <= 1.96 * se) >= 0.85
    assert told[500] / told[4000] == pytest.approx(math.sqrt(8.0), rel=0.1)


def test_a_surface_explains_nothing_of_pure_noise():
    """Half of two hundred outputs of nothing but noise come out below zero: what chance explains is taken off."""
    z = sample(FREE, 1000, rng(7))
    got = drawn_shares(FREE, z, rng(8).standard_normal((1000, 200)))
    assert 0.4 < got.at_zero.mean() < 0.7
    assert np.all(got.first < 6 * got.first_se + 0.01)


def test_nothing_varies_and_nothing_is_shared():
    got = called_shares(lambda x: np.full(len(x), 0.1), FREE, 300, rng())
    assert not np.any(got.first) and not np.any(got.total) and not np.any(got.together)
    z = sample(FREE, 2000, rng())
    assert not np.any(drawn_shares(FREE, z, np.full(2000, 0.1)).first)
    assert not np.any(linear_shares(np.zeros((1, 4)), LINKED).own)


def test_what_gives_no_shares_is_refused():
    for call in (
        lambda: called_shares(ishigami, ISHIGAMI, 100, rng()),
        lambda: called_shares(ishigami, ISHIGAMI, 256, rng(), {"a": ("x0",)}),
        lambda: called_shares(lambda x: np.full(len(x), np.nan), ISHIGAMI, 256, rng()),
        lambda: linear_shares(np.ones((1, 3)), FREE),
        lambda: drawn_shares(FREE, np.zeros((50, 4)), np.zeros(50)),
        lambda: drawn_shares(FREE, np.zeros((50, 3)), np.zeros(50)),
    ):
        with pytest.raises(ValueError):
            call()


def test_the_same_seed_gives_the_same_shares():
    one, two = (called_shares(ishigami, ISHIGAMI, 512, rng(9)) for _ in range(2))
    assert all(np.array_equal(a, b) for a, b in zip(one[1:7], two[1:7], strict=True))
