"""Laws of first contact: what must not change, and what must change in step, whatever the bodies are."""

from __future__ import annotations

import math
import os

import numpy as np
import pytest

from mountproof.geometry.closing import closing_map, vertex_gaps
from mountproof.geometry.contact import first_contact, first_contacts_by_label
from mountproof.geometry.poses import closed, opened
from mountproof.geometry.sites import contact_sites
from mountproof.geometry.surface import moved, prepare
from naive.bodies import FAMILIES, Body, pair, placed, refined, sheet, turned
from naive.first_contact import first_contact_rad

#: Fewer bodies where a fault is planted: there the kernels run uncompiled.
CASES = range(len(FAMILIES)) if "PLANTED" in os.environ else range(5 * len(FAMILIES))

#: Moving coordinates of 100 mm rounds them by 1e-14 mm, and near ties lift that by their slope.
SAME_RAD = 1e-12


#: Bodies that meet at many places at once: rounding may name another of them.
TIED = ("boxes square", "coplanar sheets", "near tie", "shared edges")


#: Bodies that fill the space before the hinge: turned, they would pass behind it.
WIDE = ("near the axis", "chords")


def closing(up: Body, low: Body) -> float:
    got = first_contact(prepare(*up, arch="upper"), prepare(*low, arch="lower"))
    return math.inf if got is None else got.closing_rad


def same(a: float, b: float) -> bool:
    return a == b or abs(a - b) <= SAME_RAD


@pytest.mark.parametrize("case", CASES)
def test_left_and_right_mirrored(case):
    up, low = pair(case)
    mirror = np.array([1.0, 1.0, -1.0])
    flipped = (Body(b.vertices * mirror, b.faces[:, ::-1]) for b in (up, low))
    assert same(closing(up, low), closing(*flipped))


@pytest.mark.parametrize("case", CASES)
def test_up_and_down_exchanged(case):
    """Mirrored in the plane y = 0 the lower hangs and the upper closes: the same angle."""
    up, low = pair(case)
    mirror = np.array([1.0, -1.0, 1.0])
    assert same(
        closing(up, low),
        closing(Body(low.vertices * mirror, low.faces), Body(up.vertices * mirror, up.faces)),
    )


@pytest.mark.parametrize("case", CASES)
def test_the_whole_case_moved_rigidly(case):
    """Casts and hinge carried elsewhere together, then put back into the frame of the carried hinge."""
    up, low = pair(case)
    rng = np.random.default_rng(case)
    q, r = np.linalg.qr(rng.standard_normal((3, 3)))
    q = q * np.sign(np.diag(r))
    q = q if np.linalg.det(q) > 0 else -q
    shift = rng.uniform(-80, 80, 3)
    back = (Body(((b.vertices @ q.T + shift) - shift) @ q, b.faces) for b in (up, low))
    assert same(closing(up, low), closing(*back))


@pytest.mark.parametrize("case", CASES)
def test_both_turned_about_the_hinge_and_shifted_along_it(case):
    up, low = pair(case)
    turn = 0.15 if FAMILIES[case % len(FAMILIES)] not in WIDE else 0.0
    both = (placed(turned(b, turn), (0, 0, 7.5)) for b in (up, low))
    assert same(closing(up, low), closing(*both))


@pytest.mark.parametrize("case", CASES)
def test_all_lengths_scaled(case):
    up, low = pair(case)
    assert same(closing(up, low), closing(placed(up, (0, 0, 0), 0.37), placed(low, (0, 0, 0), 0.37)))


@pytest.mark.parametrize("case", CASES)
def test_opening_adds_to_closing_and_closing_to_contact_leaves_none(case):
    up, low = pair(case)
    upper, lower = prepare(*up, arch="upper"), prepare(*low, arch="lower")
    got = first_contact(upper, lower)
    if got is None or FAMILIES[case % len(FAMILIES)] in WIDE:
        return
    more = first_contact(upper, moved(lower, opened(0.05)))
    assert more is not None and same(more.closing_rad, got.closing_rad + 0.05)
    back = first_contact(upper, moved(lower, opened(0.05) @ closed(0.05)))
    assert back is not None and same(back.closing_rad, got.closing_rad)
    there = first_contact(upper, moved(lower, closed(got.closing_rad)))
    assert there is not None and same(there.closing_rad, 0.0)
    if FAMILIES[case % len(FAMILIES)] not in TIED:
        assert np.allclose(there.point_mm, got.point_mm, atol=1e-9)


