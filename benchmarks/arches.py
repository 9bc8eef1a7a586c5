"""Two made-up opposing arches of any number of triangles: horseshoe strips with hills, from closed forms."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class Arches(NamedTuple):
    upper_vertices: np.ndarray
    upper_faces: np.ndarray
    lower_vertices: np.ndarray
    lower_faces: np.ndarray


def arches(triangles: int) -> Arches:
    """About ``triangles`` faces each, in front of the hinge, some 4 degrees apart; rows of faces in mesh order."""
    across = max(round((triangles / 12) ** 0.5), 4)
    return Arches(*_strip(6 * across, across, 1, True), *_strip(6 * across, across, 2, False))


def phantom_arches(triangles: int) -> Arches:
    """Both casts of the phantom, the lower as its CR record holds it, about ``triangles`` faces each."""
    from mountproof.phantom.arch import build_arch
    from mountproof.phantom.truth import record_pose

    upper, lower = build_arch("upper", triangles), build_arch("lower", triangles)
    pose = record_pose(1)
    placed = np.ascontiguousarray(lower.vertices_mm @ pose[:3, :3].T + pose[:3, 3])
    return Arches(np.ascontiguousarray(upper.vertices_mm), upper.faces, placed, lower.faces)


def _strip(along: int, across: int, seed: int, upper: bool) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    angle, t = np.meshgrid(np.linspace(-1.9, 1.9, along), np.linspace(-1, 1, across), indexing="ij")
    radius = 24 + 7 * t
    x, z = 62 + 1.2 * radius * np.cos(angle), 1.1 * radius * np.sin(angle)
    height = -6 * t**4
    for _ in range(60):
        a, r, wide, high = (
            rng.uniform(-1.9, 1.9),
            24 + 7 * rng.uniform(-0.7, 0.7),
            rng.uniform(1, 2),
            rng.uniform(0.5, 2),
        )
        at = (62 + 1.2 * r * np.cos(a), 1.1 * r * np.sin(a))
        height += high * np.exp(-((x - at[0]) ** 2 + (z - at[1]) ** 2) / (2 * wide**2))
    y = -32 - height if upper else -38 + height
    i = np.arange(along * across).reshape(along, across)
    a4, b4, c4, d4 = i[:-1, :-1].ravel(), i[1:, :-1].ravel(), i[1:, 1:].ravel(), i[:-1, 1:].ravel()
    faces = np.stack([a4, b4, c4, a4, c4, d4], 1).reshape(-1, 3).astype(np.int32)
    return np.stack([x, y, z], -1).reshape(-1, 3), faces
