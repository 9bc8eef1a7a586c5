"""The closing map, its unknown places, sites and vertex gaps: against the naive twin and by hand."""

from __future__ import annotations

import math
import os

import numpy as np
import pytest

from mountproof.geometry._holes import border_edges
from mountproof.geometry.closing import ClosingMap, closing_map, vertex_gaps
from mountproof.geometry.contact import first_contact
from mountproof.geometry.sites import (
    contact_sites,
    gap_along_closure_mm,
    gap_along_normal_mm,
    unknown_places,
)
from mountproof.geometry.surface import prepare
from naive.bodies import FAMILIES, Body, ball, box, of_family, pair, placed, sheet, turned
from naive.closing_map import front_phi, vertex_gap_mm

#: Bodies of pair() that are quick enough for a naive map; every family is among them.
CASES = range(8 if "PLANTED" in os.environ else 2 * len(FAMILIES))


def ready(up: Body, low: Body):
    return prepare(*up, arch="upper"), prepare(*low, arch="lower")


@pytest.mark.parametrize("case", CASES)
def test_map_equals_the_naive_twin(case):
    up, low = pair(case)
    chart = closing_map(*ready(up, low), cell_mm=0.23)
    if not chart.gap_rad.size:
        assert first_contact(*ready(up, low)) is None
        return
    for body, got, arch in ((up, chart.upper_phi, "upper"), (low, chart.lower_phi, "lower")):
        want = front_phi(chart.r_mm, chart.z_mm, *body, arch)
        assert np.array_equal(np.isnan(want), np.isnan(got)), arch
        assert np.nanmax(np.abs(want - got), initial=0.0) <= 2e-12
    assert np.array_equal(np.isnan(chart.upper_phi), chart.upper_face < 0)
    assert np.array_equal(np.isnan(chart.lower_phi), chart.lower_face < 0)


@pytest.mark.parametrize("case", CASES)
def test_map_faces_are_those_it_met(case):
    up, low = pair(case)
    chart = closing_map(*ready(up, low), cell_mm=0.5)
    for body, phi, face, arch in (
        (up, chart.upper_phi, chart.upper_face, "upper"),
        (low, chart.lower_phi, chart.lower_face, "lower"),
    ):
        for i, j in np.argwhere(face >= 0)[::7]:
            alone = front_phi(
                chart.r_mm[[i]], chart.z_mm[[j]], body.vertices, body.faces[face[i, j]][None], arch
            )
            assert abs(alone[0, 0] - phi[i, j]) <= 2e-12


@pytest.mark.parametrize("case", CASES)
def test_no_cell_is_below_first_contact(case):
    up, low = ready(*pair(case))
    got = first_contact(up, low)
    chart = closing_map(up, low, cell_mm=0.11)
    with np.errstate(invalid="ignore"):
        assert not np.any(chart.gap_rad < (math.inf if got is None else got.closing_rad - 1e-12))


@pytest.mark.parametrize("case", CASES)
def test_vertex_gaps_equal_the_naive_twin(case):
    up, low = pair(case)
    got = vertex_gaps(*ready(up, low))
    for mine, points, body, arch in (
        (got.lower_mm, low.vertices, up, "upper"),
        (got.upper_mm, up.vertices, low, "lower"),
    ):
        want = vertex_gap_mm(points, *body, arch)
        if FAMILIES[case % len(FAMILIES)] != "near tie":  # its rims miss each other by 1e-10 mm, met or not
            assert np.array_equal(np.isnan(want), np.isnan(mine)), arch
        assert np.isfinite(mine).any() or not np.isfinite(want).any()
        assert np.nanmax(np.abs(want - mine), initial=0.0) <= 2e-10


def test_the_cell_does_not_move_the_map():
    """A centre that two grids share has the same gap in both."""
    rng = np.random.default_rng(8)
    up, low = ready(placed(sheet(rng, 20), (60, -20, 0)), placed(sheet(rng, 18), (60, -26, 0)))
    fine, coarse = closing_map(up, low, cell_mm=0.1), closing_map(up, low, cell_mm=0.3)
    i = np.rint((coarse.r_mm - fine.r0_mm) / 0.1 - 0.5).astype(int)
    j = np.rint((coarse.z_mm - fine.z0_mm) / 0.1 - 0.5).astype(int)
    inner = np.ix_(range(2, len(i) - 2), range(2, len(j) - 2))
    same = fine.gap_rad[np.ix_(i[2:-2], j[2:-2])]
    assert np.isfinite(same).mean() > 0.8
    assert np.nanmax(np.abs(same - coarse.gap_rad[inner])) <= 1e-12


