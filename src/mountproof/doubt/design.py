"""What a simulation rests on, told apart by its numbers, so that it is made once for checks that only read otherwise."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array

#: Digits that count: rates are shares among some thousand draws, and no fifth digit of a covariance shows in them.
_DIGITS = 4


def rounded(cov: ArrayLike) -> Array:
    """Return a covariance (m, m) with each entry rounded to its fourth digit.

    A thousandth of the diagonal is added for each row, more than rounding may take from it where entries hang together: so
    it stays a covariance.
    """
    c = np.asarray(cov, dtype=np.float64)
    size = np.abs(c)
    with np.errstate(divide="ignore"):
        step = 10.0 ** (np.floor(np.log10(np.where(size > 0.0, size, 1.0))) - (_DIGITS - 1))
    made = np.round(c / step) * step
    diagonal = np.diag(made)
    out: Array = made + np.diag(0.001 * len(made) * diagonal)
    return out


def as_bytes(part: Any) -> bytes:
    """Return bytes that are alike for two parts only where all their numbers and words are."""
    if isinstance(part, np.ndarray):
        return f"{part.dtype.str}{part.shape}".encode() + np.ascontiguousarray(part).tobytes()
    if isinstance(part, tuple | list):
        return b"(" + b",".join(as_bytes(inner) for inner in part) + b")"
    if isinstance(part, dict):
        return b"{" + b",".join(as_bytes((name, inner)) for name, inner in part.items()) + b"}"
    return repr(part).encode()


class Design:
    """Arguments of a simulation, equal to others by all their numbers and words."""

    def __init__(self, *parts: Any) -> None:
        self.parts = parts
        self._told = as_bytes(parts)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Design) and self._told == other._told

    def __hash__(self) -> int:
        return hash(self._told)
