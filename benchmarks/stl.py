"""Reading and merging a binary STL of 200 000 triangles, against trimesh's default load."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import trimesh
from benchmarks.ratio import Row, in_turns_s

from mountproof.case.scans import read_scan, write_stl


def wavy_sheet(n: int, m: int) -> tuple[np.ndarray, np.ndarray]:
    """A surface of 2 n m triangles, curved so that no two vertices share many digits."""
    x, y = np.meshgrid(np.linspace(0, 60, n + 1), np.linspace(0, 60, m + 1), indexing="ij")
    v = np.stack([x.ravel(), y.ravel(), (3 * np.sin(x / 3) * np.cos(y / 4)).ravel()], axis=1)
    i, j = (a.ravel() for a in np.meshgrid(np.arange(n), np.arange(m), indexing="ij"))
    a = i * (m + 1) + j
    b, c, d = a + m + 1, a + m + 2, a + 1
    return v, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


def _as_sets(v: np.ndarray, f: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Vertices in one order, and triangles as their corners' coordinates, first corner least, in one order."""
    order = np.lexsort(v.T)
    rank = np.zeros(len(v), int)
    rank[order] = np.arange(len(v))
    r = rank[f]
    first = r.argmin(axis=1)
    turned = np.stack([r[np.arange(len(r)), (first + k) % 3] for k in range(3)], axis=1)
    return v[order], turned[np.lexsort(turned.T)]


def run() -> list[Row]:
    rng = np.random.default_rng(7)
    v, f = wavy_sheet(400, 250)
    f = f[rng.permutation(len(f))]
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.stl"
        write_stl(path, v, f)
        ours, theirs = read_scan(path), trimesh.load(path)
        for got, want in zip(
            _as_sets(ours.vertices, ours.faces), _as_sets(theirs.vertices, theirs.faces), strict=True
        ):
            assert np.array_equal(got, want)
        ours_s, theirs_s = in_turns_s(lambda: read_scan(path), lambda: trimesh.load(path), rounds=9)
        what = f"read + merge a binary STL of {len(f)} triangles"
        rows.append(Row(what, ours_s, theirs_s, "trimesh load", 5.0, "same vertices, same triangles"))
    return rows
