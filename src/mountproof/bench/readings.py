"""Caliper readings: repeats to one mean with its standard uncertainty and the name of its source."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from mountproof.geometry.carry import Carried, exact, measured, stack
from mountproof.geometry.carry import resolution_u as resolution_u


class Reading(NamedTuple):
    """One distance: mean of its repeats (mm), standard uncertainty of that mean (mm), and how many there were."""

    mean_mm: float
    u_mm: float
    n: int = 1


#: State of the casts -> pair of marks -> reading.
Table = Mapping[str, Mapping[str, Reading]]


def reading(repeats_mm: Sequence[float], sd_mm: float, step_mm: float) -> Reading:
    """Return the mean of repeats with its uncertainty from the SD of one reading and the step of the caliper.

    ``sd_mm`` / sqrt(n), but never below the rounding of one reading: where the SD is small against the step, all
    repeats are rounded alike and their mean is no better than one.
    """
    return _reading(tuple(repeats_mm), sd_mm, step_mm)


@lru_cache(maxsize=1024)
def _reading(repeats_mm: tuple[float, ...], sd_mm: float, step_mm: float) -> Reading:
    """Work out one reading. Every question takes the whole table anew."""
    values = np.asarray(repeats_mm, dtype=np.float64)
    if values.ndim != 1 or values.shape[0] == 0 or not np.all(np.isfinite(values)):
        raise ValueError("a reading needs at least one finite value")
    if not sd_mm >= 0.0:
        raise ValueError("a standard deviation cannot be below zero")
    n = int(values.shape[0])
    return Reading(float(np.mean(values)), max(sd_mm / math.sqrt(n), resolution_u(step_mm)), n)


def carried_reading(one: Reading, state: str, pair: str) -> Carried:
    """Return a reading as a carried value whose source is ``reading/<state>/<pair>``."""
    return measured(one.mean_mm, one.u_mm, f"reading/{state}/{pair}")


def carried_state(table: Table, state: str, pairs: Sequence[str]) -> Carried:
    """Return the readings of several pairs in one state, in the order asked."""
    return stack([exact([])[0:0], *(carried_reading(table[state][p], state, p) for p in pairs)])
