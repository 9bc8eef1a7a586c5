"""Settling against bodies with a known rest, against a general-purpose optimiser, and by its laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from scipy.optimize import OptimizeResult, minimize
from scipy.spatial import ConvexHull

from mountproof.geometry import near_pairs
from mountproof.geometry._two_faces import _kept_apart, _triangle_pair
from mountproof.geometry.contact import first_contact
from mountproof.geometry.near_pairs import NearPairs
from mountproof.geometry.poses import closed, exp6, inverse, log6, transform, translation
from mountproof.geometry.settling import MOST_MM, Push, Settled, friction_holds, settle, sticks_above
from mountproof.geometry.surface import Surface, moved, prepare
from mountproof.geometry.touches import Touches, touches_within
from mountproof.phantom.bodies import ball_mesh

UP = (0.0, 1.0, 0.0)
CENTRE = np.array([60.0, -40.0, 0.0])


def joined(*parts: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Several meshes as one."""
    vertices, faces, at = [], [], 0
    for v, f in parts:
        vertices.append(v)
        faces.append(f + at)
        at += len(v)
    return np.concatenate(vertices), np.concatenate(faces).astype(np.int32)


def ball(at: np.ndarray, radius: float, rings: int = 40) -> tuple[np.ndarray, np.ndarray]:
    v, f, _ = ball_mesh(tuple(at), radius, rings)  # type: ignore[arg-type]
    return v, f