@pytest.mark.parametrize("case", CASES)
def test_halving_flat_faces_changes_nothing(case):
    up, low = pair(case)
    assert same(closing(up, low), closing(refined(up), refined(low)))


@pytest.mark.parametrize("case", CASES)
def test_order_and_names_of_faces_do_not_matter(case):
    up, low = pair(case)
    rng = np.random.default_rng(case)
    mixed = []
    for body in (up, low):
        new = rng.permutation(len(body.vertices))
        faces = new[body.faces][rng.permutation(len(body.faces))]
        vertices = np.zeros_like(body.vertices)
        vertices[new] = body.vertices
        mixed.append(Body(vertices, np.roll(faces, 1, axis=1)))
    assert same(closing(up, low), closing(*mixed))


@pytest.mark.parametrize("case", CASES)
def test_the_whole_is_the_earliest_of_its_parts(case):
    up, low = pair(case)
    rng = np.random.default_rng(case)
    upper, lower = prepare(*up, arch="upper"), prepare(*low, arch="lower")
    labels = rng.integers(1, 4, len(up.faces)), rng.integers(1, 4, len(low.faces))
    met = first_contacts_by_label(upper, lower, *labels)
    whole = first_contact(upper, lower)
    assert (whole is None) == (not met)
    if whole is not None:
        assert met[0].contact.closing_rad == whole.closing_rad
    named = rng.permutation(4)
    named[named == 0] = 9
    renamed = first_contacts_by_label(upper, lower, labels[0], named[labels[1]])
    assert [p.contact.closing_rad for p in renamed] == [p.contact.closing_rad for p in met]


@pytest.mark.parametrize("case", CASES)
def test_taking_faces_away_never_makes_contact_earlier(case):
    up, low = pair(case)
    half = Body(low.vertices, low.faces[::2])
    assert closing(up, half) >= closing(up, low) - SAME_RAD


@pytest.mark.parametrize("case", CASES)
def test_contact_is_where_the_plain_algebra_says(case):
    up, low = pair(case)
    want = first_contact_rad(*up, *low)
    assert same(closing(up, low), math.inf if want is None else want)


@pytest.mark.parametrize("case", CASES)
def test_no_vertex_gap_and_no_cell_is_below_first_contact(case):
    up, low = (prepare(*b, arch=a) for b, a in zip(pair(case), ("upper", "lower"), strict=True))
    got = first_contact(up, low)
    if got is None:
        return
    gaps = vertex_gaps(up, low)
    least = min(
        np.nanmin(gaps.lower_mm / np.sqrt(low.polar[:, 0]), initial=math.inf),
        np.nanmin(gaps.upper_mm / np.sqrt(up.polar[:, 0]), initial=math.inf),
    )
    assert least >= got.closing_rad - SAME_RAD
    if got.kind != "edge-edge":
        assert same(least, got.closing_rad)
    chart = closing_map(up, low, cell_mm=0.5)
    assert np.nanmin(chart.gap_rad, initial=math.inf) >= got.closing_rad - SAME_RAD
    sites = contact_sites(up, low, chart, closed_rad=got.closing_rad)
    assert sites and sites[0].contact.closing_rad == got.closing_rad


@pytest.mark.parametrize("halvings", [1, 2, 3])
def test_refining_a_curved_surface_converges_at_second_order(halvings):
    """Flat faces between points of a smooth hill: the contact's error falls by four when the width is halved."""

    def hill(n: int) -> Body:
        flat = sheet(np.random.default_rng(0), n, bump=0.0)
        x, _, z = flat.vertices.T
        return Body(np.stack([x, 1.5 * np.exp(-((x - 0.31) ** 2) - (z + 0.47) ** 2), z], 1), flat.faces)

    up = placed(sheet(np.random.default_rng(0), 2, size=6.0, bump=0.0), (60, 2, 0))
    coarse, fine = 5 * 2**halvings + 1, 5 * 2 ** (halvings + 1) + 1
    true = closing(up, placed(hill(1281 if "PLANTED" not in os.environ else 321), (60, -3, 0)))
    errors = [closing(up, placed(hill(n), (60, -3, 0))) - true for n in (coarse, fine)]
    width = 6.0 / (coarse - 1)
    assert 0 <= errors[1] <= 1.5 * 2 * (width / 2) ** 2 / 50
    assert 0 <= errors[0] <= 1.5 * 2 * width**2 / 50
