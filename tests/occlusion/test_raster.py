"""The depth raster against a plain loop, and without cracks."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from mountproof.occlusion.raster import draw


def slow(u, v, h, faces, cell, box):  # type: ignore[no-untyped-def]
    columns, rows = int((box[1] - box[0]) / cell) + 1, int((box[3] - box[2]) / cell) + 1
    out = np.full((rows, columns), np.nan)
    for a, b, c in faces:
        m = np.array([[u[b] - u[a], u[c] - u[a]], [v[b] - v[a], v[c] - v[a]]])
        if abs(np.linalg.det(m)) < 1e-9:
            continue
        for r in range(rows):
            for q in range(columns):
                s, t = np.linalg.solve(m, [box[0] + q * cell - u[a], box[2] + r * cell - v[a]])
                if s >= 0 and t >= 0 and s + t <= 1:
                    z = h[a] + s * (h[b] - h[a]) + t * (h[c] - h[a])
                    out[r, q] = z if np.isnan(out[r, q]) else max(out[r, q], z)
    return out


@settings(max_examples=40)
@given(st.integers(0, 10_000))
def test_same_as_a_plain_loop(seed: int) -> None:
    rng = np.random.default_rng(seed)
    u, v, h = rng.uniform(0, 5, (3, 12))
    faces = rng.integers(0, 12, (6, 3)).astype(np.int32)
    box = (0.037, 5.0, 0.041, 5.0)
    got = draw(u, v, h, faces, cell_mm=0.5, box_mm=box)
    want = slow(u, v, h, faces, 0.5, box)
    assert (np.isnan(got.height_mm) == np.isnan(want)).all()
    np.testing.assert_allclose(got.height_mm, want, atol=1e-9)
    assert ((got.face >= 0) == ~np.isnan(want)).all()


@settings(max_examples=25)
@given(st.integers(0, 10_000))
def test_no_cracks_between_faces(seed: int) -> None:
    rng = np.random.default_rng(seed)
    inner = np.round(rng.uniform(0, 10, (60, 2)), 1)  # many vertices and edges exactly on cell centres
    p = np.unique(np.concatenate([inner, [[0, 0], [0, 10], [10, 0], [10, 10]]]), axis=0)
    faces = Delaunay(p).simplices.astype(np.int32)
    got = draw(
        p[:, 0].copy(), p[:, 1].copy(), p[:, 0] + 2 * p[:, 1], faces, cell_mm=0.1, box_mm=(0.1, 9.9, 0.1, 9.9)
    )
    assert (got.face >= 0).all()
    c, r = np.meshgrid(0.1 + 0.1 * np.arange(got.face.shape[1]), 0.1 + 0.1 * np.arange(got.face.shape[0]))
    np.testing.assert_allclose(got.height_mm, c + 2 * r, atol=1e-9)


def test_corners_that_are_not_finite_are_left_out() -> None:
    u, v, h = np.array([0.0, 4, 0, np.nan]), np.array([0.0, 0, 4, 1]), np.zeros(4)
    got = draw(u, v, h, np.array([[0, 1, 2], [0, 1, 3]], np.int32), cell_mm=1.0, box_mm=(0.0, 4.0, 0.0, 4.0))
    assert set(np.unique(got.face)) == {-1, 0}
