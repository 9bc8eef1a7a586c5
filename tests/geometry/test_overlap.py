"""The exact overlap of two meshes: closed forms, laws, and booleans of closed bodies by manifold3d."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contact
from mountproof.geometry.overlap import Overlap, overlap
from mountproof.geometry.overlap_arches import overlap_of_arches
from mountproof.geometry.poses import rotation_z
from mountproof.geometry.surface import prepare
from mountproof.geometry.sweep import sweep
from naive.bodies import Body, ball, box, placed

SEEDS = st.integers(0, 2**32 - 1)


def outward(body: Body) -> Body:
    """Wind the faces of a closed body so that their normals point out: its volume is then above zero."""
    a, b, c = (body.vertices[body.faces[:, k]] for k in range(3))
    return body if np.einsum("ij,ij->", a, np.cross(b, c)) > 0.0 else Body(body.vertices, body.faces[:, ::-1])


def turned(body: Body, rng: np.random.Generator, apart: float) -> Body:
    moved = body.vertices @ Rotation.random(random_state=int(rng.integers(2**31))).as_matrix().T
    return Body(moved + rng.uniform(-apart, apart, 3), body.faces)


def hull(rng: np.random.Generator, n: int) -> Body:
    points = rng.standard_normal((n, 3))
    found = ConvexHull(points)
    used, faces = np.unique(found.simplices, return_inverse=True)
    faces = faces.reshape(-1, 3).astype(np.int32)
    corners = points[used][faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    wrong = np.einsum("ij,ij->i", normal, found.equations[:, :3]) < 0.0
    faces[wrong] = faces[wrong][:, ::-1]
    return Body(points[used], faces)


def solid(body: Body) -> manifold3d.Manifold:
    return manifold3d.Manifold(manifold3d.Mesh64(body.vertices, body.faces.astype(np.uint64)))


def of(a: Body, b: Body) -> Overlap:
    return overlap(a.vertices, a.faces, b.vertices, b.faces)


@settings(max_examples=40)
@given(seed=SEEDS)
def test_volume_and_area_are_those_of_a_boolean(seed: int) -> None:
    """manifold3d, a general-purpose library: 1e-6 of closed bodies is asked; both agree to rounding."""
    rng = np.random.default_rng(seed)
    shapes = (hull(rng, 30), ball(2, 1.3), box(0.9, 1.1, 0.6), hull(rng, 8))
    a, b = (outward(shapes[k]) for k in rng.permutation(4)[:2])
    b = turned(b, rng, 0.9)
    found, wanted = of(a, b), solid(a) ^ solid(b)
    assert found.closed
    assert found.volume_mm3 == pytest.approx(wanted.volume(), rel=1e-9, abs=1e-12)
    assert found.a_mm2 + found.b_mm2 == pytest.approx(wanted.surface_area(), rel=1e-9, abs=1e-10)


@given(deep=st.floats(0.01, 0.9), aside=st.floats(-0.4, 0.4))
def test_two_boxes_share_a_box(deep: float, aside: float) -> None:
    a = outward(box(1.0, 1.0, 1.0))
    b = outward(placed(box(0.7, 1.0, 0.6), (aside * 0.5, 2.0 - deep, aside * 0.3)))
    found = of(a, b)
    assert found.volume_mm3 == pytest.approx(1.4 * 1.2 * deep, rel=1e-12)
    assert found.a_mm2 == pytest.approx(1.4 * 1.2, rel=1e-12)
    assert found.b_mm2 == pytest.approx(1.4 * 1.2 + 2 * deep * (1.4 + 1.2), rel=1e-12)


@given(seed=SEEDS)
def test_it_is_the_same_both_ways_and_wherever_both_stand(seed: int) -> None:
    rng = np.random.default_rng(seed)
    a, b = outward(hull(rng, 20)), turned(outward(hull(rng, 20)), rng, 0.7)
    there, back = of(a, b), of(b, a)
    assert (there.volume_mm3, there.a_mm2) == pytest.approx(
        (back.volume_mm3, back.b_mm2), rel=1e-9, abs=1e-12
    )
    turn, away = Rotation.random(random_state=seed % 2**31).as_matrix(), rng.uniform(-100, 100, 3)
    far = of(*(Body(x.vertices @ turn.T + away, x.faces) for x in (a, b)))
    assert far.volume_mm3 == pytest.approx(there.volume_mm3, rel=1e-8, abs=1e-10)


def test_one_inside_the_other_and_none_at_all() -> None:
    big, small = outward(ball(2, 2.0)), outward(ball(2, 0.5))
    assert of(big, small).volume_mm3 == pytest.approx(solid(small).volume(), rel=1e-12)
    assert of(small, big).a_mm2 == pytest.approx(solid(small).surface_area(), rel=1e-12)
    away = placed(small, (5.0, 0.0, 0.0))
    assert of(big, away) == Overlap(0.0, 0.0, 0.0, 0.0)
    assert of(Body(np.zeros((0, 3)), np.zeros((0, 3), np.int32)), big).volume_mm3 == 0.0


def test_a_border_inside_the_overlap_is_told() -> None:
    a, b = outward(ball(3, 1.0)), placed(outward(ball(3, 1.0)), (0.0, 1.5, 0.0))
    whole = of(a, b)
    middle = a.vertices[a.faces].mean(axis=1)
    holed = of(Body(a.vertices, a.faces[middle[:, 1] < 0.9]), b)
    assert whole.closed and not holed.closed
    far = of(Body(a.vertices, a.faces[middle[:, 1] > 0.2]), b)  # its border lies outside: nothing is lost
    assert far.closed and far.volume_mm3 == pytest.approx(whole.volume_mm3, rel=1e-12)


def test_an_edge_of_three_faces_ends_no_body() -> None:
    v = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1]], float)
    f = np.array([[0, 1, 2], [0, 1, 3], [0, 1, 4]], np.int32)
    with pytest.raises(ValueError, match="more than two faces"):
        overlap(v, f, v, f[:1])


@pytest.mark.parametrize("flip", [False, True])
def test_arches_overlap_patch_by_patch(flip: bool) -> None:
    """Two balls under two others about a hinge: the sum of the booleans, and what the sweep says within its own error."""
    up = [placed(outward(ball(4, 2.0)), (60.0, -20.0, z)) for z in (-20.0, 20.0)]
    low = [placed(outward(ball(4, 1.8)), (60.3, -24.2, z)) for z in (-19.8, 20.5)]

    def both(bodies: list[Body]) -> Body:
        first, second = bodies
        faces = np.concatenate([first.faces, second.faces + len(first.vertices)])
        return Body(np.concatenate([first.vertices, second.vertices]), faces[:, ::-1] if flip else faces)

    upper, lower = prepare(*both(up), arch="upper"), prepare(*both(low), arch="lower")
    first = first_contact(upper, lower)
    assert first is not None
    closing = first.closing_rad + 0.3 / 60.0
    chart = closing_map(upper, lower)
    found = overlap_of_arches(upper, lower, chart, closing)
    turn = rotation_z(closing)[:3, :3]
    wanted = sum(
        (solid(a) ^ solid(Body(b.vertices @ turn.T, b.faces))).volume() for a, b in zip(up, low, strict=True)
    )
    assert len(found) == 2 and all(one.closed for one in found)
    assert sum(one.volume_mm3 for one in found) == pytest.approx(wanted, rel=1e-9)
    ones = (np.ones(len(upper.faces), int), np.ones(len(lower.faces), int))
    raster = sweep(upper, lower, *ones, [closing], chart=chart)
    assert float(raster.volume_mm3.sum()) == pytest.approx(wanted, rel=0.01)
    assert overlap_of_arches(upper, lower, chart, first.closing_rad - 0.1) == ()
    assert math.isclose(sum(one.a_mm2 for one in found), float(raster.upper_mm2.sum()), rel_tol=0.05)
