"""One wrong line in the engines of the budget at a time: some law must notice."""

import pytest

from planted.harness import Planted, goes_red, stays_green

ENGINES = ("tests/doubt/test_two_engines.py::test_bounded_draws_say_that_they_did_not_settle",)
BLOCKS = ("tests/doubt/test_blocks.py::test_draws_have_the_covariance_that_was_told",)
SHARES = ("tests/doubt/test_shares.py::test_ishigami",)
POSTERIOR = ("tests/doubt/test_posterior.py::test_against_rejection_sampling",)
BETTER = ("tests/doubt/test_better.py::test_repeats_against_averaged_draws",)
EVERY = ENGINES + BLOCKS + SHARES + POSTERIOR + BETTER

FAULTS = [
    Planted(
        "draws settle as soon as one output does",
        "doubt/montecarlo.py",
        "if np.all(settled) or not fits:",
        "if np.any(settled) or not fits:",
        ENGINES,
    ),
    Planted(
        "links between blocks forgotten by one side",
        "doubt/blocks.py",
        "cov[rows, cols], cov[cols, rows] = c, c.T",
        "cov[rows, cols], cov[cols, rows] = c, -c.T",
        BLOCKS,
    ),
    Planted(
        "total and first by the same difference",
        "doubt/shares.py",
        "apart = summed(0.5 * (fa - fab) ** 2)",
        "apart = summed(0.5 * (fb - fab) ** 2)",
        SHARES,
    ),
    Planted(
        "weights that forget what was drawn from",
        "doubt/posterior.py",
        "return z, prior - both",
        "return z, 0.0 * (prior - both)",
        POSTERIOR,
    ),
    Planted(
        "repeats take away what other steps explain",
        "doubt/better.py",
        "stays = least if candidate.stays is None else",
        "stays = 0.0 * least if candidate.stays is None else",
        BETTER,
    ),
]


def test_the_laws_hold_without_a_fault():
    stays_green(EVERY)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_a_fault_in_the_engines_is_caught(fault):
    goes_red(fault)
