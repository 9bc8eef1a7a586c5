"""Folds of a surface against closed forms: a cube, a closed body's balance, a dent, a sphere."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.geometry.folds import folds, smoothed_copy


def test_a_cube_bulges_by_its_twelve_edges() -> None:
    cube = trimesh.creation.box(extents=(2, 2, 2))
    found = folds(cube.vertices, cube.faces)
    assert found.bulging_sum == pytest.approx(12 * 2 * 2**0.5)
    assert found.hollow_sum == 0.0 and found.hollow.tolist() == [0, 0, 0]
    inside = folds(cube.vertices, cube.faces[:, ::-1])
    assert inside.hollow_sum == pytest.approx(found.bulging_sum) and inside.bulging_sum == 0.0


def test_a_sphere_bulges_by_twice_its_mean_curvature() -> None:
    """The sum over the edges tends to twice the integral of mean curvature, 2 x (1/r) x 4 pi r^2 = 8 pi r."""
    sums = [
        folds(b.vertices, b.faces).bulging_sum
        for b in (trimesh.creation.icosphere(k, 3.0) for k in (3, 4, 5))
    ]
    errors = np.abs(np.array(sums) - 8 * np.pi * 3.0)
    assert errors[-1] < 0.05 and errors[0] / errors[1] > 3 and errors[1] / errors[2] > 3


@given(st.integers(0, 10_000))
@settings(derandomize=True, deadline=None, max_examples=30)
def test_a_closed_body_pulls_nowhere_and_moving_it_moves_the_grooves_along(seed: int) -> None:
    rng = np.random.default_rng(seed)
    body = trimesh.creation.icosphere(2)
    v = body.vertices * rng.uniform(0.5, 1.5, (len(body.vertices), 1))
    found, turned = folds(v, body.faces), folds(v, body.faces[:, ::-1])
    # Hollow edges turned over are bulging ones: their sums with direction balance on a closed body.
    assert turned.hollow == pytest.approx(-found.hollow, abs=1e-9 * found.bulging_sum)
    assert turned.hollow_sum == pytest.approx(found.bulging_sum)
    rotation = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    rotation *= np.sign(np.linalg.det(rotation))
    moved = folds(v @ rotation.T + [100, -40, 7], body.faces)
    assert moved.hollow == pytest.approx(rotation @ found.hollow, abs=1e-8 * found.bulging_sum)


def test_the_groove_of_a_roof_faces_out_of_it() -> None:
    """Two sheets that meet in a valley along y at 0.2 rad a side: one hollow edge, angle 0.4, length 5, facing z."""
    bend = 2 * np.sin(0.4 / 2)
    t = np.tan(0.2)
    v = np.array([[-1, 0, t], [0, 0, 0], [1, 0, t], [-1, 5, t], [0, 5, 0], [1, 5, t]], float)
    f = np.array([[0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4]])
    found = folds(v, f)
    assert found.hollow == pytest.approx([0, 0, bend * 5], abs=1e-12)
    assert found.hollow_sum == pytest.approx(bend * 5) and found.bulging_sum == pytest.approx(0.0, abs=1e-12)


def test_smoothing_keeps_its_hands_off_the_scan_and_off_large_triangles() -> None:
    body = trimesh.creation.icosphere(4, 5.0)
    rng = np.random.default_rng(3)
    v = body.vertices + rng.normal(0, 0.05, body.vertices.shape)
    before = v.copy()
    smooth = smoothed_copy(v, body.faces, 10)
    assert np.array_equal(v, before)
    noise, left = np.std(np.linalg.norm(v, axis=1)), np.std(np.linalg.norm(smooth, axis=1))
    assert left < 0.35 * noise
    assert np.array_equal(smoothed_copy(v, body.faces, 0), v)
    far = np.vstack([v, [[0, 0, 60], [1, 0, 60], [0, 1, 90]]])
    kept = smoothed_copy(far, np.vstack([body.faces, [[len(v), len(v) + 1, len(v) + 2]]]), 10)
    assert np.array_equal(kept[-3:], far[-3:])


def test_wrong_arguments_are_refused() -> None:
    cube = trimesh.creation.box()
    with pytest.raises(ValueError, match="finite"):
        folds(cube.vertices * np.nan, cube.faces)
    with pytest.raises(ValueError, match="outside"):
        folds(cube.vertices, cube.faces + 1)
