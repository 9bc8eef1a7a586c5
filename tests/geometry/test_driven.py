"""Driven arches: against closed forms, against a naive twin and a general-purpose library, and by their laws."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.geometry.contact import first_contact, first_contacts_by_label
from mountproof.geometry.driven import driven, driven_along, stopped
from mountproof.geometry.guides import Guide, Straight, protruded, sideways
from mountproof.geometry.poses import closed, inverse, transform
from mountproof.geometry.stops import Table, table_closing
from mountproof.geometry.surface import moved, prepare
from mountproof.phantom.bodies import ball_mesh
from naive.bodies import FAMILIES, Body, pair
from naive.excursion import first_touch_about, first_touch_by_halves

WIDTH = 110.0
STILL = np.eye(4)


def axis_of(kind: str, travel: float) -> np.ndarray:
    guide = Guide(Straight(0.55), Straight(0.65), math.radians(9.0), 0.3)
    if kind == "ahead":
        return protruded(Straight(0.66), Straight(0.58), travel, 0.9 * travel, WIDTH)
    return sideways(guide, kind, travel, WIDTH)


def both(up: Body, low: Body):
    return prepare(*up, arch="upper"), prepare(*low, arch="lower")


#: What lies a millimetre from the axis would end up behind it.
CASES = [case for case in range(28) if FAMILIES[case % len(FAMILIES)] != "near the axis"]


def test_equals_the_naive_twin_about_the_moved_axis() -> None:
    """The twin re-expresses both bodies in the moved hinge frame and tries every feature on every other."""
    met = 0
    for case in CASES:
        up, low = pair(case)
        axis = axis_of(("ahead", "right", "left")[case % 3], 0.3 * (1 + case % 5))
        want = first_touch_about(up, low, axis)
        got = stopped(driven(*both(up, low)), axis)
        assert (want is None) == (got.stopped_by == "nothing"), case
        if want is None:
            continue
        met += 1
        assert abs(got.closing_rad - want) < 5e-12, case
        assert got.motion == pytest.approx(axis @ closed(got.closing_rad))
        # the faces that are named touch there
        assert got.touch is not None
        near = first_contact(
            moved(prepare(up.vertices, up.faces[[got.touch.upper_face]], arch="upper"), inverse(axis)),
            prepare(low.vertices, low.faces[[got.touch.lower_face]], arch="lower"),
        )
        assert near is not None and near.closing_rad == pytest.approx(got.closing_rad, abs=1e-11), case
        assert got.touch.point_mm == pytest.approx(transform(axis, near.point_mm), abs=1e-7)
    assert met > 0.6 * len(CASES)


@pytest.mark.parametrize("kind", ["ahead", "right", "left"])
def test_equals_halving_on_a_general_purpose_library(kind: str) -> None:
    up, low = two_balls(np.array([60.0, -5.0, 10.0]), 9.0, 4.0)
    axis = axis_of(kind, 3.0)
    want = first_touch_by_halves(up, low, axis)
    got = stopped(driven(*both(up, low)), axis)
    assert want is not None and got.closing_rad == pytest.approx(want, abs=1e-7)


def test_at_the_start_it_is_first_contact_itself() -> None:
    up, low = pair(3)
    upper, lower = both(up, low)
    plain, here = first_contact(upper, lower), stopped(driven(upper, lower), STILL)
    assert plain is not None and here.touch is not None
    assert here.closing_rad == pytest.approx(plain.closing_rad, abs=1e-12)
    assert (here.touch.upper_face, here.touch.lower_face, here.touch.kind) == (
        plain.upper_face, plain.lower_face, plain.kind,
    )  # fmt: skip
    assert here.touch.point_mm == pytest.approx(plain.point_mm, abs=1e-9)
    assert here.touch.normal == pytest.approx(plain.normal, abs=1e-9)


def two_balls(at: np.ndarray, below: float, radius: float = 2.0) -> tuple[Body, Body]:
    v, f, _ = ball_mesh(tuple(at), radius, 16)
    w, g, _ = ball_mesh(tuple(at - [0.0, below, 0.0]), radius, 16)
    return Body(v, f), Body(w, g)


def test_two_balls_stop_where_their_centres_lie_two_radii_apart() -> None:
    """Closed form: the lower centre turns about the axis until it lies 2 R from the upper centre."""
    at, radius = np.array([60.0, -5.0, 10.0]), 3.0
    up, low = two_balls(at, 8.0, radius)
    ready = driven(*both(up, low))
    for kind in ("ahead", "right", "left"):
        axis = axis_of(kind, 2.0)
        got = stopped(ready, axis)
        gone = transform(got.motion, at - [0.0, 8.0, 0.0])
        assert np.linalg.norm(gone - at) == pytest.approx(2.0 * radius, abs=0.05)  # balls of flat faces
        assert got.touch is not None
        assert got.touch.normal @ (gone - at) / np.linalg.norm(gone - at) > 0.98


def teeth() -> tuple[Body, Body, np.ndarray]:
    """Three pairs of balls: a front pair nearly in touch, a right and a left pair behind."""
    ups, lows, labels, n, m = [], [], [], 0, 0
    for label, (at, below) in enumerate(
        (((90.0, -15.0, 0.0), 8.05), ((50.0, -10.0, 25.0), 8.3), ((50.0, -10.0, -25.0), 8.3)), start=1
    ):
        up, low = two_balls(np.array(at), below, 4.0)
        ups.append((up.vertices, up.faces + n))
        lows.append((low.vertices, low.faces + m))
        labels.append(np.full(len(up.faces), label))
        n, m = n + len(up.vertices), m + len(low.vertices)
    join = lambda parts: Body(*(np.concatenate(x) for x in zip(*parts, strict=True)))  # noqa: E731
    return join(ups), join(lows), np.concatenate(labels)


def test_parts_tell_their_gaps_from_the_one_that_stops() -> None:
    up, low, labels = teeth()
    upper, lower = both(up, low)
    ready = driven(upper, lower, labels, labels)
    for kind, travel in (("ahead", 0.0), ("ahead", 1.0), ("right", 2.0), ("left", 1.5)):
        axis = axis_of(kind, travel)
        got = stopped(ready, axis)
        assert got.pairs[0].gap_mm == pytest.approx(0.0, abs=1e-9)
        # by another way: both re-expressed about the axis, part by part
        plain = first_contacts_by_label(moved(upper, inverse(axis)), lower, labels, labels)
        want = {(p.upper_label, p.lower_label): p.contact for p in plain}
        for p in got.pairs:
            c = want[p.upper_label, p.lower_label]
            radius = math.hypot(c.point_mm[0], c.point_mm[1])
            assert p.gap_mm == pytest.approx(
                (c.closing_rad - plain[0].contact.closing_rad) * radius, abs=1e-9
            )
            assert p.point_mm == pytest.approx(transform(axis, c.point_mm), abs=1e-9)
    # in protrusion the back teeth part as the condyles go down
    gaps = [
        next(
            p.gap_mm for p in stopped(ready, axis_of("ahead", t)).pairs if p.upper_label == p.lower_label == 2
        )
        for t in (0.0, 0.5, 1.0, 1.5)
    ]
    assert all(b > a for a, b in pairwise(gaps))


def test_whatever_stops_first_stops() -> None:
    up, low, labels = teeth()
    ready = driven(*both(up, low), labels, labels)
    tip = (110.0, -62.0, 0.0)
    axis = axis_of("ahead", 2.0)
    free = stopped(ready, axis)
    high, low_table = Table(tip, ahead_rad=0.8), Table(tip, pin_mm=-30.0)
    by_table = stopped(ready, axis, high)
    assert by_table.stopped_by == "table" and by_table.touch is None
    assert by_table.closing_rad == table_closing(high, axis) < free.closing_rad
    assert all(p.gap_mm > 0.0 for p in by_table.pairs)
    assert stopped(ready, axis, low_table).closing_rad == free.closing_rad
    # anything else that stops it, such as a stop in front
    early = stopped(ready, axis, latest_rad=free.closing_rad - 0.02)
    assert early.closing_rad == free.closing_rad - 0.02 and early.stopped_by == "table"
    assert stopped(ready, axis, latest_rad=free.closing_rad + 0.02).stopped_by == "teeth"


def test_gaps_below_what_is_asked_are_all_there() -> None:
    up, low, labels = teeth()
    ready = driven(*both(up, low), labels, labels)
    axis = axis_of("ahead", 1.5)
    every, some = stopped(ready, axis).pairs, stopped(ready, axis, within_mm=0.8).pairs
    assert 0 < len(some) < len(every)
    kept = {(p.upper_label, p.lower_label): p.gap_mm for p in some}
    for p in every:
        if p.gap_mm < 0.8:
            assert kept[p.upper_label, p.lower_label] == p.gap_mm


def test_threads_change_nothing() -> None:
    up, low, labels = teeth()
    ready = driven(*both(up, low), labels, labels)
    axes = [axis_of("right", 0.25 * k) for k in range(12)]
    one, two = driven_along(ready, axes), driven_along(ready, axes, threads=3)
    for a, b in zip(one, two, strict=True):
        assert a.closing_rad == b.closing_rad
        assert [p.gap_mm for p in a.pairs] == [p.gap_mm for p in b.pairs]
    assert driven_along(ready, []) == ()


@settings(max_examples=15, deadline=None)
@given(st.floats(-0.2, 0.2), st.floats(0.0, 4.0), st.sampled_from(["ahead", "right", "left"]))
def test_tilting_everything_moves_no_tooth(tilt: float, travel: float, kind: str) -> None:
    """Trade traps 6 and 47: guides from a record on the same mounting tilt with the casts, and every gap stays as it was."""
    up, low, labels = teeth()
    turn = closed(tilt)
    there = (Body(transform(turn, b.vertices), b.faces) for b in (up, low))
    axis = axis_of(kind, travel)
    plain = stopped(driven(*both(up, low), labels, labels), axis)
    tilted = stopped(driven(*both(*there), labels, labels), turn @ axis @ inverse(turn))
    assert tilted.closing_rad == pytest.approx(plain.closing_rad, abs=1e-10)
    assert [p.gap_mm for p in tilted.pairs] == pytest.approx([p.gap_mm for p in plain.pairs], abs=1e-8)


def test_average_guides_on_a_tilted_mounting_move_teeth() -> None:
    """The other half of trap 47: guides that stay as they are while the casts are tilted part the teeth otherwise."""
    up, low, labels = teeth()
    turn = closed(math.radians(5.0))
    there = [Body(transform(turn, b.vertices), b.faces) for b in (up, low)]
    axis = axis_of("ahead", 4.0)
    gaps = [
        max(
            p.gap_mm
            for p in stopped(driven(*both(*b), labels, labels), axis).pairs
            if p.upper_label == p.lower_label
        )
        for b in ((up, low), there)
    ]
    assert abs(gaps[0] - gaps[1]) > 0.01


def test_arches_that_pass_each_other_stop_nowhere() -> None:
    up, low = two_balls(np.array([60.0, -35.0, 30.0]), 8.0)
    low = Body(low.vertices - [0.0, 0.0, 60.0], low.faces)
    got = stopped(driven(*both(up, low)), STILL)
    assert got.stopped_by == "nothing" and math.isnan(got.closing_rad)


def test_swapped_arches_are_refused() -> None:
    upper, lower = both(*pair(0))
    with pytest.raises(ValueError, match="upper and a lower"):
        driven(lower, upper)