def _incline(degrees: float, normal_gap_mm: float) -> tuple[Body, Body]:
    """Two parallel inclines, sloping along the axis at r = 60 mm right before the hinge: closing is along y there."""
    x, z = np.meshgrid([59.0, 61.0], [-2.0, 2.0], indexing="ij")
    rise = math.tan(math.radians(degrees))
    v = np.stack([x, z * rise, z], -1).reshape(-1, 3)
    faces = np.array([[0, 1, 3], [0, 3, 2]], np.int32)
    a = math.radians(degrees)
    return Body(v, faces), Body(v - normal_gap_mm * np.array([0, math.cos(a), -math.sin(a)]), faces)


@pytest.mark.parametrize(("degrees", "along_closure"), [(35, "0.12"), (50, "0.16")])
def test_gap_along_closure_and_along_the_normal_are_two(degrees, along_closure):
    """0.10 mm along the normal of an incline: 0.12 mm along closure at 35 degrees, 0.16 at 50 (cosine)."""
    up, low = ready(*_incline(degrees, 0.10))
    chart = closing_map(up, low)
    middle = chart.gap_mm()[np.abs(chart.r_mm - 60.0).argmin(), np.abs(chart.z_mm).argmin()]
    assert f"{middle:.2f}" == along_closure
    assert middle == pytest.approx(0.10 / math.cos(math.radians(degrees)), rel=0.002)
    contact = first_contact(up, low)
    assert gap_along_normal_mm(up, low, contact) == pytest.approx(0.10, abs=1e-9)
    assert gap_along_closure_mm(contact) == pytest.approx(0.10 / math.cos(math.radians(degrees)), rel=0.002)
    half = contact.closing_rad / 2
    assert 0.0 < gap_along_normal_mm(up, low, contact, closed_rad=half) < 0.06
    assert gap_along_normal_mm(up, low, contact, closed_rad=2 * contact.closing_rad) == pytest.approx(
        -0.10, rel=0.01
    )


def test_overlap_is_negative():
    """Trap 51: two boxes that stand in each other."""
    up, low = ready(placed(box(), (60, -20, 0)), placed(box(), (60, -21.5, 0)))
    chart = closing_map(up, low, cell_mm=0.2)
    i, j = np.abs(chart.r_mm - math.hypot(60, 20.75)).argmin(), np.abs(chart.z_mm).argmin()
    assert chart.gap_mm()[i, j] == pytest.approx(-0.5, abs=0.05)
    gaps = vertex_gaps(up, low)
    assert np.nanmin(gaps.lower_mm) < -0.4 and np.nanmin(gaps.upper_mm) < -0.4


def _bumpy(seed: int = 2, n: int = 40) -> tuple[Body, Body]:
    rng = np.random.default_rng(seed)
    up, low = sheet(rng, n, bump=0.02), sheet(rng, n, bump=0.02)
    hill = 0.8 * np.exp(-((low.vertices[:, 0] - 0.5) ** 2 + (low.vertices[:, 2] + 0.7) ** 2))
    low.vertices[:, 1] += hill
    return placed(up, (60, -3, 0)), placed(low, (60, -5, 0))


def _punched(body: Body, at: np.ndarray, radius: float) -> Body:
    centre = body.vertices[body.faces].mean(axis=1)
    return Body(body.vertices, body.faces[np.linalg.norm(centre - at, axis=1) > radius])


@pytest.mark.parametrize("which", ["upper", "lower"])
def test_a_hole_at_the_contact_is_unknown(which):
    """Trap 52: punch a hole where they meet; the map must say it does not know, all over the hole."""
    up, low = _bumpy()
    whole = first_contact(*ready(up, low))
    there = turned(Body(whole.point_mm[None], up.faces[:1]), 0.0 if which == "upper" else -whole.closing_rad)
    if which == "upper":
        up = _punched(up, there.vertices[0], 0.6)
    else:
        low = _punched(low, there.vertices[0], 0.6)
    chart = closing_map(*ready(up, low))
    r, z = math.hypot(*whole.point_mm[:2]), whole.point_mm[2]
    near = np.hypot(chart.r_mm[:, None] - r, chart.z_mm[None] - z) < 0.4
    assert near.sum() > 20 and chart.unknown[near].all() and np.isnan(chart.gap_rad[near]).mean() > 0.8
    places = [p for p in unknown_places(chart) if near[tuple(p.cells.T)].any()]
    assert len(places) == 1 and 0.5 < places[0].area_mm2 < 2.5
    assert places[0].rim_gap_rad == pytest.approx(whole.closing_rad, abs=0.5 / 60)
    rest = first_contact(*ready(up, low))
    assert rest.closing_rad > whole.closing_rad
    site = contact_sites(*ready(up, low), chart, closed_rad=rest.closing_rad, within_mm=0.2)[0]
    assert site.unknown, "a site at the rim of a hole may be larger than is seen"


