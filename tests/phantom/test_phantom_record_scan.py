"""The made-up record: closed, its imprints on the casts, each fault where it was put."""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.geometry.nearest import nearest, ready
from mountproof.geometry.poses import exp6, inverse, transform
from mountproof.phantom.arch import PhantomArch, build_arch
from mountproof.phantom.record_scan import Faults, Spot, cusp_of, joined_casts, record_surface
from mountproof.phantom.truth import closed_by, closing_rad, record_pose

POSE = record_pose(1)


@pytest.fixture(scope="module")
def casts() -> tuple[PhantomArch, PhantomArch]:
    return build_arch("upper", 30_000), build_arch("lower", 30_000)


def test_the_wax_is_one_closed_body_with_both_imprints(casts: tuple[PhantomArch, PhantomArch]) -> None:
    made = record_surface(*casts, POSE, edge_mm=0.5)
    edges = np.sort(made.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    _, count = np.unique(edges, axis=0, return_counts=True)
    assert (count % 2 == 0).all()
    corner = made.vertices_mm[made.faces]
    assert np.einsum("ij,ij->i", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])).sum() > 6 * 1000.0
    for cast, pose in zip(casts, (np.eye(4), inverse(POSE)), strict=True):
        mesh = ready(cast.vertices_mm, cast.faces)
        on = nearest(transform(pose, made.vertices_mm), mesh).distance_mm
        assert np.count_nonzero(on < 1e-9) > 800


def test_tips_lie_as_deep_as_asked(casts: tuple[PhantomArch, PhantomArch]) -> None:
    deep = record_surface(*casts, POSE, edge_mm=0.5, depth_mm=1.5).vertices_mm
    flat = record_surface(*casts, POSE, edge_mm=0.5, depth_mm=1.0).vertices_mm
    assert deep[:, 1].max() - flat[:, 1].max() == pytest.approx(0.5, abs=0.02)


def test_faults_are_where_they_were_put(casts: tuple[PhantomArch, PhantomArch]) -> None:
    good = record_surface(*casts, POSE, edge_mm=0.5)
    tip = cusp_of(casts[0], 16, "upper")
    blob = record_surface(
        *casts, POSE, edge_mm=0.5, faults=Faults(blobs=(Spot("upper", tip[0], tip[2], 1.2, 0.3),))
    )
    moved = np.abs(blob.vertices_mm - good.vertices_mm).max(axis=1) > 1e-9
    assert 0.15 < np.abs(blob.vertices_mm - good.vertices_mm).max() <= 0.3 + 1e-9
    assert np.hypot(*(good.vertices_mm[moved][:, [0, 2]] - tip[[0, 2]]).T).max() < 1.2
    twist = record_surface(*casts, POSE, edge_mm=0.5, faults=Faults(twist_mm=0.2)).vertices_mm
    up = (twist - good.vertices_mm)[:, 1]
    assert np.corrcoef(up, good.vertices_mm[:, 2] * (good.vertices_mm[:, 0] - 70.0))[0, 1] > 0.95


def test_wax_tears_where_teeth_all_but_meet(casts: tuple[PhantomArch, PhantomArch]) -> None:
    def holes(pose: np.ndarray) -> int:
        faces = record_surface(*casts, pose, edge_mm=0.4).faces
        v, e = int(faces.max()) + 1, 3 * len(faces) // 2
        return (2 - (v - e + len(faces))) // 2

    assert holes(closed_by(POSE, 0.97 * closing_rad())) > holes(POSE)


def test_the_scanner_has_its_own_coordinates_and_noise(casts: tuple[PhantomArch, PhantomArch]) -> None:
    away = exp6(np.array([0.3, 1.0, -0.4, 5.0, 6.0, 7.0]))
    plain = record_surface(*casts, POSE, edge_mm=0.6)
    noisy = record_surface(*casts, POSE, edge_mm=0.6, noise_mm=0.02, seed=3, scan_from_upper=away)
    off = transform(inverse(away), noisy.vertices_mm) - plain.vertices_mm
    assert np.std(off) == pytest.approx(0.02, rel=0.05)


def test_joined_casts_show_their_facial_sides_only(casts: tuple[PhantomArch, PhantomArch]) -> None:
    both = joined_casts(*casts, POSE)
    right = joined_casts(*casts, POSE, side="right")
    assert both.vertices_mm[:, 2].min() < -20.0 and right.vertices_mm[:, 2].min() > 0.0
    assert len(right.faces) < 0.6 * len(both.faces)
