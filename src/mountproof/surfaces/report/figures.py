"""Entered numbers as they are printed: as they were entered, with a true minus sign."""

from __future__ import annotations

import math
from dataclasses import replace

from mountproof.answers.result import Quantity
from mountproof.said import figure, joined, say
from mountproof.surfaces.wording import interval_text, number_text

_UNKNOWN = say("unknown")


def _signed(value: float, how: str) -> str:
    """Write a number with a true minus sign; its exponent, where it has one, keeps the plain one."""
    return joined("", ("−", figure(-value, how))) if value < 0.0 else figure(value, how)


def plain(value: float) -> str:
    """Return an entered number as it was entered: no digits added, none lost (up to 12)."""
    if not math.isfinite(value):
        return _UNKNOWN
    return _signed(value, ".12g")


def entry(value: float) -> str:
    """Return one entry of a matrix: nine digits, a tenth of a nanometre at 100 mm."""
    return _signed(value, ".9g") if math.isfinite(value) else _UNKNOWN


def size(quantity: Quantity) -> str:
    """Return the value of a quantity, rounded for reading, without its unit."""
    return number_text(quantity.value, quantity.decimals) if math.isfinite(quantity.value) else _UNKNOWN


def interval(quantity: Quantity) -> str:
    """Return the 95 % interval without its unit; empty where there is none."""
    ends = (quantity.low, quantity.high)
    if any(end is None or not math.isfinite(end) for end in ends):
        return ""
    return interval_text(replace(quantity, unit=""))


def same_decimals(values: list[float], at_least: int = 0, at_most: int = 6) -> int:
    """Return how many decimals show every value of a table as it was entered."""
    for decimals in range(at_least, at_most):
        if all(abs(round(v, decimals) - v) <= 10.0 ** -(at_most + 3) for v in values):
            return decimals
    return at_most
