"""First contact against the naive twin (plain algebra, no pruning) and against coal; what it says about itself."""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from mountproof.faults import FaultError
from mountproof.geometry._descent import _bound
from mountproof.geometry._tree import _carried, _floor, _floor_scale, _lowest
from mountproof.geometry._two_faces import _triangle_pair
from mountproof.geometry.contact import KINDS, first_contact, first_contacts_by_label
from mountproof.geometry.poses import exp6
from mountproof.geometry.surface import moved, prepare, split
from naive.bodies import FAMILIES, Body, box, of_family, pair, placed, sheet, turned
from naive.first_contact import first_contact_rad

#: Rounding of two different closed forms; near ties and shared edges are the worst (they cross at 1e-10).
AGREE_RAD = 2e-12

EACH = 2 if "PLANTED" in os.environ else 30


def contact_of(up: Body, low: Body, **how):
    return first_contact(prepare(*up, arch="upper", **how), prepare(*low, arch="lower", **how))


@pytest.mark.parametrize("family", FAMILIES)
def test_equals_the_naive_twin(family):
    """420 pairs in all."""
    none = 0
    for case in range(FAMILIES.index(family), EACH * len(FAMILIES), len(FAMILIES)):
        up, low = pair(case)
        want = first_contact_rad(*up, *low)
        got = contact_of(up, low)
        assert (want is None) == (got is None), case
        none += want is None
        if got is not None:
            assert abs(got.closing_rad - want) <= AGREE_RAD, (case, got, want)
    assert none <= EACH // 3, "too few of these bodies meet to prove anything"


@pytest.mark.parametrize("case", range(3 * len(FAMILIES)))
def test_the_cell_changes_nothing(case):
    up, low = pair(case)
    fitted = contact_of(up, low)
    for cell in (0.03, 0.4, 11.0):
        got = contact_of(up, low, cell_mm=cell)
        if fitted is None:
            assert got is None
        else:
            assert got is not None and abs(got.closing_rad - fitted.closing_rad) <= 1e-12
            assert (got.upper_face, got.lower_face) == (fitted.upper_face, fitted.lower_face)


@pytest.mark.parametrize("case", range(EACH // 10 * len(FAMILIES) or len(FAMILIES)))
def test_no_bound_is_above_an_exact_contact(case):
    """Whatever two leaves hold, their boxes meet and bound it from below; so do all boxes above them."""
    up, low = (prepare(*b, arch=a, cell_mm=0.5) for b, a in zip(pair(case), ("upper", "lower"), strict=True))
    touch, feature = np.zeros(4), np.zeros(3, dtype=np.int64)
    tol, reach, slack = up.tolerances(low)
    met = 0
    for a in range(up.leaves):
        for b in range(low.leaves):
            exact = min(
                _triangle_pair(up.vertices_mm[f], low.vertices_mm[g], tol, 4.0, touch, feature)
                for f in up.tree_faces[up.leaf_starts[a] : up.leaf_starts[a + 1]]
                for g in low.tree_faces[low.leaf_starts[b] : low.leaf_starts[b + 1]]
            )
            i, j = up.leaf_row + a, low.leaf_row + b
            while exact < 4.0 and i >= 1 and j >= 1:
                met += 1
                assert _bound(up.boxes[i], low.boxes[j], 2 * reach * tol, tol) <= exact + slack
                i, j = i // 2, j // 2
    assert met > 0 or contact_of(*pair(case)) is None


@pytest.mark.parametrize("case", range(4 * len(FAMILIES)))
def test_the_contact_it_tells_is_there(case):
    up, low = pair(case)
    got = contact_of(up, low)
    if got is None:
        return
    one_up, one_low = (
        up.faces[got.upper_face : got.upper_face + 1],
        low.faces[got.lower_face : got.lower_face + 1],
    )
    alone = first_contact_rad(up.vertices, one_up, low.vertices, one_low)
    assert alone is not None and abs(alone - got.closing_rad) <= AGREE_RAD
    there = turned(low, got.closing_rad)
    for corners in (up.vertices[one_up[0]], there.vertices[one_low[0]]):
        assert _distance_to_triangle(got.point_mm, corners) <= 1e-9
    assert got.kind in KINDS
    assert math.isclose(np.linalg.norm(got.normal), 1.0, rel_tol=1e-12)
    x, y = got.point_mm[:2]
    assert got.normal[1] * x - got.normal[0] * y <= 1e-12, "the normal points against the lower that closes"
    assert 0.0 <= got.rise <= 1.0 + 1e-12


def _distance_to_triangle(p, corners):
    """Least over a fine walk of the plane's foot and of the edges (small and plain)."""
    best = min(
        np.linalg.norm(
            p - (a + np.clip(np.dot(p - a, b - a) / max(np.dot(b - a, b - a), 1e-300), 0, 1) * (b - a))
        )
        for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)
    )
    n = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    if np.linalg.norm(n) > 0:
        n = n / np.linalg.norm(n)
        foot = p - np.dot(p - corners[0], n) * n
        sides = [
            np.dot(np.cross(b - a, foot - a), n)
            for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)
        ]
        if min(sides) >= 0:
            best = min(best, abs(np.dot(p - corners[0], n)))
    return best


