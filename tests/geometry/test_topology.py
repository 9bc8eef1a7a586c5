"""Topology against counting with dictionaries, closed forms, and a general-purpose mesh library."""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import pairwise
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from mountproof.geometry import topology as tp

CUBE_V = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
CUBE_F = np.array(
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]
)  # fmt: skip


def sheet(nx_: int, ny: int, step: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """A flat sheet of nx by ny squares in z = 0, facing +z."""
    x, y = np.meshgrid(np.arange(nx_ + 1), np.arange(ny + 1), indexing="ij")
    v = np.stack([x.ravel() * step, y.ravel() * step, np.zeros(x.size)], axis=1)
    i, j = (a.ravel() for a in np.meshgrid(np.arange(nx_), np.arange(ny), indexing="ij"))
    a = i * (ny + 1) + j
    b, c, d = a + ny + 1, a + ny + 2, a + 1
    return v, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


def naive_edges(faces: np.ndarray) -> dict[frozenset[int], list[tuple[int, int]]]:
    uses: dict[frozenset[int], list[tuple[int, int]]] = defaultdict(list)
    for a, b, c in faces.tolist():
        if len({a, b, c}) == 3:
            for p, q in ((a, b), (b, c), (c, a)):
                uses[frozenset((p, q))].append((p, q))
    return uses


small_faces = hnp.arrays(np.int32, st.tuples(st.integers(0, 30), st.just(3)), elements=st.integers(0, 9))


@given(small_faces)
@settings(derandomize=True, deadline=None, max_examples=300)
def test_any_soup_of_faces_is_counted_as_with_dictionaries(faces: np.ndarray) -> None:
    uses = naive_edges(faces)
    border = Counter(tuple(e) for e in tp.border_edges(faces).tolist())
    assert border == Counter(u[0] for u in uses.values() if len(u) == 1)

    v = np.random.default_rng(5).normal(size=(10, 3))
    top = tp.inspect(v, faces)
    more = {e for e, u in uses.items() if len(u) > 2}
    over = {e for e, u in uses.items() if len(u) == 2 and u[0] == u[1]}
    assert {frozenset(e) for e in top.not_manifold.tolist()} == more
    assert {frozenset(e) for e in top.turned_over.tolist()} == over
    assert len(top.not_manifold) == len(more) and len(top.turned_over) == len(over)

    seen: set[tuple[int, ...]] = set()
    doubled = []
    for i, f in enumerate(faces.tolist()):
        key = tuple(sorted(f))
        if key in seen:
            doubled.append(i)
        seen.add(key)
    assert top.duplicate.tolist() == doubled
    assert top.n_unused == 10 - len(set(faces.ravel().tolist()))

    graph = nx.Graph()
    graph.add_nodes_from(set(faces.ravel().tolist()))
    graph.add_edges_from((f[i], f[(i + 1) % 3]) for f in faces.tolist() for i in range(3))
    want = list(nx.connected_components(graph))
    of_face = top.components.of_face
    got = [set(faces[of_face == k].ravel().tolist()) for k in range(top.components.n_faces.size)]
    assert sorted(map(sorted, got)) == sorted(map(sorted, want))
    first = [int(np.flatnonzero(of_face == k)[0]) for k in range(len(got))]
    assert first == sorted(first)
    assert top.components.n_faces.sum() == len(faces)

    # Every border edge is walked once, and consecutive ones meet.
    assert top.loops.vertex.size == len(top.border)
    edges = set(map(tuple, top.border.tolist()))
    for k in range(top.loops.n_edges.size):
        walk = top.loops.vertex[top.loops.start[k] : top.loops.start[k + 1]].tolist()
        if top.loops.closed[k]:
            walk.append(walk[0])
        for step in pairwise(walk):
            assert step in edges


@given(st.permutations(range(24)), st.integers(0, 2))
@settings(derandomize=True, deadline=None, max_examples=40)
def test_order_of_faces_and_corners_changes_no_count(order: list[int], turn: int) -> None:
    v, f = sheet(4, 3)
    f = np.delete(f, [1, 13], axis=0)
    order = [i for i in order if i < len(f)]
    g = np.roll(f[order], turn, axis=1)
    one, two = tp.inspect(v, f), tp.inspect(v, g)
    assert sorted(map(tuple, one.border.tolist())) == sorted(map(tuple, two.border.tolist()))
    assert np.sort(one.loops.length_mm).tolist() == pytest.approx(np.sort(two.loops.length_mm).tolist())
    assert one.area_mm2.sum() == pytest.approx(two.area_mm2.sum())


def test_a_cube_has_no_border_and_its_volume() -> None:
    top = tp.inspect(CUBE_V * 3 + 100, CUBE_F)
    assert top.border.shape == (0, 2) and top.watertight.tolist() == [True]
    assert top.volume_mm3[0] == pytest.approx(27) and top.area_mm2[0] == pytest.approx(54)
    assert tp.inspect(CUBE_V, CUBE_F[:, ::-1]).volume_mm3[0] == pytest.approx(-1)


def test_an_open_box_is_capped_to_its_volume_and_knows_inside_from_outside() -> None:
    keep = np.ones(12, bool)
    keep[[6, 7]] = False
    top = tp.inspect(CUBE_V, CUBE_F[keep])
    assert top.watertight.tolist() == [False]
    assert top.volume_mm3[0] == pytest.approx(1.0)
    assert top.loops.length_mm.tolist() == pytest.approx([4.0])
    assert top.loops.centroid_mm[0] == pytest.approx([0.5, 1.0, 0.5])
    assert tp.inspect(CUBE_V, CUBE_F[keep][:, ::-1]).volume_mm3[0] == pytest.approx(-1.0)


def test_outer_border_and_holes_of_a_sheet() -> None:
    v, f = sheet(10, 8)
    middle = v[f].mean(axis=1)
    inside = (np.abs(middle[:, 0] - 4) < 1) & (np.abs(middle[:, 1] - 4) < 1)
    single = (np.abs(middle[:, 0] - 7.5) < 0.5) & (np.abs(middle[:, 1] - 1.5) < 0.5)
    top = tp.inspect(v, f[~inside & ~single])
    assert top.loops.closed.all()
    by_length = np.argsort(top.loops.length_mm)
    assert top.loops.length_mm[by_length].tolist() == pytest.approx([4, 8, 36])
    assert top.loops.n_edges[by_length].tolist() == [4, 8, 36]
    assert top.loops.hole[by_length].tolist() == [True, True, False]
    assert top.loops.centroid_mm[by_length[0]] == pytest.approx([7.5, 1.5, 0])
    assert top.loops.size_mm[by_length] == pytest.approx([2**0.5, 8**0.5, 164**0.5])


def test_a_small_border_of_a_nearly_closed_body_is_a_hole() -> None:
    ball = trimesh.creation.icosphere(subdivisions=3, radius=5)
    top = tp.inspect(ball.vertices, ball.faces[1:])
    assert top.loops.hole.tolist() == [True] and top.loops.n_edges.tolist() == [3]
    assert top.volume_mm3[0] == pytest.approx(ball.volume, rel=1e-9)


def test_holes_that_touch_in_one_vertex_are_one_hole_and_sheets_that_touch_keep_two_borders() -> None:
    v, f = sheet(6, 6)
    middle = v[f].mean(axis=1)
    hole = (np.abs(middle[:, 0] - 2.5) < 0.5) & (np.abs(middle[:, 1] - 2.5) < 0.5)
    hole |= (np.abs(middle[:, 0] - 3.5) < 0.5) & (np.abs(middle[:, 1] - 3.5) < 0.5)
    top = tp.inspect(v, f[~hole])
    assert sorted(top.loops.n_edges.tolist()) == [8, 24]
    assert top.loops.closed.all()
    apart = tp.inspect(v, f[hole])
    assert apart.loops.n_edges.tolist() == [4, 4] and apart.loops.closed.all()
    assert apart.components.n_faces.tolist() == [4]


def test_flat_faces_are_named_and_do_not_part_their_neighbours() -> None:
    f = np.vstack([CUBE_F, [[0, 0, 5]], [[1, 3, 3]]])
    v = np.vstack([CUBE_V, [[2, 0, 0], [3, 0, 0], [4, 0, 0]]])
    top = tp.inspect(v, np.vstack([f, [[8, 9, 10]]]))
    assert top.flat.tolist() == [12, 13, 14]
    assert top.border.tolist() == [[8, 9], [9, 10], [10, 8]]
    assert top.watertight.tolist() == [True, False]


def test_a_fin_on_a_cube_is_not_manifold_and_a_flipped_face_is_turned_over() -> None:
    v = np.vstack([CUBE_V, [[2, 2, 2]]])
    fin = tp.inspect(v, np.vstack([CUBE_F, [[0, 1, 8]]]))
    assert fin.not_manifold.tolist() == [[0, 1]]
    flipped = CUBE_F.copy()
    flipped[0] = flipped[0, ::-1]
    assert sorted(map(tuple, tp.inspect(CUBE_V, flipped).turned_over.tolist())) == [(0, 1), (0, 3), (1, 3)]


@pytest.mark.parametrize("seed", range(3))
def test_areas_and_volumes_agree_with_trimesh(seed: int) -> None:
    rng = np.random.default_rng(seed)
    bodies = [
        trimesh.creation.torus(major_radius=4, minor_radius=1 + rng.random()),
        trimesh.creation.icosphere(subdivisions=2, radius=1 + rng.random()),
        trimesh.creation.box(extents=rng.random(3) + 1),
    ]
    for i, body in enumerate(bodies):
        body.apply_translation([20 * i + 300, -40, 7])
    whole = trimesh.util.concatenate(bodies)
    top = tp.inspect(whole.vertices, whole.faces)
    assert top.components.n_faces.tolist() == [len(b.faces) for b in bodies]
    assert top.volume_mm3 == pytest.approx([b.volume for b in bodies], rel=1e-9)
    assert top.area_mm2 == pytest.approx([b.area for b in bodies], rel=1e-9)
    assert top.size_mm == pytest.approx([b.scale for b in bodies], rel=1e-9)


def test_a_fan_of_half_a_million_faces_about_one_vertex_takes_no_longer_than_a_sheet() -> None:
    n = 500_000
    ring = np.arange(1, n + 1)
    f = np.stack([np.zeros(n, int), ring, np.roll(ring, -1)], axis=1)
    angle = 2 * np.pi * np.arange(n) / n
    v = np.vstack([[0, 0, 1], np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)])
    top = tp.inspect(v, f)
    assert top.loops.n_edges.tolist() == [n]


