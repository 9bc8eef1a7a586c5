"""Walking the records of a PLY file, one kernel a question; nothing is read beyond the end of the file."""

from __future__ import annotations

import numpy as np
from numba import njit

from mountproof.case.scans._numbers import LATER, NO_NUMBER, number, skip_blank, skip_token, whole

OK, SHORT, NO_INDEX, FAR = 0, 1, 2, 3
_MOST = 2**31 - 1


@njit(cache=True, nogil=True)
def _unsigned(buf, at, size, big):  # type: ignore[no-untyped-def]
    """Whole number of 1, 2 or 4 bytes without a sign."""
    value = 0
    for k in range(size):
        value |= int(buf[at + k]) << (8 * (size - 1 - k if big else k))
    return value


@njit(cache=True, nogil=True)
def _signed(buf, at, size, big):  # type: ignore[no-untyped-def]
    """The same with a sign."""
    value = _unsigned(buf, at, size, big)
    return value - (1 << (8 * size)) if value >> (8 * size - 1) else value


@njit(cache=True, nogil=True)
def binary_records(buf, at, count, length, item, big, keep, kept):  # type: ignore[no-untyped-def]
    """Position of each property to keep, in its column ``keep[p]`` (-1: none) of ``kept`` columns.

    With it the end of the records, and how many are whole.
    """
    end = np.int64(buf.size)
    n = length.size
    found = np.zeros((count, kept), np.int64)
    for r in range(count):
        for p in range(n):
            if keep[p] >= 0:
                found[r, keep[p]] = at
            items = np.int64(1)
            if length[p]:
                if at + length[p] > end:
                    return found, end, r
                items = _unsigned(buf, at, length[p], big)
                at += length[p]
            if items * item[p] > end - at:
                return found, end, r
            at += items * item[p]
    return found, at, count


@njit(cache=True, nogil=True)
def text_records(buf, at, count, is_list, keep, kept):  # type: ignore[no-untyped-def]
    """The same for text: position of each token; -1 records where a list's length is no number."""
    end = np.int64(buf.size)
    n = is_list.size
    found = np.zeros((count, kept), np.int64)
    for r in range(count):
        for p in range(n):
            at = skip_blank(buf, at, end)
            if at >= end:
                return found, end, r
            if keep[p] >= 0:
                found[r, keep[p]] = at
            items = np.int64(0)
            if is_list[p]:
                items, after, ok = whole(buf, at, end)
                if not ok or items < 0 or (after < end and buf[after] > 32):
                    return found, at, -1
            at = skip_token(buf, at, end)
            # A length beyond the end of the file runs into the end, not into a longer loop.
            for _ in range(min(items, end)):
                at = skip_blank(buf, at, end)
                if at >= end:
                    return found, end, r
                at = skip_token(buf, at, end)
    return found, at, count


@njit(cache=True, nogil=True)
def text_numbers(buf, where):  # type: ignore[no-untyped-def]
    """Numbers of the tokens at ``where``; those left to ``float``; index of the first that is none, or -1."""
    values = np.zeros(where.size)
    left_at = np.zeros(where.size, np.int64)
    for k in range(where.size):
        value, _, kind = number(buf, where[k], buf.size)
        if kind == NO_NUMBER:
            return values, left_at, k
        if kind == LATER:
            left_at[k] = where[k]
        values[k] = value
    return values, left_at, -1


@njit(cache=True, nogil=True)
def text_lists(buf, where):  # type: ignore[no-untyped-def]
    """Entries of the lists whose lengths stand at ``where``: corners, start of each, what stopped, where."""
    end = buf.size
    start = np.zeros(where.size + 1, np.int64)
    for i in range(where.size):
        n, _, _ = whole(buf, where[i], end)
        if n < 3:
            return np.zeros(0, np.int32), start, SHORT, where[i]
        start[i + 1] = start[i] + n
    corners = np.zeros(start[-1], np.int32)
    for i in range(where.size):
        at = skip_token(buf, where[i], end)
        for c in range(start[i], start[i + 1]):
            at = skip_blank(buf, at, end)
            index, after, ok = whole(buf, at, end)
            if not ok or (after < end and buf[after] > 32):
                return corners, start, NO_INDEX, at
            if index < 0 or index > _MOST:
                return corners, start, FAR, at
            corners[c] = index
            at = after
    return corners, start, OK, 0


@njit(cache=True, nogil=True)
def binary_lists(buf, where, size, item, signed, big):  # type: ignore[no-untyped-def]
    """The same for binary files; lengths were held against the end of the file before."""
    start = np.zeros(where.size + 1, np.int64)
    for i in range(where.size):
        n = _unsigned(buf, where[i], size, big)
        if n < 3:
            return np.zeros(0, np.int32), start, SHORT, where[i]
        start[i + 1] = start[i] + n
    corners = np.zeros(start[-1], np.int32)
    for i in range(where.size):
        at = where[i] + size
        for c in range(start[i], start[i + 1]):
            index = _signed(buf, at, item, big) if signed else _unsigned(buf, at, item, big)
            if index < 0 or index > _MOST:
                return corners, start, FAR, at
            corners[c] = index
            at += item
    return corners, start, OK, 0


@njit(cache=True, nogil=True)
def binary_values(buf, where, item, signed, big):  # type: ignore[no-untyped-def]
    """One whole number at each of ``where``."""
    out = np.zeros(where.size, np.int64)
    for i in range(where.size):
        out[i] = _signed(buf, where[i], item, big) if signed else _unsigned(buf, where[i], item, big)
    return out
