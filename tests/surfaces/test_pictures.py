"""Pictures of records and mountings: words inside and apart, sides on their sides, ellipses as long as their eigenvalues."""

from __future__ import annotations

import math
import re
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.picture_data import Dots, Scatter
from mountproof.answers.result import Answer, Verdict
from mountproof.surfaces.pictures.causes import causes_plate
from mountproof.surfaces.pictures.foils import foil_plate
from mountproof.surfaces.pictures.gallery import gallery
from mountproof.surfaces.pictures.plate import Plate, meet, word_box
from mountproof.surfaces.pictures.residual import EDGES_MM, residual_plate
from mountproof.surfaces.pictures.scatter import ABOVE, SIDE, axes, round_length, scatter_plate
from mountproof.surfaces.pictures.splits import split_plate
from mountproof.surfaces.pictures.svg import plate_svg
from mountproof.surfaces.web.tongue import speaker
from surfaces.make_pictures import (
    make_causes,
    make_doubt,
    make_foils,
    make_map,
    make_mounting,
    make_record,
    make_scatter,
    make_split,
)
from surfaces.make_views import make_evidence

SAID = {language: speaker(language) for language in ("en", "de")}


def every_plate(language: str) -> list[Plate]:
    found = [make_record(), make_mounting(), make_doubt()]
    answers = [Answer("record", "q", "h", Verdict.AGREES, evidence=one) for one in found]
    contacts = Answer("contacts", "q", "h", Verdict.AGREES, evidence=make_evidence(hole=False))
    return [plate for answer in answers for plate in gallery(answer, SAID[language], str, contacts)]


def boxes(plate: Plate) -> list[tuple[str, tuple[float, float, float, float]]]:
    return [(m.text, word_box((m.x, m.y), m.text, m.size, m.anchor)) for m in plate.marks if m.text]


def place(plate: Plate, text: str) -> tuple[float, float]:
    return next((m.x, m.y) for m in plate.marks if m.text == text)


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_word_lies_inside_and_on_no_other(language):
    for plate in every_plate(language):
        for text, box in boxes(plate):
            assert box[0] >= -4.0 and box[2] <= plate.width + 4.0, (plate.name, text, box)
            assert box[1] >= -6.0 and box[3] <= plate.height + 6.0, (plate.name, text, box)
        for (one, a), (other, b) in combinations(boxes(plate), 2):
            assert not meet(a, b), (plate.name, one, other)


@pytest.mark.parametrize("count", [1, 2, 12, 30])
@pytest.mark.parametrize("long_names", [False, True])
def test_many_records_keep_their_names_apart(count, long_names):
    found = make_scatter(count, long_names=long_names)
    plate = scatter_plate(found, str)
    for (one, a), (other, b) in combinations(boxes(plate), 2):
        assert not meet(a, b), (one, other)
    named = "1" if long_names else "W1"
    assert sum(text == named for text, _ in boxes(plate)) == 2 * len(found.dots)
    assert len(plate.table.rows) == count
    assert all(len(row) == len(plate.table.columns) for row in plate.table.rows)


@given(
    st.lists(st.floats(0.01, 3.0), min_size=3, max_size=3),
    st.floats(-3.0, 3.0),
    st.sampled_from([SIDE, ABOVE]),
)
def test_axes_are_the_roots_of_the_eigenvalues(sds, turn, view):
    c, s = np.cos(turn), np.sin(turn)
    turned = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    cov = view @ turned @ np.diag(np.square(sds)) @ turned.T @ view.T
    a, b, angle = axes(cov)
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    assert a >= b
    assert along @ cov @ along == pytest.approx(a * a)
    assert across @ cov @ across == pytest.approx(b * b)
    assert a * a + b * b == pytest.approx(np.trace(cov))


def test_the_doubt_is_drawn_two_standard_deviations_long():
    cov = np.diag([0.04, 0.01, 0.0025])
    dots = Dots("incisors", np.array([[0.5, 0.0, 0.0], [-0.5, 0.0, 0.0]]), cov, 0.3, False)
    plate = scatter_plate(Scatter(("A", "B"), (dots,), "A", None, "B"), str)
    ovals = [m.d for m in plate.marks if m.look == "doubt"]
    circles = [m.d for m in plate.marks if m.look == "usual2"]
    arc = re.compile(r"A([\d.]+) ([\d.]+)")
    two_sd = float(arc.search(circles[0]).group(1))
    side = arc.search(ovals[0])
    # 0.3 mm of usual spread is two thirds of the 0.2 mm ahead and thrice the 0.1 mm up.
    assert float(side.group(1)) / two_sd == pytest.approx(0.2 / 0.3, abs=0.01)
    assert float(side.group(2)) / two_sd == pytest.approx(0.1 / 0.3, abs=0.01)


