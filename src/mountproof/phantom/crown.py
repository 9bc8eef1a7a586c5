"""One crown as a closed shell: cross-sections swept from the biting surface to below the gum."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom.occlusal import Element, relief
from mountproof.phantom.shapes import Shape

Array = NDArray[np.float64]
Faces = NDArray[np.int32]


class Grid(NamedTuple):
    """How a crown is sampled: cells along and across the biting surface, rows down the wall."""

    along: int
    across: int
    rows: int

    @property
    def triangles(self) -> int:
        """Number of triangles of the closed shell."""
        ring = 2 * (self.along + self.across)
        return 2 * self.along * self.across + 2 * ring * self.rows + ring


def _spline_basis(t: Array, n: int) -> Array:
    """Weights of a clamped uniform cubic B-spline: rows for parameters t in [0, n - 1], n columns."""
    k = np.minimum(np.floor(t), n - 2).astype(np.int64)
    f = t - k
    w = (
        np.stack([(1 - f) ** 3, 3 * f**3 - 6 * f**2 + 4, -3 * f**3 + 3 * f**2 + 3 * f + 1, f**3], axis=1)
        / 6.0
    )
    out = np.zeros((len(t), n + 2))
    rows = np.arange(len(t))
    for j in range(4):
        out[rows, k + j] += w[:, j]
    # End points are mirrored through the ends, so that the curve starts and stops on its first and last row.
    out[:, 1] += 2 * out[:, 0]
    out[:, 2] -= out[:, 0]
    out[:, n] += 2 * out[:, n + 1]
    out[:, n - 1] -= out[:, n + 1]
    return out[:, 1 : n + 1]


@lru_cache(maxsize=64)
def _layout(grid: Grid) -> tuple[Array, Array, Faces]:
    """Radius in [0, 1] and direction of the vertices of the biting surface; faces of the whole shell.

    Vertex order: the biting surface row by row, then the rings down the wall, then one point that closes the root.
    """
    nx, nz = grid.along, grid.across
    u, v = np.meshgrid(np.linspace(-1, 1, nx + 1), np.linspace(-1, 1, nz + 1), indexing="ij")
    rho = np.maximum(np.abs(u), np.abs(v))
    flat = np.abs(u) >= np.abs(v)
    big = np.where(rho > 0, rho, 1.0)
    turn = np.where(flat, v / big, u / big) * (np.pi / 4)
    alpha = np.where(
        flat, np.where(u >= 0, turn, np.pi - turn), np.where(v >= 0, np.pi / 2 - turn, turn - np.pi / 2)
    )
    idx = np.arange((nx + 1) * (nz + 1)).reshape(nx + 1, nz + 1)
    a, b, c, d = idx[:-1, :-1], idx[1:, :-1], idx[1:, 1:], idx[:-1, 1:]
    # The diagonal of each cell points to the middle: no long thin corner at the rim.
    uc, vc = u[:-1, :-1] + u[1:, 1:], v[:-1, :-1] + v[1:, 1:]
    same = (uc * vc >= 0)[..., None, None]
    one = np.stack([np.stack([a, b, c], -1), np.stack([a, c, d], -1)], -2)
    two = np.stack([np.stack([a, b, d], -1), np.stack([b, c, d], -1)], -2)
    table = np.where(same, one, two).reshape(-1, 3)
    rim = np.concatenate([idx[:-1, 0], idx[-1, :-1], idx[:0:-1, -1], idx[0, :0:-1]])
    n = len(rim)
    ring0 = (nx + 1) * (nz + 1)
    rings = np.concatenate([rim[None], ring0 + np.arange(grid.rows * n).reshape(grid.rows, n)])
    p, q = rings[:-1], rings[1:]
    p1, q1 = np.roll(p, -1, axis=1), np.roll(q, -1, axis=1)
    wall = np.stack([np.stack([p, q, q1], -1), np.stack([p, q1, p1], -1)], -2).reshape(-1, 3)
    last = rings[-1]
    cap = np.stack([last, np.full(n, ring0 + grid.rows * n), np.roll(last, -1)], -1)
    faces = np.concatenate([table, wall, cap]).astype(np.int32)
    faces.setflags(write=False)
    return rho.ravel(), alpha.ravel(), faces


def _rim_alpha(grid: Grid, alpha: Array) -> Array:
    idx = np.arange((grid.along + 1) * (grid.across + 1)).reshape(grid.along + 1, grid.across + 1)
    out: Array = alpha[np.concatenate([idx[:-1, 0], idx[-1, :-1], idx[:0:-1, -1], idx[0, :0:-1]])]
    return out


def _place(shape: Shape, elements: tuple[Element, ...], tau: Array, alpha: Array) -> Array:
    row = _spline_basis(tau, len(shape.profile)) @ shape.profile
    half, buccal, lingual, shift, down = row.T
    ca, sa = np.cos(alpha), np.sin(alpha)
    unit = (np.abs(ca) ** shape.power + np.abs(sa) ** shape.power) ** (-1.0 / shape.power)
    c, s = unit * ca, unit * sa
    depth = np.where(s > 0, buccal, lingual)
    d = half * c
    b = depth * s + shift
    d = d * (1.0 - shape.taper * s) - shape.skew * b * 0.5
    on_wall = np.clip(down * 4.0, 0.0, 1.0) * np.clip((1.15 - down) * 3.0, 0.0, 1.0)
    if shape.lobes_mm > 0:  # two bulges with a furrow between them
        b = b - np.sign(s) * shape.lobes_mm * on_wall * np.exp(-0.5 * ((c + 0.08) / 0.16) ** 2) * (
            np.abs(s) > 0.3
        )
    elif shape.lobes_mm < 0:  # one vertical ridge in the middle of the buccal side
        b = b - shape.lobes_mm * on_wall * np.exp(-0.5 * (c / 0.30) ** 2) * np.clip(s, 0.0, None)
    if shape.hollow:
        band = np.exp(-0.5 * ((down - 0.40) / 0.17) ** 2)
        side = np.clip(1.0 - (c / 0.74) ** 2, 0.0, None) ** 2
        b = b + shape.hollow[0] * band * side * (s < 0)
    h = (1.0 - np.minimum(down, 1.0)) * relief(elements, d, b) - down * shape.crown_mm
    return np.stack([d, b, h], axis=1)


def crown(shape: Shape, elements: tuple[Element, ...], grid: Grid) -> tuple[Array, Faces]:
    """Sample one crown in its own coordinates (distal, buccal, towards the opposing arch; mm).

    Returns vertices (n, 3) and faces (m, 3). The shell is closed. Faces wind outwards in a right-handed reading of
    (distal, buccal, occlusal).
    """
    rho, alpha, faces = _layout(grid)
    rim = _rim_alpha(grid, alpha)
    last = len(shape.profile) - 1
    # Rows lie closer where the biting surface turns into the wall.
    down = (np.arange(1, grid.rows + 1) / grid.rows) ** 1.5
    tau_wall = shape.table_rows + (last - shape.table_rows) * down
    tau = np.concatenate([rho * shape.table_rows, np.repeat(tau_wall, len(rim))])
    alpha_all = np.concatenate([alpha, np.tile(rim, grid.rows)])
    points = _place(shape, elements, tau, alpha_all)
    root = points[-len(rim) :].mean(axis=0)
    root[2] -= 0.3
    return np.concatenate([points, root[None]]), faces
