"""Small bodies for contact tests: seeded, of varied density, with the awkward cases on purpose."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class Body(NamedTuple):
    vertices: np.ndarray
    faces: np.ndarray


def ball(level: int, radius: float = 1.0) -> Body:
    """An octahedron, each face halved ``level`` times, on a sphere."""
    v = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]], float)
    f = np.array([[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]])
    body = Body(v, f.astype(np.int32))
    for _ in range(level):
        body = refined(body)
    v = body.vertices / np.linalg.norm(body.vertices, axis=1)[:, None]
    return Body(v * radius, body.faces)


def box(sx: float = 1.0, sy: float = 1.0, sz: float = 1.0) -> Body:
    """A closed box of half sizes, twelve faces; its walls are square to the axis, or in line with the motion."""
    c = np.array([[x, y, z] for x in (-sx, sx) for y in (-sy, sy) for z in (-sz, sz)])
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    f = [t for a, b, c4, d in quads for t in ((a, b, c4), (a, c4, d))]
    return Body(c, np.array(f, np.int32))


def sheet(rng: np.random.Generator, n: int, size: float = 3.0, bump: float = 0.5) -> Body:
    """An open bumpy sheet of 2 (n - 1)^2 faces, across the direction of closing; bump 0 is coplanar."""
    x, z = np.meshgrid(np.linspace(-size, size, n), np.linspace(-size, size, n), indexing="ij")
    y = bump * rng.standard_normal(x.shape)
    i = np.arange(n * n).reshape(n, n)
    a, b, c, d = i[:-1, :-1].ravel(), i[1:, :-1].ravel(), i[1:, 1:].ravel(), i[:-1, 1:].ravel()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    return Body(np.stack([x, y, z], -1).reshape(-1, 3), faces.astype(np.int32))


def soup(rng: np.random.Generator, m: int, size: float = 1.0) -> Body:
    """Loose triangles, long and short."""
    centre = 2 * rng.standard_normal((m, 1, 3))
    corners = centre + size * rng.standard_normal((m, 3, 3)) * 10 ** rng.uniform(-2, 0.3, (m, 1, 1))
    return Body(corners.reshape(-1, 3), np.arange(3 * m, dtype=np.int32).reshape(m, 3))


def slivers(rng: np.random.Generator, m: int) -> Body:
    """Needles: two corners close together, or three nearly (or exactly) in a line."""
    a = 2 * rng.standard_normal((m, 3))
    b = a + rng.standard_normal((m, 3))
    c = (
        a
        + rng.uniform(0, 1, (m, 1)) * (b - a)
        + 10 ** rng.uniform(-9, -2, (m, 1)) * rng.standard_normal((m, 3))
    )
    c[: m // 8] = a[: m // 8]
    return Body(np.stack([a, b, c], 1).reshape(-1, 3), np.arange(3 * m, dtype=np.int32).reshape(m, 3))


def refined(body: Body) -> Body:
    """Halve every edge: four faces for one, the same flat surface."""
    f = body.faces
    edges = np.sort(np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]]), axis=1)
    unique, back = np.unique(edges, axis=0, return_inverse=True)
    middle = 0.5 * (body.vertices[unique[:, 0]] + body.vertices[unique[:, 1]])
    ab, bc, ca = (back.reshape(3, -1) + len(body.vertices)).astype(np.int32)
    a, b, c = f.T
    faces = np.concatenate([np.stack(t, 1) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
    return Body(np.concatenate([body.vertices, middle]), faces.astype(np.int32))


def placed(body: Body, at: tuple[float, float, float] | np.ndarray, scale: float = 1.0) -> Body:
    return Body(body.vertices * scale + np.asarray(at), body.faces)


def turned(body: Body, angle_rad: float) -> Body:
    """Closed by the angle (opened when negative)."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return Body(body.vertices @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]), body.faces)


def tumbled(body: Body, rng: np.random.Generator) -> Body:
    q, r = np.linalg.qr(rng.standard_normal((3, 3)))
    q = q * np.sign(np.diag(r))
    if np.linalg.det(q) < 0:
        q[:, 0] = -q[:, 0]
    return Body(body.vertices @ q.T, body.faces)


