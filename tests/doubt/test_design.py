"""What a simulation rests on, told apart by its numbers."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.doubt.design import Design, as_bytes, rounded


class Pair(NamedTuple):
    """A part with an array in it."""

    name: str
    values: np.ndarray


@given(st.integers(1, 5), st.integers(0, 10_000), st.floats(-6.0, 3.0), st.floats(0.0, 6.0))
def test_a_rounded_covariance_is_one_and_moves_by_thousandths(
    m: int, seed: int, size: float, apart: float
) -> None:
    rng = np.random.default_rng(seed)
    root = rng.standard_normal((m, max(1, m - seed % 2))) * 10.0 ** (size + apart * rng.random((m, 1)))
    cov = root @ root.T
    made = rounded(cov)
    scale = np.sqrt(np.diag(cov))
    assert np.abs((made - cov) / np.outer(scale, scale)).max() < 0.001 * m + 0.001
    assert np.linalg.eigvalsh(made / np.outer(scale, scale)).min() > -1e-9
    assert np.array_equal(made, made.T)


def test_covariances_that_differ_in_the_sixth_digit_are_one() -> None:
    cov = np.array([[0.0312, 0.0011], [0.0011, 0.00502]])
    assert np.array_equal(rounded(cov), rounded(cov * (1.0 + 2e-6)))
    assert np.array_equal(rounded(np.zeros((2, 2))), np.zeros((2, 2)))


@pytest.mark.parametrize(
    "other",
    [Pair("b", np.array([1.0, 2.0])), Pair("a", np.array([1.0, 2.5])), Pair("a", np.array([[1.0], [2.0]]))],
)
def test_designs_are_equal_by_all_they_hold(other: Pair) -> None:
    one = Pair("a", np.array([1.0, 2.0]))
    assert Design(one, 3) == Design(Pair("a", np.array([1.0, 2.0])), 3)
    assert hash(Design(one, 3)) == hash(Design(Pair("a", np.array([1.0, 2.0])), 3))
    assert Design(one, 3) != Design(other, 3) and Design(one, 3) != Design(one, 4)
    assert as_bytes([1, "a"]) != as_bytes(["1", "a"])
