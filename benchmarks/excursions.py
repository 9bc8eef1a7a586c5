"""A hundred poses along condylar guides against a hundred first contacts of the same surfaces about a hinge that stays."""

from __future__ import annotations

import math

import numpy as np
from benchmarks.arches import Arches, arches, phantom_arches
from benchmarks.ratio import Row, in_turns_s

from mountproof.geometry.contact import first_contact
from mountproof.geometry.driven import driven, stopped
from mountproof.geometry.guides import Guide, Straight, protruded, sideways
from mountproof.geometry.poses import exp6
from mountproof.geometry.surface import moved, prepare

TRIANGLES = 214_000
POSES = 100
WIDTH_MM, FAR_MM = 110.0, 5.0
#: A pose of an excursion may cost twice a first contact.
WANTED = 0.5


def axes() -> list[np.ndarray]:
    """Straight ahead and to both sides, evenly."""
    guide = Guide(Straight(0.60), Straight(0.70), math.radians(8.0), 0.3)
    third = POSES // 3
    ahead = [
        protruded(Straight(0.66), Straight(0.58), t, 0.95 * t, WIDTH_MM)
        for t in np.linspace(0.0, FAR_MM, POSES - 2 * third)
    ]
    right = [sideways(guide, "right", t, WIDTH_MM) for t in np.linspace(0.0, FAR_MM, third)]
    return [*ahead, *right, *(sideways(guide, "left", t, WIDTH_MM) for t in np.linspace(0.0, FAR_MM, third))]


def run() -> list[Row]:
    """Gentle hills and the phantom."""
    return [_row("hills", arches(TRIANGLES)), _row("phantom", phantom_arches(TRIANGLES))]


def _row(name: str, a: Arches) -> Row:
    upper = prepare(a.upper_vertices, a.upper_faces, arch="upper")
    lower = prepare(a.lower_vertices, a.lower_faces, arch="lower")
    ready, poses = driven(upper, lower), axes()
    rng = np.random.default_rng(1)
    motions = [
        exp6(np.concatenate([rng.normal(0.0, 0.003, 3), rng.normal(0.0, 0.2, 3)])) for _ in range(POSES)
    ]
    mine, theirs = in_turns_s(
        lambda: [stopped(ready, axis, parts=False) for axis in poses],
        lambda: [first_contact(upper, moved(lower, motion)) for motion in motions],
        rounds=3,
    )
    return Row(f"{name}: {POSES} poses of excursions", mine, theirs, f"{POSES} first contacts", WANTED)
