"""The exact volume in which two arches overlap after closing, patch by patch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.overlap import Overlap, overlap
from mountproof.geometry.poses import closed, transform
from mountproof.geometry.surface import Surface

#: Cells around what overlaps whose faces are looked at as well: faces reach beyond their cells.
_MORE = 3


def overlap_of_arches(
    upper: Surface, lower: Surface, chart: ClosingMap, closing_rad: float
) -> tuple[Overlap, ...]:
    """Return what overlaps after closing by ``closing_rad`` (rad), one ``Overlap`` for each patch that hangs together.

    ``chart``: closing map of the two surfaces, which says where to look; a patch narrower than its cells that no cell
    centre meets is missed. ``a_mm2`` is of the upper, ``b_mm2`` of the lower. A patch that reaches the border of a scan is not
    ``closed``. Nothing overlaps: an empty tuple.
    """
    from scipy.ndimage import binary_dilation, label

    with np.errstate(invalid="ignore"):
        deep = chart.gap_rad <= closing_rad
    around = binary_dilation(deep, np.ones((3, 3), dtype=np.bool_), iterations=_MORE)
    numbered, count = label(around, np.ones((3, 3)))
    patches = np.asarray(numbered, dtype=np.int32)
    low = transform(closed(closing_rad), lower.vertices_mm)
    sides = [_by_patch(upper, chart, patches, count), _by_patch(lower, chart, patches, count)]
    outward = [_outward(upper, chart.upper_face[deep]), _outward(lower, chart.lower_face[deep])]
    made = []
    for patch in range(count):
        a, b = (
            s.faces[chosen[patch]] if out else s.faces[chosen[patch]][:, ::-1]
            for s, chosen, out in zip((upper, lower), sides, outward, strict=True)
        )
        found = overlap(upper.vertices_mm, a, low, b)
        if found.volume_mm3 != 0.0:
            made.append(found)
    return tuple(made)


def _by_patch(
    surface: Surface, chart: ClosingMap, patches: NDArray[np.int32], count: int
) -> list[NDArray[np.intp]]:
    """Return for each patch the faces that have a corner over it."""
    polar = surface.polar
    i = np.floor((np.sqrt(polar[:, 0]) - chart.r0_mm) / chart.cell_mm).astype(np.intp)
    j = np.floor((polar[:, 1] - chart.z0_mm) / chart.cell_mm).astype(np.intp)
    there = (i >= 0) & (j >= 0) & (i < patches.shape[0]) & (j < patches.shape[1])
    over = np.zeros(len(polar), dtype=np.int32)
    over[there] = patches[i[there], j[there]]
    of_face = over[surface.faces]
    near = np.flatnonzero(of_face.any(axis=1))
    return [near[(of_face[near] == patch).any(axis=1)] for patch in range(1, count + 1)]


def _outward(surface: Surface, front: NDArray[np.int32]) -> bool:
    """Tell whether the faces of an arch wind outward: those in front face against closing on an upper, along it on a lower."""
    corners = surface.vertices_mm[surface.faces[np.unique(front[front >= 0])]]
    area = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    middle = corners.mean(axis=1)
    along = float((middle[:, 0] * area[:, 1] - middle[:, 1] * area[:, 0]).sum())
    return along < 0.0 if surface.arch == "upper" else along > 0.0
