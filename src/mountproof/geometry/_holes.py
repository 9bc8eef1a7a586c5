"""Where a scan ends in sight of its opponent: there the closing map says "unknown", never "no contact".

A border edge is hidden when the surface of its own arch stands in front of it by more than ``_HIDDEN_CELLS``
cells (as the trimmed foot of a crown stands behind the crown). A hole is what the arcs pass through inside
visible borders: cells without this arch that are not joined to the outside, or cells whose front face shows its
back (so that the arc came in through a hole). Facing is judged against the majority, so the winding may be
either way.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._features import _face_normal
from mountproof.geometry.surface import Surface

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int32]

#: The surface at a cell's centre may rise over half a cell by a slope of some 80 degrees before it hides its own border.
_HIDDEN_CELLS: Final = 3.0


def border_edges(surface: Surface) -> Ints:
    """Edges that belong to one face only, (k, 2) int32: as ``topology.border_edges``, several times faster.

    Round a vertex inside a surface, every neighbour that a face's edge goes out to is one that another face's edge
    comes in from; so the sum of a hash over those going out less that over those coming in vanishes. Only edges
    between vertices where it does not need to be counted.
    """
    n = len(surface.rest_mm)
    mixed = np.arange(1, n + 1, dtype=np.uint64)
    with np.errstate(over="ignore"):
        for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
            mixed = (mixed ^ (mixed >> np.uint64(shift))) * np.uint64(factor)
    hashes = (mixed >> np.uint64(32)).astype(np.int64)
    balance = np.zeros(n, dtype=np.int64)
    _balance(surface.faces, hashes, balance)
    found = np.zeros((_count_loose(surface.faces, balance), 2), dtype=np.int32)
    _loose(surface.faces, balance, found)
    if not len(found):
        return found
    low, high = found.min(axis=1).astype(np.int64), found.max(axis=1).astype(np.int64)
    _, first, count = np.unique(low * n + high, return_index=True, return_counts=True)
    alone: Ints = found[np.sort(first[count == 1])]
    return alone


def borders_seen(surface: Surface, border: Ints, phi: Floats, frame: tuple[float, float, float]) -> Flags:
    """Mark the cells through which a border edge passes that its own arch does not hide.

    ``border`` (k, 2) vertex numbers; ``phi`` (nr, nz) rad of the arch's front; ``frame``: r0, z0, cell, mm.
    """
    seen = np.zeros(phi.shape, dtype=np.bool_)
    if len(border) and phi.size:
        r0, z0, cell = frame
        _mark(surface.vertices_mm, np.require(border, np.int32, ["C", "W", "A"]), phi, r0, z0, cell,
              1.0 if surface.arch == "upper" else -1.0, seen)  # fmt: skip
    return seen


def unknown_cells(
    upper: Surface,
    upper_phi: Floats,
    upper_face: Ints,
    upper_open: Flags,
    lower: Surface,
    lower_phi: Floats,
    lower_face: Ints,
    lower_open: Flags,
) -> Flags:
    """Cells in which either arch is not known while the other one stands, or is not known, opposite."""
    up = _not_known(upper, upper_phi, upper_face, upper_open)
    low = _not_known(lower, lower_phi, lower_face, lower_open)
    both: Flags = (up & (low | (lower_face >= 0))) | (low & (up | (upper_face >= 0)))
    return both


def _not_known(surface: Surface, phi: Floats, face: Ints, seen: Flags) -> Flags:
    if not seen.any():
        return seen
    found = seen.copy()
    _fill_holes(surface.vertices_mm, surface.faces, phi, face, seen, found)
    return found


@njit(cache=True, nogil=True)
def _balance(faces: Ints, hashes: NDArray[np.int64], balance: NDArray[np.int64]) -> None:
    for i in range(faces.shape[0]):
        a = faces[i, 0]
        b = faces[i, 1]
        c = faces[i, 2]
        if a == b or b == c or c == a:
            continue
        balance[a] += hashes[b] - hashes[c]
        balance[b] += hashes[c] - hashes[a]
        balance[c] += hashes[a] - hashes[b]


@njit(cache=True, nogil=True)
def _count_loose(faces: Ints, balance: NDArray[np.int64]) -> int:
    count = 0
    for i in range(faces.shape[0]):
        a = balance[faces[i, 0]] != 0
        b = balance[faces[i, 1]] != 0
        c = balance[faces[i, 2]] != 0
        count += (1 if a and b else 0) + (1 if b and c else 0) + (1 if c and a else 0)
    return count


@njit(cache=True, nogil=True)
def _loose(faces: Ints, balance: NDArray[np.int64], found: Ints) -> None:
    at = 0
    for i in range(faces.shape[0]):
        for k in range(3):
            a = faces[i, k]
            b = faces[i, (k + 1) % 3]
            if balance[a] != 0 and balance[b] != 0:
                found[at, 0] = a
                found[at, 1] = b
                at += 1


@njit(cache=True, nogil=True, error_model="numpy")
def _mark(
    vertices: Floats, border: Ints, phi: Floats, r0: float, z0: float, cell: float, sign: float, seen: Flags
) -> None:
    columns, rows = phi.shape
    for e in range(border.shape[0]):
        a = vertices[border[e, 0]]
        b = vertices[border[e, 1]]
        length = math.sqrt((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2 + (b[2] - a[2]) ** 2)
        steps = max(math.ceil(2.0 * length / cell), 1)
        r_old = math.sqrt(a[0] * a[0] + a[1] * a[1])
        z_old = a[2]
        phi_old = math.atan2(a[1], a[0])
        for k in range(1, steps + 1):
            w = k / steps
            x = a[0] + w * (b[0] - a[0])
            y = a[1] + w * (b[1] - a[1])
            z = a[2] + w * (b[2] - a[2])
            r = math.sqrt(x * x + y * y)
            angle = math.atan2(y, x)
            i0 = max(math.floor((min(r, r_old) - r0) / cell), 0)
            i1 = min(math.floor((max(r, r_old) - r0) / cell), columns - 1)
            j0 = max(math.floor((min(z, z_old) - z0) / cell), 0)
            j1 = min(math.floor((max(z, z_old) - z0) / cell), rows - 1)
            front = min(sign * angle, sign * phi_old) - _HIDDEN_CELLS * cell / r
            for i in range(i0, i1 + 1):
                for j in range(j0, j1 + 1):
                    if not sign * phi[i, j] < front:  # NaN: nothing there that could hide it
                        seen[i, j] = True
            r_old = r
            z_old = z
            phi_old = angle


@njit(cache=True, nogil=True, error_model="numpy")
def _facing(vertices: Floats, faces: Ints, f: int, phi: float) -> int:
    """Sign of (normal . direction of closing) of a face met at angle ``phi``."""
    nx, ny, _ = _face_normal(vertices, faces, f)
    along = ny - nx * math.tan(phi)  # times the cosine of phi, which is above 0
    return 1 if along > 0.0 else (-1 if along < 0.0 else 0)


@njit(cache=True, nogil=True, error_model="numpy")
def _fill_holes(vertices: Floats, faces: Ints, phi: Floats, face: Ints, seen: Flags, found: Flags) -> None:
    """Add to ``found`` what lies beside a seen border and is empty or shows its back, but not the outside of the map.

    Cells are numbered through, in a frame one cell wide that nobody enters: 0 closed, 1 empty, 2 covered.
    """
    columns, rows = phi.shape
    wide = rows + 2
    state = np.zeros((columns + 2) * wide, dtype=np.uint8)
    stack = np.zeros((columns + 2) * wide, dtype=np.int32)
    size = 0
    usual = 0
    for i in range(columns):
        for j in range(rows):
            k = (i + 1) * wide + j + 1
            if face[i, j] >= 0:
                state[k] = 2
                if (i + j) % 8 == 0:  # enough to know which way most of them face
                    usual += _facing(vertices, faces, face[i, j], phi[i, j])
            elif not seen[i, j]:
                state[k] = 1
                if i == 0 or j == 0 or i == columns - 1 or j == rows - 1:
                    state[k] = 0
                    stack[size] = k
                    size += 1
    while size > 0:  # the outside: empty cells joined to the rim of the map, closed as they are met
        size -= 1
        k = stack[size]
        for d in (1, -1, wide, -wide):
            if state[k + d] == 1:
                state[k + d] = 0
                stack[size] = k + d
                size += 1
    for i in range(columns):
        for j in range(rows):
            if seen[i, j]:
                stack[size] = (i + 1) * wide + j + 1
                size += 1
                state[(i + 1) * wide + j + 1] = 0
    back = -1 if usual >= 0 else 1
    while size > 0:
        size -= 1
        at = stack[size]
        for u in (-wide, 0, wide):
            for v in (-1, 0, 1):
                k = at + u + v
                if state[k] == 0:
                    continue
                i = k // wide - 1
                j = k % wide - 1
                if state[k] == 1 or _facing(vertices, faces, face[i, j], phi[i, j]) == back:
                    found[i, j] = True
                    stack[size] = k
                    size += 1
                state[k] = 0