def test_wrong_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="outside"):
        tp.components(CUBE_F, 7)
    with pytest.raises(ValueError, match="outside"):
        tp.border_edges(CUBE_F - 1)
    with pytest.raises(ValueError, match=r"\(m, 3\)"):
        tp.border_edges(CUBE_F[:, :2])
    with pytest.raises(TypeError, match="integers"):
        tp.border_edges(CUBE_F.astype(float))
    with pytest.raises(ValueError, match="finite"):
        tp.inspect(CUBE_V * np.nan, CUBE_F)
    with pytest.raises(ValueError, match=r"\(n, 3\)"):
        tp.inspect(CUBE_V[:, :2], CUBE_F)


@pytest.mark.open_arches
@pytest.mark.parametrize("jaw", ["upper", "lower"])
def test_real_crowns_are_fourteen_closed_pieces(open_arches: Path, jaw: str) -> None:
    mesh = trimesh.load(open_arches / f"case0_{jaw}.obj", process=False)
    top = tp.inspect(mesh.vertices, mesh.faces)
    teeth = np.loadtxt(open_arches / f"case0_{jaw}_faceFDI.csv", dtype=int)
    labels = [np.unique(teeth[top.components.of_face == k]).tolist() for k in range(top.area_mm2.size)]
    assert len(labels) == 14 and all(len(one) == 1 for one in labels)
    assert top.watertight.all() and (top.volume_mm3 > 0).all()
    assert not (top.flat.size or top.duplicate.size or len(top.not_manifold) or len(top.turned_over))
