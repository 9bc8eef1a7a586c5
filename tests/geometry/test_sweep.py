"""What overlaps as arches close: closed forms of balls, planes and wedges, and laws that hold for any bodies."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contact, first_contacts_by_label
from mountproof.geometry.surface import prepare
from mountproof.geometry.sweep import Sweep, by_part, sweep
from naive.bodies import Body, ball, placed, sheet, turned

#: The hinge lies so far away that closing is a straight shift.
FAR_MM = 4000.0


def flat(half_mm: float, slope: float = 0.0, n: int = 41) -> Body:
    """A square plane about the origin, rising by ``slope`` along z."""
    x, z = np.meshgrid(np.linspace(-half_mm, half_mm, n), np.linspace(-half_mm, half_mm, n), indexing="ij")
    i = np.arange(n * n).reshape(n, n)
    a, b, c, d = i[:-1, :-1].ravel(), i[1:, :-1].ravel(), i[:-1, 1:].ravel(), i[1:, 1:].ravel()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([b, d, c], 1)]).astype(np.int32)
    return Body(np.stack([x.ravel(), slope * z.ravel(), z.ravel()], 1), faces)


def swept(up: Body, low: Body, angles, parts: tuple[np.ndarray, np.ndarray] | None = None, **more) -> Sweep:
    ones = (np.ones(len(up.faces), int), np.ones(len(low.faces), int))
    return sweep(prepare(*up, arch="upper"), prepare(*low, arch="lower"), *(parts or ones), angles, **more)


@settings(max_examples=8)
@given(radius=st.floats(0.8, 3.0), deep=st.floats(0.05, 0.4))
def test_a_ball_pressed_into_a_plane_is_a_cap(radius, deep):
    """Volume pi d^2 (3 R - d) / 3, area pi (2 R d - d^2) in the plane and 2 pi R d on the ball (elementary)."""
    up = placed(flat(radius + 0.2, n=9), (FAR_MM, radius + 0.5, 0))
    got = swept(up, placed(ball(6, radius), (FAR_MM, 0, 0)), [(0.5 + deep) / FAR_MM])
    sagitta = radius * (1 - math.cos(math.pi / 4 / 2**5))  # how far the ball's faces may lie inside it
    area = math.pi * (2 * radius * deep - deep**2)
    assert got.depth_mm[0, 0] == pytest.approx(deep, abs=sagitta + 1e-3)
    assert got.normal_mm[0, 0] == pytest.approx(deep, abs=sagitta + 1e-3)
    volume = math.pi * deep**2 * (3 * radius - deep) / 3
    assert got.volume_mm3[0, 0] == pytest.approx(volume, abs=sagitta * area + 2e-3 * volume)
    rim = 2 * math.pi * math.sqrt(2 * radius * deep)
    assert got.area_mm2[0, 0] == pytest.approx(area, abs=rim * 0.02)
    assert got.upper_mm2[0, 0] == pytest.approx(area, abs=rim * 0.02)
    assert got.lower_mm2[0, 0] == pytest.approx(2 * math.pi * radius * deep, abs=rim * 0.03)


def roof(slope: float) -> Body:
    """A closed roof, its ridge from x = -1 to 1 at the top, falling by ``slope`` to both sides over 2 mm."""
    v = [(x, y, z) for x in (-1.0, 1.0) for y, z in ((0.0, 0.0), (-2 * slope, -2.0), (-2 * slope, 2.0))]
    f = [(0, 1, 4), (0, 4, 3), (0, 3, 5), (0, 5, 2), (0, 2, 1), (3, 4, 5), (1, 2, 5), (1, 5, 4)]
    return Body(np.array(v), np.array(f, np.int32))


@settings(max_examples=8)
@given(slope=st.floats(0.3, 1.5), deep=st.floats(0.2, 0.6))
def test_a_roof_pressed_into_a_plane_overlaps_in_a_prism(slope, deep):
    """Elementary: 2 d / slope wide and 2 mm long, half of that by d in volume; across the roof's sides d cos(incline)."""
    d = deep * slope
    got = swept(
        placed(flat(3.0, n=7), (FAR_MM, 0.5, 0)), placed(roof(slope), (FAR_MM, 0, 0)), [(0.5 + d) / FAR_MM]
    )
    area = 4.0 * deep
    assert got.volume_mm3[0, 0] == pytest.approx(0.5 * d * area, rel=0.01)
    assert got.area_mm2[0, 0] == pytest.approx(area, rel=0.06)
    assert got.upper_mm2[0, 0] == pytest.approx(got.area_mm2[0, 0], rel=1e-3)
    assert got.lower_mm2[0, 0] == pytest.approx(got.area_mm2[0, 0] * math.hypot(1, slope), rel=1e-3)
    assert got.depth_mm[0, 0] == pytest.approx(d, abs=0.02 * slope)
    assert got.normal_mm[0, 0] == pytest.approx(d / math.hypot(1, slope), abs=0.02 * slope)


def bumpy(seed: int) -> tuple[Body, Body]:
    rng = np.random.default_rng(seed)
    return placed(sheet(rng, 9, 4.0, 0.2), (60, -30, 0)), turned(
        placed(sheet(rng, 8, 4.0, 0.2), (60, -30, 0)), -0.1
    )


