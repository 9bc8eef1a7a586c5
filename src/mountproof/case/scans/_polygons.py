"""Faces of more than three corners are cut into triangles from their first corner."""

from __future__ import annotations

from numba import njit

from mountproof.case.scans._scan import counted
from mountproof.said import say


@njit(cache=True, nogil=True)
def fan(corners, start, faces):  # type: ignore[no-untyped-def]
    """Fill ``faces`` (m, 3) with the triangles of polygons ``corners[start[i]:start[i + 1]]``."""
    n = 0
    for i in range(start.size - 1):
        for k in range(start[i] + 1, start[i + 1] - 1):
            faces[n, 0] = corners[start[i]]
            faces[n, 1] = corners[k]
            faces[n, 2] = corners[k + 1]
            n += 1


def note_of(n_polygons: int) -> list[str]:
    """Say how many faces were cut; nothing where none was."""
    if not n_polygons:
        return []
    what = counted(n_polygons, "face")
    return [say("{faces} with more than three corners cut into triangles from the first corner", faces=what)]
