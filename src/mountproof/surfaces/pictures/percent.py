"""Shares and chances as words: never a nought for what is only small, never a hundred for what is only likely."""

from __future__ import annotations

import math

from mountproof.said import say


def percent(share: float) -> str:
    """Return a share (0 to 1) in percent: ``below 1 %`` above nought, ``unknown`` where it is no number."""
    if not math.isfinite(share):
        return say("unknown")
    if 0.0 < share < 0.01:
        return say("below 1 %")
    if 0.99 < share < 1.0:
        return say("above 99 %")
    return say("{percent:.0f} %", percent=100.0 * share)


def drawn_percent(chance: float) -> str:
    """Return a chance counted from draws: none of so many is no nought, all of them are no certainty."""
    return percent(min(max(chance, 1e-9), 1.0 - 1e-9))


def short_percent(chance: float) -> str:
    """Return a chance counted from draws for a narrow place whose head says %: ``<1``, ``34``, ``>99``, ``?``."""
    if not math.isfinite(chance):
        return say("?")
    if chance < 0.01:
        return say("<1")
    if chance > 0.99:
        return say(">99")
    return say("{percent:.0f}", percent=100.0 * chance)
