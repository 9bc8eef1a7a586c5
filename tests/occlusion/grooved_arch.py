"""Rows of made-up teeth with a groove along the biting side, in the frame: closed shells, or one open scan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mountproof.teeth import Arch, right_to_left

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]


def _crown(n: int = 16) -> tuple[F64, I32]:
    """A closed block in -1..1 (first axis along the row): two ridges with a groove between them on +y, flat below."""
    u = np.linspace(-1, 1, n + 1)
    a, b = np.meshgrid(u, u, indexing="ij")
    top = np.stack([a, 0.75 + 0.25 * np.cos(2 * np.pi * b), b], axis=-1).reshape(-1, 3)
    rim = np.concatenate(
        [
            np.arange(n) * (n + 1),
            n * (n + 1) + np.arange(n),
            (n + 1) ** 2 - 1 - np.arange(n) * (n + 1),
            n - np.arange(n),
        ]
    )
    i, j = (x.ravel() for x in np.meshgrid(np.arange(n), np.arange(n), indexing="ij"))
    p = i * (n + 1) + j
    faces = [np.stack([p, p + 1, p + n + 2], 1), np.stack([p, p + n + 2, p + n + 1], 1)]
    foot = top[rim] * [1, 0, 1] - [0, 1, 0]
    q, k = len(top), np.arange(4 * n)
    nxt = np.roll(k, -1)
    faces += [np.stack([rim[k], rim[nxt], q + nxt], 1), np.stack([rim[k], q + nxt, q + k], 1)]
    middle = q + 4 * n
    faces += [np.stack([q + k, q + nxt, np.full(4 * n, middle)], 1)]
    return np.vstack([top, foot, [[0, -1, 0]]]), np.concatenate(faces).astype(np.int32)


def grooved_arch(arch: Arch, *, open_below: bool = False) -> tuple[F64, I32, I32]:
    """Fourteen teeth on a parabola, tables at y = -40: vertices (n, 3) mm, faces, tooth number per face.

    ``open_below`` leaves out the flat foot of each tooth, so that every tooth has a border away from its table.
    """
    base_v, base_f = _crown()
    if open_below:
        base_f = base_f[(base_f < len(base_v) - 1).all(axis=1)]
        base_v = base_v[:-1]
    row = [t for t in right_to_left(arch) if t % 10 < 8]
    z = np.linspace(60, -60, 4001)
    x = 80 - 0.035 * z * z
    arc = np.concatenate([[0], np.cumsum(np.hypot(np.diff(x), np.diff(z)))])
    arc -= np.interp(0.0, -z, arc)
    length = [9.0 if t % 10 >= 4 else 7.0 for t in row]
    start = np.concatenate([[0], np.cumsum(length)]) - sum(length) / 2
    towards = -1.0 if arch == "upper" else 1.0
    vertices, faces, labels = [], [], []
    for k, tooth in enumerate(row):
        s = start[k] + length[k] / 2
        here = np.array([np.interp(s, arc, x), -40.0, np.interp(s, arc, z)])
        along = np.array([np.interp(s + 0.5, arc, x) - here[0], 0, np.interp(s + 0.5, arc, z) - here[2]])
        along /= np.linalg.norm(along)
        up = np.array([0, towards, 0])
        out = np.cross(along, up)
        v = base_v * [0.48 * length[k], 4.0, 4.0 if tooth % 10 >= 4 else 2.5]
        v = here + np.outer(v[:, 0], along) + np.outer(v[:, 1] - 4.0, up) + np.outer(v[:, 2], out)
        faces.append(base_f + len(base_v) * k)
        vertices.append(v)
        labels.append(np.full(len(base_f), tooth))
    return (
        np.concatenate(vertices),
        np.concatenate(faces).astype(np.int32),
        np.concatenate(labels).astype(np.int32),
    )
