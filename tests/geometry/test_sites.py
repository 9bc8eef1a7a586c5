"""Contact sites by label and thickness: against the naive twin, and where a map of cells alone would miss them."""

from __future__ import annotations

import os

import numpy as np
import pytest

from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contact
from mountproof.geometry.sites import FACE_FACE, contact_sites, meetings, sites_of, unknown_places
from mountproof.geometry.surface import prepare
from naive import sites as naive
from naive.bodies import Body, ball, box, placed, refined, sheet, soup, tumbled, turned

WITHIN = (0.008, 0.04, 0.2, 1.0)


def bodies(case: int) -> tuple[Body, Body]:
    rng = np.random.default_rng(70 + case)
    made = [
        lambda: (sheet(rng, 5, bump=0.3), sheet(rng, 4, bump=0.3)),
        lambda: (tumbled(ball(1), rng), tumbled(refined(ball(0)), rng)),
        lambda: (soup(rng, 16, 3.0), soup(rng, 14, 3.0)),
        lambda: (tumbled(box(), rng), tumbled(box(1.0, 0.5, 2.0), rng)),
    ][case % 4]
    up, low = made()
    return placed(up, (60, -15, 0)), turned(placed(low, (60.2, -15, 0.1)), -0.12)


def labels(body: Body, case: int, kinds: int = 3) -> np.ndarray:
    """One to three parts by where their faces stand, and some faces of none."""
    rng = np.random.default_rng(case)
    by_z = 10 + np.argsort(np.argsort(body.vertices[body.faces][:, :, 2].mean(axis=1))) * kinds // len(
        body.faces
    )
    return np.where(rng.uniform(size=len(body.faces)) < 0.15, 0, by_z).astype(np.int32)


def told(sites, upper_labels, lower_labels, cell_mm):
    return sorted(
        (
            (int(upper_labels[s.contact.upper_face]), int(lower_labels[s.contact.lower_face])),
            sorted(map(tuple, s.cells.tolist())),
            round(s.area_mm2 / cell_mm**2),
            s.contact.closing_rad,
            s.gap_mm,
        )
        for s in sites
    )


@pytest.mark.parametrize("case", range(4 if "PLANTED" in os.environ else 12))
def test_sites_under_every_thickness_equal_the_naive_twin(case):
    """Alike: labels, cells, area, contact, gap; those under each thickness read off one search for the largest."""
    up, low = bodies(case)
    on_upper, on_lower = labels(up, case), labels(low, case + 1, 2)
    upper, lower = prepare(*up, arch="upper"), prepare(*low, arch="lower")
    chart = closing_map(upper, lower, cell_mm=0.4)
    every = naive.meetings(up, low, on_upper, on_lower, chart)
    assert len(every) > 10
    closed = min(m.closing_rad for m in every) + (0.0 if case % 2 else 0.006)
    met = meetings(upper, lower, chart, closed_rad=closed, within_mm=WITHIN[-1],
                   upper_labels=on_upper, lower_labels=on_lower)  # fmt: skip
    for within in WITHIN:
        want = sorted(
            (s.labels, sorted(s.cells), s.area_cells, s.closing_rad, s.gap_mm)
            for s in naive.sites(every, closed + 1e-12, within)
        )
        got = told(sites_of(upper, lower, chart, met, within), on_upper, on_lower, chart.cell_mm)
        assert [g[:3] for g in got] == [w[:3] for w in want]
        assert np.allclose([g[3:] for g in got], [w[3:] for w in want], rtol=0, atol=1e-9)
        alone = contact_sites(upper, lower, chart, closed_rad=closed, within_mm=within,
                              upper_labels=on_upper, lower_labels=on_lower)  # fmt: skip
        assert told(alone, on_upper, on_lower, chart.cell_mm) == got


