"""Reading and merging a binary STL of 200 000 triangles, against trimesh's default load."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import trimesh
from benchmarks.ratio import Row, in_turns_s, median_s

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


def _against_trimesh(path: Path, what: str) -> Row:
    ours, theirs = read_scan(path), trimesh.load(path)
    for got, want in zip(
        _as_sets(ours.vertices, ours.faces), _as_sets(theirs.vertices, theirs.faces), strict=True
    ):
        assert np.array_equal(got, want)
    ours_s, theirs_s = in_turns_s(lambda: read_scan(path), lambda: trimesh.load(path), rounds=9)
    return Row(what, ours_s, theirs_s, "trimesh load", 5.0, "same vertices, same triangles")


def run() -> list[Row]:
    rows = []
    seconds: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.stl"
        for n, m in ((100, 100), (400, 250), (1000, 1000)):
            v, f = wavy_sheet(n, m)
            write_stl(path, v, f)
            what = f"read + merge a binary STL of {len(f)} triangles"
            if len(f) == 200_000:
                rows.append(_against_trimesh(path, what))
                write_stl(path, v, np.random.default_rng(7).permutation(f))
                rows.append(_against_trimesh(path, "the same, triangles in a random order"))
            else:
                rows.append(Row(what, median_s(lambda: read_scan(path), rounds=3), None, "", None))
            seconds[len(f)] = rows[-1 if len(f) != 200_000 else -2].ours_s
    growth = np.polyfit(np.log(list(seconds)), np.log(list(seconds.values())), 1)[0]
    rows[-1] = rows[-1]._replace(note=f"grows as triangles to the power {growth:.2f}")
    return rows
