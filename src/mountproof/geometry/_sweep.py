"""Kernels that sum what overlaps at many closing angles, cell by cell of a closing map."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry._features import _face_normal

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]

#: Faces steeper than this against the direction of closing (cosine) are counted as if they were this steep.
_STEEPEST = 0.02
#: What is summed for each pair and angle.
DEPTH, NORMAL, AREA, UPPER, LOWER, VOLUME, QUANTITIES = 0, 1, 2, 3, 4, 5, 6


class Bodies(NamedTuple):
    """Vertices (mm), faces, and the part of each face of both arches."""

    up_vertices: Floats
    up_faces: Ints
    low_vertices: Floats
    low_faces: Ints
    up_part: Ints
    low_part: Ints


@njit(cache=True, nogil=True, error_model="numpy")
def _rise(vertices: Floats, faces: Ints, f: int, slope: float) -> float:
    """Cosine between the normal of a face and the direction of closing, where it is met at ``slope`` = y / x."""
    nx, ny, nz = _face_normal(vertices, faces, f)
    size = math.sqrt(nx * nx + ny * ny + nz * nz)
    if not size > 0.0:
        return 1.0
    rise = abs(ny - nx * slope) / (size * math.sqrt(1.0 + slope * slope))
    return rise if rise > _STEEPEST else _STEEPEST


@njit(cache=True, nogil=True, error_model="numpy")
def _least(
    gap: Floats, up_face: Ints, low_face: Ints, unknown: Flags, up_part: Ints, low_part: Ints, least: Floats
) -> None:
    """Enter the least gap (rad) of each pair of parts into ``least`` (parts, parts), which comes filled with +inf."""
    for i in range(gap.shape[0]):
        for j in range(gap.shape[1]):
            g = gap[i, j]
            if unknown[i, j] or not g < math.inf:
                continue
            u = up_part[up_face[i, j]]
            w = low_part[low_face[i, j]]
            if g < least[u, w]:
                least[u, w] = g


@njit(cache=True, nogil=True, error_model="numpy")
def _space(
    gap: Floats, up_face: Ints, low_face: Ints, unknown: Flags, up_part: Ints, low_part: Ints, least: Floats,
    r0: float, cell: float, band: float, space: Floats,
) -> None:  # fmt: skip
    """Sum r and r gap over the cells whose arc is within ``band`` mm of the least of their pair: (parts, parts, 2)."""
    for i in range(gap.shape[0]):
        r = r0 + (i + 0.5) * cell
        for j in range(gap.shape[1]):
            g = gap[i, j]
            if unknown[i, j] or not g < math.inf:
                continue
            u = up_part[up_face[i, j]]
            w = low_part[low_face[i, j]]
            if r * (g - least[u, w]) <= band:
                space[u, w, 0] += cell * cell
                space[u, w, 1] += r * cell * cell
                space[u, w, 2] += r * g * cell * cell


@njit(cache=True, nogil=True, error_model="numpy")
def _overlaps(
    up_slope: Floats, up_face: Ints, low_slope: Floats, low_face: Ints, hidden: Flags, coarser: int,
    r0: float, cell: float, bodies: Bodies, angles: Floats, sums: Floats,
) -> None:  # fmt: skip
    """Add to ``sums`` (parts, parts, angles, QUANTITIES) what overlaps in these cells at each of the rising ``angles``.

    ``hidden``: cells, ``coarser`` times as wide, of which nothing is known.
    """
    k = angles.shape[0]
    for i in range(up_slope.shape[0]):
        r = r0 + (i + 0.5) * cell
        for j in range(up_slope.shape[1]):
            if up_face[i, j] < 0 or low_face[i, j] < 0 or hidden[i // coarser, j // coarser]:
                continue
            s = up_slope[i, j]
            t = low_slope[i, j]
            gap = math.atan2(s - t, 1.0 + s * t)
            if not gap < angles[k - 1]:
                continue
            above = _rise(bodies.up_vertices, bodies.up_faces, up_face[i, j], s)
            below = _rise(bodies.low_vertices, bodies.low_faces, low_face[i, j], t)
            at = sums[bodies.up_part[up_face[i, j]], bodies.low_part[low_face[i, j]]]
            square = cell * cell
            for n in range(k - 1, -1, -1):
                if not gap < angles[n]:
                    break
                deep = r * (angles[n] - gap)
                at[n, DEPTH] = max(at[n, DEPTH], deep)
                at[n, NORMAL] = max(at[n, NORMAL], deep * min(above, below))
                at[n, AREA] += square
                at[n, UPPER] += square / above
                at[n, LOWER] += square / below
                at[n, VOLUME] += deep * square


@njit(cache=True, nogil=True, error_model="numpy")
def _leaves_of_tiles(
    boxes: Floats, leaf_row: int, order: Ints, r0: float, z0: float, side: float, slots: Ints, starts: Ints, found: Ints
) -> None:  # fmt: skip
    """Sort leaves by the tiles they may lie over, in the order given.

    ``slots`` (columns, rows): number of each wanted tile, -1 for the others. ``starts`` (tiles + 1,) comes as zeros; called with
    an empty ``found`` it counts, called again with room for ``starts[-1]`` leaves it fills.
    """
    fill = starts.copy()
    for leaf in order:
        box = boxes[leaf_row + leaf]
        i0 = max(math.floor((math.sqrt(max(box[0], 0.0)) - r0) / side - 1e-6), 0)
        i1 = min(math.floor((math.sqrt(box[1]) - r0) / side + 1e-6), slots.shape[0] - 1)
        j0 = max(math.floor((box[2] - z0) / side - 1e-6), 0)
        j1 = min(math.floor((box[3] - z0) / side + 1e-6), slots.shape[1] - 1)
        for i in range(i0, i1 + 1):
            for j in range(j0, j1 + 1):
                slot = slots[i, j]
                if slot < 0:
                    continue
                if found.shape[0] > 0:
                    found[fill[slot]] = leaf
                    fill[slot] += 1
                else:
                    starts[slot + 1] += 1
    if found.shape[0] == 0:
        for n in range(1, starts.shape[0]):
            starts[n] += starts[n - 1]
