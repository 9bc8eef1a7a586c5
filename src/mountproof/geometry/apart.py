"""How far a lower opens about the hinge until no place of it lies nearer to the upper than a stated length."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from mountproof.geometry.nearest import Mesh, along_curve, nearest, ready
from mountproof.geometry.poses import Array, checked, inverse, rotation_z, transform

#: The opening is found to this (rad): a micrometre at the teeth.
_FINE_RAD: Final = 1e-5
#: Places farther than this beyond the stated length when the arches touch take no part at first (mm).
_BEYOND_MM: Final = 0.5
#: Lengths that differ by less are one (mm).
_SAME_MM: Final = 2e-3


class Apart(NamedTuple):
    """The opening (rad), and the two places that are then nearest: numbers of the faces, and where on the upper (3,), mm."""

    opening_rad: float
    upper_face: int
    lower_face: int
    place_mm: Array


class _Side(NamedTuple):
    """Corners of one arch that may be nearest, a face of each, and the mesh of the other arch."""

    points_mm: Array
    faces: NDArray[np.int64]
    against: Mesh


def opening_apart(
    upper_mm: ArrayLike,
    upper_faces: NDArray[np.integer],
    lower_mm: ArrayLike,
    lower_faces: NDArray[np.integer],
    length_mm: float,
) -> Apart:
    """Return how far a lower that touches the upper opens until they are ``length_mm`` apart at the nearest place.

    Parts of two arches that stand so far apart already open by 0.

    ``upper_mm`` (n, 3), ``lower_mm`` (k, 3): vertices where they touch, in the hinge frame; faces (m, 3) of what counts. Least
    distance of corners from faces, both ways: two edges may lie nearer by what a face bulges, some micrometres on a
    scan. Raises ValueError for a length that is not above 0, or where no opening up to half a right angle is enough.
    """
    if not length_mm > 0.0:
        raise ValueError("length_mm: above 0")
    up, low = checked(upper_mm, (3,), "upper_mm"), checked(lower_mm, (3,), "lower_mm")
    above, below = ready(up, upper_faces), ready(low, lower_faces)
    sides = (_side(low, lower_faces, above), _side(up, upper_faces, below))
    some = (_near(sides[0], length_mm + _BEYOND_MM), _near(sides[1], length_mm + _BEYOND_MM))
    opening = _opening(some, length_mm)
    found = _least(sides, opening, 1.5 * length_mm)
    if found.length_mm < length_mm - _SAME_MM:
        # a place that was far away has come nearer: all take part
        opening = _opening(sides, length_mm)
        found = _least(sides, opening, 1.5 * length_mm)
    return Apart(opening, found.upper_face, found.lower_face, found.place_mm)


class _Least(NamedTuple):
    """The least distance (mm; infinite beyond what was asked), and where."""

    length_mm: float
    upper_face: int
    lower_face: int
    place_mm: Array


def _least(sides: tuple[_Side, _Side], opening_rad: float, most_mm: float) -> _Least:
    """The least distance with the lower open, from the corners of the lower and then from those of the upper."""
    motion = rotation_z(-opening_rad)
    found = _Least(math.inf, -1, -1, np.zeros(3))
    for side, carry, of_lower in zip(sides, (motion, inverse(motion)), (True, False), strict=True):
        if len(side.points_mm) == 0:
            continue
        got = nearest(transform(carry, side.points_mm), side.against, most_mm)
        distance = np.where(got.row >= 0, got.distance_mm, np.inf)
        i = int(np.argmin(distance))
        if distance[i] < found.length_mm:
            own, other = int(side.faces[i]), int(side.against.order[got.row[i]])
            found = (
                _Least(float(distance[i]), other, own, got.place_mm[i])
                if of_lower
                else _Least(float(distance[i]), own, other, side.points_mm[i])
            )
    return found


def _opening(sides: tuple[_Side, _Side], length_mm: float) -> float:
    def over(opening: float) -> float:
        return min(_least(sides, opening, 2.0 * length_mm).length_mm, 2.0 * length_mm) - length_mm

    if over(0.0) >= 0.0:
        return 0.0
    high = length_mm / 40.0
    while over(high) < 0.0:
        high *= 1.5
        if high > math.pi / 4.0:
            raise ValueError("length_mm: no opening parts the arches so far")
    return float(brentq(over, 0.0, high, xtol=_FINE_RAD))


def _side(points: Array, faces: NDArray[np.integer], against: Mesh) -> _Side:
    used, first = np.unique(np.asarray(faces).ravel(), return_index=True)
    order = along_curve(np.ascontiguousarray(points[used]))
    return _Side(points[used][order], (first // 3)[order], against)


def _near(side: _Side, far_mm: float) -> _Side:
    """Leave out the corners that lie too far from the other arch when they touch."""
    got = nearest(side.points_mm, side.against, far_mm)
    kept = got.row >= 0
    return side._replace(points_mm=side.points_mm[kept], faces=side.faces[kept])


def parts_apart(
    upper_mm: ArrayLike,
    upper_faces: NDArray[np.integer],
    upper_labels: NDArray[np.integer],
    lower_mm: ArrayLike,
    lower_faces: NDArray[np.integer],
    lower_labels: NDArray[np.integer],
    opening_rad: float,
    most_mm: float,
) -> tuple[dict[int, float], dict[int, float]]:
    """Return how far (mm) each labelled part of the upper, and of the lower, lies from the other arch with the lower open.

    Vertices (n, 3), (k, 3) in the hinge frame where the arches touch, faces (m, 3) of what counts with a label each (m,).
    A part farther than ``most_mm`` is left out. Least distance of corners from faces, both ways, as in ``opening_apart``;
    arches that run into each other count as touching no nearer than 0.
    """
    up, low = checked(upper_mm, (3,), "upper_mm"), checked(lower_mm, (3,), "lower_mm")
    motion = rotation_z(-opening_rad)
    above, below = ready(up, upper_faces), ready(low, lower_faces)
    found: tuple[dict[int, float], dict[int, float]] = ({}, {})
    for points, faces, labels, against, other, carry, mine in (
        (low, lower_faces, lower_labels, above, upper_labels, motion, 1),
        (up, upper_faces, upper_labels, below, lower_labels, inverse(motion), 0),
    ):
        side = _side(points, faces, against)
        got = nearest(transform(carry, side.points_mm), against, most_mm)
        there = got.row >= 0
        own, opposite = labels[side.faces[there]], other[against.order[got.row[there]]]
        for into, names in ((found[mine], own), (found[1 - mine], opposite)):
            for label, mm in zip(names.tolist(), got.distance_mm[there].tolist(), strict=True):
                into[label] = min(into.get(label, math.inf), mm)
    return found
