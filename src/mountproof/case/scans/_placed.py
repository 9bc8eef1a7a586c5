"""Meshes that a file places several times or under transforms, put together into one."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator
from typing import NamedTuple

import numpy as np

from mountproof.case.scans._scan import Floats, Ints, check_counts, counted, hostile
from mountproof.said import say

#: How deep parts may be nested in parts, and how many placements one file may come to.
MOST_LEVELS = 32
MOST_PLACEMENTS = 100_000


class Surface(NamedTuple):
    """Vertices (n, 3) and faces (m, 3) of one mesh, in its own coordinates."""

    vertices: Floats
    faces: Ints


class Node(NamedTuple):
    """A part of a file: surfaces of its own, and other parts under 4x4 transforms (column vectors)."""

    surfaces: tuple[Surface, ...]
    children: tuple[tuple[Hashable, Floats], ...]


def assemble(
    roots: Iterable[tuple[Hashable, Floats]], find: Callable[[Hashable], Node]
) -> tuple[Floats, Ints, list[str]]:
    """Place every surface that can be reached from ``roots``: vertices, faces, notes.

    The size of the whole is known before any of it is made. A transform that mirrors turns the corners of
    its triangles round, as both 3MF and glTF ask. Raises FaultError ``scan.hostile`` for parts that hold
    themselves or are nested without end, ``scan.too_large``.
    """
    roots = list(roots)
    known: dict[Hashable, tuple[int, int, int]] = {}
    totals = [_cost(key, find, known, ()) for key, _ in roots]
    check_counts(sum(t[0] for t in totals), sum(t[1] for t in totals))
    if sum(t[2] for t in totals) > MOST_PLACEMENTS:
        hostile(say("the file places its parts more than {most} times", most=MOST_PLACEMENTS))
    vertices: list[Floats] = [np.zeros((0, 3))]
    faces: list[Ints] = [np.zeros((0, 3), np.int32)]
    n = placed = moved = mirrored = 0
    for surface, matrix in _placements(roots, find):
        v, f = surface.vertices, surface.faces
        if not np.array_equal(matrix, np.eye(4)):
            # Only the whole numbers 0 and 1 leave coordinates to the last bit, so only they are skipped.
            with np.errstate(invalid="ignore", over="ignore"):
                v = v @ matrix[:3, :3].T + matrix[:3, 3]
            moved += 1
            if np.linalg.det(matrix[:3, :3]) < 0:
                f = f[:, ::-1]
                mirrored += 1
        vertices.append(v)
        faces.append(f + np.int32(n))
        n += len(v)
        placed += 1
    notes = []
    if placed > 1:
        notes.append(say("{parts} of the file were taken together", parts=counted(placed, "part")))
    if moved:
        notes.append(say("{parts} placed by the file's own transforms", parts=counted(moved, "part")))
    if mirrored:
        notes.append(
            say("{parts} placed by a transform of the file that mirrors", parts=counted(mirrored, "part"))
        )
    return np.concatenate(vertices), np.concatenate(faces), notes


def _cost(
    key: Hashable,
    find: Callable[[Hashable], Node],
    known: dict[Hashable, tuple[int, int, int]],
    above: tuple[Hashable, ...],
) -> tuple[int, int, int]:
    """Triangles, vertices and placements that a part comes to."""
    if key in above:
        hostile(say("a part of the file contains itself"))
    if len(above) >= MOST_LEVELS:
        hostile(say("parts of the file are nested more than {most} deep", most=MOST_LEVELS))
    if key not in known:
        node = find(key)
        triangles = sum(len(s.faces) for s in node.surfaces)
        vertices = sum(len(s.vertices) for s in node.surfaces)
        placements = 1
        for child, _ in node.children:
            more = _cost(child, find, known, (*above, key))
            triangles, vertices, placements = triangles + more[0], vertices + more[1], placements + more[2]
        known[key] = triangles, vertices, placements
    return known[key]


def _placements(
    roots: list[tuple[Hashable, Floats]], find: Callable[[Hashable], Node]
) -> Iterator[tuple[Surface, Floats]]:
    for key, matrix in roots:
        node = find(key)
        for surface in node.surfaces:
            yield surface, matrix
        with np.errstate(invalid="ignore", over="ignore"):
            children = [(child, matrix @ own) for child, own in node.children]
        yield from _placements(children, find)