#: What ``pair`` knows, by name; every one is met in turn.
FAMILIES = (
    "balls", "boxes square", "boxes tumbled", "sheets", "coplanar sheets", "near tie", "shared edges",
    "slivers", "soup", "fine on coarse", "near the axis", "overlapping", "level plates", "chords",
)  # fmt: skip


def of_family(family: str, k: int = 0) -> int:
    """The number of the family's k-th case."""
    return FAMILIES.index(family) + k * len(FAMILIES)


def level_plates(rng: np.random.Generator, m: int) -> Body:
    """Triangles square to the axis, in two planes: they turn within their planes and meet corner on edge."""
    corners = 2 * rng.standard_normal((m, 3, 3))
    corners[..., 2] = rng.integers(0, 2, (m, 1))
    return Body(corners.reshape(-1, 3), np.arange(3 * m, dtype=np.int32).reshape(m, 3))


def chords(rng: np.random.Generator) -> Body:
    """Three large faces across the radius: their nearest points to the axis lie inside an edge, far from any corner."""
    corners = np.array([[40.0, -38, -3], [40, 32, -3], [40, -36, 9]]) + rng.uniform(-2, 2, (3, 3, 3))
    corners[..., 0] += np.array([0.0, 0.2, 0.4])[:, None]
    return Body(corners.reshape(-1, 3), np.arange(9, dtype=np.int32).reshape(3, 3))


def pair(case: int) -> tuple[Body, Body]:
    """The upper and lower of case ``case`` (seed and family in one number)."""
    rng = np.random.default_rng(1000 + case)
    family = FAMILIES[case % len(FAMILIES)]
    at = np.array([rng.uniform(30, 80), rng.uniform(-35, -10), rng.uniform(-25, 25)])
    aside = rng.uniform(-0.6, 0.6, 3)
    opened = rng.uniform(0.06, 0.2)
    if family == "balls":
        up, low = tumbled(ball(1), rng), tumbled(ball(2), rng)
    elif family == "boxes square":
        up, low = box(), box(*rng.uniform(0.4, 1.5, 3))
        if case % 2:  # walls and edges exactly in line
            aside, opened = np.array([0.0, -4.0, 0.0]), 0.0
    elif family == "boxes tumbled":
        up, low = tumbled(box(), rng), tumbled(box(1.0, 0.5, 2.0), rng)
    elif family == "sheets":
        up, low = sheet(rng, 7), sheet(rng, 6)
    elif family == "coplanar sheets":
        up, low = sheet(rng, 5, bump=0.0), sheet(rng, 4, bump=0.0)
        if case % 2:
            aside[[0, 2]] = 0.0
    elif family == "near tie":
        up = sheet(rng, 5, bump=0.3)
        low = Body(up.vertices + [0, 1e-10, 0] * rng.standard_normal((len(up.vertices), 1)), up.faces)
        aside[:] = 0.0
    elif family == "shared edges":
        up = sheet(rng, 4)
        low = Body(up.vertices, up.faces[:, [1, 2, 0]])
        aside[:] = 0.0
    elif family == "slivers":
        up, low = slivers(rng, 24), slivers(rng, 24)
    elif family == "soup":
        up, low = soup(rng, 30), soup(rng, 40)
    elif family == "fine on coarse":
        up, low = tumbled(ball(0, 2.0), rng), tumbled(ball(3, 0.7), rng)
    elif family == "near the axis":
        up, low = soup(rng, 20, 0.4), soup(rng, 20, 0.4)
        up = Body(np.abs(up.vertices) * [1, 1, 0.4], up.faces)
        low = Body(np.abs(low.vertices) * [1, -1, 0.4], low.faces)
        return placed(up, (0.05, 0.5, 0.0)), placed(low, (0.05, -1.0, 0.3))
    elif family == "level plates":
        up, low = level_plates(rng, 6), level_plates(rng, 7)
        aside[2] = rng.integers(0, 2)
    elif family == "chords":
        low = turned(
            placed(tumbled(ball(1, 0.3), rng), (rng.uniform(41.5, 44), 0, 0)), rng.uniform(-1.3, -0.4)
        )
        return chords(rng), low
    else:
        up, low = tumbled(ball(2, 1.5), rng), tumbled(box(), rng)
        opened = rng.uniform(-0.01, 0.01)
    return placed(up, at), turned(placed(low, at + aside), -opened)
