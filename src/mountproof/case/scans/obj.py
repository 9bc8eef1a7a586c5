"""OBJ: ``v`` lines and ``f`` lines; everything else in the file is passed over.

Corners may be written v, v/vt, v//vn or v/vt/vn, counted from 1, or from the end when negative. Material
files are not opened. A line may go on after a backslash.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from mountproof.case.scans._numbers import LATER, NO_NUMBER, line_of, number, settle, whole
from mountproof.case.scans._polygons import fan, note_of
from mountproof.case.scans._scan import (
    Mesh,
    as_bytes,
    check_counts,
    empty,
    out_of_range,
    truncated,
    unreadable,
)
from mountproof.said import say

_WHOLE, _NUMBER, _INDEX, _RANGE, _CORNERS = 0, 1, 2, 3, 4


def read(data: bytes) -> Mesh:
    """Read an OBJ. Raises FaultError: empty, too large, unreadable, index out of range (with its line)."""
    buf = as_bytes(data)
    n_vertices, n_faces, n_corners, passed = _count(buf)
    check_counts(n_corners - 2 * n_faces, n_vertices)
    if not n_faces or not n_vertices:
        empty(say("the file holds points but no faces") if n_vertices else say("the file holds no faces"))
    values, left_at, corners, start, stop, at = _fill(buf, n_vertices, n_faces, n_corners)
    last_line_open = data[-1:] not in (b"\n", b"\r")
    if stop != _WHOLE:
        line = line_of(data, at)
        if last_line_open and b"\n" not in data[at:]:
            truncated(say("the text ends in the middle of line {line}", line=line))
        if stop == _NUMBER:
            todo = say("Export the scan again, with a decimal point")
            unreadable(say("a coordinate is missing or not a number"), todo, line=line)
        if stop == _INDEX:
            unreadable(say("a corner of a face is not written as a vertex number"), line=line)
        if stop == _CORNERS:
            unreadable(say("a face has fewer than three corners"), line=line)
        out_of_range(
            say(
                "a face names a vertex that the file does not have (it has {vertices})",
                vertices=n_vertices,
            ),
            line=line,
        )
    settle(data, values, left_at)
    sides = np.diff(start)
    faces = np.zeros((int((sides - 2).sum()), 3), np.int32)
    fan(corners, start, faces)
    notes = note_of(int(np.count_nonzero(sides > 3)))
    if passed:
        notes.append(say("{count} lines of points, lines or curved surfaces were not read", count=passed))
    if last_line_open:
        notes.append(say("the last line does not end: the file may have been cut off"))
    return Mesh(values.reshape(-1, 3), faces, "OBJ", notes=tuple(notes))


@njit(cache=True, nogil=True)
def _blank(buf, i, end):  # type: ignore[no-untyped-def]
    """Skip blanks inside a line, and a line end that a backslash takes back."""
    while i < end:
        c = buf[i]
        if c == 32 or c == 9 or c == 11 or c == 12:
            i += 1
        elif c == 92 and i + 1 < end and buf[i + 1] == 10:
            i += 2
        elif c == 92 and i + 2 < end and buf[i + 1] == 13 and buf[i + 2] == 10:
            i += 3
        else:
            break
    return i


@njit(cache=True, nogil=True)
def _line(buf, i, end):  # type: ignore[no-untyped-def]
    """Index just after the line that ``i`` is in, backslashes heeded."""
    while i < end and buf[i] != 10 and buf[i] != 13:
        if buf[i] == 92 and i + 1 < end and buf[i + 1] == 10:
            i += 1
        elif buf[i] == 92 and i + 2 < end and buf[i + 1] == 13 and buf[i + 2] == 10:
            i += 2
        i += 1
    return min(i + 1, end)


@njit(cache=True, nogil=True)
def _word(buf, i, end):  # type: ignore[no-untyped-def]
    """Index just after a word; a backslash before a line end is no part of it."""
    while i < end and buf[i] > 32 and not (buf[i] == 92 and i + 1 < end and buf[i + 1] <= 13):
        i += 1
    return i


@njit(cache=True, nogil=True)
def _ends(buf, i, end):  # type: ignore[no-untyped-def]
    return i >= end or buf[i] == 10 or buf[i] == 13 or buf[i] == 35


@njit(cache=True, nogil=True)
def _key(buf, i, end):  # type: ignore[no-untyped-def]
    """v, f, or p, l and curved surfaces (p standing for all of these), else 0; index after the word."""
    j = _word(buf, i, end)
    if j - i == 1:
        c = buf[i]
        if c == 118 or c == 102:
            return c, j
        if c == 112 or c == 108:
            return 112, j
    # curv, curv2, surf
    elif j - i >= 4 and (
        (buf[i] == 99 and buf[i + 1] == 117 and buf[i + 2] == 114 and buf[i + 3] == 118)
        or (buf[i] == 115 and buf[i + 1] == 117 and buf[i + 2] == 114 and buf[i + 3] == 102)
    ):
        return 112, j
    return 0, j


@njit(cache=True, nogil=True)
def _count(buf):  # type: ignore[no-untyped-def]
    """Vertices, faces, corners of all faces, and lines of other shapes."""
    end = buf.size
    n_vertices, n_faces, n_corners, passed = 0, 0, 0, 0
    i = 3 if end > 2 and buf[0] == 0xEF and buf[1] == 0xBB and buf[2] == 0xBF else 0
    while i < end:
        i = _blank(buf, i, end)
        key, j = _key(buf, i, end)
        if key == 118:
            n_vertices += 1
        elif key == 112:
            passed += 1
        elif key == 102:
            n_faces += 1
            j = _blank(buf, j, end)
            while not _ends(buf, j, end):
                n_corners += 1
                j = _blank(buf, max(_word(buf, j, end), j + 1), end)
        i = _line(buf, j, end)
    return n_vertices, n_faces, n_corners, passed


@njit(cache=True, nogil=True)
def _fill(buf, n_vertices, n_faces, n_corners):  # type: ignore[no-untyped-def]
    end = buf.size
    values = np.zeros(3 * n_vertices)
    left_at = np.zeros(3 * n_vertices, np.int64)
    corners = np.zeros(n_corners, np.int32)
    start = np.zeros(n_faces + 1, np.int64)
    v, f, c = 0, 0, 0
    i = 3 if end > 2 and buf[0] == 0xEF and buf[1] == 0xBB and buf[2] == 0xBF else 0
    while i < end:
        i = _blank(buf, i, end)
        key, j = _key(buf, i, end)
        if key == 118:
            for k in range(3):
                j = _blank(buf, j, end)
                if _ends(buf, j, end):
                    return values, left_at, corners, start, _NUMBER, i
                value, after, kind = number(buf, j, end)
                if kind == NO_NUMBER:
                    return values, left_at, corners, start, _NUMBER, i
                values[3 * v + k] = value
                if kind == LATER:
                    left_at[3 * v + k] = j
                j = after
            v += 1
        elif key == 102:
            j = _blank(buf, j, end)
            while not _ends(buf, j, end):
                index, after, ok = whole(buf, j, end)
                # What follows the number may only be /texture/normal, which is passed over.
                if not ok or (after < end and buf[after] > 32 and buf[after] != 47 and buf[after] != 92):
                    return values, left_at, corners, start, _INDEX, i
                index = v + index if index < 0 else index - 1
                if index < 0 or index >= n_vertices:
                    return values, left_at, corners, start, _RANGE, i
                corners[c] = index
                c += 1
                j = _blank(buf, max(_word(buf, j, end), j + 1), end)
            f += 1
            start[f] = c
            if start[f] - start[f - 1] < 3:
                return values, left_at, corners, start, _CORNERS, i
        i = _line(buf, j, end)
    return values, left_at, corners, start, _WHOLE, end