def test_ahead_up_and_the_sides_lie_where_the_words_say():
    dots = Dots(
        "incisors", np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]), np.eye(3) * 1e-4, 0.1, True
    )
    plate = scatter_plate(Scatter(("A", "B", "C"), (dots,), None, None, None), str)
    rings = [m.d for m in plate.marks if m.look == "open"][:6]
    at = [tuple(float(v) for v in re.findall(r"A[\d. -]+?1 1 (-?[\d.]+) (-?[\d.]+)", d)[0]) for d in rings]
    (ahead, up, right), (ahead2, up2, right2) = at[:3], at[3:]
    assert ahead[0] > right[0] and up[1] < ahead[1], "side view: ahead is on the right, up is up"
    assert right2[0] < up2[0] and ahead2[1] > up2[1], "from above: the right side on the left, ahead below"
    left_word, right_word = (place(plate, word)[0] for word in ("R", "L"))
    assert left_word < right_word


def test_what_is_assumed_is_written():
    assert any("assumed" in text for text, _ in boxes(scatter_plate(make_scatter(), str)))
    measured = make_scatter()._replace(
        dots=tuple(d._replace(usual_assumed=False) for d in make_scatter().dots)
    )
    assert not any("assumed" in text for text, _ in boxes(scatter_plate(measured, str)))


@pytest.mark.parametrize(("reach", "bar"), [(0.05, 0.02), (0.4, 0.2), (1.0, 0.5), (3.9, 1.0), (4.0, 2.0)])
def test_the_scale_bar_is_a_round_length(reach, bar):
    assert round_length(reach) == pytest.approx(bar)


def test_foils_stand_from_the_patients_right_to_the_left_and_differing_teeth_are_framed():
    chart = make_foils()
    plate = foil_plate(chart, "foils", str, str)
    along = [place(plate, tooth)[0] for tooth in ("18", "17", "14", "24", "27", "28")]
    assert along == sorted(along)
    assert place(plate, "48")[0] == place(plate, "18")[0]
    assert place(plate, "R patient's right")[0] < place(plate, "patient's left L")[0]
    frames = [m.d for m in plate.marks if m.look == "frame"]
    assert len(frames) == len(chart.differs) + 1, "one for each tooth, and one in the key"
    framed = sorted(float(re.match(r"M([\d.]+)", d).group(1)) + 15.5 for d in frames[:-1])
    assert framed == pytest.approx(sorted(place(plate, str(t))[0] for t in chart.differs))
    rows = {row[0]: row for row in plate.table.rows}
    assert rows["16"][3] == "differs" and rows["17"][3] == ""
    assert rows["18"][1] == "not tried"


def test_a_gap_that_no_foil_bounds_is_an_arrow_and_above_a_number():
    chart = make_foils()
    bounded = foil_plate(chart, "foils", str, str)
    open_above = chart._replace(fitted_um=chart.fitted_um | {17: (math.nan, 42.0, math.inf)})
    plate = foil_plate(open_above, "foils", str, str)
    assert "above 42" in {row[5] for row in plate.table.rows}
    x = place(plate, "17")[0]
    arrow = [m.d for m in plate.marks if m.look == "thick" and m.d.count("L") == 2 and f" L{x:.1f} " in m.d]
    assert len(arrow) == 1 and place(plate, ">42")[0] == x
    assert not any(t.text.startswith(">") for t in bounded.marks)
    assert "nan" not in str(plate) and "inf" not in str(plate.marks)


def test_the_states_of_a_foil_are_three_shapes():
    plain = make_foils(fitted=False)
    drawn = {}
    for state in ("holds", "drags", "free"):
        side = plain.mouth._replace(states={16: state})
        plate = foil_plate(plain._replace(teeth=(16,), mouth=side, casts=side, differs=()), "f", str, str)
        # The number's box comes first, then both signs; their shapes are what is compared.
        drawn[state] = tuple(
            re.sub(r"[\d. -]", "", m.d) + m.look for m in plate.marks if m.look in ("full", "open")
        )[:2]
    assert len(set(drawn.values())) == 3


