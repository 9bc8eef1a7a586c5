"""Every pair of faces that is about to touch, as a gap along the normal that a small motion of the lower opens or closes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.geometry import _sites
from mountproof.geometry._two_faces import _triangle_pair
from mountproof.geometry.contact import KINDS
from mountproof.geometry.policy import PARALLEL_SIN
from mountproof.geometry.poses import Array
from mountproof.geometry.surface import Surface


class Touches(NamedTuple):
    """Pairs of faces near contact, one row each.

    ``gap_mm`` (n,): along the normal, negative: overlap; ``point_mm`` (n, 3): of the lower as it stands; ``normal`` (n, 3): unit,
    from the upper towards the lower, so that a motion ``u`` of the point changes the gap by ``normal . u``; ``faces`` (n, 2):
    numbers of the faces, upper and lower; ``arc_mm`` (n,): the gap along closure. The gap is that along closure times the
    cosine to the normal: exact where it is nothing, to first order elsewhere.
    """

    gap_mm: Array
    point_mm: Array
    normal: Array
    faces: NDArray[np.int64]
    arc_mm: Array

    def within(self, arc_mm: float) -> Touches:
        """Those that meet within a shorter arc of closing."""
        near = self.arc_mm <= arc_mm
        return Touches(
            self.gap_mm[near], self.point_mm[near], self.normal[near], self.faces[near], self.arc_mm[near]
        )


def touches_within(upper: Surface, lower: Surface, within_mm: float) -> Touches:
    """Return every pair of faces that meets within an arc of ``within_mm`` of closing about the hinge, overlaps too.

    ``lower`` at its present pose. Raises ValueError when the arches are swapped.
    """
    _checked(upper, lower)
    return _told(upper, lower, 0.0, *_searched(upper, lower, 0.0, within_mm, False))


def closed_touches(
    upper: Surface, lower: Surface, within_mm: float, faces: NDArray[np.int64]
) -> tuple[float, Touches] | None:
    """Return the closing (rad) to first contact, and the pairs within an arc of ``within_mm`` once closed so, in one search.

    As ``first_contact`` and then ``touches_within`` at the closed pose. ``faces`` (n, 2): pairs that are likely to be among the
    first: one that meets tells how far to look. None when none of them meets. Raises ValueError when the arches are swapped.
    """
    _checked(upper, lower)
    tol, _, _ = upper.tolerances(lower)
    early = _earliest(upper.vertices_mm, upper.faces, lower.vertices_mm, lower.faces, faces, tol)
    if not early < np.inf:
        return None
    found, which = _searched(upper, lower, early, within_mm, True)
    closing = float(found[:, 0].min())
    return closing, _told(upper, lower, closing, found, which).within(within_mm)


def _checked(upper: Surface, lower: Surface) -> None:
    if upper.arch != "upper" or lower.arch != "lower":
        raise ValueError(f"an upper and a lower wanted, got {upper.arch} and {lower.arch}")


def _searched(
    upper: Surface, lower: Surface, closed_rad: float, within_mm: float, first_found: bool
) -> tuple[Array, NDArray[np.int64]]:
    every_up = np.ones(len(upper.faces), dtype=np.int32)
    every_low = np.ones(len(lower.faces), dtype=np.int32)
    found, which = _sites._pairs_within(
        upper.tree,
        lower.tree,
        *upper.tolerances(lower),
        closed_rad,
        within_mm,
        every_up,
        every_low,
        first_found,
    )
    return found, which


def _told(
    upper: Surface, lower: Surface, closed_rad: float, found: Array, which: NDArray[np.int64]
) -> Touches:
    """Put what was found of the lower as it stands into what is true once it has closed by an angle."""
    place, angle = found[:, 1:4], found[:, 0] - closed_rad
    up = upper.vertices_mm[upper.faces[which[:, 0]]]
    low = _turned(lower.vertices_mm[lower.faces[which[:, 1]]], found[:, :1])
    r = np.hypot(place[:, 0], place[:, 1])
    against = np.stack([place[:, 1], -place[:, 0], np.zeros(len(place))], axis=1)
    against /= np.maximum(r, 1e-300)[:, None]
    normal = _normals(which, up, low, against)
    arc = angle * r
    gap = arc * np.einsum("ij,ij->i", normal, against)
    point = _turned(place[:, None, :], -angle[:, None])[:, 0]
    return Touches(gap, point, normal, which[:, :2], arc)


@njit(cache=True, nogil=True, error_model="numpy")
def _earliest(
    up: Array,
    up_faces: NDArray[np.int32],
    low: Array,
    low_faces: NDArray[np.int32],
    pairs: NDArray[np.int64],
    tol: float,
) -> float:
    """The least closing of these pairs of faces; infinite when none meets."""
    best = 4.0
    a = np.zeros((3, 3))
    b = np.zeros((3, 3))
    touch = np.zeros(4)
    feature = np.zeros(3, dtype=np.int64)
    for i in range(pairs.shape[0]):
        for c in range(3):
            for k in range(3):
                a[c, k] = up[up_faces[pairs[i, 0], c], k]
                b[c, k] = low[low_faces[pairs[i, 1], c], k]
        best = _triangle_pair(a, b, tol, best, touch, feature)
    return best if best < 4.0 else np.inf


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