def patch(at: np.ndarray, normal: np.ndarray, half: float = 4.0) -> tuple[np.ndarray, np.ndarray]:
    """A square piece of a plane."""
    n = normal / np.linalg.norm(normal)
    u = np.cross(n, [0.3, 0.1, 0.94])
    u /= np.linalg.norm(u)
    w = np.cross(n, u)
    v = np.array([at + half * (a * u + b * w) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
    return v, np.array([[0, 1, 2], [0, 2, 3]])


def arches(
    upper: tuple[np.ndarray, np.ndarray], lower: tuple[np.ndarray, np.ndarray]
) -> tuple[Surface, Surface]:
    return prepare(*upper, arch="upper"), prepare(*lower, arch="lower")


def rested(upper: Surface, lower: Surface, push: Push) -> Settled:
    found = settle(upper, lower, push)
    assert found is not None and found.settled
    # in touch, and without overlap
    touch = first_contact(upper, moved(lower, found.upper_from_lower))
    assert touch is not None and abs(touch.closing_rad) < 1e-9
    assert found.imbalance < 1e-6
    # the shares balance the push and its turning moments (mm per unit push)
    way = np.asarray(push.direction)
    hold = transform(found.upper_from_lower @ inverse(lower.pose), push.point_mm)
    assert np.abs(sum((r.share * r.normal for r in found.rests), way)).max() < 1e-6
    arms = (np.cross(r.point_mm - hold, r.share * r.normal) for r in found.rests)
    assert np.abs(sum(arms, np.zeros(3))).max() < 1e-6
    return found


def off(size_mm: float, seed: int, about: np.ndarray = CENTRE) -> np.ndarray:
    """A small motion about a place, downwards so far that nothing overlaps."""
    rng = np.random.default_rng(seed)
    twist = np.concatenate([rng.uniform(-1, 1, 3) * size_mm / 30.0, rng.uniform(-1, 1, 3) * size_mm])
    out = translation(about - [0.0, 3.0 * size_mm, 0.0]) @ exp6(twist) @ translation(-about)
    return np.asarray(out)


@pytest.mark.parametrize("sides", [3, 4])
def test_a_ball_finds_the_bottom_of_a_cone(sides: int) -> None:
    # Flat sides at 35 degrees to the axis: the centre lies R / sin 35 below the apex, in the axis.
    half, radius = math.radians(35.0), 0.6
    apex = CENTRE + np.array([0.0, 2.0, 0.0])
    walls = []
    for k in range(sides):
        a = 2 * math.pi * k / sides + 0.4
        out = np.array([math.cos(a), 0.0, math.sin(a)])
        normal = -math.cos(half) * out - math.sin(half) * np.array(UP)
        along = math.sin(half) * out - math.cos(half) * np.array(UP)
        walls.append(patch(apex + 2.2 * along, normal, 2.1))
    rest = apex - [0.0, radius / math.sin(half), 0.0]
    mesh = ball(rest, radius, 90)
    upper, lower = arches(joined(*walls), mesh)
    start = translation([0.25, -0.8, -0.2])
    found = rested(upper, moved(lower, start), Push(tuple(transform(start, rest)), UP))
    off_mm = transform(found.upper_from_lower, rest) - rest
    # the facets lie between two balls: the true one, and one smaller by the deepest facet; so does their rest
    corners = mesh[0][mesh[1]]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    sag_mm = radius - float(np.abs(np.einsum("ij,ij->i", normals, corners[:, 0] - rest)).min())
    assert sag_mm < 2e-4
    assert -1e-9 < off_mm[1] < sag_mm / math.sin(half) + 1e-9
    assert np.linalg.norm(off_mm) < 5e-4
    assert found.held >= 3
    assert sum(r.share * -r.normal[1] for r in found.rests) == pytest.approx(1.0, abs=1e-9)


def grooves(
    aside_mm: float = 0.0,
) -> tuple[tuple[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray], np.ndarray]:
    """Three balls of the lower under three V-grooves of the upper that point at the middle; the balls' places at rest.

    ``aside_mm``: how far from the places of touch the middle of each wall is, where its two faces share an edge.
    """
    radius, half = 0.6, math.radians(45.0)
    balls, walls, at = [], [], []
    for k in range(3):
        a = 2 * math.pi * k / 3 + 0.2
        out = np.array([math.cos(a), 0.0, math.sin(a)])
        side = np.cross(out, UP)
        place = CENTRE + 15.0 * out
        at.append(place)
        balls.append(ball(place, radius))
        for sign in (1.0, -1.0):
            normal = -math.cos(half) * sign * side - math.sin(half) * np.array(UP)
            touch = place - radius * normal
            walls.append(patch(touch + aside_mm * out, normal, 0.7))
    return joined(*walls), joined(*balls), np.array(at)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_three_balls_find_three_grooves(seed: int) -> None:
    upper_mesh, lower_mesh, places = grooves()
    upper, lower = arches(upper_mesh, lower_mesh)
    start = off(0.3, seed)
    push = Push(tuple(transform(start, CENTRE)), UP)
    found = rested(upper, moved(lower, start), push)
    there = transform(found.upper_from_lower, places)
    assert np.abs(there - places).max() < 1e-3
    assert found.held == 6 and len(found.rests) == 6
    # by symmetry each of the six walls carries the same: cos 45 of each holds a sixth
    assert [r.share for r in found.rests] == pytest.approx([1 / (6 * math.sin(math.pi / 4))] * 6, rel=5e-3)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_balls_with_corners_where_they_touch_rest_exactly(seed: int) -> None:
    # The same grooves; each ball has a corner at either place of touch, and no other corner within 40 degrees of one.
    half, radius = math.radians(45.0), 0.6
    upper_mesh, _, places = grooves(0.2)
    rng = np.random.default_rng(20)
    balls = []
    for place in places:
        out = (place - CENTRE) / np.linalg.norm(place - CENTRE)
        side = np.cross(out, UP)
        feet = np.array([math.cos(half) * s * side + math.sin(half) * np.array(UP) for s in (1.0, -1.0)])
        others = rng.normal(size=(60, 3))
        others /= np.linalg.norm(others, axis=1)[:, None]
        others = others[(others @ feet.T).max(axis=1) < math.cos(math.radians(40.0))]
        points = place + radius * np.concatenate([feet, others])
        balls.append((points, ConvexHull(points).simplices))
    upper, lower = arches(upper_mesh, joined(*balls))
    start = off(0.2, seed)
    found = rested(upper, moved(lower, start), Push(tuple(transform(start, CENTRE)), UP))
    assert np.abs(transform(found.upper_from_lower, places) - places).max() < 1e-9
    assert found.held == 6
    assert [r.share for r in found.rests] == pytest.approx([1 / (6 * math.sin(half))] * 6, rel=1e-9)


@hypothesis_settings(max_examples=8, deadline=None)
@given(st.floats(0.15, 0.6), st.floats(0.15, 0.35))
def test_a_plane_on_three_balls_shares_by_levers(first: float, second: float) -> None:
    corners = CENTRE + np.array([[10.0, 0.0, 1.0], [-8.0, 0.0, 9.0], [-6.0, 0.0, -11.0]])
    shares = np.array([first, second, 1.0 - first - second])
    lid = patch(CENTRE + np.array([0.0, 1.5, 0.0]), np.array([0.0, -1.0, 0.0]), 25.0)
    # an octahedron's top corner: the highest point of each ball is a vertex
    upper, lower = arches(lid, joined(*(ball(c, 1.5, 12) for c in corners)))
    start = off(0.2, 5)
    hold = shares @ corners
    found = rested(upper, moved(lower, start), Push(tuple(transform(start, hold)), UP))
    heights = transform(found.upper_from_lower, corners)[:, 1]
    assert np.ptp(heights) < 2e-2
    assert found.held == 3
    by_place = np.zeros(3)
    there = transform(found.upper_from_lower, corners)
    for r in found.rests:
        by_place[np.argmin(np.linalg.norm(there - r.point_mm, axis=1))] += r.share
    assert by_place == pytest.approx(shares, abs=0.02)


@pytest.mark.parametrize(("deg", "slides"), [(10.0, False), (30.0, True)])
def test_an_incline_below_the_angle_of_friction_would_hold(deg: float, slides: bool) -> None:
    # A coefficient of 0.3 holds below 16.7 degrees (Amontons).
    a = math.radians(deg)
    normal = (math.sin(a), -math.cos(a), 0.0)
    limit = sticks_above(normal, UP)
    assert limit == pytest.approx(math.tan(a))
    assert (limit > 0.3) is slides
    assert sticks_above((0.0, 1.0, 0.0), UP) == math.inf
    # the same by the balance of answers within the cone, here for a push straight at the contact
    push = Push(tuple(CENTRE), UP)
    assert friction_holds([CENTRE], [normal], push, 0.3) is not slides
    assert friction_holds([CENTRE], [normal], push, 1.03 * limit)
    assert not friction_holds([CENTRE], [normal], push, 0.99 * limit)
    # a push beside the only contact turns the body, whatever the friction; no contact holds nothing
    assert not friction_holds(CENTRE[None] + 9.0 * np.eye(3)[:1], [normal], push, 0.9)
    assert not friction_holds(np.zeros((0, 3)), np.zeros((0, 3)), push, 0.9)
    with pytest.raises(ValueError, match="friction"):
        friction_holds([CENTRE], [normal], push, -0.1)


def test_two_inclines_hold_by_friction_what_one_of_them_lets_slide() -> None:
    # A wedge between two walls of 60 degrees to the plane: jammed once the coefficient reaches tan 60 (Amontons), never below.
    a = math.radians(60.0)
    normals = [(s * math.sin(a), -math.cos(a), 0.0) for s in (1.0, -1.0)]
    at = [CENTRE - 2.0 * s * np.eye(3)[0] for s in (1.0, -1.0)]
    push = Push(tuple(CENTRE), UP)
    assert friction_holds(at, normals, push, 0.0)  # two sides of a wedge need none
    assert not friction_holds(at[:1], normals[:1], Push(tuple(at[0]), UP), 1.7)
    assert friction_holds(at[:1], normals[:1], Push(tuple(at[0]), UP), 1.8)


def test_the_way_begins_at_first_contact_and_every_pose_of_it_touches() -> None:
    upper_mesh, lower_mesh, _ = grooves()
    upper, lower = arches(upper_mesh, lower_mesh)
    start = off(0.3, 2)
    push = Push(tuple(transform(start, CENTRE)), UP)
    found = rested(upper, moved(lower, start), push)
    hold = transform(inverse(start), push.point_mm)
    heights = [float(transform(pose, hold)[1]) for pose in found.path]
    assert np.all(np.diff(heights) > -1e-9) and heights[-1] - heights[0] == pytest.approx(found.gained_mm)
    assert np.array_equal(found.path[-1], found.upper_from_lower)
    for pose in found.path:
        touch = first_contact(upper, moved(lower, pose))
        assert touch is not None and abs(touch.closing_rad) < 1e-8


@pytest.mark.parametrize("seed", range(6))
def test_a_general_optimiser_ends_at_the_same_rest(seed: int) -> None:
    # A convex body under seven walls all around it: each corner stays on the inner side of each wall, exact for any pose;
    # SLSQP from the same start. Walls lean in from every side, so no push lifts the body without end.
    rng = np.random.default_rng(seed)
    around = 2.0 * np.pi * (np.arange(7) + rng.uniform(-0.3, 0.3, 7)) / 7
    lean = rng.uniform(0.4, 0.9, 7)
    normals = np.stack([lean * np.cos(around), -np.ones(7), lean * np.sin(around)], axis=1)
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    sphere, faces = ball(np.zeros(3), 1.0, 5)
    body = CENTRE + sphere * [4.0, 2.0, 5.0]
    offsets = np.array([(body @ n).min() for n in normals])
    walls = [patch(CENTRE + (o - CENTRE @ n) * n, n, 14.0) for n, o in zip(normals, offsets, strict=True)]
    upper, lower = arches(joined(*walls), (body, faces.astype(np.int32)))
    turned = exp6(np.concatenate([rng.uniform(-0.04, 0.04, 3), np.zeros(3)]))
    start = translation([0.1, -0.5, 0.1]) @ translation(CENTRE) @ turned @ translation(-CENTRE)
    found = rested(upper, moved(lower, start), Push(tuple(transform(start, CENTRE)), UP))

    def pose_of(x: np.ndarray) -> np.ndarray:
        twist = np.concatenate([x[:3] / 5.0, x[3:]])
        return np.asarray(translation(CENTRE) @ exp6(twist) @ translation(-CENTRE) @ start)

    def room(pose: np.ndarray) -> np.ndarray:
        return np.asarray(transform(pose, body) @ normals.T - offsets).ravel()

    def optimised(begin: np.ndarray) -> OptimizeResult:
        return minimize(
            lambda x: CENTRE[1] - float(transform(pose_of(x), CENTRE)[1]),
            begin,
            constraints={"type": "ineq", "fun": lambda x: room(pose_of(x))},
            bounds=[(-3, 3)] * 6,
            method="SLSQP",
            options={"maxiter": 400, "ftol": 1e-14},
        )

    done = optimised(np.zeros(6))
    assert room(found.upper_from_lower).min() > -1e-9
    ends = transform(found.upper_from_lower, body), transform(pose_of(done.x), body)
    if np.abs(ends[0] - ends[1]).max() >= 1e-8:
        # A rest is one to first order: on a ridge of a curved way up it may stop a little below, as rounding has it.
        below = CENTRE[1] - float(transform(found.upper_from_lower, CENTRE)[1])
        assert below - done.fun < 0.01
        if below < done.fun:  # a second rest, farther up: the optimiser stays there as well
            twist = log6(translation(-CENTRE) @ found.upper_from_lower @ inverse(start) @ translation(CENTRE))
            assert optimised(np.concatenate([5.0 * twist[:3], twist[3:]])).fun > below - 1e-8
        again = rested(
            upper, moved(lower, pose_of(done.x)), Push(tuple(transform(pose_of(done.x), CENTRE)), UP)
        )
        assert again.gained_mm == pytest.approx(0.0, abs=1e-8)  # and the optimiser's end is a rest of ours


def test_a_mirrored_case_rests_mirrored() -> None:
    upper_mesh, lower_mesh, places = grooves()
    flip = np.array([1.0, 1.0, -1.0])
    start = off(0.25, 7)
    mirror = np.diag([1.0, 1.0, -1.0, 1.0])
    push = Push(tuple(transform(start, CENTRE)), UP)
    one = rested(*_moved(arches(upper_mesh, lower_mesh), start), push)
    other = rested(
        *_moved(
            arches((upper_mesh[0] * flip, upper_mesh[1]), (lower_mesh[0] * flip, lower_mesh[1])),
            mirror @ start @ mirror,
        ),
        Push(tuple(np.array(push.point_mm) * flip), UP),
    )
    a = transform(one.upper_from_lower, places)
    b = transform(other.upper_from_lower, places * flip) * flip
    assert np.abs(a - b).max() < 1e-3


def _moved(pair: tuple[Surface, Surface], start: np.ndarray) -> tuple[Surface, Surface]:
    return pair[0], moved(pair[1], start)


def test_the_phantom_rests_on_teeth_and_the_push_is_balanced() -> None:
    from mountproof.phantom.arch import build_arch
    from mountproof.phantom.truth import record_pose

    up, low = build_arch("upper", 40_000), build_arch("lower", 40_000)
    upper, lower = arches((up.vertices_mm, up.faces), (low.vertices_mm, low.faces))
    push = Push((60.0, -37.0, 0.0), UP)
    ends = []
    for start in (np.eye(4), *(record_pose(number) for number in (1, 2, 4))):
        # at the same place of the lower every time
        at = tuple(transform(start, push.point_mm))
        found = rested(upper, moved(lower, start), Push(at, UP))
        assert found.held == 6
        ends.append(transform(found.upper_from_lower, low.vertices_mm))
    # One rest, whichever record it began from, and from MIP as the phantom was made as well. It is not the pose of MIP itself:
    # there the foil still passes between some teeth, and without friction the lower slides on by some tenths of a millimetre.
    for end in ends[1:]:
        assert np.abs(end - ends[0]).max() < 1e-6
    assert np.linalg.norm(ends[0] - low.vertices_mm, axis=1).max() < 0.4


def on_face(point: np.ndarray, corners: np.ndarray) -> float:
    """How far a place is from a face (3, 3): from its plane, and outside its edges."""
    n = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    n = n / np.linalg.norm(n)
    ahead = np.roll(corners, -1, axis=0) - corners
    outside = np.einsum("ij,ij->i", np.cross(ahead, n), point - corners) / np.linalg.norm(ahead, axis=1)
    return float(max(abs(n @ (point - corners[0])), outside.max()))


def tells_all(got: Touches, apart: Touches, within_mm: float, upper: Surface, lower: Surface) -> None:
    """Every contact of a search of the whole arches is among those that were got; and each of those is one."""
    got, apart = got.within(within_mm), apart.within(within_mm)
    for arc, point in zip(apart.arc_mm, apart.point_mm, strict=True):
        far = np.abs(got.arc_mm - arc) + np.linalg.norm(got.point_mm - point, axis=1)
        assert far.min() < 1e-8
    for k in range(0, len(got.faces), max(len(got.faces) // 40, 1)):
        up, low = (
            surface.vertices_mm[surface.faces[f]]
            for surface, f in zip((upper, lower), got.faces[k], strict=True)
        )
        point = got.point_mm[k]
        assert on_face(point, low) < 1e-8
        assert on_face(transform(closed(got.arc_mm[k] / math.hypot(point[0], point[1])), point), up) < 1e-8


@pytest.mark.parametrize("within_mm", [0.0, 0.05])
def test_one_search_tells_what_first_contact_and_then_a_search_tell(within_mm: float) -> None:
    upper_mesh, lower_mesh, _ = grooves()
    upper, lower = arches(upper_mesh, lower_mesh)
    for seed in range(4):
        open_ = moved(lower, off(0.2, seed))
        first = first_contact(upper, open_)
        assert first is not None
        pairs = NearPairs(upper, lower, open_.pose)
        got = pairs.closed(
            open_.pose, within_mm + 0.01, np.array([[first.upper_face, first.lower_face]], np.int64)
        )
        assert got is not None and got[0] == pytest.approx(first.closing_rad, abs=1e-13)
        apart = touches_within(upper, moved(lower, closed(got[0]) @ open_.pose), within_mm + 0.01)
        tells_all(got[1], apart, within_mm + 0.005, upper, moved(lower, closed(got[0]) @ open_.pose))
        assert pairs.closed(open_.pose, within_mm, np.zeros((0, 2), np.int64)) is None


@pytest.mark.parametrize("room", [16, 1 << 20])
@pytest.mark.parametrize(("seed", "step_mm"), [(1, 0.003), (2, 0.03), (3, 0.3)])
def test_pairs_kept_from_step_to_step_are_those_of_a_search_of_the_whole(
    seed: int, step_mm: float, room: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(near_pairs, "_ROOM", room)
    # A walk of many small steps, none of them overlapping, some of them only tried: what is kept never misses a pair.
    upper_mesh, lower_mesh, _ = grooves()
    upper, lower = arches(upper_mesh, lower_mesh)
    start = off(0.3, seed)
    first = first_contact(upper, moved(lower, start))
    assert first is not None
    pose = closed(first.closing_rad) @ start
    pairs = NearPairs(upper, lower, pose)
    rng = np.random.default_rng(seed)
    for _ in range(12):
        twist = step_mm * rng.uniform(-1, 1, 6) * ([1 / 15.0] * 3 + [1.0] * 3)
        tried = translation(CENTRE) @ exp6(twist) @ translation(-CENTRE) @ pose
        touch = first_contact(upper, moved(lower, tried))
        if touch is None:
            continue
        likely = np.array([[touch.upper_face, touch.lower_face]], np.int64)
        got = pairs.closed(tried, 0.05, likely)
        assert got is not None and got[0] == pytest.approx(touch.closing_rad, abs=1e-12)
        there = closed(got[0]) @ tried
        tells_all(got[1], touches_within(upper, moved(lower, there), 0.05), 0.04, upper, moved(lower, there))
        if rng.random() < 0.7:
            pose = there
            pairs.go(pose)
        here = moved(lower, pose)
        tells_all(pairs.within(0.03), touches_within(upper, here, 0.03), 0.02, upper, here)


@hypothesis_settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0.02, 0.3, 3.0]))
def test_a_plane_keeps_no_two_faces_apart_that_meet(seed: int, size_mm: float) -> None:
    rng = np.random.default_rng(seed)
    up, low = (np.array([50.0, -30.0, 5.0]) + size_mm * rng.normal(size=(3, 3)) for _ in range(2))
    touch, feature = np.zeros(4), np.zeros(3, dtype=np.int64)
    got = _triangle_pair(up, low, 1e-11, 4.0, touch, feature)
    if got < 4.0:
        for least, most in ((got, got), (got - 0.01, got), (got, got + 0.01), (got - 0.1, got + 0.2)):
            assert not _kept_apart(up, low, least, most, 1e-11)
        # neighbours in one plane touch as well
        assert not _kept_apart(up, up + 0.0, 0.0, 0.0, 1e-11)
    assert _kept_apart(up, up - [0.0, 10.0 * size_mm, 0.0], 0.0, 0.0, 1e-11)


def test_nothing_above_is_no_rest_and_a_push_has_a_direction() -> None:
    lid = patch(CENTRE + np.array([0.0, 5.0, 60.0]), np.array([0.0, -1.0, 0.0]), 2.0)
    upper, lower = arches(lid, ball(CENTRE, 1.0, 8))
    assert settle(upper, lower) is None
    with pytest.raises(ValueError, match="direction"):
        settle(upper, lower, Push(tuple(CENTRE), (0.0, 0.0, 0.0)))


def test_what_holds_nowhere_is_given_up_and_not_called_a_rest() -> None:
    # A ball under a slope of 20 degrees: nothing stops it but the end of the slope.
    lean = np.radians(20.0)
    slope = patch(CENTRE + np.array([0.0, 3.0, 0.0]), np.array([np.sin(lean), -np.cos(lean), 0.0]), 30.0)
    upper, lower = arches(slope, ball(CENTRE, 1.0, 8))
    found = settle(upper, lower, Push(tuple(CENTRE), UP))
    assert found is not None and not found.settled and found.steps < 150
    gone = np.linalg.norm(transform(found.upper_from_lower, CENTRE) - transform(found.path[0], CENTRE))
    assert 0.5 * MOST_MM < gone < MOST_MM + 0.3  # turning counts as well
    near = settle(upper, lower, Push(tuple(CENTRE), UP), most_mm=2.0)
    assert near is not None and not near.settled and near.steps < found.steps / 2


def test_a_settling_can_be_stopped() -> None:
    upper_mesh, lower_mesh, _ = grooves()
    upper, lower = arches(upper_mesh, lower_mesh)

    class Stop(Exception):
        pass

    def stop(step: int, trust: float) -> None:
        if step == 3:
            raise Stop

    with pytest.raises(Stop):
        settle(upper, moved(lower, off(0.3, 1)), Push(tuple(CENTRE), UP), progress=stop)
