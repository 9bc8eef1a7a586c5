"""Blocks of faces: what order they come in, the bricks around them, and what each face owns."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from mountproof.geometry._near_blocks import (
    _brick_gap2,
    _bricks,
    _carried_brick,
    _owned,
    _swept_brick_gap2,
)
from mountproof.geometry._nearest import LEAF_FACES
from mountproof.geometry.poses import exp6, transform
from mountproof.geometry.surface import Surface, prepare
from mountproof.phantom.bodies import ball_mesh

SEEDS = st.integers(0, 2**32 - 1)


@pytest.fixture(scope="module")
def egg() -> Surface:
    v, f, _ = ball_mesh((60.0, -40.0, 0.0), 1.0, 24)
    return prepare(v * [1.0, 1.0, 2.0] + 0.01 * np.sin(40.0 * v[:, ::-1]), f, arch="lower")


def faces_of(row: int, count: int, node: int) -> slice:
    """The faces of a block, by their places."""
    leaves = 1
    while node < row:
        node, leaves = 2 * node, 2 * leaves
    return slice((node - row) * LEAF_FACES, min((node - row + leaves) * LEAF_FACES, count))


def test_every_face_is_in_one_leaf_and_leaves_stay_small(egg: Surface) -> None:
    blocks = egg.blocks
    assert np.array_equal(np.sort(blocks.ids), np.arange(len(egg.faces)))
    assert np.array_equal(blocks.corners, egg.rest_mm[egg.faces[blocks.ids]])
    held = blocks.boxes[blocks.row :]
    held = held[held[:, 0] <= held[:, 3]]
    across = np.linalg.norm(held[:, 3:] - held[:, :3], axis=1)
    side = np.linalg.norm(blocks.corners - np.roll(blocks.corners, 1, axis=1), axis=2).max()
    assert (
        across.max() < 4.0 * side
    )  # four faces that lie together; along a curve some reached across the body


def test_a_brick_holds_its_faces_and_its_directions_are_square(egg: Surface) -> None:
    blocks = egg.blocks
    for node in range(1, 2 * blocks.row):
        inside = blocks.corners[faces_of(blocks.row, len(blocks.ids), node)].reshape(-1, 3)
        if len(inside) == 0:
            continue
        axes, middle, half = (
            blocks.bricks[node, :9].reshape(3, 3),
            blocks.bricks[node, 9:12],
            blocks.bricks[node, 12:],
        )
        assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
        seen = np.abs((inside - middle) @ axes.T)
        assert np.all(seen <= half + 1e-12)
        assert seen.max(axis=0) == pytest.approx(half, abs=1e-12)  # and no larger than it must be


@hypothesis_settings(max_examples=200, deadline=None)
@given(SEEDS)
def test_bricks_are_never_told_farther_apart_than_what_they_hold(seed: int) -> None:
    rng = np.random.default_rng(seed)
    size = 10.0 ** rng.uniform(-2, 1)
    corners = [rng.normal(size=(4, 3, 3)) * rng.uniform(0.01, 1.0, 3) * size for _ in range(2)]
    bricks = [np.zeros((2, 15)) for _ in range(2)]
    for own, out in zip(corners, bricks, strict=True):
        boxes = np.zeros((2, 6))
        boxes[1, :3], boxes[1, 3:] = own.min(axis=(0, 1)), own.max(axis=(0, 1))
        _bricks(own, boxes, 1, out)
    poses = [exp6(rng.normal(size=6) * ([0.5] * 3 + [2.0 * size] * 3)) for _ in range(2)]
    carried = [np.zeros((1, 12)) for _ in range(2)]
    for pose, out in zip(poses, carried, strict=True):
        _carried_brick(bricks[1], 1, np.ascontiguousarray(pose), out, 0)
    # places in the faces of both, at the first pose and on the straight way to the second
    share = rng.dirichlet(np.ones(3), size=(60, 4))
    still, low = (np.einsum("nfk,fkx->nfx", share, own).reshape(-1, 3) for own in corners)
    there = [transform(pose, low) for pose in poses]
    apart2 = ((still[:, None] - there[0][None]) ** 2).sum(axis=2).min()
    assert _brick_gap2(bricks[0], 1, bricks[1], 1, carried[0], 0) <= apart2 * (1.0 + 1e-9) + 1e-18
    swept2 = _swept_brick_gap2(bricks[0], 1, bricks[1], 1, carried[0], carried[1], 0)
    for part in np.linspace(0.0, 1.0, 5):
        on_way = (1.0 - part) * there[0] + part * there[1]
        apart2 = ((still[:, None] - on_way[None]) ** 2).sum(axis=2).min()
        assert swept2 <= apart2 * (1.0 + 1e-9) + 1e-18


@pytest.mark.parametrize("seed", range(4))
def test_each_corner_and_each_edge_is_owned_once(egg: Surface, seed: int) -> None:
    # any order and orientation of the faces, a fan around one edge and a face told twice among them
    rng = np.random.default_rng(seed)
    faces = np.concatenate([egg.faces, egg.faces[:1], [[0, 1, k] for k in (7, 9, 11)]]).astype(np.int32)
    faces = np.array(
        [np.roll(f, rng.integers(3))[:: rng.choice([-1, 1])] for f in rng.permutation(faces)], np.int32
    )
    n, m = len(egg.rest_mm), len(faces)
    owned = np.zeros(m, np.int32)
    _owned(faces, np.zeros(n, np.int32), np.zeros(3 * m, np.int32), np.zeros(n, np.int32), owned)
    corners = [int(faces[f, c]) for f in range(m) for c in range(3) if owned[f] >> c & 1]
    assert sorted(corners) == sorted(set(faces.ravel().tolist()))
    every = {frozenset((int(f[c]), int(f[(c + 1) % 3]))) for f in faces for c in range(3)}
    edges = [
        frozenset((int(faces[f, c]), int(faces[f, (c + 1) % 3])))
        for f in range(m)
        for c in range(3)
        if owned[f] >> (3 + c) & 1
    ]
    assert len(edges) == len(set(edges)) and set(edges) == every
