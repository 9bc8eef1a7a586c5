"""The closing map: by how much each place of two arches must close until it meets its opponent.

A place is a cell of (r, z): closing about the hinge changes neither. The gap at its centre is exact: the arc through the
centre is cut with every face, the lowest of the upper and the highest of the lower are kept.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _arcs
from mountproof.geometry._holes import border_edges, borders_seen, unknown_cells
from mountproof.geometry.surface import Surface

Floats = NDArray[np.float64]

#: Largest number of cells of a map: 40 million bytes per array.
MOST_CELLS = 5_000_000

#: Layers in which an arch is entered into the map, those in front first: enough to hide most of what lies behind.
_LAYERS = 12


class ClosingMap(NamedTuple):
    """Gaps in (r, z), at one pose of the lower.

    Cell (i, j) has its centre at r = ``r0_mm`` + (i + 1/2) ``cell_mm``, z = ``z0_mm`` + (j + 1/2) ``cell_mm``. ``upper_phi`` and
    ``lower_phi`` (nr, nz), rad: the lowest of the upper and the highest of the lower on the arc through the centre, NaN
    where there is none. ``gap_rad`` = upper_phi - lower_phi. ``upper_face``, ``lower_face`` (nr, nz) int32: which face, -1
    for none. ``unknown`` (nr, nz): a border of either scan lies in the cell, or the arc passes through a hole, and
    the other arch stands opposite: there the map cannot say "no contact" (nor is a number there the whole truth).
    """

    r0_mm: float
    z0_mm: float
    cell_mm: float
    upper_phi: Floats
    lower_phi: Floats
    gap_rad: Floats
    upper_face: NDArray[np.int32]
    lower_face: NDArray[np.int32]
    unknown: NDArray[np.bool_]

    @property
    def r_mm(self) -> Floats:
        """Radii of the cell centres, (nr,)."""
        r: Floats = self.r0_mm + (np.arange(self.gap_rad.shape[0], dtype=np.float64) + 0.5) * self.cell_mm
        return r

    @property
    def z_mm(self) -> Floats:
        """Places along the hinge axis of the cell centres, (nz,)."""
        z: Floats = self.z0_mm + (np.arange(self.gap_rad.shape[1], dtype=np.float64) + 0.5) * self.cell_mm
        return z

    def gap_mm(self, closed_rad: float = 0.0) -> Floats:
        """Arc length between the opponents after closing by ``closed_rad``, (nr, nz) mm; negative: overlap."""
        return (self.gap_rad - closed_rad) * self.r_mm[:, None]


class VertexGaps(NamedTuple):
    """Gap along closure at each vertex, mm of arc (negative: overlap), NaN where nothing opposes."""

    lower_mm: Floats
    upper_mm: Floats


def closing_map(
    upper: Surface,
    lower: Surface,
    *,
    cell_mm: float = 0.1,
    upper_border: NDArray[np.int32] | None = None,
    lower_border: NDArray[np.int32] | None = None,
) -> ClosingMap:
    """Return the gap at every cell of (r, z) in which both arches may lie.

    ``cell_mm``: width of a cell. ``upper_border``, ``lower_border`` (k, 2): edges that belong to one face only, as from
    ``topology.border_edges``; found here when they are not given (they do not change with the pose). Raises
    ValueError when the arches are swapped, the cell is no length, or the map would have more than
    ``MOST_CELLS`` cells.
    """
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")
    if not (math.isfinite(cell_mm) and cell_mm > 0.0):
        raise ValueError(f"a cell has a finite width above 0 mm, got {cell_mm}")
    r0, z0, columns, rows = _extent(upper, lower, cell_mm)
    tol = upper.tolerances(lower)[0]
    up_slope, up_face = _front(upper, r0, z0, cell_mm, columns, rows, tol)
    low_slope, low_face = _front(lower, r0, z0, cell_mm, columns, rows, tol)
    up_phi, low_phi = _angle(up_slope), _angle(low_slope)
    frame = (r0, z0, cell_mm)
    up_open = borders_seen(upper, border_edges(upper) if upper_border is None else upper_border,
                           up_phi, frame)  # fmt: skip
    low_open = borders_seen(lower, border_edges(lower) if lower_border is None else lower_border,
                            low_phi, frame)  # fmt: skip
    unknown = unknown_cells(upper, up_phi, up_face, up_open, lower, low_phi, low_face, low_open)
    return ClosingMap(r0, z0, cell_mm, up_phi, low_phi, up_phi - low_phi, up_face, low_face, unknown)


def vertex_gaps(upper: Surface, lower: Surface) -> VertexGaps:
    """Return the exact gap along closure from every vertex to the opposing surface.

    For a vertex of the lower: to the lowest face of the upper on its arc; for a vertex of the upper: to the highest face
    of the lower. Lengths of arc in mm, (n,) each; negative where the arches overlap, NaN where nothing opposes.
    """
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")
    tol = upper.tolerances(lower)[0]
    over_lower = _opposite(lower, upper, tol)
    under_upper = _opposite(upper, lower, tol)
    return VertexGaps(
        (over_lower - np.arctan(lower.polar[:, 2])) * np.sqrt(lower.polar[:, 0]),
        (np.arctan(upper.polar[:, 2]) - under_upper) * np.sqrt(upper.polar[:, 0]),
    )


def opposite_phi(asked: Surface, faces: Surface, vertices: NDArray[np.intp]) -> Floats:
    """Return the angle phi (rad) of the nearest face of the other arch on the arc through some vertices of ``asked``.

    ``vertices`` (k,): which; (k,) angles, NaN where nothing opposes. ValueError when both are of one arch.
    """
    if asked.arch == faces.arch:
        raise ValueError(f"two arches wanted, got {asked.arch} twice")
    if not len(vertices):
        return np.zeros(0)
    return _at_points(asked.polar[vertices], faces, asked.tolerances(faces)[0])


def _extent(upper: Surface, lower: Surface, cell: float) -> tuple[float, float, int, int]:
    """Start and size of the grid: where the boxes of both meet, whole cells from the origin, one to spare."""
    a, b = upper.boxes[1], lower.boxes[1]
    r_from = math.sqrt(max(float(max(a[0], b[0])), 0.0))
    r_to = math.sqrt(max(float(min(a[1], b[1])), 0.0))
    z_from, z_to = float(max(a[2], b[2])), float(min(a[3], b[3]))
    if r_to < r_from or z_to < z_from:
        return 0.0, 0.0, 0, 0
    i, j = math.floor(r_from / cell) - 1, math.floor(z_from / cell) - 1
    columns, rows = math.floor(r_to / cell) + 2 - i, math.floor(z_to / cell) + 2 - j
    if columns * rows > MOST_CELLS:
        raise ValueError(f"cells of {cell} mm would make a map of {columns} x {rows}: take wider cells")
    return i * cell, j * cell, columns, rows


def _front(
    surface: Surface, r0: float, z0: float, cell: float, columns: int, rows: int, tol: float
) -> tuple[Floats, NDArray[np.int32]]:
    lowest = surface.arch == "upper"
    slope = np.full((columns, rows), np.inf if lowest else -np.inf)
    face = np.full((columns, rows), -1, dtype=np.int32)
    _, _, _, _, phi_from, phi_to = surface.boxes[1]
    leaves = surface.boxes[surface.leaf_row : surface.leaf_row + surface.leaves]
    # Layers from the front to the back; within one, leaves stay in the order of the tree, near each other in memory.
    depth = (leaves[:, 4] - phi_from) if lowest else (phi_to - leaves[:, 5])
    span = phi_to - phi_from
    layer = (depth / span * _LAYERS).astype(np.uint8) if span > 0.0 else np.zeros(len(leaves), np.uint8)
    order = np.argsort(layer, kind="stable").astype(np.int32)
    _arcs._front(surface.vertices_mm, surface.tree_faces, surface.face_ids, surface.leaf_starts, surface.boxes,
                 surface.leaf_row, order, r0, z0, cell, tol, lowest, slope, face)  # fmt: skip
    return slope, face


def _angle(slope: Floats) -> Floats:
    known = np.isfinite(slope)
    return np.arctan(slope, out=np.full(slope.shape, np.nan), where=known)


def _opposite(asked: Surface, faces: Surface, tol: float) -> Floats:
    """Angle of the nearest opposing face on the arc through each vertex of ``asked``; NaN for none."""
    return _at_points(asked.polar, faces, tol)


def _at_points(polar: Floats, faces: Surface, tol: float) -> Floats:
    lowest = faces.arch == "upper"
    n = len(polar)
    slope = np.full(n, np.inf if lowest else -np.inf)
    q, z = polar[:, 0], polar[:, 1]
    side = max(int(math.sqrt(n / 2.0)), 1)
    grid = np.array(
        [q.min(), z.min(), max(float(np.ptp(q)) / side, 1.0 / side), max(float(np.ptp(z)) / side, 1.0 / side)]
    )
    starts, order = _arcs._binned(polar, grid[0], grid[1], grid[2], grid[3], side, side)
    _arcs._points_on_faces(polar, starts, order, grid, side, side, faces.vertices_mm, faces.polar,
                           faces.tree_faces, tol, lowest, slope)  # fmt: skip
    return _angle(slope)
