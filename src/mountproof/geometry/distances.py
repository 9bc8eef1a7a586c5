"""Caliper distances between points of the instrument and landmarks on a cast: their shape, and what cannot be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.faults import Fault, FaultError
from mountproof.geometry.policy import length_tol_mm
from mountproof.geometry.poses import Array, checked
from mountproof.said import say


class Readings(NamedTuple):
    """What was measured.

    ``points_mm`` (m, 3): points of the instrument in the frame of the upper, the right and the left hinge point
    first; ``landmarks_mm`` (k, 3) in scan coordinates; ``pairs`` (n, 2): which point and which landmark;
    ``distances_mm`` (n,) and ``sds_mm`` (n,); ``point_sd_mm`` and ``landmark_sd_mm``: doubt of one coordinate of a
    point and of a landmark, shared by all readings that use it.
    """

    points_mm: Array
    landmarks_mm: Array
    pairs: NDArray[np.int64]
    distances_mm: Array
    sds_mm: Array
    point_sd_mm: float = 0.0
    landmark_sd_mm: float = 0.0


def readings_from_table(
    points_mm: ArrayLike,
    landmarks_mm: ArrayLike,
    table_mm: Sequence[Sequence[float | None]],
    sd_mm: float,
    point_sd_mm: float = 0.0,
    landmark_sd_mm: float = 0.0,
) -> Readings:
    """Return readings from a table, a row for each point (m) and a column for each landmark (k), None where not measured."""
    pairs = [(i, j) for i, row in enumerate(table_mm) for j, d in enumerate(row) if d is not None]
    distances = [d for row in table_mm for d in row if d is not None]
    return Readings(
        np.asarray(points_mm, dtype=np.float64),
        np.asarray(landmarks_mm, dtype=np.float64),
        np.array(pairs, dtype=np.int64).reshape(-1, 2),
        np.array(distances, dtype=np.float64),
        np.full(len(pairs), float(sd_mm)),
        point_sd_mm,
        landmark_sd_mm,
    )


def checked_readings(r: Readings) -> Readings:
    """Return readings as arrays whose shapes belong together, or raise ValueError."""
    points = checked(r.points_mm, (3,), "points_mm").reshape(-1, 3)
    landmarks = checked(r.landmarks_mm, (3,), "landmarks_mm").reshape(-1, 3)
    pairs = np.asarray(r.pairs, dtype=np.int64).reshape(-1, 2)
    n = len(pairs)
    distances, sds = checked(r.distances_mm, (n,), "distances_mm"), checked(r.sds_mm, (n,), "sds_mm")
    if len(points) < 2 or n == 0 or (pairs < 0).any() or (pairs >= [len(points), len(landmarks)]).any():
        raise ValueError("pairs: each names one of two or more points and one landmark")
    if not ((distances > 0).all() and (sds > 0).all() and r.point_sd_mm >= 0 and r.landmark_sd_mm >= 0):
        raise ValueError("distances_mm, sds_mm: positive numbers")
    return Readings(points, landmarks, pairs, distances, sds, float(r.point_sd_mm), float(r.landmark_sd_mm))


def refuse_impossible(r: Readings) -> None:
    """Raise FaultError with every fault that stands in the readings themselves.

    ``trilateration.landmarks`` for fewer than three or in one line; ``trilateration.impossible`` for two distances to the
    hinge points that no place has.
    """
    faults = []
    spread = np.linalg.svd(r.landmarks_mm - r.landmarks_mm.mean(axis=0), compute_uv=False)
    if len(r.landmarks_mm) < 3 or spread[1] <= length_tol_mm(float(np.abs(r.landmarks_mm).max())):
        faults.append(
            Fault(
                "trilateration.landmarks",
                say("three landmarks that do not lie in one line are needed"),
                say("Measure a third landmark on the cast, off the line of the others"),
                got=str(len(r.landmarks_mm)),
                allowed=say("3 or more"),
            )
        )
    width = float(np.linalg.norm(r.points_mm[0] - r.points_mm[1]))
    for k in range(len(r.landmarks_mm)):
        right, left = (np.nonzero((r.pairs[:, 0] == p) & (r.pairs[:, 1] == k))[0] for p in (0, 1))
        for i in right:
            for j in left:
                a, b = float(r.distances_mm[i]), float(r.distances_mm[j])
                doubt = 3 * math.hypot(float(r.sds_mm[i]), float(r.sds_mm[j]), 2 * r.point_sd_mm)
                if a + b < width - doubt or abs(a - b) > width + doubt:
                    faults.append(
                        Fault(
                            "trilateration.impossible",
                            say(
                                "landmark {k}: no point has these distances to hinge points {width:.1f} mm apart",
                                k=k + 1,
                                width=width,
                            ),
                            say("Measure both again; were right and left mixed, or was a figure misread?"),
                            got=say("{a:g} mm right, {b:g} mm left", a=a, b=b),
                        )
                    )
    if faults:
        raise FaultError(faults)
