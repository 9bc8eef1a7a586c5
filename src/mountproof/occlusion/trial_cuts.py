"""What a round of a trial took off each tooth, read from the faces of a duplicate before and after."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.surface import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Places = NDArray[np.intp]


class Cut(NamedTuple):
    """What one round took off one tooth: greatest depth across the surface and along closure (mm), and volume (mm3).

    ``place_mm``, ``normal``: the deepest place (3) before the cut, in the frame of the record's pose, and the unit normal
    out of the tooth there: which incline it is.
    """

    tooth: int
    across_mm: float
    along_mm: float
    volume_mm3: float
    place_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    normal: tuple[float, float, float] = (0.0, 0.0, 0.0)


class Duplicate(NamedTuple):
    """The faces of one arch that may come to hold: ``teeth`` (m,) per face, ``vertex_teeth`` (n,) per vertex.

    ``opposed`` (n,): tooth over each vertex, 0 none. ``meets_rad`` (n,): closing at which it met its opponent when the trial
    began, infinite where nothing opposes; surfaces only recede, so it never meets earlier.
    """

    surface: Surface
    teeth: Ints
    vertex_teeth: Ints
    opposed: Ints
    meets_rad: Floats


def cuts_of(now: Duplicate, before_mm: Floats) -> tuple[Cut, ...]:
    """Return what came off each tooth of one arch since its vertices stood at ``before_mm`` (n, 3)."""
    after = now.surface.rest_mm
    if after is before_mm:
        return ()
    # nothing else has changed than the faces that have a vertex which moved
    there = np.flatnonzero((after != before_mm).any(axis=1)[now.surface.faces].any(axis=1))
    used, places = np.unique(now.surface.faces[there], return_inverse=True)
    faces, teeth = places.reshape(-1, 3), now.teeth[there]
    old, new = before_mm[used], after[used]
    along = np.linalg.norm(new - old, axis=1)
    # no place of the old surface is farther from the new one, and the other way round
    was, rise = _normals(old, faces)
    across = along * np.minimum(rise, _normals(new, faces)[1])
    # out of the tooth: an upper faces against the direction of closing, a lower along it
    out = -was if now.surface.arch == "upper" else was
    lost = _cones(new, faces) - _cones(old, faces)
    made = []
    for tooth in np.unique(teeth[lost != 0.0]).tolist():
        own = teeth == tooth
        mine = np.unique(faces[own])
        deepest = int(mine[np.argmax(across[mine])])
        made.append(
            Cut(
                tooth,
                float(across[mine].max()),
                float(along[mine].max()),
                abs(float(lost[own].sum())),
                three(old[deepest]),
                three(out[deepest]),
            )
        )
    return tuple(made)


def _cones(vertices: Floats, faces: Places) -> Floats:
    """Signed volume between each face and the origin, mm3: their change is what came off, its rim being at rest."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    volume: Floats = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    return volume


def _normals(vertices: Floats, faces: Places) -> tuple[Floats, Floats]:
    """Return the unit normal (n, 3) at each vertex on the side towards closing, and its cosine with that direction."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    area = np.repeat(np.cross(b - a, c - a), 3, axis=0)
    at = faces.ravel()
    normal = np.stack([np.bincount(at, area[:, k], len(vertices)) for k in range(3)], axis=1)
    size = np.linalg.norm(normal, axis=1)
    normal = np.divide(normal, size[:, None], out=np.zeros_like(normal), where=size[:, None] > 0.0)
    radius = np.hypot(vertices[:, 0], vertices[:, 1])
    along = (normal[:, 1] * vertices[:, 0] - normal[:, 0] * vertices[:, 1]) / radius
    return np.where(along[:, None] < 0.0, -normal, normal), np.where(size > 0.0, np.abs(along), 1.0)


def three(values: Floats) -> tuple[float, float, float]:
    """Return a vector (3,) as plain numbers."""
    x, y, z = values
    return float(x), float(y), float(z)
