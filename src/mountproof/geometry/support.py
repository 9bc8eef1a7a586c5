"""What a few stops or luted places hold: the plane through them, and how an error at one of them grows elsewhere.

A record that rests on stops, or casts luted at some places, tilt as a plane when one place is off. With three places
the error at another place is the sum of theirs by barycentric coordinates; with more, by the least-squares plane.
Places are (x, z): forward, and to the patient's right, in mm, seen from above.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array, checked


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """Places (n, 2) with the shape they span.

    ``along_mm`` and ``across_mm`` are the root mean square distances of the places from their middle along their
    longest direction and across it; ``loose_about`` (2,) is the unit direction (x, z) of the line they come nearest
    to, about which they hold least. ``area_mm2`` is that of their outline.
    """

    places: Array
    middle: Array
    along_mm: float
    across_mm: float
    loose_about: Array
    area_mm2: float

    @property
    def slenderness(self) -> float:
        """Return ``across_mm / along_mm``: 0 for a line, 1 for a regular triangle or square."""
        return self.across_mm / self.along_mm if self.along_mm > 0.0 else 0.0


def support(places_xz_mm: ArrayLike) -> Support:
    """Return the shape that places (n, 2), n at least one, span."""
    places = checked(places_xz_mm, (2,), "places_xz_mm")
    if places.ndim != 2 or places.shape[0] == 0:
        raise ValueError("places_xz_mm must be (n, 2) with n at least 1")
    middle = np.mean(places, axis=0)
    _, sizes, axes = np.linalg.svd(places - middle, full_matrices=True)
    full = np.zeros(2)
    full[: sizes.shape[0]] = sizes
    along, across = full / math.sqrt(places.shape[0])
    return Support(places, middle, float(along), float(across), axes[0], outline_area(places))


def weights(places_xz_mm: ArrayLike, at_xz_mm: ArrayLike) -> Array:
    """Return (m, n): how much an error of height at each place (n, 2) moves the heights at ``at`` (m, 2).

    The least-squares plane; for three places the barycentric coordinates. Each row adds up to one. Raises ValueError
    where the places lie in one line to the rounding of their coordinates, so that no plane is held.
    """
    places = checked(places_xz_mm, (2,), "places_xz_mm")
    at = np.atleast_2d(checked(at_xz_mm, (2,), "at_xz_mm"))
    shape = support(places)
    # The rounding of coordinates of this size; anything above it is left to the caller's limits.
    if shape.across_mm <= np.finfo(np.float64).eps * float(np.max(np.abs(places)) + 1.0) * places.shape[0]:
        raise ValueError("the places lie in one line: they hold no plane")
    centred = places - shape.middle
    plane = np.linalg.inv(centred.T @ centred) @ centred.T
    out: Array = 1.0 / places.shape[0] + (at - shape.middle) @ plane
    return out


def amplification(places_xz_mm: ArrayLike, at_xz_mm: ArrayLike) -> Array:
    """Return (m,): error at ``at`` (m, 2) for an independent error of one at every place: sqrt(sum of weights squared)."""
    w = weights(places_xz_mm, at_xz_mm)
    out: Array = np.sqrt(np.sum(w**2, axis=1))
    return out


def outline_area(places_xz_mm: ArrayLike) -> float:
    """Return the area (mm2) of the convex outline of places (n, 2): monotone chain and the shoelace formula."""
    points = sorted({(float(x), float(z)) for x, z in np.asarray(places_xz_mm, dtype=np.float64)})
    if len(points) < 3:
        return 0.0

    def half(row: list[tuple[float, float]]) -> list[tuple[float, float]]:
        chain: list[tuple[float, float]] = []
        for p in row:
            while len(chain) >= 2 and _turn(chain[-2], chain[-1], p) <= 0.0:
                chain.pop()
            chain.append(p)
        return chain[:-1]

    ring = half(points) + half(points[::-1])
    return 0.5 * abs(
        math.fsum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    )


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