@pytest.mark.parametrize("seed", range(3))
def test_volume_grows_by_the_area_that_overlaps(seed):
    """dV / dt is the area times its radius: between two angles, between those of either."""
    up, low = bumpy(seed)
    first = first_contact(prepare(*up, arch="upper"), prepare(*low, arch="lower"))
    angles = first.closing_rad + np.linspace(0.0, 0.8, 9) / 60.0
    got = swept(up, low, angles)
    assert got.volume_mm3[0, 0] == 0.0
    radius = np.hypot(*low.vertices[:, :2].T)
    step = np.diff(angles)
    area, volume, slack = (
        got.area_mm2[0],
        np.diff(got.volume_mm3[0]),
        3 * got.volume_error_mm3[0].max() + 1e-6,
    )
    assert (volume >= area[:-1] * step * radius.min() - slack - 0.01 * volume).all()
    assert (volume <= area[1:] * step * radius.max() + slack + 0.01 * volume).all()


@pytest.mark.parametrize("seed", range(2))
def test_parts_sum_up_to_the_whole(seed):
    up, low = bumpy(seed)
    angles = 0.1 + np.array([-0.004, 0.002])
    parts = tuple(
        np.where(b.vertices[b.faces][:, :, 2].mean(1) > 0, 16, 17).astype(np.int32) + k
        for b, k in ((up, 0), (low, 30))
    )
    whole, cut = swept(up, low, angles), swept(up, low, angles, parts)
    assert cut.volume_mm3.sum(axis=0) == pytest.approx(whole.volume_mm3[0], rel=2e-3)
    assert cut.area_mm2.sum(axis=0) == pytest.approx(whole.area_mm2[0], rel=1e-2)
    for arch in ("upper", "lower"):
        told = by_part(cut, arch)
        assert told.volume_mm3.sum(axis=0) == pytest.approx(cut.volume_mm3.sum(axis=0), rel=1e-12)
        assert told.depth_mm.max(axis=0) == pytest.approx(cut.depth_mm.max(axis=0))


@settings(max_examples=5)
@given(aside=st.floats(-0.8, 0.8), by=st.floats(-0.25, 0.25))
def test_turning_both_about_the_hinge_or_mirroring_them_changes_nothing(aside, by):
    up, low = placed(ball(4, 2.0), (60, -10, 1.3 + aside)), placed(ball(4, 1.5), (60.3, -13.7, 1.3))
    angles = [0.012, 0.02]
    whole = swept(up, low, angles)
    flip = np.array([1.0, 1.0, -1.0])
    for other in (
        swept(turned(up, by), turned(low, by), angles),
        swept(*(Body(b.vertices * flip, b.faces[:, ::-1]) for b in (up, low)), angles),
    ):
        slack = 2 * (whole.volume_error_mm3 + other.volume_error_mm3) + 1e-6
        assert (np.abs(other.volume_mm3 - whole.volume_mm3) <= slack).all()
        assert other.depth_mm == pytest.approx(whole.depth_mm, abs=1e-3)


def test_gaps_are_exact_where_first_contacts_are_known_and_fill_ends_at_contact():
    up, low = bumpy(5)
    surfaces = prepare(*up, arch="upper"), prepare(*low, arch="lower")
    ones = np.ones(len(up.faces), np.int32), np.ones(len(low.faces), np.int32)
    firsts = first_contacts_by_label(*surfaces, *ones)
    first = firsts[0].contact
    radius = math.hypot(*first.point_mm[:2])
    got = sweep(*surfaces, *ones, first.closing_rad + np.array([-0.5, -0.1, 0.3]) / radius, firsts=firsts)
    assert got.gap_mm[0] == pytest.approx([0.5, 0.1, 0.0], abs=1e-12)
    assert got.depth_mm[0] == pytest.approx([0.0, 0.0, 0.3], abs=2e-3) and got.depth_mm[0, 2] >= 0.3 - 1e-12
    assert got.fill_mm3[0, 0] - got.fill_mm3[0, 1] == pytest.approx(0.4 * got.patch_mm2[0], rel=0.02)
    assert got.fill_mm3[0, 2] == 0.0


def test_a_hole_leaves_the_overlap_unknown_and_never_zero():
    up = placed(flat(3.0, n=31), (60, -10, 0))
    low = placed(ball(5, 2.0), (60, -12.5, 0))
    whole = swept(up, low, [0.0105, 0.012])
    far = np.linalg.norm(up.vertices[up.faces].mean(axis=1) - [60, -10, 0], axis=1)
    got = swept(Body(up.vertices, up.faces[far > 0.8]), low, [0.0105, 0.012])
    assert np.isinf(whole.unknown_rad[0]) and whole.volume_mm3[0, 1] > 0.0
    assert got.unknown_rad[0] < whole.least_rad[0]
    assert got.volume_mm3[0, 1] < 0.5 * whole.volume_mm3[0, 1]


def test_finer_cells_do_not_change_a_volume_by_more_than_is_told():
    up = placed(flat(3.0), (60, -10, 0))
    low = placed(ball(6, 2.0), (60, -12.5, 0))
    surfaces = prepare(*up, arch="upper"), prepare(*low, arch="lower")
    ones = np.ones(len(up.faces), np.int32), np.ones(len(low.faces), np.int32)
    angles = [0.010, 0.013]
    rough = sweep(*surfaces, *ones, angles, chart=closing_map(*surfaces, cell_mm=0.15), within=1.0)
    fine = sweep(*surfaces, *ones, angles, chart=closing_map(*surfaces, cell_mm=0.03), within=1e-9)
    assert (
        np.abs(rough.volume_mm3 - fine.volume_mm3) <= 3 * rough.volume_error_mm3 + 1e-4 * fine.volume_mm3
    ).all()


def test_what_is_asked_wrongly_is_said():
    up, low = bumpy(1)
    with pytest.raises(ValueError, match="rise"):
        swept(up, low, [0.2, 0.1])
    with pytest.raises(ValueError, match="label per face"):
        swept(up, low, [0.1], (np.ones(3, int), np.ones(len(low.faces), int)))
