"""Volumes of overlap at twenty closing angles against booleans of closed bodies by manifold3d."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING

import numpy as np
from benchmarks.arches import Arches, phantom_arches
from benchmarks.ratio import Row, in_turns_s

from mountproof.geometry.closing import ClosingMap, closing_map
from mountproof.geometry.contact import first_contact
from mountproof.geometry.poses import rotation_z
from mountproof.geometry.surface import Surface, prepare
from mountproof.geometry.sweep import Sweep, sweep

if TYPE_CHECKING:
    import manifold3d

TRIANGLES = 214_000
STEPS = 20
#: Deepest overlap of the sweep, mm of arc at first contact.
DEEPEST_MM = 0.6
#: Volumes agree within this part, and the wanted ratio.
AGREE, WANTED = 0.01, 50.0


def angles_of(a: Arches) -> np.ndarray:
    """Closing angles of the sweep, from just beyond first contact on."""
    first = first_contact(
        prepare(a.upper_vertices, a.upper_faces, arch="upper"),
        prepare(a.lower_vertices, a.lower_faces, arch="lower"),
    )
    assert first is not None
    radius = math.hypot(float(first.point_mm[0]), float(first.point_mm[1]))
    return first.closing_rad + np.linspace(DEEPEST_MM / STEPS, DEEPEST_MM, STEPS) / radius


def ours(a: Arches, angles: np.ndarray) -> Sweep:
    """Everything, building and map included."""
    return swept(*mapped(a), angles)


def mapped(a: Arches) -> tuple[Surface, Surface, ClosingMap]:
    """Both surfaces made ready and their closing map, as the question of first contact has them already."""
    upper = prepare(a.upper_vertices, a.upper_faces, arch="upper")
    lower = prepare(a.lower_vertices, a.lower_faces, arch="lower")
    return upper, lower, closing_map(upper, lower)


def swept(upper: Surface, lower: Surface, chart: ClosingMap, angles: np.ndarray) -> Sweep:
    whole = (np.ones(len(upper.faces), np.int32), np.ones(len(lower.faces), np.int32))
    return sweep(upper, lower, *whole, angles, chart=chart)


def bodies(a: Arches) -> list[manifold3d.Manifold]:
    """Both casts as closed bodies."""
    import manifold3d

    made = [
        manifold3d.Manifold(manifold3d.Mesh64(vertices, faces.astype(np.uint64)))
        for vertices, faces in ((a.upper_vertices, a.upper_faces), (a.lower_vertices, a.lower_faces))
    ]
    assert all(body.status() == manifold3d.Error.NoError for body in made)
    return made


def theirs(upper: manifold3d.Manifold, lower: manifold3d.Manifold, angles: np.ndarray) -> np.ndarray:
    """Volume of the intersection at every angle, mm3: summed over its separate pieces, as the sweep tells it place by place."""
    pieces = [(upper ^ lower.transform(rotation_z(t)[:3])).decompose() for t in angles]
    return np.array([sum(piece.volume() for piece in at) for at in pieces])


def run() -> list[Row]:
    """The phantom's casts: closed crowns set into a closed base; both sides on one core."""
    cores = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(cores)})
    try:
        return _rows()
    finally:
        os.sched_setaffinity(0, cores)


def _rows() -> list[Row]:
    a = phantom_arches(TRIANGLES)
    angles = angles_of(a)
    ready, closed = mapped(a), bodies(a)
    mine, wanted = swept(*ready, angles).volume_mm3[0], theirs(*closed, angles)
    off = np.abs(mine - wanted) / wanted
    note = f"volumes {wanted[0]:.4f} to {wanted[-1]:.3f} mm3, off by {100 * off.max():.2f} % at most"
    what = f"phantom, 2 x {len(a.upper_faces)} triangles, sweep at {STEPS} angles"
    once = in_turns_s(lambda: swept(*ready, angles), lambda: theirs(*closed, angles), 5)
    whole = in_turns_s(lambda: ours(a, angles), lambda: theirs(*bodies(a), angles), 3, 0)
    return [
        Row(
            f"{what}, surfaces and map made",
            *once,
            "manifold3d (one core), bodies built",
            WANTED,
            note,
            bool(off.max() <= AGREE),
        ),
        Row(f"{what}, all of it", *whole, "manifold3d (one core), building included", None),
    ]
