"""The picture in space says of every place what the surfaces say there, found by another route."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from answers import scene_case
from mountproof.answers.result import Answer
from mountproof.answers.scene import Scene
from mountproof.answers.scene_parts import KNOWN, NOTHING, UNKNOWN
from mountproof.bench.pin import pin_from_opening
from mountproof.case.model import Case
from mountproof.faults import FaultError
from mountproof.geometry.poses import rotation_z, transform


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Case, Answer, Scene]:
    folder = tmp_path_factory.mktemp("scene")
    scene_case.write_casts(folder)
    return scene_case.made(folder)


@pytest.fixture(scope="module")
def shown(made: tuple[Case, Answer, Scene]) -> Scene:
    return made[2]


def distance_to_faces(point: np.ndarray, corners: np.ndarray) -> float:
    """Least distance from a point to the planes of triangles whose inside it projects into (slow and plain)."""
    best = math.inf
    for a, b, c in corners:
        n = np.cross(b - a, c - a)
        size = float(np.linalg.norm(n))
        if size == 0.0:
            continue
        n /= size
        off = float((point - a) @ n)
        foot = point - off * n
        inside = all(float(np.cross(q - p, foot - p) @ n) >= -1e-9 for p, q in ((a, b), (b, c), (c, a)))
        if inside:
            best = min(best, abs(off))
    return best


def test_a_vertex_turned_by_what_is_said_of_it_lies_on_the_other_arch(shown: Scene) -> None:
    upper, lower = shown.arches
    rng = np.random.default_rng(11)
    asked = 0
    for arch, other, way in ((lower, upper, 1.0), (upper, lower, -1.0)):
        known = np.flatnonzero((arch.state == KNOWN) & (arch.tooth > 0))
        assert len(known) > 500
        for i in rng.choice(known, 12, replace=False):
            moved = transform(rotation_z(way * float(arch.turn_rad[i])), arch.vertices_mm[i])
            near = np.linalg.norm(other.vertices_mm - moved, axis=1) < 3.0
            faces = other.faces[near[other.faces].any(axis=1)]
            assert distance_to_faces(moved, other.vertices_mm[faces]) < 1e-6
            assert arch.radius_mm[i] == pytest.approx(math.hypot(*arch.vertices_mm[i, :2]), abs=1e-9)
            asked += 1
    assert asked == 24


def test_the_bottom_of_a_base_is_hidden_and_a_cusp_is_not(shown: Scene) -> None:
    for arch, towards in zip(shown.arches, (-1.0, 1.0), strict=True):
        height = arch.vertices_mm[:, 1] * towards
        assert (arch.state[height < np.quantile(height, 0.02)] == NOTHING).all()
        cusps = (arch.tooth > 0) & (height > np.quantile(height, 0.995))
        assert (arch.state[cusps] == KNOWN).mean() > 0.9


def test_normals_are_of_one_length_and_lean_out_of_the_teeth(shown: Scene) -> None:
    for arch, towards in zip(shown.arches, (-1.0, 1.0), strict=True):
        length = np.linalg.norm(arch.normals, axis=1)
        assert np.allclose(length[length > 0], 1.0)
        height = arch.vertices_mm[:, 1] * towards
        tips = (arch.tooth > 0) & (height > np.quantile(height, 0.99))
        assert (arch.normals[tips, 1] * towards > 0.3).mean() > 0.9
        # Fissures lie below their surroundings, cusps above.
        assert np.median(arch.relief_mm[tips]) > 0.0


def test_the_slider_goes_evenly_from_the_record_through_first_contact(
    made: tuple[Case, Answer, Scene],
) -> None:
    _, contacts, shown = made
    closed = [step.closed_rad for step in shown.steps]
    assert closed == sorted(closed)
    assert 0.0 in closed
    assert shown.first is not None
    assert closed[shown.first] == pytest.approx(math.radians(contacts["closing"].value))
    gaps = np.diff(closed)[1:]
    assert np.allclose(gaps, gaps[0])
    assert len(closed) <= 400
    assert {closed.index(0.0), shown.first, len(closed) - 1} <= set(shown.stops)
    assert shown.steps[shown.first].words == "first contact"
    assert shown.steps[0].words.startswith("as the record holds them")


def test_the_sites_of_a_stop_are_those_of_the_answer(made: tuple[Case, Answer, Scene]) -> None:
    _, contacts, shown = made
    assert shown.first is not None
    sites = shown.stop(shown.first).sites
    assert sites[0].along == "touching"
    assert sites[0].holds == "8 µm"
    table = contacts.evidence.table
    said = {(s.upper_tooth, s.lower_tooth): s for s in sites}
    for pair in table.pairs:
        site = said[str(pair.upper_tooth), str(pair.lower_tooth)]
        assert site.gap_mm == pytest.approx(pair.remaining_along_closure_mm, abs=1e-9)
        for part in (site.along, site.normal, site.point_words):
            assert part in site.words
    turns = [s.gap_mm / math.hypot(s.upper_point_mm[0], s.upper_point_mm[1]) for s in sites]
    assert turns == sorted(turns)


def test_beyond_first_contact_an_overlap_is_called_one(shown: Scene) -> None:
    last = shown.stop(len(shown.steps) - 1)
    assert last.sites[0].along.startswith("overlap ")
    assert last.sites[0].gap_mm == pytest.approx(-1.0, abs=0.02)


@pytest.mark.parametrize("before", [0, 40])
def test_pointing_at_a_site_says_what_the_list_says(shown: Scene, before: int) -> None:
    assert shown.first is not None and shown.evidence is not None
    step = shown.first - before
    closed = shown.steps[step].closed_rad
    for pair in shown.evidence.table.pairs[:4]:
        for arch, face, at in (
            ("upper", pair.upper_face, pair.upper_point_mm),
            ("lower", pair.lower_face, pair.lower_point_mm),
        ):
            surface = shown.evidence.sited.upper if arch == "upper" else shown.evidence.sited.lower
            corners = surface.vertices_mm[surface.faces[face]]
            weights = np.linalg.lstsq(np.vstack([corners.T, np.ones(3)]), np.append(at, 1.0), rcond=None)[0]
            place = shown.at(arch, face, tuple(weights), closed)  # type: ignore[arg-type]
            turned = at if arch == "upper" else transform(rotation_z(closed), at)
            assert np.allclose(place.point_mm, turned, atol=1e-3)
            left = (pair.closing_rad - closed) * math.hypot(*at[:2])
            said = 0.0 if place.along == "touching" else float(re.findall(r"[\d.]+", place.along)[0])
            assert said == pytest.approx(abs(left), abs=2e-3)
            assert place.opposite in (str(pair.upper_tooth), str(pair.lower_tooth))


def test_a_place_that_is_turned_away_or_has_nothing_opposite_is_said_to_be(shown: Scene) -> None:
    upper, lower = shown.arches
    bottom = int(np.argmin(lower.vertices_mm[lower.faces].mean(axis=1)[:, 1]))
    assert "turned away" in shown.at("lower", bottom, (1, 1, 1), 0.0).words
    back = int(np.argmin(upper.vertices_mm[upper.faces].mean(axis=1)[:, 0]))
    place = shown.at("upper", back, (1, 1, 1), 0.0)
    assert "nothing stands opposite" in place.words or "turned away" in place.words
    assert place.along == ""


@pytest.mark.parametrize(
    ("face", "weights"),
    [(10**9, (1, 0, 0)), (-1, (1, 0, 0)), (0, (0, 0, 0)), (0, (math.nan, 1, 1)), (0, (-5, 1, 1))],
)
def test_a_place_that_is_not_there_is_refused(
    shown: Scene, face: int, weights: tuple[float, float, float]
) -> None:
    with pytest.raises(FaultError) as caught:
        shown.at("upper", face, weights, 0.0)
    assert caught.value.faults[0].code == "scene.no_such_place"
    with pytest.raises(FaultError):
        shown.stop(len(shown.steps))


def test_numbers_stand_on_the_lines_they_number(shown: Scene) -> None:
    assert shown.first is not None and shown.evidence is not None
    stop = shown.stop(shown.first)
    asked = 0
    for arch, labels in zip(shown.arches, stop.contours, strict=True):
        assert labels
        for label in labels:
            nearest = int(np.argmin(np.linalg.norm(arch.vertices_mm - label.point_mm, axis=1)))
            faces = np.flatnonzero((arch.faces == nearest).any(axis=1))
            left = (arch.turn_rad - stop.step.closed_rad) * arch.radius_mm
            around = left[arch.faces[faces]]
            assert around.min() <= float(label.words) <= around.max()
            asked += 1
        points = np.array([label.point_mm for label in labels])
        apart = np.linalg.norm(points[:, None] - points[None], axis=2) + 1e9 * np.eye(len(points))
        assert apart.min() >= 1.3
    assert asked > 10


def test_the_pin_stands_on_its_table_where_it_was_set(made: tuple[Case, Answer, Scene]) -> None:
    case, _, shown = made
    assert shown.steps[shown.stops[0]].pin == "pin reads 3.20"
    lines = {line.kind: line for line in shown.lines}
    pin, table = lines["pin"].points_mm, lines["table"].points_mm
    assert table.shape == (5, 3) and (table[0] == table[-1]).all()
    assert lines["table"].moves and not lines["pin"].moves
    normal = np.cross(table[1] - table[0], table[2] - table[0])
    set_tip = pin[-1] + np.array([0.0, -3.2, 0.0])
    assert abs(float((set_tip - table[0]) @ normal)) / float(np.linalg.norm(normal)) < 0.01
    assert lines["hinge"].points_mm[:, 2].tolist() == [55.0, -55.0]
    assert case.instrument is not None
    assert lines["plane"].assumed and "not measured" in lines["plane"].words


def test_without_a_set_pin_it_is_told_against_first_contact(tmp_path: Path) -> None:
    scene_case.write_casts(tmp_path)
    text = scene_case.case_text().replace("set_by_hand = true", "set_by_hand = false")
    _, contacts, shown = scene_case.made(tmp_path, text)
    assert shown.first is not None
    assert shown.steps[shown.first].pin == "pin as at first contact"
    higher = shown.steps[0].pin
    assert higher.endswith("higher than at first contact")
    said = float(re.findall(r"[\d.]+", higher)[0])
    from mountproof.bench.pin import Pin

    opened = math.radians(contacts["closing"].value)
    assert said == pytest.approx(pin_from_opening(Pin(110.0, 62.0), opened), abs=0.006)


def test_a_case_without_an_instrument_has_its_hinge_and_says_what_is_assumed(tmp_path: Path) -> None:
    scene_case.write_casts(tmp_path)
    text = scene_case.case_text()
    start, end = text.index("[instrument]"), text.index("[plane]")
    _, _, shown = scene_case.made(
        tmp_path, text[:start] + text[end:].replace('[plane]\nname = "axis-orbital"\n', "")
    )
    assert {line.kind for line in shown.lines} == {"hinge", "plane"}
    assert "assumed" in shown.lines[0].words
    assert all(step.pin == "" for step in shown.steps)
    assert shown.notes


def test_a_hole_is_unknown_in_the_picture_and_when_pointed_at(tmp_path: Path) -> None:
    whole = scene_case.arch("lower")
    tooth_46 = whole.vertices_mm[whole.faces[whole.teeth == 46]].reshape(-1, 3)
    middle = tooth_46[tooth_46[:, 1] > np.quantile(tooth_46[:, 1], 0.8)].mean(axis=0)
    scene_case.write_casts(tmp_path, ("lower", tuple(middle), 2.0))
    _, _, shown = scene_case.made(tmp_path)
    upper = shown.arches[0]
    open_places = np.flatnonzero(upper.state == UNKNOWN)
    assert len(open_places) > 5
    face, corner = (int(k) for k in np.argwhere(upper.faces == open_places[0])[0])
    at_corner = tuple(1.0 if k == corner else 0.0 for k in range(3))
    assert "hole or border" in shown.at("upper", face, at_corner, 0.0).words  # type: ignore[arg-type]
    assert shown.first is not None
    assert any("16" in note for note in shown.stop(shown.first).notes)


def test_without_the_relation_the_casts_are_shown_and_no_gap_is_made_up(tmp_path: Path) -> None:
    scene_case.write_casts(tmp_path)
    text = scene_case.case_text()
    start = text.index("upper_from_lower", text.index('[records."record 1"]'))
    end = text.index('[records."record 2"]')
    _, contacts, shown = scene_case.made(tmp_path, text[:start] + text[end:])
    assert contacts.evidence is None
    assert len(shown.arches) == 2 and not shown.steps and shown.first is None
    assert all((arch.state == NOTHING).all() for arch in shown.arches)
    assert any("not known" in note for note in shown.notes)
    with pytest.raises(FaultError) as caught:
        shown.stop(0)
    assert caught.value.faults[0].code == "scene.no_gap"


def test_one_cast_alone_is_shown_and_an_unplaced_one_is_asked_for(tmp_path: Path) -> None:
    scene_case.write_casts(tmp_path)
    text = scene_case.case_text()
    start = text.index("[[scans]]", text.index("[[scans]]") + 1)
    _, _, one = scene_case.made(tmp_path, text[:start] + text[text.index("[records") :])
    assert [arch.arch for arch in one.arches] == ["upper"]
    assert any(label.kind == "tooth" and label.words == "16" for label in one.labels)
    unplaced = re.sub(r"placement = \{ frame_from_scan.*\n", "", text)
    _, _, none = scene_case.made(tmp_path, unplaced)
    assert none.arches == ()
    assert any("placed" in note for note in none.notes)
