"""Contact sites by trying every pair of faces and every centre, and flooding a set of cells.

What meets where is asked of ``naive.first_contact`` one pair of faces at a time; the place is then found as the nearest
approach of the two triangles at that closure, by segments and corners.
"""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import numpy as np

from naive.bodies import Body, turned
from naive.closing_map import front_phi
from naive.first_contact import all_contacts_rad


class Meeting(NamedTuple):
    labels: tuple[int, int]
    closing_rad: float
    radius_mm: float
    cell: tuple[int, int]
    centre: bool


class Site(NamedTuple):
    labels: tuple[int, int]
    cells: frozenset
    area_cells: int
    closing_rad: float
    gap_mm: float


def meetings(up: Body, low: Body, upper_labels, lower_labels, chart) -> list[Meeting]:
    """First contact of every pair of labelled faces, and the gap at every centre; ``chart`` gives only the grid."""
    found = []
    for a, b in product(np.flatnonzero(upper_labels), np.flatnonzero(lower_labels)):
        met = list(
            all_contacts_rad(up.vertices[up.faces[a]], _ONE, low.vertices[low.faces[b]], _ONE),
        )
        if not met:
            continue
        t = min(met)
        closed = turned(Body(low.vertices[low.faces[b]], _ONE), t).vertices
        x, y, z = _nearest(up.vertices[up.faces[a]], closed)
        r = float(np.hypot(x, y))
        cell = tuple(
            int(np.clip(np.floor((v - v0) / chart.cell_mm), 0, n - 1))
            for v, v0, n in zip((r, z), (chart.r0_mm, chart.z0_mm), chart.gap_rad.shape, strict=True)
        )
        found.append(Meeting((int(upper_labels[a]), int(lower_labels[b])), t, r, cell, False))
    fronts = []
    for body, labels, arch in ((up, upper_labels, "upper"), (low, lower_labels, "lower")):
        numbers = np.unique(labels)
        phi = np.stack(
            [front_phi(chart.r_mm, chart.z_mm, body.vertices, body.faces[labels == n], arch) for n in numbers]
        )
        phi = np.where(np.isnan(phi), np.inf, phi if arch == "upper" else -phi)
        fronts.append((phi.min(axis=0), numbers[phi.argmin(axis=0)]))
    (first, of_upper), (last, of_lower) = fronts
    for i, j in np.argwhere(np.isfinite(first) & np.isfinite(last) & (of_upper > 0) & (of_lower > 0)):
        labels = int(of_upper[i, j]), int(of_lower[i, j])
        found.append(
            Meeting(labels, float(first[i, j] + last[i, j]), float(chart.r_mm[i]), (int(i), int(j)), True)
        )
    return found


def sites(found: list[Meeting], closed_rad: float, within_mm: float) -> list[Site]:
    """Flood the cells of each pair of labels."""
    within = [m for m in found if (m.closing_rad - closed_rad) * m.radius_mm <= within_mm]
    out = []
    for labels in {m.labels for m in within}:
        left = {m.cell for m in within if m.labels == labels}
        while left:
            edge = [left.pop()]
            patch = set(edge)
            while edge:
                i, j = edge.pop()
                near = {(i + u, j + v) for u, v in product((-1, 0, 1), repeat=2)} & left
                left -= near
                patch |= near
                edge += near
            inside = [m for m in within if m.labels == labels and m.cell in patch]
            first = min(inside, key=lambda m: (m.centre, m.closing_rad))
            out.append(Site(labels, frozenset(patch), sum(m.centre for m in inside), first.closing_rad,
                            (first.closing_rad - closed_rad) * first.radius_mm))  # fmt: skip
    return out


_ONE = np.array([[0, 1, 2]])


def _nearest(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """The place of ``a`` nearest to ``b``: corners over faces, edges against edges."""
    feet = [(p, _foot(p, a)) for p in b] + [(_foot(q, b), q) for q in a]
    ways = [(np.linalg.norm(p - q), q) for p, q in feet]
    for i, j in product(range(3), repeat=2):
        p, u, q, v = a[i], a[(i + 1) % 3] - a[i], b[j], b[(j + 1) % 3] - b[j]
        (s, w), *_ = np.linalg.lstsq(np.stack([u, -v], 1), q - p, rcond=None)
        if 0 <= s <= 1 and 0 <= w <= 1:
            ways.append((np.linalg.norm(p + s * u - q - w * v), p + s * u))
    return min(ways, key=lambda w: w[0])[1]


def _foot(p: np.ndarray, tri: np.ndarray) -> np.ndarray:
    """Foot of a point in a triangle's plane where that lies inside, else far away."""
    u, v = tri[1] - tri[0], tri[2] - tri[0]
    (s, w), *_ = np.linalg.lstsq(np.stack([u, v], 1), p - tri[0], rcond=None)
    return tri[0] + s * u + w * v if min(s, w, 1 - s - w) >= 0 else np.full(3, 1e9)
