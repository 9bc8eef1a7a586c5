"""Numbers out of text, by the byte and correctly rounded.

A decimal number whose digits make a whole number below 2^53 and whose power of ten lies within 22 is one
division or multiplication of two doubles that are exact, hence correctly rounded (W. D. Clinger, How to read
floating point numbers accurately, PLDI 1990, section 2). All others are left to ``float``, which is too.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from mountproof.case.scans._scan import Bytes, Floats

#: What a token turned out to be.
EXACT, LATER, NO_NUMBER = 0, 1, 2
#: No writer needs more characters for a coordinate; a longer run of digits is not one.
_LONGEST = 400

_POWERS = np.array([10.0**i for i in range(23)])
_MANTISSA = 1 << 53
#: Far beyond any index, and far from overflow.
_INDEX_CAP = 1 << 40


@njit(cache=True, nogil=True)
def is_blank(c):  # type: ignore[no-untyped-def]
    """Space, tab, carriage return, line feed, form feed, vertical tab."""
    return c == 32 or (9 <= c <= 13)


@njit(cache=True, nogil=True)
def skip_blank(buf, i, end):  # type: ignore[no-untyped-def]
    """Index of the next byte that is not blank."""
    while i < end and is_blank(buf[i]):
        i += 1
    return i


@njit(cache=True, nogil=True)
def skip_token(buf, i, end):  # type: ignore[no-untyped-def]
    """Index just after the token that begins at ``i``."""
    while i < end and not is_blank(buf[i]):
        i += 1
    return i


@njit(cache=True, nogil=True)
def skip_line(buf, i, end):  # type: ignore[no-untyped-def]
    """Index just after the end of the line."""
    while i < end and buf[i] != 10 and buf[i] != 13:
        i += 1
    return min(i + 1, end)


@njit(cache=True, nogil=True)
def number(buf, i, end):  # type: ignore[no-untyped-def]
    """Read the token at ``i``: (value, index after it, EXACT, LATER or NO_NUMBER).

    Words that begin like nan or inf give NaN, so that the coordinate is named as what it is.
    """
    start = i
    negative = False
    if i < end and (buf[i] == 45 or buf[i] == 43):
        negative = buf[i] == 45
        i += 1
    if i < end and (buf[i] == 110 or buf[i] == 78 or buf[i] == 105 or buf[i] == 73):
        return np.nan, skip_token(buf, i, end), EXACT
    mantissa = 0
    exponent = 0
    zeros = 0
    digits = 0
    exact = True
    point = False
    while i < end:
        c = buf[i]
        if c == 46 and not point:
            point = True
        elif 48 <= c <= 57:
            digits += 1
            if point:
                exponent -= 1
            if c == 48:
                zeros += 1
            else:
                # Zeros count only once a digit follows: trailing ones stay out of the mantissa.
                while zeros > 0 and mantissa > 0:
                    mantissa *= 10
                    zeros -= 1
                    if mantissa > _MANTISSA:
                        exact = False
                        mantissa = 1
                        zeros = 0
                zeros = 0
                mantissa = mantissa * 10 + (c - 48)
                if mantissa > _MANTISSA:
                    exact = False
                    mantissa = 1
        else:
            break
        i += 1
    if digits == 0 or i - start > _LONGEST:
        return 0.0, skip_token(buf, start, end), NO_NUMBER
    exponent += zeros
    if i < end and (buf[i] == 101 or buf[i] == 69):
        i += 1
        sign = 1
        if i < end and (buf[i] == 45 or buf[i] == 43):
            sign = -1 if buf[i] == 45 else 1
            i += 1
        first = i
        power = 0
        while i < end and 48 <= buf[i] <= 57:
            power = min(power * 10 + (buf[i] - 48), 100000)
            i += 1
        if i == first:
            return 0.0, skip_token(buf, start, end), NO_NUMBER
        exponent += sign * power
    if i < end and not is_blank(buf[i]):
        return 0.0, skip_token(buf, start, end), NO_NUMBER
    if mantissa == 0:
        return (-0.0 if negative else 0.0), i, EXACT
    if not exact or exponent > 22 or exponent < -22:
        return 0.0, i, LATER
    value = float(mantissa)
    value = value * _POWERS[exponent] if exponent >= 0 else value / _POWERS[-exponent]
    return (-value if negative else value), i, EXACT


@njit(cache=True, nogil=True)
def whole(buf, i, end):  # type: ignore[no-untyped-def]
    """Read a whole number at ``i``: (value, index after the digits, ok). Stops at the first other byte."""
    negative = False
    if i < end and (buf[i] == 45 or buf[i] == 43):
        negative = buf[i] == 45
        i += 1
    first = i
    value = 0
    while i < end and 48 <= buf[i] <= 57:
        value = min(value * 10 + (buf[i] - 48), _INDEX_CAP)
        i += 1
    return (-value if negative else value), i, i > first


def settle(data: bytes, values: Floats, left_at: npt.NDArray[np.int64]) -> None:
    """Fill in the values left to ``float``: ``left_at`` holds the byte of each such token, 0 elsewhere."""
    for k in np.flatnonzero(left_at).tolist():
        at = int(left_at[k])
        values[k] = float(data[at : at + _LONGEST].split(None, 1)[0])


def line_of(data: bytes, at: int) -> int:
    """Line of a byte, counted from 1."""
    return data.count(b"\n", 0, at) + 1


__all__ = ["Bytes", "line_of", "number", "settle", "skip_blank", "skip_line", "skip_token", "whole"]
