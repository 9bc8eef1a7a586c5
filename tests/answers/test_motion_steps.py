"""Movements of the picture in space: rigid poses without overlap, and the numbers that the answers told."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest

from answers import scene_case
from mountproof.answers.motion_closing import OPEN_MM, begins_open, closing_steps
from mountproof.answers.motion_parts import MotionStep, Movement
from mountproof.answers.motion_steps import motion_steps
from mountproof.answers.progress import quiet
from mountproof.answers.result import Answer
from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.model import Case
from mountproof.case.scans import write_stl
from mountproof.faults import Cancelled
from mountproof.geometry.contact import first_contact, first_contacts_by_label
from mountproof.geometry.poses import inverse, transform, why_not_rigid
from mountproof.geometry.surface import Surface, moved, prepare
from mountproof.phantom.arch import build_arch
from mountproof.said import render
from mountproof.teeth import is_posterior

#: Enough to find cusps, and few enough for a test.
_TRIANGLES = 6_000
#: What rounding leaves of an exact contact, mm.
_NOTHING_MM = 1e-6


class Made(NamedTuple):
    case: Case
    answers: dict[str, Answer]
    movements: dict[str, Movement]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("motion")
    for name in ("upper", "lower"):
        cast = build_arch(name, _TRIANGLES)
        write_stl(folder / f"{name}.stl", cast.vertices_mm, cast.faces, head=name)
    case = scene_case.read(folder)
    answers = dict(answer(case, ["contacts", "guidance"]).answers)
    return Made(case, answers, by_key(case, answers))


def by_key(case: Case, answers: dict[str, Answer]) -> dict[str, Movement]:
    return {m.key: m for m in motion_steps(case, answers["contacts"], answers["guidance"])}


def surfaces(made: Made) -> tuple[Surface, Surface]:
    """Both casts prepared anew, the lower as its scan is placed."""
    sited = made.answers["contacts"].evidence.sited
    own = transform(inverse(sited.lower.pose), sited.lower.vertices_mm)
    return prepare(sited.upper.vertices_mm, sited.upper.faces, arch="upper"), prepare(
        own, sited.lower.faces, arch="lower"
    )


def every(made: Made) -> list[tuple[str, MotionStep]]:
    return [(m.key, step) for m in made.movements.values() for step in m.steps]


def test_all_five_have_positions_and_every_pose_is_rigid(made: Made) -> None:
    assert list(made.movements) == ["closing", "slide", "ahead", "right", "left"]
    assert all(len(m.steps) > 3 and not m.needs for m in made.movements.values())
    record = made.answers["contacts"].evidence.upper_from_lower
    for _, step in every(made):
        assert not why_not_rigid(step.upper_from_lower) and not why_not_rigid(step.moved)
        assert step.moved @ record == pytest.approx(step.upper_from_lower, abs=1e-12)


def test_each_movement_begins_where_the_closing_ends(made: Made) -> None:
    first = made.movements["closing"].steps[-1].upper_from_lower
    assert made.movements["slide"].steps[0].upper_from_lower == pytest.approx(first, abs=1e-10)
    assert made.movements["ahead"].steps[0].upper_from_lower == pytest.approx(first, abs=1e-10)
    record = made.movements["closing"].steps[0]
    assert record.moved == pytest.approx(np.eye(4), abs=1e-12)


def test_nothing_overlaps_anywhere_and_what_is_said_to_touch_does(made: Made) -> None:
    """An exact first contact of the casts at each pose, found anew: it is here, or as far as the closing says."""
    upper, lower = surfaces(made)
    for key, step in every(made):
        found = first_contact(upper, moved(lower, step.upper_from_lower))
        assert found is not None
        left = found.closing_rad * math.hypot(*found.point_mm[:2])
        assert left == pytest.approx(step.amount_mm if key == "closing" else 0.0, abs=_NOTHING_MM), (
            key,
            step.label,
        )


def test_the_closing_tells_every_pair_as_an_exact_closing_of_its_own_finds_it(made: Made) -> None:
    upper, lower = surfaces(made)
    evidence = made.answers["contacts"].evidence
    for step in made.movements["closing"].steps[::3]:
        here = moved(lower, step.upper_from_lower)
        pairs = first_contacts_by_label(upper, here, evidence.upper_teeth, evidence.lower_teeth)
        exact = {(p.upper_label, p.lower_label): p.contact for p in pairs}
        for place in step.places:
            met = exact[place.upper, place.lower]
            radius = math.hypot(*met.point_mm[:2])
            assert place.gap_mm == pytest.approx(met.closing_rad * radius, abs=_NOTHING_MM)


def test_the_slide_marks_where_faces_meet_and_the_pairs_of_the_answer(made: Made) -> None:
    steps = made.movements["slide"].steps
    rows = next(t for t in made.answers["contacts"].tables if "into the rest" in t.title).rows
    assert len(rows) == len(steps)
    for row, step in zip(rows, steps, strict=True):
        assert float(row[0]) == pytest.approx(step.amount_mm, abs=0.005)
        assert row[1] == ", ".join(p.pair for p in step.places)
        for place in step.places:
            at = transform(step.moved, place.lower_point_mm)
            assert at == pytest.approx(place.upper_point_mm, abs=1e-9)
            assert place.kind == "meets"


def test_excursions_tell_the_gaps_of_the_answer_and_the_nearest_one_behind(made: Made) -> None:
    evidence = made.answers["guidance"].evidence
    for travel in evidence.travels:
        steps = made.movements[travel.direction].steps
        assert [s.amount_mm for s in steps] == travel.travel_mm.tolist()
        for k, step in enumerate(steps):
            meets = [p for p in step.places if p.kind == "meets"]
            assert travel.guides[k] in {(p.upper, p.lower) for p in meets}
            assert len(step.gaps) == len(travel.teeth)
            for place in step.places:
                # no tooth is nearer than the answer's least gap of it
                for tooth in (place.upper, place.lower):
                    assert place.gap_mm >= travel.gap_mm[travel.teeth.index(tooth), k] - 1e-9
        if travel.direction == "ahead":
            last = steps[-1]
            nearest = min(
                travel.gap_mm[i, -1] for i, t in enumerate(travel.teeth) if is_posterior(t) and t < 30
            )
            behind = [p for p in last.places if is_posterior(p.upper)]
            assert min(p.gap_mm for p in behind) == pytest.approx(nearest, abs=1e-9)
            assert f"{nearest:.2f} mm" in render(last.line, "en")


def test_a_place_of_the_lower_meets_its_place_of_the_upper_after_the_gap_that_is_told(made: Made) -> None:
    """The two places of a near pair are as far apart, in a straight line, as the arc that is told (a little less)."""
    for way in ("ahead", "right", "left"):
        for step in made.movements[way].steps:
            for place in step.places:
                apart = np.linalg.norm(transform(step.moved, place.lower_point_mm) - place.upper_point_mm)
                assert apart == pytest.approx(place.gap_mm, abs=1e-3)


def test_a_record_that_holds_the_casts_together_is_shown_from_an_opening(made: Made) -> None:
    evidence = made.answers["contacts"].evidence
    assert not begins_open(evidence)
    together = replace(evidence, table=evidence.table._replace(closed_rad=0.0))
    assert begins_open(together)
    steps = closing_steps(made.case, together, quiet)
    assert steps[0].amount_mm == OPEN_MM and steps[0].closed_rad < 0.0 == steps[-1].closed_rad
    contacts = replace(made.answers["contacts"], evidence=together)
    (closing, *_) = motion_steps(made.case, contacts, made.answers["guidance"])
    assert "1 mm open" in render(closing.notes[0], "en")


def test_work_on_it_is_told_and_can_be_stopped(made: Made) -> None:
    heard: list[float] = []

    def stops(fraction: float, _what: str) -> None:
        heard.append(fraction)
        if len(heard) == 3:
            raise Cancelled

    with pytest.raises(Cancelled):
        motion_steps(made.case, made.answers["contacts"], made.answers["guidance"], stops)
    assert heard == sorted(heard) and heard[-1] > 0.0


def test_what_is_missing_is_named_movement_by_movement(made: Made) -> None:
    """Readings of a caliper only; a rest that no scan of MIP stands against; scans without records of excursions."""
    bench = parse_case('schema_version = 1\ncode = "BENCH-ONLY"\n')
    for movement in by_key(bench, dict(answer(bench, ["contacts", "guidance"]).answers)).values():
        assert not movement.steps
        fields = [need.field for need in movement.needs]
        assert "scans" in fields and "foils" not in fields
        assert ("records" in fields) == (movement.key in ("ahead", "right", "left"))

    contacts, guidance = made.answers["contacts"], made.answers["guidance"]
    alone = contacts.evidence.slide._replace(mip_mm=None)
    no_mip = replace(contacts, evidence=replace(contacts.evidence, slide=alone))
    slide = motion_steps(made.case, no_mip, guidance)[1]
    assert slide.steps and [need.field for need in slide.needs] == ["records"]

    told = answer(parse_case('schema_version = 1\ncode = "NO-RECORDS"\n'), ["guidance"])["guidance"]
    for movement in motion_steps(made.case, contacts, told)[2:]:
        assert not movement.steps and movement.needs == told.needs

    unnumbered = replace(
        contacts.evidence, upper_teeth=np.zeros_like(contacts.evidence.upper_teeth), slide=None
    )
    for movement in motion_steps(made.case, replace(contacts, evidence=unnumbered), told)[1:]:
        assert [need.field for need in movement.needs] == ["scans"]
