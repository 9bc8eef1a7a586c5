"""Build one cast of the made-up dentition: fourteen crowns set into a gum and plinth, every face labelled."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom.base import base
from mountproof.phantom.crown import Grid, crown
from mountproof.phantom.placement import frame_of, shape_of
from mountproof.phantom.tuning import elements_of, lift_of

Array = NDArray[np.float64]
Labels = NDArray[np.int32]
ArchName = Literal["upper", "lower"]

#: Share of the triangles that goes to gum and plinth.
_BASE_SHARE = 0.16
#: Rows of the wall for each cell of half the biting surface.
_ROWS_PER_CELL = 0.42


class PhantomArch(NamedTuple):
    """One cast: vertices (n, 3) in mm in the program's frame, faces (m, 3), and per face the ISO 3950 tooth (0: none)."""

    vertices_mm: Array
    faces: NDArray[np.int32]
    teeth: Labels


def teeth_of(arch: ArchName) -> tuple[int, ...]:
    """Tooth numbers (ISO 3950) of an arch, from the right second molar to the left one."""
    right, left = (10, 20) if arch == "upper" else (40, 30)
    return tuple(right + k for k in range(7, 0, -1)) + tuple(left + k for k in range(1, 8))


def _grid(arch: ArchName, k: int, cells: float) -> Grid:
    """Cells of a crown: about square on the biting surface, `cells` per 10 mm."""
    shape = shape_of(arch, k)
    top = shape.profile[shape.table_rows]
    along = max(3, round(2 * top[0] * cells / 10.0))
    # A biting edge is narrow, but it is where the tooth meets its opponent.
    across = max(2, round(max(top[1] + top[2], 1.6) * cells / 10.0))
    return Grid(along, across, max(2, round(_ROWS_PER_CELL * cells)))


def _cells_for(arch: ArchName, triangles: float) -> float:
    lo, hi = 2.0, 4000.0
    for _ in range(60):
        mid = 0.5 * (lo + hi)
        if sum(2 * _grid(arch, k, mid).triangles for k in range(1, 8)) > triangles:
            hi = mid
        else:
            lo = mid
    return lo


def _base_size(triangles: int) -> tuple[int, int]:
    """Stations and rows of a base of about this many triangles."""
    stations = max(12, round((triangles / 4.0 / 0.55) ** 0.5))
    # Each row costs four triangles a station; the cut behind costs some sixteen a row on each side.
    return stations, max(12, round(triangles / (4.0 * stations + 36.0)))


def tooth_mesh(arch: ArchName, tooth: int, grid: Grid) -> tuple[Array, NDArray[np.int32]]:
    """One crown in the program's frame: vertices (n, 3) in mm and faces (m, 3), wound outwards."""
    k = tooth % 10
    local, faces = crown(shape_of(arch, k), elements_of(tooth), grid)
    axes, origin = frame_of(arch, k)
    lift = lift_of(tooth)
    points = local @ axes.T + (origin + np.array([0.0, lift, 0.0]))
    flip = bool(np.linalg.det(axes) < 0)
    if tooth // 10 in (2, 3):
        points = points * np.array([1.0, 1.0, -1.0])
        flip = not flip
    return points, faces[:, ::-1] if flip else faces


def build_arch(arch: ArchName, triangles: int = 214_000) -> PhantomArch:
    """Build the 'upper' or 'lower' cast in the program's frame, jaws closed in maximum intercuspation.

    ``triangles``: about how many (5 000 or more). Crowns and base are closed shells set into each other; the
    lower is where it lies in maximum intercuspation, so that its pose there is the identity.
    The teeth are fitted to each other at the default number. Faces cut across curved cusps, so contacts move with
    density: by under 20 um from 85 000 faces on, by up to 0.1 mm at 20 000.
    Raises ValueError for another arch name or too few triangles.
    """
    if arch not in ("upper", "lower"):
        raise ValueError(f"arch must be 'upper' or 'lower', got {arch!r}")
    if triangles < 5_000:
        raise ValueError(f"at least 5000 triangles are needed to show 14 teeth, got {triangles}")
    cells = _cells_for(arch, triangles * (1.0 - _BASE_SHARE))
    parts = [tooth_mesh(arch, tooth, _grid(arch, tooth % 10, cells)) for tooth in teeth_of(arch)]
    left = triangles - sum(len(f) for _, f in parts)
    gum = base(arch, *_base_size(left))
    shells = [gum, *parts]
    offset = np.cumsum([0] + [len(v) for v, _ in shells])
    faces = np.concatenate([f + np.int32(o) for (_, f), o in zip(shells, offset, strict=False)])
    teeth = np.concatenate(
        [np.full(len(f), t, dtype=np.int32) for (_, f), t in zip(shells, (0, *teeth_of(arch)), strict=True)]
    )
    return PhantomArch(
        np.concatenate([v for v, _ in shells]), np.ascontiguousarray(faces, dtype=np.int32), teeth
    )
