"""What stands opposite one place on its way about the hinge, and which places are hidden behind their own arch."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.closing import _opposite
from mountproof.geometry.poses import Array
from mountproof.geometry.surface import Surface

#: A vertex is hidden when a face of its own arch stands in front of it by more than this, mm of arc: beyond what
#: rounding makes of the faces it belongs to, below the thickness of anything that was scanned.
_IN_FRONT_MM = 0.05


class Opposite(NamedTuple):
    """Where the arc through a place meets the other arch.

    ``turn_rad``: angle from the place to its opponent, above zero where the lower still has to close; ``face`` number of
    the opposing face; ``point_mm`` (3,) where the arc meets it; ``normal`` (3,) unit normal of that face, as it is wound.
    """

    turn_rad: float
    face: int
    point_mm: Array
    normal: Array


def opposite_at(point_mm: Array, other: Surface) -> Opposite | None:
    """Return what stands opposite a place: the lowest face of an upper, or the highest of a lower, on the place's arc.

    ``point_mm`` (3,) on the arch that is not ``other``, both in the same pose; None where nothing does. Closed form per face:
    in its plane n.p = d, the arc p = (r cos phi, r sin phi, z) gives A cos phi + B sin phi = C with two roots. ValueError
    for a place that is not finite or not in front of the hinge axis.
    """
    p = np.asarray(point_mm, dtype=np.float64)
    if p.shape != (3,) or not np.isfinite(p).all() or not p[0] > 0.0:
        raise ValueError("a finite place in front of the hinge axis is wanted")
    r, z = math.hypot(p[0], p[1]), float(p[2])
    tol = other.tolerances(other)[0]
    # A face may come nearer to the axis than its corners, by no more than its longest side.
    q, heights = other.polar[:, 0], other.polar[:, 1]
    corners_z = heights[other.faces]
    near = np.flatnonzero((corners_z.min(axis=1) <= z + tol) & (corners_z.max(axis=1) >= z - tol))
    faces = other.faces[near]
    corners = other.vertices_mm[faces]
    radii = np.sqrt(q[faces])
    side = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    kept = (radii.max(axis=1) >= r - tol) & (radii.min(axis=1) - side <= r + tol)
    near, corners = near[kept], corners[kept]
    n = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(n, axis=1)
    flat = length > 0.0
    near, corners, n = near[flat], corners[flat], n[flat] / length[flat, None]
    swing = r * np.hypot(n[:, 0], n[:, 1])
    rest = np.einsum("ij,ij->i", n, corners[:, 0]) - n[:, 2] * z
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.arccos(np.where(np.abs(rest) <= swing + tol, np.clip(rest / swing, -1.0, 1.0), np.nan))
    middle = np.arctan2(n[:, 1], n[:, 0])
    best: Opposite | None = None
    upper = other.arch == "upper"
    here = math.atan2(p[1], p[0])
    for sign in (1.0, -1.0):
        phi = middle + sign * spread
        at = np.stack([r * np.cos(phi), r * np.sin(phi), np.full(phi.shape, z)], axis=1)
        hit = np.isfinite(phi) & (at[:, 0] > 0.0) & _inside(corners, n, at, tol)
        for k in np.flatnonzero(hit):
            angle = math.atan2(at[k, 1], at[k, 0])
            turn = angle - here if upper else here - angle
            if best is None or turn < best.turn_rad:
                best = Opposite(turn, int(near[k]), at[k].copy(), n[k].copy())
    return best


def _inside(corners: Array, n: Array, at: Array, tol: float) -> NDArray[np.bool_]:
    """Tell which points (k, 3) lie in their triangle (k, 3, 3), or no farther than ``tol`` from it."""
    inside = np.ones(len(at), dtype=np.bool_)
    for k in range(3):
        a, b = corners[:, k], corners[:, (k + 1) % 3]
        along = b - a
        length = np.maximum(np.linalg.norm(along, axis=1), np.finfo(float).tiny)
        off = np.einsum("ij,ij->i", np.cross(n, along), at - a) / length
        inside &= np.nan_to_num(off, nan=-math.inf) >= -tol
    return inside


def hidden_vertices(surface: Surface) -> NDArray[np.bool_]:
    """Tell for each vertex (n,) whether the other arch cannot reach it by closing: its own arch stands in front of it."""
    front = _opposite(surface, surface, surface.tolerances(surface)[0])
    own = np.arctan(surface.polar[:, 2])
    ahead = own - front if surface.arch == "upper" else front - own
    hidden: NDArray[np.bool_] = np.nan_to_num(ahead) * np.sqrt(surface.polar[:, 0]) > _IN_FRONT_MM
    return hidden