def test_a_hole_in_a_closed_body_does_not_show_its_far_wall_as_a_gap():
    """Through the hole the arc meets the inside of the back wall: a gap, but not the one that matters."""
    up, low = placed(ball(4, 2.0), (60, -3, 0)), placed(ball(4, 2.0), (60, -8, 0))
    low = _punched(low, np.array([60.0, -6.0, 0.0]), 0.7)
    chart = closing_map(*ready(up, low))
    through = np.hypot(chart.r_mm[:, None] - math.hypot(60, 6), chart.z_mm[None]) < 0.4
    assert chart.unknown[through].all() and np.isfinite(chart.gap_rad[through]).all()
    covered = np.isfinite(chart.gap_rad)
    assert chart.unknown[covered].mean() < 0.35
    inside_out = Body(low.vertices, low.faces[:, ::-1])
    assert np.array_equal(closing_map(*ready(up, inside_out)).unknown, chart.unknown), (
        "the winding is no witness"
    )


def test_closed_bodies_have_nothing_unknown():
    chart = closing_map(*ready(placed(ball(3, 2.0), (60, -3, 0)), placed(ball(3, 2.0), (60, -8, 0))))
    assert not chart.unknown.any() and unknown_places(chart) == ()


def test_the_edge_of_an_open_scan_is_unknown_and_its_outside_is_not():
    up, low = _bumpy()
    wide = Body((up.vertices - [60, 0, 0]) * [3, 1, 3] + [60, 0, 0], up.faces)
    chart = closing_map(*ready(wide, low))
    covered = chart.lower_face >= 0
    assert chart.unknown.any() and chart.unknown[covered].mean() < 0.2
    outside = ~covered & ~chart.unknown
    assert outside[0].any() and not np.isfinite(chart.gap_rad[outside]).any()


def test_a_hidden_border_is_no_hole():
    """A trimmed body, open underneath: the border lies behind what the opponent sees."""
    up, low = placed(ball(3, 2.0), (60, -3, 0)), ball(4, 2.0)
    low = Body(low.vertices, low.faces[low.vertices[low.faces].mean(axis=1)[:, 1] > -1.0])
    chart = closing_map(*ready(up, placed(low, (60, -8, 0))))
    assert not chart.unknown[np.isfinite(chart.gap_rad)].any()


def _two_hills() -> tuple[Body, Body]:
    up, low = sheet(np.random.default_rng(0), 50, bump=0.0), sheet(np.random.default_rng(0), 50, bump=0.0)
    for at, high in (((-1.4, -1.2), 1.0), ((1.5, 1.1), 0.9)):
        low.vertices[:, 1] += high * np.exp(
            -4 * ((low.vertices[:, 0] - at[0]) ** 2 + (low.vertices[:, 2] - at[1]) ** 2)
        )
    return placed(up, (60, 0, 0)), placed(low, (60, -3, 0))


def test_sites_are_the_hills_with_their_exact_contacts():
    up, low = _two_hills()
    upper, lower = ready(up, low)
    first = first_contact(upper, lower)
    chart = closing_map(upper, lower)
    touching = contact_sites(upper, lower, chart, closed_rad=first.closing_rad)
    assert len(touching) == 1
    assert touching[0].contact.closing_rad == first.closing_rad
    assert touching[0].gap_mm == pytest.approx(0.0, abs=1e-12)
    both = contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=0.3)
    assert len(both) == 2 and both[0].contact.closing_rad == first.closing_rad
    half = low.faces[low.vertices[low.faces].mean(axis=1)[:, 2] > 0]
    second = first_contact(upper, prepare(low.vertices, half, arch="lower"))
    assert both[1].contact.closing_rad == second.closing_rad
    merged = contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=1.2)
    assert len(merged) == 1 and merged[0].area_mm2 > both[0].area_mm2 + both[1].area_mm2
    gaps = chart.gap_mm(first.closing_rad)
    for site in (*both, *merged):
        assert np.isfinite(site.cells).all()
        assert site.gap_mm <= np.nanmin(gaps[tuple(site.cells.T)]) + 1e-12