def plates(upper_xz, lower_xz, height: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Level triangles, those of the upper at their own ``height`` above y = -40, those of the lower on y = -41."""
    up = np.array([[(x, -40 + h, z) for x, z in t] for t, h in upper_xz], float)
    low = np.array([[(x, -41 - height, z) for x, z in t] for t in lower_xz], float)
    return (
        *(
            a
            for t in (up, low)
            for a in (t.reshape(-1, 3), np.arange(t.size // 3, dtype=np.int32).reshape(-1, 3))
        ),
    )


SMALL = [(60.01, 0.01), (60.03, 0.01), (60.02, 0.03)]
BESIDE = [(60.05, 0.06), (60.07, 0.06), (60.06, 0.08)]
WIDE = [(50.0, -20.0), (75.0, -20.0), (60.0, 30.0)]


def both(up_v, up_f, low_v, low_f):
    upper, lower = prepare(up_v, up_f, arch="upper"), prepare(low_v, low_f, arch="lower")
    return upper, lower, closing_map(upper, lower)


def test_two_pairs_of_labels_that_meet_in_one_cell_are_two_sites():
    """Two specks of the upper, 0.07 mm apart and both between the centres of the cells: neither hides the other."""
    upper, lower, chart = both(*plates([(SMALL, 0.0), (BESIDE, 0.004)], [WIDE], 0.0))
    first = first_contact(upper, lower)
    tags = np.array([16, 17], np.int32), np.array([46], np.int32)
    got = contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=0.008,
                        upper_labels=tags[0], lower_labels=tags[1])  # fmt: skip
    assert [s.contact.upper_face for s in got] == [0, 1]
    assert [s.cells.tolist() for s in got] == [got[0].cells.tolist()] * 2, "one cell, the same"
    assert [s.area_mm2 for s in got] == [0.0, 0.0], "smaller than a cell"
    assert got[0].gap_mm == 0.0 and 0.003 < got[1].gap_mm < 0.005
    under = contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=0.003,
                          upper_labels=tags[0], lower_labels=tags[1])  # fmt: skip
    assert [s.contact.upper_face for s in under] == [0]
    assert len(contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=0.008)) == 1


def test_what_carries_no_label_hides_nothing():
    """Gum that meets first in the same cell is no site, and takes nothing from the tooth beside it."""
    upper, lower, chart = both(*plates([(SMALL, 0.0), (BESIDE, 0.004)], [WIDE], 0.0))
    first = first_contact(upper, lower)
    got = contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=0.008,
                        upper_labels=np.array([0, 17], np.int32))  # fmt: skip
    assert [s.contact.upper_face for s in got] == [1]
    nothing = contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=0.008,
                            lower_labels=np.array([0], np.int32))  # fmt: skip
    assert nothing == ()


def test_a_patch_without_the_first_contact_of_any_pair_of_faces_has_that_of_a_centre():
    """A needle askew crosses cells far from where it first meets: its gap there is that at a centre."""
    long = [(55.0, 0.0), (65.0, 0.83), (65.0, 0.85)]
    upper, lower, chart = both(*plates([(long, 0.0)], [WIDE], 0.0))
    first = first_contact(upper, lower)
    whole = contact_sites(upper, lower, chart, closed_rad=first.closing_rad, within_mm=5.0)
    kinds = [s.contact.kind for s in whole]
    assert len(whole) > 1 and kinds[0] != FACE_FACE and set(kinds[1:]) == {FACE_FACE}
    gaps = chart.gap_mm(first.closing_rad)
    for site in whole[1:]:
        r = float(np.hypot(*site.contact.point_mm[:2]))
        assert site.gap_mm == np.nanmin(gaps[tuple(site.cells.T)])
        assert site.gap_mm == pytest.approx(r * (site.contact.closing_rad - first.closing_rad), abs=1e-12)
        assert site.contact.normal == pytest.approx([0, -1, 0], abs=0.02)
        at = np.array([r, site.contact.point_mm[2]])
        assert (
            np.abs(site.cells * chart.cell_mm + [chart.r0_mm, chart.z0_mm] - at).max(axis=1).min()
            <= chart.cell_mm
        )


def test_known_only_leaves_out_what_a_border_may_cause():
    """A speck with its tip in the middle of a cell and its border in the next one: it may be an end of the scan."""
    x, tip = np.sqrt(72.05**2 - 40.0**2), np.sqrt(72.15**2 - 40.0**2)
    ring = [(x + a, -39.99, 0.05 + b) for a, b in ((-0.2, -0.2), (0.2, -0.2), (0.2, 0.2), (-0.2, 0.2))]
    fan = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]], np.int32)
    wide = np.array([(50.0, -41.0, -20.0), (75.0, -41.0, -20.0), (60.0, -41.0, 30.0)])
    upper, lower, chart = both(
        np.array([*ring, (tip, -40.0, 0.05)]), fan, wide, np.array([[0, 1, 2]], np.int32)
    )
    first = first_contact(upper, lower)
    every, known = (
        meetings(upper, lower, chart, closed_rad=first.closing_rad, within_mm=0.008, known_only=only)
        for only in (False, True)
    )
    at = tuple(every.cells[0])
    assert not chart.unknown[at] and chart.unknown[at[0] - 1 : at[0] + 2, at[1] - 1 : at[1] + 2].any()
    assert not every.centre[0] and every.gap_mm[0] == 0.0
    assert known.centre.all() and 0 < len(known.gap_mm) <= every.centre.sum()
    assert not chart.unknown[tuple(known.cells.T)].any()
    assert sites_of(upper, lower, chart, known)[0].unknown


def test_unknown_places_among_some_cells():
    """A band left out cuts each of the two rims of an open sheet in two; their rims are looked for all around."""
    rng = np.random.default_rng(3)
    up, low = placed(sheet(rng, 30, bump=0.01), (60, -3, 0)), placed(sheet(rng, 30, bump=0.01), (60, -5, 0))
    centre = low.vertices[low.faces].mean(axis=1)
    low = Body(low.vertices, low.faces[np.abs(centre[:, 2]) > 0.3])
    chart = closing_map(prepare(*up, arch="upper"), prepare(*low, arch="lower"))
    whole = max(unknown_places(chart), key=lambda p: p.area_mm2)
    among = np.ones(chart.unknown.shape, bool)
    middle = int(np.median(whole.cells[:, 0]))
    among[middle - 1 : middle + 2] = False
    parts = unknown_places(chart, among)
    assert {tuple(c) for p in parts for c in p.cells} == {
        tuple(c) for c in np.argwhere(chart.unknown & among)
    }
    assert len(parts) == 2 * len(unknown_places(chart))
    for place in parts:
        near = np.zeros_like(chart.unknown)
        for u in (-1, 0, 1):
            for v in (-1, 0, 1):
                i, j = place.cells[:, 0] + u, place.cells[:, 1] + v
                inside = (i >= 0) & (j >= 0) & (i < near.shape[0]) & (j < near.shape[1])
                near[i[inside], j[inside]] = True
        assert place.rim_gap_rad == np.nanmin(chart.gap_rad[near])


def test_refusals():
    upper, lower, chart = both(*plates([(SMALL, 0.0)], [WIDE], 0.0))
    met = meetings(upper, lower, chart, within_mm=0.1)
    with pytest.raises(ValueError, match=r"up to 0\.1 mm"):
        sites_of(upper, lower, chart, met, 0.2)
    with pytest.raises(ValueError, match="one label per face"):
        meetings(upper, lower, chart, upper_labels=np.array([1, 2], np.int32))