def test_lines_of_a_split_cast_have_their_gap_everywhere():
    found = make_split()
    plate = split_plate(found, "split", str)
    gaps = dict(zip([f"{g:.2f}" for g in found.gaps_mm], found.places_mm, strict=True))
    assert all(any(text == gap for text, _ in boxes(plate)) for gap in gaps)
    # From three places and their pixels, the picture's own scale; with it every line is put back into the plane.
    dots = [
        (float(x), float(y))
        for m in plate.marks
        if m.look == "full"
        for x, y in [re.findall(r"A[\d. -]+?1 1 (-?[\d.]+) (-?[\d.]+)", m.d)[0]]
    ]
    pixels = np.array([[x - 4.5, y, 1.0] for x, y in dots])
    back = np.linalg.lstsq(pixels, found.places_mm, rcond=None)[0]
    levels = [re.findall(r"(-?[\d.]+) (-?[\d.]+)", m.d) for m in plate.marks if m.look == "level"]
    assert len(levels) >= 2
    for ends in levels:
        there = np.array([[float(x), float(y), 1.0] for x, y in ends]) @ back
        gap = found.plane[0] + there @ found.plane[1:]
        assert gap[0] == pytest.approx(gap[1], abs=2e-3)
        assert gap[0] / 0.2 == pytest.approx(round(gap[0] / 0.2), abs=0.02)
    assert place(plate, "right condyle +0.35 ± 0.16")[0] < place(plate, "left condyle -0.25 ± 0.16")[0]


def test_bars_are_as_long_as_the_chance_and_the_likeliest_comes_first():
    evidence = make_mounting()._replace(causes=make_causes()[::-1])
    plate = causes_plate(evidence, str)
    lengths = [
        float(re.search(r"h([\d.]+)", m.d).group(1)) / plate.width for m in plate.marks if m.look == "bar"
    ]
    assert lengths == pytest.approx([0.62, 0.21, 0.004], abs=1e-3)
    assert [row[1] for row in plate.table.rows] == ["62 %", "21 %", "below 1 %"]
    assert any("Next check" in text for text, _ in boxes(plate))


@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_a_record_on_a_cast_shows_bands_places_and_what_nobody_saw(arch):
    from mountproof.occlusion.residual_view import residual_view

    found = make_map(arch)
    places = np.array([at for _, at in found.spots])
    view = residual_view(
        arch, found.vertices_mm, found.faces, found.teeth, found.residual_mm,
        band_edges_mm=EDGES_MM, sites_mm=places,
    )  # fmt: skip
    seen = np.isfinite(view.gap_mm)
    assert (view.unknown & seen).sum() == 0 and view.unknown.sum() > 500
    assert seen.sum() > 5000
    assert np.nanmin(view.gap_mm) >= np.nanmin(found.residual_mm) - 1e-9
    assert np.nanmax(view.gap_mm) <= np.nanmax(found.residual_mm) + 1e-9
    # The pixel that a place lies in has the residual of the vertex there.
    for (u, v), at in zip(view.sites_mm[:2], places, strict=False):
        nearest = int(np.argmin(np.linalg.norm(found.vertices_mm - at, axis=1)))
        here = view.gap_mm[int(v / view.frame.pixel_mm), int(u / view.frame.pixel_mm)]
        assert here == pytest.approx(found.residual_mm[nearest], abs=0.03)
    right, left = places[places[:, 2].argmax()], places[places[:, 2].argmin()]
    assert right[2] > left[2]
    assert view.sites_mm[places[:, 2].argmax(), 0] < view.sites_mm[places[:, 2].argmin(), 0]
    plate = residual_plate(found, "record-1", str, str)
    assert place(plate, "R")[0] < place(plate, "L")[0]
    assert any(text == "unknown" for text, _ in boxes(plate))
    assert len(plate.table.rows) == len(found.spots)


def test_a_clean_fit_says_that_nothing_was_found():
    plate = residual_plate(make_map(spots=False), "record-1", str, str)
    assert plate.table.note and not plate.table.rows


@pytest.mark.parametrize("language", ["en", "de"])
def test_files_are_well_formed_and_say_what_they_show(language):
    for plate in every_plate(language):
        root = ElementTree.fromstring(plate_svg(plate))
        names = [child.tag.rsplit("}", 1)[-1] for child in root]
        assert names[:2] == ["title", "desc"] and root[0].text == plate.title and root[1].text == plate.alt
        texts = ["".join(e.itertext()) for e in root.iter() if e.tag.endswith("text")]
        assert {text for text, _ in boxes(plate)} <= set(texts)


def test_the_page_knows_every_look():
    from pathlib import Path

    css = (Path(__file__).parents[2] / "web" / "src" / "sheet" / "pictures" / "pictures.css").read_text(
        "utf-8"
    )
    used = {mark.look for plate in every_plate("en") for mark in plate.marks} - {"word"}
    assert {look for look in used if f".look-{look}" not in css} == set()
    assert len(used) > 10
