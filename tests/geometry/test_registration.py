"""Registration: exact on clean data, honest about its doubt, blind where nothing holds, deaf to what does not belong."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.spatial import cKDTree

from mountproof.geometry import nearest as nearest_module
from mountproof.geometry.nearest import Mesh, ready
from mountproof.geometry.poses import Array, exp6, inverse, log6, transform
from mountproof.geometry.registration import Registered, register_surface
from mountproof.phantom.arch import build_arch


@pytest.fixture(scope="module")
def cast() -> tuple[Array, Array, Mesh]:
    made = build_arch("upper", 40_000)
    return made.vertices_mm, made.faces, ready(made.vertices_mm, made.faces)


def _on(cast: tuple[Array, Array, Mesh], n: int, seed: int) -> Array:
    v, f, _ = cast
    rng = np.random.default_rng(seed)
    which = rng.integers(0, len(f), n)
    return np.einsum("ij,ijk->ik", rng.dirichlet([1, 1, 1], n), v[f[which]])


def _off_um(found: Registered, true: Array, points: Array) -> float:
    return 1e3 * float(np.abs(transform(found.pose, points) - transform(true, points)).max())


_twist = st.tuples(
    st.lists(st.floats(-0.006, 0.006), min_size=3, max_size=3),
    st.lists(st.floats(-0.5, 0.5), min_size=3, max_size=3),
).map(lambda t: exp6(np.array([*t[0], *t[1]])))


@settings(max_examples=12)
@given(away=_twist, seed=st.integers(0, 1000))
def test_points_of_the_surface_find_their_pose(
    cast: tuple[Array, Array, Mesh], away: Array, seed: int
) -> None:
    on = _on(cast, 4000, seed)
    true = away
    found = register_surface(transform(inverse(true), on), cast[2], np.eye(4), most_mm=4.0)
    assert found.settled
    assert _off_um(found, true, transform(inverse(true), on)) < 0.1


def test_decimated_scans_still_agree_to_twenty_micrometres(cast: tuple[Array, Array, Mesh]) -> None:
    fine = build_arch("upper", 160_000)
    true = exp6(np.array([0.01, -0.015, 0.008, 0.3, -0.2, 0.25]))
    points = transform(inverse(true), fine.vertices_mm[::3])
    found = register_surface(points, cast[2], np.eye(4))
    assert found.settled
    assert _off_um(found, true, points) < 20.0


def test_what_does_not_belong_weighs_nothing(cast: tuple[Array, Array, Mesh]) -> None:
    on = _on(cast, 8000, 5)
    right = on[:, 2] > 12
    rng = np.random.default_rng(6)
    noisy = on + rng.normal(0, 0.01, on.shape)
    noisy[right, 1] -= 0.6  # a part that was cut away, or a blob
    true = exp6(np.array([0.005, 0.004, -0.006, 0.1, 0.1, -0.1]))
    found = register_surface(transform(inverse(true), noisy), cast[2], np.eye(4))
    assert _off_um(found, true, transform(inverse(true), on)) < 30.0
    assert found.used[~right].mean() > 0.97
    steep_enough = np.abs(found.residual_mm[right]) > 0.2
    assert not np.any(found.used[right][steep_enough])


def test_intervals_hold_what_they_promise(cast: tuple[Array, Array, Mesh]) -> None:
    """Whitened errors of 400 registrations: mean square 6 +- 5 SDs (chi-square), independent noise on every point."""
    total = []
    for seed in range(400):
        rng = np.random.default_rng(seed)
        on = _on(cast, 500, seed)
        found = register_surface(on + rng.normal(0, 0.02, on.shape), cast[2], np.eye(4))
        error = log6(found.pose)
        total.append(float(error @ np.linalg.solve(found.cov6, error)))
    # The larger of two estimates is taken, so the error may look smaller, never larger, than promised.
    assert 4.0 < np.mean(total) < 6.0 + 5.0 * math.sqrt(2 * 6 / 400)
    inside = np.mean(
        np.array(total) < 12.5916
    )  # chi-square, 6 degrees of freedom, 0.95 (ISO/IEC tables; from memory)
    assert 0.93 <= inside <= 0.99


def test_noise_that_hangs_together_widens_the_doubt(cast: tuple[Array, Array, Mesh]) -> None:
    on = _on(cast, 6000, 9)
    rng = np.random.default_rng(9)
    cell = np.floor(on / 3.0).astype(int)
    _, which = np.unique(cell, axis=0, return_inverse=True)
    together = rng.normal(0, 0.02, (which.max() + 1, 3))[which.ravel()]
    alone = rng.normal(0, 0.02, on.shape)
    a = register_surface(on + alone, cast[2], np.eye(4))
    b = register_surface(on + together, cast[2], np.eye(4))
    assert np.sqrt(np.trace(b.cov6[3:, 3:])) > 1.5 * np.sqrt(np.trace(a.cov6[3:, 3:]))


def test_a_plane_holds_three_directions_and_a_ball_three_others() -> None:
    grid = np.array([[x, 0.0, z] for x in np.linspace(-20, 20, 30) for z in np.linspace(-20, 20, 30)])
    f = [[30 * i + j, 30 * i + j + 1, 30 * (i + 1) + j] for i in range(29) for j in range(29)]
    f += [[30 * i + j + 1, 30 * (i + 1) + j + 1, 30 * (i + 1) + j] for i in range(29) for j in range(29)]
    rng = np.random.default_rng(1)
    points = np.c_[rng.uniform(-18, 18, 900), rng.normal(0, 0.01, 900), rng.uniform(-18, 18, 900)]
    found = register_surface(points, ready(grid, np.array(f)), exp6(np.array([0.01, 0, 0.01, 0, 0.2, 0])))
    assert np.isinf(found.held).sum() == 3
    free = found.directions[:, np.isinf(found.held)]
    # about y, along x, along z: nothing holds these
    assert np.abs(free[[0, 2, 4]]).max() < 1e-6


def test_too_little_is_refused(cast: tuple[Array, Array, Mesh]) -> None:
    with pytest.raises(ValueError, match="look at the start"):
        register_surface(np.full((50, 3), 1e4), cast[2], np.eye(4))


def test_another_route_ends_at_the_same_pose(cast: tuple[Array, Array, Mesh]) -> None:
    """Corners of the mesh, partners by a tree of points, a general least-squares solver: the same pose to a micrometre."""
    v, f, mesh = cast
    across = np.cross(v[f[:, 1]] - v[f[:, 0]], v[f[:, 2]] - v[f[:, 0]])
    normals = np.zeros_like(v)
    for k in range(3):
        np.add.at(normals, f[:, k], across)
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    away = exp6(np.array([0.004, -0.003, 0.005, 0.1, -0.1, 0.1]))
    points = transform(inverse(away), v[::9])
    tree = cKDTree(v)

    def off(twist: Array, at: Array) -> Array:
        moved = transform(exp6(twist), at)
        _, row = tree.query(moved)
        out: Array = np.einsum("ij,ij->i", moved - v[row], normals[row])
        return out

    other = np.eye(4)
    for _ in range(4):  # where partners change the solver stops short, and begins anew
        other = exp6(least_squares(off, np.zeros(6), args=(transform(other, points),), xtol=1e-14).x) @ other
    found = register_surface(points, mesh, np.eye(4))
    assert _off_um(found, other, points) < 1.0


def test_the_same_bytes_on_one_thread_and_on_two(
    cast: tuple[Array, Array, Mesh], monkeypatch: pytest.MonkeyPatch
) -> None:
    on = _on(cast, 20_000, 3)
    noisy = on + np.random.default_rng(3).normal(0, 0.01, on.shape)
    found = []
    for workers in (1, 2):
        monkeypatch.setattr(nearest_module, "ThreadPoolExecutor", partial(ThreadPoolExecutor, workers))
        found.append(register_surface(noisy, cast[2], exp6(np.array([0.002, 0, 0, 0.1, 0, 0]))))
    for one, two in zip(*found, strict=True):
        assert np.asarray(one).tobytes() == np.asarray(two).tobytes()


def test_it_says_how_far_it_is_and_can_be_stopped(cast: tuple[Array, Array, Mesh]) -> None:
    points = transform(exp6(np.array([0.003, 0, 0, 0, 0.1, 0])), _on(cast, 8000, 2))
    shares: list[float] = []
    register_surface(points, cast[2], np.eye(4), progress=shares.append)
    assert shares[0] == 0.0 and shares[-1] == 1.0 and shares == sorted(shares)

    class Stopped(Exception):
        pass

    def stop(share: float) -> None:
        if share > 0.25:
            raise Stopped

    with pytest.raises(Stopped):
        register_surface(points, cast[2], np.eye(4), progress=stop)
