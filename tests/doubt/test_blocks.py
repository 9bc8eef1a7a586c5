"""Blocks of inputs: covariances as told, distributions as named, and what is refused."""

import math

import numpy as np
import pytest
from scipy import stats

from mountproof.doubt.blocks import (
    Input,
    checked_covariance,
    input_block,
    join,
    normal_block,
    root_of,
    sample,
)

RNG = 20_260_101


def linked():
    a = normal_block("a", [1.0, 2.0], [[0.04, 0.01], [0.01, 0.09]])
    b = normal_block("b", [-3.0], [1e-4])
    return join([a, b], {("a", "b"): [[0.5 * 0.2 * 1e-4], [-0.3 * 0.3 * 1e-4]]})


def test_draws_have_the_covariance_that_was_told():
    j = linked()
    assert j.columns == {"a": slice(0, 2), "b": slice(2, 3)}
    x = sample(j, 400_000, np.random.default_rng(RNG))
    size = np.sqrt(np.diag(j.cov))
    assert np.cov(x, rowvar=False) / np.outer(size, size) == pytest.approx(
        j.cov / np.outer(size, size), abs=0.01
    )
    assert (x.mean(axis=0) - j.centre) / size == pytest.approx(np.zeros(3), abs=0.01)


@pytest.mark.parametrize(
    ("one", "outside"),
    [
        (Input("normal", 2.0, 0.5), stats.norm(2.0, 0.5)),
        (Input("rectangular", 2.0, 0.5), stats.uniform(1.5, 1.0)),
        (Input("triangular", 2.0, 0.5), stats.triang(0.5, 1.5, 1.0)),
        (Input("arcsine", 2.0, 0.5), stats.arcsine(1.5, 1.0)),
        (Input("trapezoidal", 2.0, 0.5, top=0.2), stats.trapezoid(0.3, 0.7, 1.5, 1.0)),
        (Input("student", 2.0, 0.5, dof=4.0), stats.t(4.0, 2.0, 0.5)),
        (Input("student", 2.0, 0.5), stats.norm(2.0, 0.5)),
    ],
)
def test_distributions_are_those_of_a_library(one, outside):
    block = input_block("x", one)
    x = sample(join([block]), 20_000, np.random.default_rng(RNG))[:, 0]
    assert stats.kstest(x, outside.cdf).pvalue > 0.01
    if one.shape != "student":
        assert one.u == pytest.approx(outside.std())
    assert block.cov[0, 0] == pytest.approx(one.u**2)


def test_few_degrees_of_freedom_stretch_a_whole_block():
    block = normal_block("x", [0.0, 0.0], [[1.0, 0.6], [0.6, 1.0]], dof=7.0)
    x = sample(join([block]), 40_000, np.random.default_rng(RNG))
    assert stats.kstest(x[:, 0], stats.t(7.0).cdf).pvalue > 0.01
    assert stats.kstest((x[:, 0] + x[:, 1]) / math.sqrt(3.2), stats.t(7.0).cdf).pvalue > 0.01


def test_root_keeps_mixed_units_and_leaves_out_flat_directions():
    flat = np.array([[1.0, 1e-6], [1e-6, 1e-12]])
    assert root_of(flat).shape == (2, 1)
    assert root_of(flat) @ root_of(flat).T == pytest.approx(flat, rel=1e-9)
    assert root_of(np.zeros((2, 2))).shape == (2, 0)
    assert root_of(np.zeros((0, 0))).shape == (0, 0)
    assert checked_covariance(np.zeros((0, 0))).shape == (0, 0)
    assert sample(join([]), 5, np.random.default_rng(0)).shape == (5, 0)


def test_what_is_no_input_is_refused():
    a, b = normal_block("a", [0.0], [1.0]), normal_block("b", [0.0], [1.0])
    few, bent = normal_block("f", [0.0], [1.0], 5.0), input_block("r", Input("rectangular", 0.0, 1.0))
    for blocks, links in (
        ([a, a], None),
        ([a, b], {("a", "b"): [[1.1]]}),
        ([a, b], {("a", "b"): [[0.1, 0.1]]}),
        ([a, b], {("a", "a"): [[0.1]]}),
        ([a, b], {("a", "c"): [[0.1]]}),
        ([a, few], {("a", "f"): [[0.1]]}),
        ([a, bent], {("a", "r"): [[0.1]]}),
        ([normal_block("c", [0.0, 0.0], [[1.0, 2.0], [2.0, 1.0]])], None),
        ([normal_block("c", [0.0, 0.0], [[1.0, 0.2], [0.1, 1.0]])], None),
    ):
        with pytest.raises(ValueError):
            join(blocks, links)
    for make in (
        lambda: normal_block("a", [0.0], [[1.0, 0.0], [0.0, 1.0]]),
        lambda: normal_block("a", [math.nan], [1.0]),
        lambda: normal_block("a", [0.0], [1.0], 0.0),
        lambda: input_block("a", Input("rectangular", 0.0, -1.0)),
        lambda: input_block("a", Input("trapezoidal", 0.0, 1.0, top=2.0)),
        lambda: input_block("a", Input("student", 0.0, 1.0, dof=0.0)),
        lambda: input_block("a", Input("lognormal", 0.0, 1.0)),
    ):
        with pytest.raises(ValueError):
            make()
