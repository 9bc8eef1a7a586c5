"""How likely the readings at one tooth are for each change there, the tooth's own gap integrated out.

The gap ``g`` of a tooth at first contact in the mouth is not known; on the casts it is ``g + d``. For a prior ``pi`` of ``g``

    L(d) = integral of pi(g) P(mouth | g) P(casts | g + d) dg

is a sum over an even grid of ``g``, the same for every tooth with the same readings, and a correlation in ``d``: the
probability on the casts is worked out once along ``g + d``.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from mountproof.doubt.foil_readings import Interval
from mountproof.doubt.normal import log_between
from mountproof.geometry.poses import Array

#: Step of the grid (mm): a fifth of what one place of a cast is off by, so that sums are integrals to 1e-5.
STEP_MM: Final = 0.004
#: Gaps up to this are told apart (mm), and changes at a tooth up to as much both ways.
REACH_MM: Final = 1.6
#: The gap of a tooth of which nothing is known: one of so many is in contact, as closely as this (1 SD, mm); the others
#: are apart by half of a normal with this SD (mm). Our choices, no source.
CONTACT_PART: Final = 0.3
CONTACT_SD_MM: Final = 0.010
GAP_SD_MM: Final = 0.5
_HALF: Final = round(REACH_MM / STEP_MM)
#: Gaps in mm, changes in mm.
GAPS_MM: Final = np.arange(_HALF + 1, dtype=np.float64) * STEP_MM
CHANGES_MM: Final = np.arange(-_HALF, _HALF + 1, dtype=np.float64) * STEP_MM


class Known(NamedTuple):
    """The gap at first contact where scans tell it (mm), with its standard uncertainty."""

    gap_mm: float
    u_mm: float


class Table(NamedTuple):
    """Along ``CHANGES_MM`` (d) and the values of give (k): ``log`` likelihood (d, k), its slope and its bend per mm.

    ``mouth`` (q, k) weighs the gaps by prior and mouth, ``casts`` (d + q - 1,) is the probability along gap plus change.
    """

    log: Array
    slope: Array
    bend: Array
    mouth: Array
    casts: Array


@lru_cache(maxsize=512)
def table(mouth: Interval | None, casts: Interval, gives_mm: tuple[float, ...], known: Known | None) -> Table:
    """Return the table of one pair of readings.

    ``gives_mm`` (k) is by how much the tooth gives in the mouth; the gap beforehand is ``known`` or ``gap_prior``, never below
    zero. Without a reading in the mouth that stands alone. Raises ValueError for a known gap that is not told apart from others
    here: one that reaches beyond ``REACH_MM``, or is known to less than the step of the grid.
    """
    if known is not None and not (
        0.0 <= known.gap_mm <= REACH_MM - 4.0 * known.u_mm and known.u_mm >= STEP_MM
    ):
        raise ValueError(
            f"a known gap lies between 0 and {REACH_MM:g} mm, with a doubt of {STEP_MM:g} mm or more"
        )
    prior = gap_prior() if known is None else _cells(-0.5 * ((GAPS_MM - known.gap_mm) / known.u_mm) ** 2)
    log_w = np.repeat(np.log(prior)[:, None], len(gives_mm), axis=1)
    if mouth is not None:
        at = GAPS_MM[:, None] - np.array(gives_mm)
        log_w += log_between((mouth.low_mm - at) / mouth.sd_mm, (mouth.high_mm - at) / mouth.sd_mm)[0]
    both = (np.arange(len(CHANGES_MM) + len(GAPS_MM) - 1)) * STEP_MM + CHANGES_MM[0]
    log_f, by_low, by_high = log_between(
        (casts.low_mm - both) / casts.sd_mm, (casts.high_mm - both) / casts.sd_mm
    )
    w = np.exp(np.maximum(log_w, _LEAST))
    f = np.exp(np.maximum(log_f, _LEAST))
    total = along(f) @ w
    rising = along(f * -(by_low + by_high) / casts.sd_mm) @ w
    slope = rising / total
    # log-concave: what bends upward is rounding
    bend = np.minimum(np.gradient(slope, STEP_MM, axis=0), 0.0)
    return Table(np.log(total), slope, bend, w, f)


def gap_prior() -> Array:
    """Return (q,): how likely each of ``GAPS_MM`` is beforehand; they add up to one."""
    contact = _cells(-0.5 * (GAPS_MM / CONTACT_SD_MM) ** 2)
    apart = _cells(-0.5 * (GAPS_MM / GAP_SD_MM) ** 2)
    return CONTACT_PART * contact + (1.0 - CONTACT_PART) * apart


def _cells(log_density: Array) -> Array:
    """Return the weight of each cell of the grid, half a cell at its beginning."""
    w = np.exp(np.maximum(log_density - log_density.max(), _LEAST))
    w[0] *= 0.5
    out: Array = w / w.sum()
    return out


def along(casts: Array) -> Array:
    """Return (d, q): a function of gap plus change, (d + q - 1,), at every change and gap of the grids."""
    return np.ascontiguousarray(np.lib.stride_tricks.sliding_window_view(casts, len(GAPS_MM)))


#: Logarithms below this count as this: what is left of a probability then decides nothing, and sums stay above zero.
_LEAST: Final = -300.0