def test_a_corner_under_a_level_plate_by_hand():
    """A plate at height -20 mm; a corner at r, phi below it reaches it when r sin(phi + t) = -20."""
    plate = Body(np.array([[30.0, -20, -9], [90, -20, -9], [60, -20, 20]]), np.array([[0, 1, 2]], np.int32))
    r, phi = 62.0, math.radians(-23.0)
    tip = np.array([r * math.cos(phi), r * math.sin(phi), 1.5])
    spike = Body(
        np.stack([tip, tip + np.array([1, -6, 1]), tip + np.array([-1, -6, 1])]),
        np.array([[0, 1, 2]], np.int32),
    )
    got = contact_of(plate, spike)
    assert got is not None and got.kind == "face-vertex"
    assert got.closing_rad == pytest.approx(math.asin(-20.0 / r) - phi, abs=1e-15)
    assert np.allclose(got.normal, [0, -1, 0], atol=1e-15)
    assert got.rise == pytest.approx(got.point_mm[0] / r, abs=1e-14)


def test_two_crossing_ridges_by_hand():
    """A ridge along z at (r0, phi0) and one along the radius: they cross where the radial one has r0."""
    r0, phi0, phi1 = 58.0, math.radians(-20.0), math.radians(-24.0)
    at = np.array([r0 * math.cos(phi0), r0 * math.sin(phi0), 0.0])
    one = np.array([[0, 1, 2]], np.int32)
    up = Body(
        np.stack([at + np.array([0, 0, -3]), at + np.array([0, 0, 3]), at + np.array([0.3, 4, 0])]),
        one,
    )
    ray = np.array([math.cos(phi1), math.sin(phi1), 0.0])
    low = Body(
        np.stack([50 * ray + [0, 0, 1], 66 * ray + [0, 0, 1], 58 * ray + [-2, -4, 1.5]]),
        one,
    )
    got = contact_of(up, low)
    assert got is not None and got.kind == "edge-edge"
    assert got.closing_rad == pytest.approx(phi0 - phi1, abs=1e-15)
    assert got.point_mm == pytest.approx([*at[:2], 1.0], abs=1e-13)


def test_apart_along_the_axis_never_meets():
    assert contact_of(placed(box(), (60, -20, 5)), placed(box(), (60, -24, -5))) is None


def test_within_leaves_out_what_meets_later():
    up, low = (prepare(*b, arch=a) for b, a in zip(pair(0), ("upper", "lower"), strict=True))
    got = first_contact(up, low)
    assert got is not None
    assert first_contact(up, low, within_rad=got.closing_rad - 1e-9) is None
    again = first_contact(up, low, within_rad=got.closing_rad + 1e-9)
    assert again is not None and again.closing_rad == got.closing_rad


def test_same_bits_on_every_run_and_thread():
    rng = np.random.default_rng(5)
    up, low = placed(sheet(rng, 60), (60, -20, 0)), placed(sheet(rng, 50), (60, -26, 0))
    with ThreadPoolExecutor(4) as pool:
        told = list(pool.map(lambda _: contact_of(up, low), range(16)))
    first = told[0]
    assert first is not None
    for got in told:
        assert got is not None
        assert got[:4] == first[:4]
        assert np.array_equal(got.point_mm, first.point_mm) and np.array_equal(got.normal, first.normal)


