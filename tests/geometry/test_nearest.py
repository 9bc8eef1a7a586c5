"""Nearest points against a slow twin that looks at every face, and against open3d's scene where it is installed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.geometry.nearest import along_curve, nearest, ready
from mountproof.geometry.poses import exp6, transform
from mountproof.phantom.arch import build_arch


def _naive(point: np.ndarray, a: np.ndarray, b: np.ndarray, c: np.ndarray) -> float:
    """Distance to one triangle: least of the plane (if its foot is inside) and the three sides."""
    best = min(_to_side(point, a, b), _to_side(point, b, c), _to_side(point, c, a))
    n = np.cross(b - a, c - a)
    if not np.any(n):
        return best
    n = n / np.linalg.norm(n)
    foot = point - ((point - a) @ n) * n
    sides = [np.cross(q - p, foot - p) @ n for p, q in ((a, b), (b, c), (c, a))]
    return min(best, abs(float((point - a) @ n))) if min(sides) >= 0 else best


def _to_side(point: np.ndarray, a: np.ndarray, b: np.ndarray) -> float:
    along = b - a
    size = along @ along
    t = min(1.0, max(0.0, float((point - a) @ along / size))) if size > 0 else 0.0
    return float(np.linalg.norm(point - a - t * along))


@settings(max_examples=60)
@given(seed=st.integers(0, 10**6), faces=st.integers(1, 60), scale=st.sampled_from([1e-3, 1.0, 200.0]))
def test_the_slow_twin_finds_nothing_nearer(seed: int, faces: int, scale: float) -> None:
    rng = np.random.default_rng(seed)
    v = rng.normal(size=(faces + 2, 3)) * scale
    f = rng.integers(0, len(v), (faces, 3))  # slivers, faces without area and doubled faces among them
    points = rng.normal(size=(25, 3)) * scale * 1.5
    found = nearest(points, ready(v, f))
    slow = [min(_naive(p, *v[t]) for t in f) for p in points]
    assert found.distance_mm == pytest.approx(slow, rel=1e-12, abs=1e-12 * scale)
    assert np.linalg.norm(found.place_mm - points, axis=1) == pytest.approx(slow, rel=1e-9, abs=1e-9 * scale)


@settings(max_examples=20)
@given(seed=st.integers(0, 10**6))
def test_order_hint_and_limit_change_nothing(seed: int) -> None:
    rng = np.random.default_rng(seed)
    v, f = rng.normal(size=(300, 3)), rng.integers(0, 300, (500, 3))
    mesh = ready(v, f)
    points = rng.normal(size=(400, 3))
    plain = nearest(points, mesh)
    order = along_curve(points)
    assert sorted(order) == list(range(400))
    turned = nearest(points[order], mesh)
    assert np.array_equal(turned.row, plain.row[order])
    assert turned.place_mm.tobytes() == plain.place_mm[order].tobytes()
    hinted = nearest(points, mesh, hint=rng.integers(-1, 500, 400).astype(np.int32))
    assert np.array_equal(hinted.row, plain.row)
    limit = float(np.median(plain.distance_mm))
    near = nearest(points, mesh, most_mm=limit)
    assert np.array_equal(near.row >= 0, plain.distance_mm <= limit)
    assert np.array_equal(near.row[near.row >= 0], plain.row[near.row >= 0])


def test_the_same_bytes_on_one_thread_and_on_many() -> None:
    cast = build_arch("upper", 20_000)
    mesh = ready(cast.vertices_mm, cast.faces)
    rng = np.random.default_rng(2)
    points = cast.vertices_mm[rng.integers(0, len(cast.vertices_mm), 30_000)] + rng.normal(
        0, 0.3, (30_000, 3)
    )
    whole = nearest(points, mesh)
    parts = [nearest(points[k : k + 1000], mesh) for k in range(0, 30_000, 1000)]
    assert whole.place_mm.tobytes() == np.concatenate([p.place_mm for p in parts]).tobytes()


def test_a_moved_mesh_has_moved_nearest_points() -> None:
    cast = build_arch("lower", 12_000)
    rng = np.random.default_rng(3)
    points = cast.vertices_mm[::7] + rng.normal(0, 0.5, cast.vertices_mm[::7].shape)
    move = exp6(np.array([0.4, -0.2, 0.9, 10.0, -20.0, 5.0]))
    a = nearest(points, ready(cast.vertices_mm, cast.faces))
    b = nearest(transform(move, points), ready(transform(move, cast.vertices_mm), cast.faces))
    assert b.distance_mm == pytest.approx(a.distance_mm, abs=1e-10)


def test_what_lies_beyond_the_end_of_a_surface_is_at_its_border() -> None:
    v = np.array([[x, y, 0.0] for x in range(4) for y in range(4)])
    f = [[4 * x + y, 4 * (x + 1) + y, 4 * x + y + 1] for x in range(3) for y in range(3)]
    f += [[4 * (x + 1) + y, 4 * (x + 1) + y + 1, 4 * x + y + 1] for x in range(3) for y in range(3)]
    mesh = ready(v, np.array(f))
    asked = np.array([[1.4, 1.6, 1.0], [5.0, 1.5, 0.0], [-1.0, -1.0, 0.3], [1.0, 1.0, 2.0], [3.0, 1.2, 0.5]])
    assert nearest(asked, mesh).on_border.tolist() == [False, True, True, False, True]


@pytest.mark.parametrize(
    ("v", "f"),
    [
        ([[0, 0, 0]], [[0, 0, 1]]),
        ([[0, 0, 0]], np.zeros((0, 3))),
        ([[0, 0, np.nan], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]]),
        ([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, -2]]),
    ],
)
def test_what_is_no_mesh_is_refused(v: object, f: object) -> None:
    with pytest.raises(ValueError):
        ready(np.array(v, dtype=float), np.array(f))