def test_no_site_is_lost_between_the_centres():
    """A map far too coarse for the hills still finds both, exactly."""
    upper, lower = ready(*_two_hills())
    first = first_contact(upper, lower)
    fine = contact_sites(
        upper, lower, closing_map(upper, lower), closed_rad=first.closing_rad, within_mm=0.15
    )
    coarse = contact_sites(
        upper, lower, closing_map(upper, lower, cell_mm=1.0), closed_rad=first.closing_rad, within_mm=0.15
    )
    assert [s.contact.closing_rad for s in fine] == [s.contact.closing_rad for s in coarse]
    assert len(fine) == 2


@pytest.mark.parametrize("case", [of_family("sheets", k) for k in range(3)])
def test_sites_cover_every_cell_within(case):
    up, low = ready(*pair(case))
    first = first_contact(up, low)
    chart = closing_map(up, low)
    sizes = []
    for within in (0.008, 0.04, 0.2):
        sites = contact_sites(up, low, chart, closed_rad=first.closing_rad, within_mm=within)
        cells = np.concatenate([s.cells for s in sites])
        assert len(np.unique(cells, axis=0)) == len(cells), "no cell is in two sites"
        within_now = np.argwhere(chart.gap_mm(first.closing_rad) <= within)
        assert {tuple(c) for c in within_now} <= {tuple(c) for c in cells}
        assert sites[0].contact.closing_rad == first.closing_rad
        assert all(s.gap_mm <= within + 1e-12 for s in sites)
        sizes.append(len(cells))
    assert sizes == sorted(sizes)


def test_normal_gap_equals_the_library_distance():
    """Against coal's mesh distance (general-purpose, double precision) where the site is the nearest place."""
    collide = pytest.importorskip("naive.collide", reason="coal is a library of the tests")
    families = ("balls", "boxes tumbled", "sheets", "fine on coarse")
    for case in (of_family(family, k) for family in families for k in range(2)):
        up, low = pair(case)
        upper, lower = ready(up, low)
        contact = first_contact(upper, lower)
        closed = contact.closing_rad - 0.002
        got = gap_along_normal_mm(upper, lower, contact, closed_rad=closed, radius_mm=20.0)
        assert got == pytest.approx(collide.apart_mm(collide.model(up), collide.model(low), closed), abs=1e-7)
        assert 0 < got <= gap_along_closure_mm(contact, closed)


@pytest.mark.parametrize("case", range(2 * len(FAMILIES)))
def test_borders_are_those_the_plain_count_finds(case):
    rng = np.random.default_rng(case)
    for arch, body in zip(("upper", "lower"), pair(case), strict=True):
        for faces in (
            body.faces,
            body.faces[rng.permutation(len(body.faces))[: -(-4 * len(body.faces) // 5)]],
            np.roll(body.faces, 1, axis=0)[:, ::-1],
        ):
            edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
            plain, count = np.unique(edges, axis=0, return_counts=True)
            got = border_edges(prepare(body.vertices, faces, arch=arch))
            assert {tuple(sorted(e)) for e in got.tolist()} == {tuple(e) for e in plain[count == 1].tolist()}
            assert len(got) == (count == 1).sum()


def test_a_face_turned_over_is_no_border():
    body = ball(2)
    faces = body.faces.copy()
    faces[5] = faces[5, ::-1]
    assert len(border_edges(prepare(*placed(Body(body.vertices, faces), (60, 0, 0)), arch="upper"))) == 0


def test_refusals():
    up, low = ready(*pair(0))
    chart = closing_map(up, low)
    with pytest.raises(ValueError, match="finite width"):
        closing_map(up, low, cell_mm=0.0)
    with pytest.raises(ValueError, match="wider cells"):
        closing_map(up, low, cell_mm=1e-5)
    with pytest.raises(ValueError, match="upper and a lower"):
        closing_map(low, up)
    with pytest.raises(ValueError, match="upper and a lower"):
        vertex_gaps(low, up)
    with pytest.raises(ValueError, match="thickness"):
        contact_sites(up, low, chart, within_mm=-0.1)
    away = prepare(*placed(box(), (60, -20, 40)), arch="lower")
    nothing = closing_map(up, away)
    assert isinstance(nothing, ClosingMap) and nothing.gap_rad.shape == (0, 0)
    assert contact_sites(up, away, nothing) == ()
    assert np.isnan(vertex_gaps(up, away).lower_mm).all()