def test_parts_meet_as_they_would_alone():
    rng = np.random.default_rng(11)
    up, low = placed(sheet(rng, 13), (60, -20, 0)), placed(sheet(rng, 12), (60, -26, 0))
    up_labels = 10 + (up.vertices[up.faces].mean(axis=1)[:, 2] // 2).astype(np.int64)
    low_labels = 40 + (low.vertices[low.faces].mean(axis=1)[:, 0] // 3).astype(np.int64)
    low_labels[:4] = 0
    upper, lower = prepare(*up, arch="upper"), prepare(*low, arch="lower")
    met = first_contacts_by_label(upper, lower, up_labels, low_labels)
    assert [p.contact.closing_rad for p in met] == sorted(p.contact.closing_rad for p in met)
    want = {}
    for u in np.unique(up_labels):
        for w in np.unique(low_labels[low_labels > 0]):
            alone = first_contact_rad(
                up.vertices, up.faces[up_labels == u], low.vertices, low.faces[low_labels == w]
            )
            if alone is not None:
                want[u, w] = alone
    assert {(p.upper_label, p.lower_label) for p in met} == set(want)
    for p in met:
        assert abs(p.contact.closing_rad - want[p.upper_label, p.lower_label]) <= AGREE_RAD
        assert up_labels[p.contact.upper_face] == p.upper_label
        assert low_labels[p.contact.lower_face] == p.lower_label
    limit = met[2].contact.closing_rad
    assert len(first_contacts_by_label(upper, lower, up_labels, low_labels, within_rad=limit)) == 3
    assert sum(len(part.tree_faces) for part in split(lower, low_labels).values()) == len(low.faces) - 4


def test_poses_do_not_add_up():
    up, low = pair(of_family("sheets"))
    lower = prepare(*low, arch="lower")
    shift = np.eye(4)
    shift[1, 3] = -1.0
    once, twice = moved(lower, shift), moved(moved(lower, shift), shift)
    assert np.array_equal(once.vertices_mm, twice.vertices_mm)
    assert np.array_equal(once.vertices_mm, low.vertices + np.array([0, -1, 0]))
    assert contact_of(up, Body(once.vertices_mm, low.faces)).closing_rad == pytest.approx(
        first_contact(prepare(*up, arch="upper"), once).closing_rad, abs=1e-15
    )


@pytest.mark.parametrize(
    ("vertices", "faces", "says"),
    [
        (np.zeros((3, 2)), np.array([[0, 1, 2]]), "wanted"),
        (np.ones((3, 3)), np.zeros((0, 3), int), "no faces"),
        (np.ones((3, 3)), np.array([[0, 1, 3]]), "not there"),
        (np.ones((3, 3)), np.array([[0, -1, 2]]), "not there"),
        (np.ones((3, 3)), np.array([[0, 1, 2 + 2**32]]), "not there"),
        (np.ones((3, 3)), np.array([[0.0, 1.0, 2.0]]), "whole numbers"),
        (np.array([[1.0, 0, 0], [1, 1, 0], [1, math.nan, 1]]), np.array([[0, 1, 2]]), "not finite"),
        (np.array([[1.0, 0, 0], [1, 1, 0], [math.inf, 0, 1]]), np.array([[0, 1, 2]]), "not finite"),
    ],
)
def test_what_cannot_be_prepared_is_refused(vertices, faces, says):
    with pytest.raises(ValueError, match=says):
        prepare(vertices, faces, arch="lower")


def test_an_arch_behind_the_hinge_is_a_fault_of_placement():
    with pytest.raises(FaultError) as raised:
        prepare(np.array([[10.0, 0, 0], [-0.5, 1, 0], [5, 0, 1]]), np.array([[0, 1, 2]]), arch="upper")
    assert [f.code for f in raised.value.faults] == ["placement.behind_hinge"]


def test_swapped_arches_and_bad_poses_are_refused():
    up, low = (prepare(*b, arch=a) for b, a in zip(pair(0), ("upper", "lower"), strict=True))
    with pytest.raises(ValueError, match="upper and a lower"):
        first_contact(low, up)
    with pytest.raises(ValueError, match="rigid"):
        moved(low, np.diag([1.0, 1.0, -1.0, 1.0]))
    with pytest.raises(ValueError, match="one label per face"):
        split(up, np.zeros(3, int))


@pytest.mark.parametrize("case", range(EACH // 10 * len(FAMILIES) or 5))
def test_carried_boxes_hold_what_they_carry(case):
    """Every vertex of every face below a node of the lower lies in the node's box, whatever the pose; and the
    pyramid of the upper is nowhere above a face that such a box can meet."""
    up, low = (prepare(*b, arch=a, cell_mm=0.5) for b, a in zip(pair(case), ("upper", "lower"), strict=True))
    rng = np.random.default_rng(case)
    turn = 0.02 if FAMILIES[case % len(FAMILIES)] in ("near the axis", "chords") else 0.3
    pose = exp6(
        np.concatenate(
            [rng.uniform(-0.02, 0.02, 2), [turn * (-1) ** case], [rng.uniform(1, 2), *rng.uniform(-1, 1, 2)]]
        )
    )
    there = moved(low, pose)
    tol, reach, _ = up.tolerances(there)
    box, scale = np.zeros(6), np.zeros(2)
    _floor_scale(up.boxes[1], up.floor_side, scale)
    for leaf in range(there.leaves):
        corners = there.vertices_mm[there.tree_faces[there.leaf_starts[leaf] : there.leaf_starts[leaf + 1]]]
        w = rng.dirichlet([1, 1, 1], (50, len(corners)))
        points = np.concatenate(
            [corners.reshape(-1, 3), np.einsum("nfk,fkc->nfc", w, corners).reshape(-1, 3)]
        )
        q, phi = points[:, 0] ** 2 + points[:, 1] ** 2, np.arctan2(points[:, 1], points[:, 0])
        node = there.leaf_row + leaf
        met = [
            a
            for a in range(up.leaves)
            if _bound(up.boxes[up.leaf_row + a], there.boxes[node], 0.0, 0.0) < math.inf
        ]
        while node >= 1:
            _carried(there.limits[node], there.pose, tol, box)
            assert box[0] <= q.min() and q.max() <= box[1]
            assert box[2] <= points[:, 2].min() and points[:, 2].max() <= box[3]
            assert phi.max() <= box[5]
            lowest = _lowest(up.floor, up.floor_side, up.boxes[1], scale, box, 2 * reach * tol, tol)
            assert all(lowest <= up.boxes[up.leaf_row + a, 4] for a in met)
            node //= 2


def test_the_floor_is_under_every_leaf():
    """Leaves as small as points, so that each lies in one cell of the pyramid and none stands in for another."""
    rng = np.random.default_rng(4)
    row, side = 256, 16
    boxes = np.zeros((2 * row, 6))
    at = rng.uniform(0, [200.0, 3.0], (row, 2))
    boxes[row:, :2], boxes[row:, 2:4] = at[:, :1], at[:, 1:]
    boxes[row:, 4] = rng.uniform(-0.5, -0.3, row)
    boxes[1] = [at[:, 0].min(), at[:, 0].max(), at[:, 1].min(), at[:, 1].max(), -0.5, -0.3]
    floor, scale = np.full(side * side * 4 // 3 + 1, np.inf), np.zeros(2)
    _floor(boxes, row, row, side, floor)
    _floor_scale(boxes[1], side, scale)
    tight = 0
    for _ in range(300):
        middle, half = rng.uniform(0, [200.0, 3.0]), rng.uniform(0, [100.0, 1.5])
        box = np.array(
            [middle[0] - half[0], middle[0] + half[0], middle[1] - half[1], middle[1] + half[1], 0.0, 0.0]
        )
        meet = [leaf[4] for leaf in boxes[row:] if _bound(leaf, box, 0.0, 0.0) < math.inf]
        lowest = _lowest(floor, side, boxes[1], scale, box, 1e-9, 1e-11)
        assert lowest <= min(meet, default=math.inf)
        tight += bool(meet) and lowest == min(meet)
    assert tight > 100, "a floor that lies too deep prunes nothing"
