"""STL, binary and text. The format repeats each vertex in every triangle; here it becomes one again.

Binary: 80 bytes of anything, the number of triangles, then 50 bytes each (normal, three corners, two bytes).
Text: ``solid``, facets of three ``vertex`` lines, ``endsolid``, any number of times. Normals are not read.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from numba import njit

from mountproof.case.scans._merge import same_vertices
from mountproof.case.scans._numbers import (
    LATER,
    NO_NUMBER,
    line_of,
    number,
    settle,
    skip_blank,
    skip_line,
    skip_token,
)
from mountproof.case.scans._scan import (
    Mesh,
    as_bytes,
    check_counts,
    counted,
    empty,
    truncated,
    unreadable,
)
from mountproof.said import say

HEAD = 84
RECORD = 50


def promised(data: bytes) -> int:
    """Number of triangles a binary STL says it has; 0 where the file is shorter than its head."""
    return int.from_bytes(data[80:84], "little") if len(data) >= HEAD else 0


def read_binary(data: bytes, salt: int) -> Mesh:
    """Read a binary STL. Raises FaultError: truncated, empty, too large."""
    if len(data) < HEAD:
        truncated(
            say(
                "the file ends inside the head of a binary STL ({there} of {head} bytes are there)",
                there=len(data),
                head=HEAD,
            )
        )
    n = promised(data)
    if n == 0:
        empty(say("the file says that it holds no triangles"))
    there = (len(data) - HEAD) // RECORD
    if there < n:
        truncated(say("the file promises {promised} triangles and holds {there}", promised=n, there=there))
    check_counts(n, 0)
    records = np.frombuffer(data, np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("x", "<u2")]), n, HEAD)
    corners = np.ascontiguousarray(records["v"], dtype=np.float32).reshape(3 * n, 3)
    notes = []
    over = len(data) - HEAD - RECORD * n
    if over:
        notes.append(say("{bytes} after the last triangle were not read", bytes=counted(over, "byte")))
    return _merged(corners, "STL (binary)", salt, notes)


def read_text(data: bytes, salt: int) -> Mesh:
    """Read a text STL. Raises FaultError: truncated, empty, too large, unreadable (with its line)."""
    buf = as_bytes(data)
    most = _count_corners(buf)
    check_counts(most // 3, 0)
    corners, left_at, n_corners, solids, stop, at = _facets(buf, most)
    if stop == _CUT:
        truncated(
            say(
                "the text ends in the middle of a surface, after {triangles}",
                triangles=counted(n_corners // 3, "triangle"),
            )
        )
    if stop == _WORD:
        unreadable(say("a word stands where STL text has none"), line=line_of(data, at))
    if stop == _NUMBER:
        todo = say("Export the scan again, with a decimal point, or as binary STL")
        unreadable(say("a coordinate is not a number"), todo, line=line_of(data, at))
    if stop == _CORNERS:
        unreadable(say("a facet does not have three corners"), line=line_of(data, at))
    if n_corners == 0:
        empty()
    settle(data, corners, left_at)
    notes = [say("{count} parts in one file were taken together", count=solids)] if solids > 1 else []
    return _merged(corners[: 3 * n_corners].reshape(n_corners, 3), "STL (text)", salt, notes)


def _merged(corners: npt.NDArray[Any], name: str, salt: int, notes: list[str]) -> Mesh:
    first, which = same_vertices(corners, salt)
    notes.append(
        say(
            "the {corners} corners of the triangles were joined where they are equal to the last bit: {vertices} "
            "vertices",
            corners=len(corners),
            vertices=len(first),
        )
    )
    vertices = corners[first].astype(np.float64)
    return Mesh(vertices, which.reshape(-1, 3), name, notes=tuple(notes))


_WHOLE, _CUT, _WORD, _NUMBER, _CORNERS = 0, 1, 2, 3, 4
_SOLID, _ENDSOLID, _FACET, _NORMAL, _OUTER, _LOOP, _VERTEX, _ENDLOOP, _ENDFACET = (
    np.frombuffer(word, np.uint8)
    for word in (
        b"solid",
        b"endsolid",
        b"facet",
        b"normal",
        b"outer",
        b"loop",
        b"vertex",
        b"endloop",
        b"endfacet",
    )
)


@njit(cache=True, nogil=True)
def _is(buf, i, j, word):  # type: ignore[no-untyped-def]
    """Tell whether the token from i to j is the word, in small or capital letters."""
    same = j - i == word.size
    k = 0
    while same and k < word.size:
        same = buf[i + k] | 32 == word[k]
        k += 1
    return same


@njit(cache=True, nogil=True)
def _count_corners(buf):  # type: ignore[no-untyped-def]
    """No fewer than the corners there are: tokens that begin with a v."""
    n = 0
    blank = True
    for c in buf:
        if blank and (c | 32) == 118:
            n += 1
        blank = c == 32 or (9 <= c <= 13)
    return n


@njit(cache=True, nogil=True)
def _facets(buf, most):  # type: ignore[no-untyped-def]
    end = buf.size
    corners = np.zeros(3 * most)
    left_at = np.zeros(3 * most, np.int64)
    n = 0
    solids = 0
    in_solid = False
    in_facet = False
    in_this = 0
    i = skip_blank(buf, 0, end)
    while i < end:
        j = skip_token(buf, i, end)
        if not in_solid:
            if not _is(buf, i, j, _SOLID):
                return corners, left_at, n, solids, _CUT if j == end else _WORD, i
            in_solid = True
            solids += 1
            j = skip_line(buf, i, end)
        elif _is(buf, i, j, _VERTEX) and in_facet:
            in_this += 1
            for k in range(3):
                j = skip_blank(buf, j, end)
                if j >= end:
                    return corners, left_at, n, solids, _CUT, i
                at = j
                value, j, kind = number(buf, j, end)
                if kind == NO_NUMBER:
                    return corners, left_at, n, solids, _CUT if j == end else _NUMBER, at
                corners[3 * n + k] = value
                if kind == LATER:
                    left_at[3 * n + k] = at
            n += 1
        elif _is(buf, i, j, _FACET) and not in_facet:
            in_facet = True
            in_this = 0
        elif _is(buf, i, j, _NORMAL) and in_facet:
            for _ in range(3):
                j = skip_token(buf, skip_blank(buf, j, end), end)
        elif _is(buf, i, j, _ENDFACET) and in_facet:
            if in_this != 3:
                return corners, left_at, n, solids, _CORNERS, i
            in_facet = False
        elif _is(buf, i, j, _ENDSOLID) and not in_facet:
            in_solid = False
            j = skip_line(buf, i, end)
        elif not (in_facet and (_is(buf, i, j, _OUTER) or _is(buf, i, j, _LOOP) or _is(buf, i, j, _ENDLOOP))):
            return corners, left_at, n, solids, _CUT if j == end else _WORD, i
        i = skip_blank(buf, j, end)
    return corners, left_at, n, solids, _CUT if in_solid else _WHOLE, end
