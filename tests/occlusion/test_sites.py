"""Sites: foil thresholds, holes, ties, and the two lengths of a gap kept apart."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contacts_by_label
from mountproof.geometry.surface import prepare
from mountproof.occlusion.sites import FOILS_UM, Sited, SiteTable, at_closure, place_teeth, ties
from mountproof.teeth import mirrored, right_to_left
from occlusion.inclined_planes import FACET_FACES, facet, turned
from occlusion.made_arch import row_of_blocks
from occlusion.open_arch_files import read_open_arch
from published.agree import agrees

THIRD_MOLARS = {18, 28, 38, 48}
Arrays = tuple[np.ndarray, np.ndarray, np.ndarray]


def sited(upper: Arrays, lower: Arrays, cell_mm: float = 0.1) -> Sited:
    u = prepare(upper[0], upper[1], arch="upper")
    w = prepare(lower[0], lower[1], arch="lower")
    pairs = first_contacts_by_label(u, w, upper[2], lower[2], within_rad=0.06)
    return place_teeth(closing_map(u, w, cell_mm=cell_mm), u, w, upper[2], lower[2], pairs)


@lru_cache(maxsize=1)
def blocks() -> tuple[Arrays, Arrays]:
    upper = row_of_blocks("upper", [t for t in right_to_left("upper") if t not in THIRD_MOLARS])
    lower = row_of_blocks(
        "lower", [t for t in right_to_left("lower") if t not in THIRD_MOLARS], front_mm=84.0
    )
    rng = np.random.default_rng(5)
    shift = {int(t): rng.uniform(-0.15, 0.15) for t in np.unique(lower[2])}
    v = lower[0] - [0.0, 3.1, 0.0]
    for tooth, by in shift.items():
        v[np.unique(lower[1][lower[2] == tooth])] += [0.0, by, 0.0]
    return upper, (v, lower[1], lower[2])


@lru_cache(maxsize=1)
def blocks_sited() -> Sited:
    return sited(*blocks())


def first_rad(s: Sited) -> float:
    return min(p.contact.closing_rad for p in s.pairs)


def by_tooth(table: SiteTable) -> dict[tuple[int, int], float]:
    return {(t.tooth, k): a for t in table.teeth for k, a in enumerate(t.area_mm2)}


@settings(max_examples=25)
@given(beyond=st.floats(-0.002, 0.004))
def test_counts_rise_with_thickness_and_areas_add_up(beyond: float) -> None:
    s = blocks_sited()
    table = at_closure(s, first_rad(s) + beyond)
    for tooth in table.teeth:
        assert list(tooth.area_mm2) == sorted(tooth.area_mm2)
        order = ["free", "holds"]
        assert [order.index(x) for x in tooth.state] == sorted(order.index(x) for x in tooth.state)
        assert tooth.unknown_mm2 == 0.0
    for k, foil in enumerate(FOILS_UM):
        here = [x for x in table.sites if x.foil_um == foil]
        assert [x.number for x in here] == list(range(1, len(here) + 1))
        gaps = [x.gap_along_closure_mm for x in here]
        assert gaps == sorted(gaps) and all(g <= foil / 1000 for g in gaps)
        in_sites = sum(x.area_mm2 for x in here)
        upper = sum(t.area_mm2[k] for t in table.teeth if t.tooth < 30)
        lower = sum(t.area_mm2[k] for t in table.teeth if t.tooth > 30)
        assert in_sites == pytest.approx(upper) == pytest.approx(lower)
        for tooth in table.teeth:
            has_site = any(tooth.tooth in (x.upper_tooth, x.lower_tooth) for x in here)
            assert has_site == (tooth.state[k] == "holds")


@settings(max_examples=15)
@given(a=st.floats(0.0, 0.003), b=st.floats(0.0, 0.003))
def test_closing_further_never_loses_a_contact(a: float, b: float) -> None:
    s = blocks_sited()
    less, more = (at_closure(s, first_rad(s) + x) for x in sorted((a, b)))
    for t, u in zip(less.teeth, more.teeth, strict=True):
        assert t.tooth == u.tooth and all(x <= y for x, y in zip(t.area_mm2, u.area_mm2, strict=True))
        assert t.smallest_gap_mm >= u.smallest_gap_mm


def test_at_first_contact_one_pair_touches_and_beyond_it_overlaps() -> None:
    s = blocks_sited()
    table = at_closure(s, first_rad(s))
    first = min(table.pairs, key=lambda p: p.remaining_rad)
    assert first.remaining_along_closure_mm == 0.0 and first.known
    state = {t.tooth: t.state[0] for t in table.teeth}
    assert state[first.upper_tooth] == state[first.lower_tooth] == "holds"
    r = float(np.hypot(*first.upper_point_mm[:2]))
    beyond = at_closure(s, first_rad(s) + 0.1 / r)
    assert min(p.remaining_along_closure_mm for p in beyond.pairs) == pytest.approx(-0.1)
    assert min(t.smallest_gap_mm for t in beyond.teeth) <= -0.1 + 1e-12


def test_pair_points_lie_on_one_arc() -> None:
    s = blocks_sited()
    for p in at_closure(s, 0.0).pairs:
        assert turned(p.lower_point_mm[None], p.closing_rad)[0] == pytest.approx(p.upper_point_mm, abs=1e-9)
        assert 0.0 <= p.remaining_along_normal_mm <= p.remaining_along_closure_mm


def test_mirrored_case_mirrors_everything() -> None:
    upper, lower = blocks()
    here = blocks_sited()

    def mirror(a: Arrays) -> Arrays:
        return (
            a[0] * [1, 1, -1],
            np.ascontiguousarray(a[1][:, ::-1]),
            np.array([mirrored(int(t)) for t in a[2]]),
        )

    there = sited(mirror(upper), mirror(lower))
    closed = first_rad(here) + 0.001
    assert first_rad(there) == pytest.approx(first_rad(here), abs=1e-12)
    one, two = at_closure(here, closed), at_closure(there, closed)
    assert {(mirrored(t), k): a for (t, k), a in by_tooth(one).items()} == pytest.approx(
        by_tooth(two), abs=0.031
    )
    told = {(mirrored(p.upper_tooth), mirrored(p.lower_tooth)): p for p in one.pairs}
    for p in two.pairs:
        q = told[p.upper_tooth, p.lower_tooth]
        assert p.remaining_rad == pytest.approx(q.remaining_rad, abs=1e-12)
        assert (p.upper_facing, p.lower_facing) == (q.upper_facing, q.lower_facing)


@settings(max_examples=4)
@given(turn=st.floats(-0.15, 0.15), along=st.integers(-60, 60))
def test_moving_the_whole_case_changes_nothing(turn: float, along: int) -> None:
    """Turned together about the hinge and pushed along it by whole cells: same contacts, areas and words."""
    upper, lower = blocks()
    here = blocks_sited()
    push = np.array([0.0, 0.0, 0.1 * along])
    there = sited((turned(upper[0], turn) + push, *upper[1:]), (turned(lower[0], turn) + push, *lower[1:]))
    closed = first_rad(here) + 0.001
    one, two = at_closure(here, closed), at_closure(there, closed)
    # A cell whose centre lies on an edge of a face may fall to either side after the move.
    assert by_tooth(one) == pytest.approx(by_tooth(two), abs=0.021)
    for p, q in zip(one.pairs, two.pairs, strict=True):
        assert (p.upper_tooth, p.lower_tooth) == (q.upper_tooth, q.lower_tooth)
        assert p.remaining_rad == pytest.approx(q.remaining_rad, abs=1e-12)


@settings(max_examples=40)
@given(st.lists(st.floats(0.0, 1.0), min_size=0, max_size=3, unique=True))
def test_ties_list_everything_within_the_band(bands: list[float]) -> None:
    pairs = at_closure(blocks_sited(), 0.0).pairs
    assert len(ties(pairs, 0.0)) >= 1
    sizes = [len(ties(pairs, b)) for b in sorted(bands)]
    assert sizes == sorted(sizes)
    assert len(ties(pairs, 1e6)) == len(pairs)
    assert ties((), 1.0) == ()
    for b in bands:
        got = ties(pairs, b)
        first = got[0].remaining_rad
        radius = [float(np.hypot(*p.upper_point_mm[:2])) for p in pairs]
        want = {id(p) for p, r in zip(pairs, radius, strict=True) if (p.remaining_rad - first) * r <= b}
        assert {id(p) for p in got} == want


@pytest.mark.parametrize(("tilt_deg", "along"), [(35.0, "0.12"), (50.0, "0.16")])
def test_gap_along_the_normal_is_not_the_gap_along_closure(tilt_deg: float, along: str) -> None:
    """Plane geometry: 0.10 mm between two inclines is 0.12 mm along closure at 35 degrees and 0.16 at 50."""
    v = facet(tilt_deg)
    r = float(np.hypot(*v.mean(axis=0)[:2]))
    delta = 0.10 / np.cos(np.radians(tilt_deg)) / r
    teeth = np.full(len(FACET_FACES), 16), np.full(len(FACET_FACES), 46)
    s = sited((turned(v, delta), FACET_FACES, teeth[0]), (v, FACET_FACES, teeth[1]))
    table = at_closure(s, 0.0, (200.0,))
    middle = [x for x in table.sites if x.foil_um == 200.0]
    assert len(middle) == 1
    ratio = middle[0].gap_along_closure_mm / middle[0].gap_along_normal_mm
    assert ratio == pytest.approx(
        1.0 / np.cos(np.radians(tilt_deg)), rel=2e-3
    )  # the radius turns a little over the facet
    agrees(along, 0.10 * ratio)
    gaps = s.closing.gap_mm()
    assert np.nanmax(np.abs(s.closing.gap_rad - delta)) < 1e-12
    # Independent route: distance of the upper facet's middle from the lower's plane.
    a, b, c = v[0], v[24], v[-1]
    n = np.cross(b - a, c - a)
    away = abs(float((turned(v, delta)[312] - a) @ n)) / float(np.linalg.norm(n))
    assert away == pytest.approx(0.10, abs=2e-4) and np.isfinite(gaps).any()


def test_a_hole_at_the_contact_makes_the_answer_unknown() -> None:
    """Where the first contact is cut out of the scan, the tooth is not said to be free there (trap 52)."""
    upper, lower = blocks()
    s = blocks_sited()
    first = min(at_closure(s, 0.0).pairs, key=lambda p: p.remaining_rad)
    centre = upper[0][upper[1]].mean(axis=1)
    keep = np.linalg.norm(centre - first.upper_point_mm, axis=1) > 1.6
    assert 0 < (~keep).sum() < 100
    holed = sited((upper[0], upper[1][keep], upper[2][keep]), lower)
    table = at_closure(holed, first.closing_rad)
    row = next(t for t in table.teeth if t.tooth == first.upper_tooth)
    assert row.state[0] == "unknown" and row.unknown_mm2 > 0.0 and 0.0 < row.unknown_share < 1.0
    opposed = next(t for t in table.teeth if t.tooth == first.lower_tooth)
    assert opposed.unknown_mm2 > 0.0
    far = [t for t in table.teeth if t.tooth in (first.upper_tooth // 10 * 10 + 7, 24, 25)]
    assert all(t.unknown_mm2 == 0.0 for t in far if t.tooth not in (first.upper_tooth, first.lower_tooth))


def test_thicknesses_must_rise() -> None:
    for bad in ((), (8.0, 8.0), (12.0, 8.0)):
        with pytest.raises(ValueError, match="rise"):
            at_closure(blocks_sited(), 0.0, bad)


@pytest.mark.open_arches
def test_real_arches_and_a_hole_in_them(open_arches) -> None:  # type: ignore[no-untyped-def]
    upper, lower = read_open_arch(open_arches, "upper"), read_open_arch(open_arches, "lower")
    s = sited(upper, lower)
    table = at_closure(s, first_rad(s))
    first = min(table.pairs, key=lambda p: p.remaining_rad)
    holds = [t.tooth for t in table.teeth if t.state[0] == "holds"]
    assert holds == [first.upper_tooth, first.lower_tooth]
    centre = upper[0][upper[1]].mean(axis=1)
    keep = np.linalg.norm(centre - first.upper_point_mm, axis=1) > 0.6
    holed = sited((upper[0], upper[1][keep], upper[2][keep]), lower)
    again = at_closure(holed, first.closing_rad)
    state = {t.tooth: t.state[0] for t in again.teeth}
    assert state[first.upper_tooth] == "unknown" and state[first.lower_tooth] == "unknown"
    assert "holds" not in state.values()
    others = {t.tooth: t.area_mm2 for t in table.teeth if state[t.tooth] == "free"}
    assert others == {t.tooth: t.area_mm2 for t in again.teeth if t.tooth in others}


def test_two_needles_of_one_tooth_pair_are_two_sites_even_between_the_cells_of_the_map() -> None:
    """Needles 0.02 mm wide, no centre of a 0.1 mm cell on either: both hold every foil, each with its exact gap."""
    x, tip, roof, floor, half = 60.05, -40.0, -39.5, -41.0, 0.01
    upper_v: list[tuple[float, float, float]] = [
        (x + a, roof, b) for a, b in ((-5, -5), (5, -5), (5, 5), (-5, 5))
    ]
    upper_f = [(0, 1, 2), (0, 2, 3)]
    for z in (-1.0, 1.0):
        k = len(upper_v)
        upper_v += [(x - half, roof, z - half), (x + half, roof, z - half), (x, roof, z + half), (x, tip, z)]
        upper_f += [(k, k + 1, k + 3), (k + 1, k + 2, k + 3), (k + 2, k, k + 3)]
    lower_v = [(x + a, floor, b) for a, b in ((-8, -5), (8, -5), (8, 5), (-8, 5))]
    lower_f = [(0, 1, 2), (0, 2, 3)]
    upper = (np.array(upper_v, float), np.array(upper_f, np.int32), np.full(len(upper_f), 16, np.int32))
    lower = (np.array(lower_v, float), np.array(lower_f, np.int32), np.full(len(lower_f), 46, np.int32))
    s = sited(upper, lower)
    table = at_closure(s, first_rad(s))
    for foil in FOILS_UM:
        here = [site for site in table.sites if site.foil_um == foil]
        assert len(here) == 2
        assert sorted(round(float(site.upper_point_mm[2]), 6) for site in here) == [-1.0, 1.0]
        assert all(abs(site.gap_along_closure_mm) < 1e-9 and site.area_mm2 == 0.0 for site in here)
    assert {t.tooth: t.state for t in table.teeth} == {16: ("holds",) * 5, 46: ("holds",) * 5}
