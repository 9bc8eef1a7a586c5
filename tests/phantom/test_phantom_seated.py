"""The dentition on three seats, by its own numbers: balls that touch both walls, closed shells, a balanced push."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from mountproof.phantom.arch import ArchName, build_arch
from mountproof.phantom.seated import BALL_MM, build_seated, seats, shares


@pytest.mark.parametrize("triangles", [6_000, 20_000])
@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_seats_are_closed_shells_set_into_the_cast(arch: ArchName, triangles: int) -> None:
    cast, plain = build_seated(arch, triangles), build_arch(arch, triangles)
    assert np.array_equal(cast.faces[: len(plain.faces)], plain.faces)
    assert len(cast.teeth) == len(cast.faces)
    own = cast.faces[len(plain.faces) :]
    edges = Counter((int(f[k]), int(f[(k + 1) % 3])) for f in own for k in range(3))
    assert all(edges[b, a] == 1 and n == 1 for (a, b), n in edges.items())
    tri = cast.vertices_mm[own]
    # wound outwards: about the volume of three balls, or of three prisms
    tri = tri - tri.mean(axis=(0, 1))
    volume = np.einsum("ij,ij->", tri[:, 0], np.cross(tri[:, 1], tri[:, 2])) / 6.0
    ball = 3.0 * 4.0 / 3.0 * np.pi * BALL_MM**3
    assert volume == pytest.approx(ball if arch == "lower" else 3 * 12.9, rel=0.05)


def test_each_ball_touches_both_walls_at_a_corner_of_its_own() -> None:
    upper, lower = build_seated("upper", 20_000), build_seated("lower", 20_000)
    for seat in seats():
        for foot, normal in zip(seat.feet_mm, seat.normals, strict=True):
            assert np.linalg.norm(lower.vertices_mm - foot, axis=1).min() == 0.0
            own = lower.vertices_mm[np.linalg.norm(lower.vertices_mm - seat.centre_mm, axis=1) < 0.81]
            assert ((own - foot) @ normal).min() > -1e-12
            # corners of the wall, and a face of it that holds the foot
            flat = np.abs((upper.vertices_mm - foot) @ normal) < 1e-9
            faces = upper.faces[flat[upper.faces].all(axis=1)]
            corners = upper.vertices_mm[faces] - foot
            areas = [np.cross(corners[:, k], corners[:, (k + 1) % 3]) @ normal for k in range(3)]
            same = np.stack(areas)
            assert np.any((same >= -1e-12).all(axis=0) | (same <= 1e-12).all(axis=0))


def test_the_walls_balance_the_push_and_hold_all_six_directions() -> None:
    place = np.array([60.0, -37.0, 0.0])
    rows, total = [], np.zeros(6)
    for seat, share in zip(seats(), shares((60.0, -37.0, 0.0)), strict=True):
        for foot, normal in zip(seat.feet_mm, seat.normals, strict=True):
            rows.append(np.concatenate([np.cross(foot - place, normal), normal]))
            total += share * rows[-1]
    assert total == pytest.approx([0.0, 0.0, 0.0, 0.0, -1.0, 0.0], abs=1e-12)
    assert np.linalg.svd(np.array(rows) / [20, 20, 20, 1, 1, 1])[1].min() > 0.1
