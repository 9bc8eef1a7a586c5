"""Verdicts with a guard band: a limit is only passed, or missed, by more than the doubt of the value."""

from __future__ import annotations

import math
from typing import Final, Literal, NamedTuple

from mountproof.said import say

Verdict = Literal["agrees", "doubtful", "does not agree", "cannot tell"]


class Judgement(NamedTuple):
    """A verdict with the numbers that decided it: size of the value, its interval, and the limits."""

    verdict: Verdict
    size: float
    low: float
    high: float
    agrees_within: float
    redo_beyond: float
    because: str


def judge(
    value: float, u: float, agrees_within: float, redo_beyond: float | None = None, k: float = 2.0
) -> Judgement:
    """Return the verdict on the size of ``value`` with standard uncertainty ``u`` (same unit as the limits).

    With ``low, high = max(0, |value| - k u), |value| + k u``:
    ``agrees`` where ``high <= agrees_within``; ``does not agree`` where ``low > redo_beyond`` (the same limit where
    only one is given). Between them, ``doubtful`` where something is seen (``low > 0``) that is surely not beyond
    ``redo_beyond``; everything else ``cannot tell``: the doubt of the value is too wide for these limits. With
    one limit only there is no ``doubtful``. A value that is not finite, or that has no finite doubt, cannot tell.
    """
    redo = agrees_within if redo_beyond is None else redo_beyond
    if not 0.0 <= agrees_within <= redo:
        raise ValueError("limits must be at least zero, and to redo must not begin before agreeing ends")
    if u < 0.0 or k < 0.0:
        raise ValueError("uncertainty and coverage factor cannot be below zero")
    size = abs(value)
    if not (math.isfinite(size) and math.isfinite(u)):
        return Judgement("cannot tell", size, 0.0, math.inf, agrees_within, redo, say("no finite value"))
    low, high = max(0.0, size - k * u), size + k * u
    verdict = judge_interval(value - k * u, value + k * u, agrees_within, redo_beyond)
    because = _BECAUSE[verdict]
    return Judgement(verdict, size, low, high, agrees_within, redo, because)


_BECAUSE: Final = {
    "agrees": say("the whole interval is within the limit"),
    "does not agree": say("the whole interval is beyond the limit"),
    "doubtful": say("something is seen that is not surely small, and is not beyond the upper limit"),
    "cannot tell": say("the interval reaches across a limit"),
}


def judge_interval(
    low: float, high: float, agrees_within: float, redo_beyond: float | None = None
) -> Verdict:
    """Return the verdict on a number that lies between ``low`` and ``high``: the rule of ``judge`` for any interval."""
    redo = agrees_within if redo_beyond is None else redo_beyond
    least, most = max(0.0, low, -high), max(abs(low), abs(high))
    if most <= agrees_within:
        return "agrees"
    if least > redo:
        return "does not agree"
    if redo_beyond is not None and least > 0.0 and most <= redo:
        return "doubtful"
    return "cannot tell"


def judge_difference(
    found: float, u_found: float, predicted: float, u_predicted: float, limit: float
) -> Judgement:
    """Return the verdict on found minus predicted, both independent (same unit), against one limit."""
    return judge(found - predicted, math.hypot(u_found, u_predicted), limit)
