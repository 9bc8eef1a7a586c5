"""Every pair of faces that is about to touch, as a gap along the normal that a small motion of the lower opens or closes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _sites
from mountproof.geometry.contact import KINDS
from mountproof.geometry.policy import PARALLEL_SIN
from mountproof.geometry.poses import Array
from mountproof.geometry.surface import Surface


class Touches(NamedTuple):
    """Pairs of faces near contact, one row each.

    ``gap_mm`` (n,): along the normal, negative: overlap; ``point_mm`` (n, 3): of the lower as it stands; ``normal`` (n, 3): unit,
    from the upper towards the lower, so that a motion ``u`` of the point changes the gap by ``normal . u``; ``faces`` (n, 2):
    numbers of the faces, upper and lower. The gap is that along closure times the cosine to the normal: exact where it is
    nothing, to first order elsewhere.
    """

    gap_mm: Array
    point_mm: Array
    normal: Array
    faces: NDArray[np.int64]


def touches_within(upper: Surface, lower: Surface, within_mm: float) -> Touches:
    """Return every pair of faces that meets within an arc of ``within_mm`` of closing about the hinge, overlaps too.

    ``lower`` at its present pose. Raises ValueError when the arches are swapped.
    """
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")
    every_up = np.ones(len(upper.faces), dtype=np.int32)
    every_low = np.ones(len(lower.faces), dtype=np.int32)
    found, which = _sites._pairs_within(
        upper.tree, lower.tree, *upper.tolerances(lower), 0.0, within_mm, every_up, every_low
    )
    angle, place = found[:, 0], found[:, 1:4]
    up = upper.vertices_mm[upper.faces[which[:, 0]]]
    low = _turned(lower.vertices_mm[lower.faces[which[:, 1]]], angle[:, None])
    against = np.stack([place[:, 1], -place[:, 0], np.zeros(len(place))], axis=1)
    against /= np.maximum(np.hypot(place[:, 0], place[:, 1]), 1e-300)[:, None]
    normal = _normals(which, up, low, against)
    rise = np.einsum("ij,ij->i", normal, against)
    gap = angle * np.hypot(place[:, 0], place[:, 1]) * rise
    return Touches(gap, _turned(place[:, None, :], -angle[:, None])[:, 0], normal, which[:, :2])


def _turned(points: Array, angle: Array) -> Array:
    """Points (n, k, 3) turned about z, each row of points by its own angle (n, 1)."""
    c, s = np.cos(angle), np.sin(angle)
    out = points.copy()
    out[..., 0] = c * points[..., 0] - s * points[..., 1]
    out[..., 1] = s * points[..., 0] + c * points[..., 1]
    return out


def _normals(which: NDArray[np.int64], up: Array, low: Array, against: Array) -> Array:
    """Unit normals (n, 3), chosen as ``contact.told`` chooses them, facing against closing."""
    rows = np.arange(len(which))
    of_up = np.cross(up[:, 1] - up[:, 0], up[:, 2] - up[:, 0])
    of_low = np.cross(low[:, 1] - low[:, 0], low[:, 2] - low[:, 0])
    kind, a, b = which[:, 2], which[:, 3], which[:, 4]
    edge_up = up[rows, (a + 1) % 3] - up[rows, a]
    edge_low = low[rows, (b + 1) % 3] - low[rows, b]
    across = np.cross(edge_up, edge_low)
    length = np.linalg.norm(edge_up, axis=1) * np.linalg.norm(edge_low, axis=1)
    by_edges = (kind == KINDS.index("edge-edge")) & (np.linalg.norm(across, axis=1) > PARALLEL_SIN * length)
    by_lower = kind == KINDS.index("vertex-face")
    first = np.where(by_edges[:, None], across, np.where(by_lower[:, None], of_low, of_up))
    second = np.where(by_lower[:, None], of_up, of_low)
    chosen = np.where(np.any(first != 0.0, axis=1)[:, None], first, second)
    chosen = np.where(np.any(chosen != 0.0, axis=1)[:, None], chosen, against)
    size = np.linalg.norm(chosen, axis=1)
    size = np.where(np.einsum("ij,ij->i", chosen, against) < 0.0, -size, size)
    out: Array = chosen / size[:, None]
    return out
