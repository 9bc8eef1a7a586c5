"""Which places of the row of sixteen do the crowns that were found stand on?

Crowns come in order along the arch. Every order-keeping way to put them on the sixteen places is weighed: usual
widths (scaled together), the side of the midline, open spaces, and what the case says is missing. The weights
are summed exactly over all ways (forward and backward), so that each crown has a probability for each place.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]

_WIDTH_SPREAD = 0.12
_MIDLINE_MM = 2.5
_SPACE_MM = 1.5
#: What it costs (nats) to contradict the case: a crown where it says none is, none where it says one is.
TRUST_THE_CASE = 6.0
#: The same when the question is what the crowns alone would say.
TRUST_THE_SCAN = 0.3
_SCALES = np.linspace(0.80, 1.30, 26)
_SCALE_SPREAD = 0.10


class RowFit(NamedTuple):
    """``place`` (n,) most probable place 0-15 from the right, ``probability`` (n,) of it, ``scale`` of widths."""

    place: NDArray[np.int64]
    probability: F64
    scale: float


def fit_row(
    low_mm: F64,
    high_mm: F64,
    usual_mm: F64,
    present: NDArray[np.bool_],
    contradiction: float = TRUST_THE_CASE,
) -> RowFit:
    """Put crowns on places.

    ``low_mm``, ``high_mm`` (n,) where each crown begins and ends along the arch, from the patient's right, zero at
    the midline, sorted by their middle; ``usual_mm`` (16,) usual widths from the right; ``present`` (16,) what the
    case says; ``contradiction`` the cost, in nats, of each crown against that. ValueError for no crown or more
    than sixteen.
    """
    n = len(low_mm)
    if not 1 <= n <= 16:
        raise ValueError(f"{n} crowns cannot stand on sixteen places")
    best: tuple[float, float, F64, F64] | None = None
    for scale in _SCALES:
        emit, move, first, last = _weights(low_mm, high_mm, usual_mm * float(scale), present, contradiction)
        forward = np.full((n, 16), -np.inf)
        forward[0] = first + emit[0]
        for i in range(1, n):
            forward[i] = np.logaddexp.reduce(forward[i - 1][:, None] + move[i - 1], axis=0) + emit[i]
        prior = -0.5 * ((scale - 1.0) / _SCALE_SPREAD) ** 2 - n * float(np.log(scale))
        total = float(np.logaddexp.reduce(forward[-1] + last)) + prior
        if best is None or total > best[0]:
            backward = np.full((n, 16), -np.inf)
            backward[-1] = last
            for i in range(n - 1, 0, -1):
                backward[i - 1] = np.logaddexp.reduce(move[i - 1] + (emit[i] + backward[i])[None, :], axis=1)
            best = (total, float(scale), forward, backward)
    assert best is not None
    log_weight = best[2] + best[3]
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    place = np.argmax(weight, axis=1)
    return RowFit(place, weight[np.arange(n), place], best[1])


def _weights(
    low: F64, high: F64, usual: F64, present: NDArray[np.bool_], contradiction: float
) -> tuple[F64, F64, F64, F64]:
    """Return log weights: crown on place (n, 16), place to next place (n - 1, 16, 16), and of both ends (16,)."""
    n = len(low)
    middle, width = 0.5 * (low + high), high - low
    miss = (width[:, None] - usual) / (_WIDTH_SPREAD * usual)
    # A crown is a crown even when it is oddly wide (a bridge, a split): beyond three spreads it stops mattering.
    emit = -0.5 * np.minimum(miss * miss, 16.0)
    wrong_side = np.where(np.arange(16) < 8, np.maximum(middle[:, None], 0), np.minimum(middle[:, None], 0))
    emit = emit - 0.5 * np.minimum((wrong_side / _MIDLINE_MM) ** 2, 16.0)
    emit = emit - np.where(present, 0.0, contradiction)
    skipped = np.concatenate([[0.0], np.cumsum(np.where(present, contradiction, 0.0))])
    room = np.concatenate([[0.0], np.cumsum(usual)])
    a, b = np.arange(16)[:, None], np.arange(16)[None, :]
    between = room[b] - room[np.minimum(a + 1, 16)]
    space = low[1:] - high[:-1]
    move = np.full((n - 1, 16, 16), -np.inf)
    for i in range(n - 1):
        over = np.maximum(space[i] - np.maximum(between, 0.0), 0.0) / (
            _SPACE_MM + 0.25 * np.maximum(between, 0.0)
        )
        closed = np.where(between > 0, np.clip(1.0 - space[i] / np.maximum(between, 1.0), 0.0, 1.0), 0.0)
        cost = 0.5 * np.minimum(over * over, 9.0) + 0.7 * closed + skipped[b] - skipped[np.minimum(a + 1, 16)]
        move[i] = np.where(b > a, -cost, -np.inf)
    return emit, move, -skipped[:16], -(skipped[16] - skipped[1:])
