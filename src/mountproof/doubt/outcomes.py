"""Checks that give no number but a way of seating: their likelihoods, and what they leave of the normal numbers.

A hand that tries a record feels a stand-off only beyond some size, with a threshold that is itself uncertain. So "stands
off right" is a normal number ``w + e`` above a limit, and "seats fully" several of them within their limits: the
probability is that of a normal between two ends (a probit of a linear quantity). Conditions are taken in turn, each
replacing the normal by one with the moments of what is left (assumed density; exact for the first condition).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.doubt.causes import Target
from mountproof.doubt.normal import between
from mountproof.geometry.poses import Array


class Condition(NamedTuple):
    """A linear number (nz,) and (nf,) with its own scatter ``sd``, that lies between ``low`` and ``high``."""

    honest: Array
    faults: Array
    sd: float
    low: float
    high: float


class Choice(NamedTuple):
    """A check with several possible outcomes, each a set of conditions, and the one that was found.

    An outcome without conditions is whatever none of the others is.
    """

    key: str
    words: str
    outcomes: tuple[tuple[Condition, ...], ...]
    found: int


def rows(choices: Sequence[Choice]) -> tuple[tuple[Condition, ...], Target]:
    """Return one condition for every linear number of all choices, each number once, and these numbers."""
    first: dict[bytes, Condition] = {}
    for choice in choices:
        for outcome in choice.outcomes:
            for condition in outcome:
                first.setdefault(_number(condition), condition)
    every = tuple(first.values())
    if not every:
        return (), Target(np.zeros((0, 0)), np.zeros((0, 0)))
    return every, Target(np.stack([c.honest for c in every]), np.stack([c.faults for c in every]))


def _number(condition: Condition) -> bytes:
    return condition.honest.tobytes() + condition.faults.tobytes()


def _places(choices: Sequence[Choice]) -> dict[bytes, int]:
    return {_number(c): i for i, c in enumerate(rows(choices)[0])}


def weigh_choices(
    choices: Sequence[Choice], found: Sequence[int], mean: Array, cov: Array, first_row: int
) -> tuple[Array, Array, Array]:
    """Return (log likelihood (s, h), mean (s, h, r), cov (s, h, r, r)) after the outcomes ``found`` of the choices.

    ``mean`` (s, h, r) and ``cov`` (s, h, r, r), or without the leading axes, are of wanted numbers first and then, from
    ``first_row`` on, of the numbers of ``rows``.
    """
    log = np.zeros(mean.shape[:-1])
    at = {name: first_row + i for name, i in _places(choices).items()}
    for choice, index in zip(choices, found, strict=True):
        conditions = choice.outcomes[index]
        if conditions:
            p, mean, cov = _conditions(conditions, at, mean, cov)
            log = log + p
            continue
        none = np.ones(mean.shape[:-1])
        for outcome in choice.outcomes:
            if outcome:
                p, _, _ = _conditions(outcome, at, mean, cov)
                none = none - np.exp(p)
        log = log + np.log(np.clip(none, 1e-6, 1.0))
    return log, mean, cov


def _conditions(
    conditions: Sequence[Condition], at: dict[bytes, int], mean: Array, cov: Array
) -> tuple[Array, Array, Array]:
    log = np.zeros(mean.shape[:-1])
    for condition in conditions:
        j = at[_number(condition)]
        variance = cov[..., j, j] + condition.sd**2
        p, centre, left = between(mean[..., j], np.sqrt(variance), condition.low, condition.high)
        log = log + np.log(p)
        gain = cov[..., :, j] / variance[..., None]
        mean = mean + gain * (centre - mean[..., j])[..., None]
        cov = cov - gain[..., :, None] * gain[..., None, :] * (variance - left)[..., None, None]
    return log, mean, cov


def drawn_outcomes(
    choices: Sequence[Choice], numbers: Array, rng: np.random.Generator
) -> list[NDArray[np.intp]]:
    """Return for each choice the outcome (s,) that hands would call, from the linear numbers (s, rows)."""
    out = []
    at = _places(choices)
    for choice in choices:
        called = np.full(numbers.shape[0], -1)
        rest = next((i for i, o in enumerate(choice.outcomes) if not o), len(choice.outcomes) - 1)
        felt: dict[int, Array] = {}
        for i, outcome in enumerate(choice.outcomes):
            holds = np.ones(numbers.shape[0], dtype=bool)
            for c in outcome:
                # one number is felt once, whichever outcome it is held against
                j = at[_number(c)]
                if j not in felt:
                    felt[j] = numbers[:, j] + c.sd * rng.standard_normal(numbers.shape[0])
                holds &= (felt[j] > c.low) & (felt[j] < c.high)
            if outcome:
                called = np.where((called < 0) & holds, i, called)
        out.append(np.where(called < 0, rest, called))
    return out
