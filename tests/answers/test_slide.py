"""The slide of question 5: against the marks on the bench, against another start, and what is said where nothing rests."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from answers import kestrel
from mountproof.answers import slide as told
from mountproof.answers.contacts import noted_closing
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import quiet
from mountproof.answers.result import Answer, Verdict, Why
from mountproof.answers.scanned_contacts import Closed
from mountproof.answers.sheet import answer
from mountproof.answers.slide_places import slide_places
from mountproof.answers.slide_rest import Rested, rested, start_motion
from mountproof.case.files import load_case
from mountproof.case.model import Arch, Case
from mountproof.geometry.carry import Carried, exact
from mountproof.geometry.contact import first_contact
from mountproof.geometry.poses import closed as closed_by
from mountproof.geometry.poses import exp6, inverse, point_jacobian, transform
from mountproof.geometry.settling import USUAL_PUSH, Push, settle
from mountproof.geometry.surface import moved

#: Half the distance between the condyles of the invented case, mm.
HALF_MM = 55.0


@pytest.fixture(scope="module")
def demo(small_demo: Path) -> Case:
    return load_case(small_demo)


@pytest.fixture(scope="module")
def met(demo: Case) -> Closed:
    closed = noted_closing(demo, quiet).closed
    assert closed is not None and closed.evidence is not None and closed.first is not None
    return closed


@pytest.fixture(scope="module")
def said(demo: Case) -> Answer:
    return answer(demo, ["contacts"])["contacts"]


def table(one: Answer, begins: str) -> list[tuple[str, ...]]:
    return list(next(t for t in one.tables if t.title.startswith(begins)).rows)


def test_scans_and_marks_tell_one_slide(said: Answer) -> None:
    # Two ways that share nothing but the invented patient: the caliper's table, and the surfaces.
    bench = answer(kestrel.case(), ["mounting"])["mounting"]
    for key in ("slide_forward", "slide_up", "slide_right"):
        a, b = said[key], bench[key]
        assert a.u is not None and b.u is not None
        assert abs(a.value - b.value) < 2.0 * math.hypot(a.u, b.u)
        assert a.assumed


def test_without_scans_the_numbers_of_question_4_are_shown_themselves() -> None:
    sheet = answer(kestrel.case(), ["mounting", "contacts"])
    for key in ("slide_forward", "slide_up", "slide_right"):
        assert sheet["contacts"][key] is sheet["mounting"][key]


def test_the_tables_tell_shares_the_way_and_both_ends(said: Answer) -> None:
    shares = [float(row[1]) for row in table(said, "What carries")]
    assert sum(shares) == pytest.approx(100.0, abs=3.0) and shares == sorted(shares, reverse=True)
    way = table(said, "From first contact")
    first = said.headline.split(" at ")[1].split(" (")[0].split(";")[0]
    assert way[0][:2] == ("0.00", first)
    travel = [float(row[0]) for row in way]
    assert travel == sorted(travel) and len(way[-1][1]) > len(way[0][1])
    places = [row[0] for row in table(said, "Slide, CR first contact to MIP as scanned")]
    assert places == ["incisors", "last molar right", "last molar left", "condyle right", "condyle left"]
    assert len(table(said, "Where the casts come to rest, against MIP")) == 5
    assert any("friction" in a.what for a in said.assumptions)
    assert said.evidence.slide is not None and len(said.evidence.slide.tracks_mm) == 5


def test_a_start_beside_the_record_moves_the_slide_as_derived(met: Closed) -> None:
    assert met.evidence is not None and met.first is not None
    upper, lower = met.evidence.sited.upper, met.evidence.sited.lower
    start = closed_by(met.first.closing_rad) @ met.pose
    places = slide_places(met.arches[Arch.LOWER], start, HALF_MM)
    hold = transform(inverse(start), np.array(USUAL_PUSH.point_mm))
    end = settle(upper, moved(lower, start), USUAL_PUSH)
    assert end is not None and end.settled
    # a small motion of the lower at first contact, so small that the same faces meet: facets are what makes it first order
    twist = np.array([1.5e-6, -1.0e-6, 0.0, 4e-5, 3e-5, -5e-5])
    there = exp6(twist) @ start
    touch = first_contact(upper, moved(lower, there))
    assert touch is not None
    again = closed_by(touch.closing_rad) @ there
    at = transform(again, hold)
    other = settle(upper, moved(lower, again), Push((at[0], at[1], at[2]), USUAL_PUSH.direction))
    assert other is not None and other.settled
    # what one source of doubt of just this size makes of the start
    motion = start_motion(met.first, Carried(np.zeros(6), ("beside",), twist[:, None]), exact(0.0)).parts[
        :, 0
    ]
    for place in places:
        own = transform(inverse(start), place.first_mm)
        ends = [transform(one.upper_from_lower, own) for one in (end, other)]
        assert np.linalg.norm(ends[1] - ends[0]) < 2e-3  # the end does not move with the start
        foretold = -(point_jacobian(place.first_mm) @ motion)
        slides = [ends[0] - place.first_mm, ends[0] - transform(again, own)]
        assert np.allclose(slides[1] - slides[0], foretold, atol=2e-8)
        assert np.linalg.norm(foretold) > 2e-5


def _page(rest: Rested) -> Ledger:
    page = Ledger("contacts")
    told._judge(rest, None, page)
    return page


def test_what_does_not_rest_or_rests_twice_cannot_be_told(met: Closed) -> None:
    assert met.first is not None
    start = closed_by(met.first.closing_rad) @ met.pose
    places = slide_places(met.arches[Arch.LOWER], start, HALF_MM)
    rest = rested(met, start, Push(USUAL_PUSH.point_mm, USUAL_PUSH.direction), places, 0.02, quiet)
    assert rest is not None and rest.settled.settled
    restless = _page(rest._replace(settled=rest.settled._replace(settled=False)))
    assert restless.verdicts == [Verdict.CANNOT_TELL] and restless.reasons[0].why is Why.NOT_SETTLED
    twice = _page(rest._replace(apart_mm=0.3))
    assert twice.verdicts == [] and "two rests" in twice.reasons[0].text
    assert twice.needs[0].field == "records"
    once = _page(rest._replace(apart_mm=0.001))
    assert once.verdicts == [] and "One rest" in once.notes[0]


def test_casts_that_never_rest_have_no_slide(
    demo: Case, met: Closed, monkeypatch: pytest.MonkeyPatch
) -> None:
    def restless(*given: object) -> Rested | None:
        rest = rested(*given)  # type: ignore[arg-type]
        return None if rest is None else rest._replace(settled=rest.settled._replace(settled=False))

    monkeypatch.setattr(told, "rested", restless)
    records = {n: r for n, r in demo.records.items() if n != "MIP"}
    alone = told.slide(demo.model_copy(update={"records": records}), met, quiet)
    assert alone is not None and alone.path is None and alone.sentence.endswith("was not found")
    assert alone.page.quantities == [] and alone.page.tables == [] and alone.page.needs[0].field == "records"
    # with a scan of MIP its own slide is told, and nothing of the casts pushed together
    scanned = told.slide(demo, met, quiet)
    assert scanned is not None and scanned.path is None
    assert {q.key for q in scanned.page.quantities} == {"slide_forward", "slide_up", "slide_right"}


def test_without_a_scan_of_mip_the_rest_is_told_as_such(demo: Case) -> None:
    records = {n: r for n, r in demo.records.items() if n != "MIP"}
    got = answer(demo.model_copy(update={"records": records}), ["contacts"])["contacts"]
    assert "no scan of MIP" in got.headline
    assert table(got, "Slide, CR first contact to where")
    assert not [q for q in got.quantities if q.key == "rest_off_mip"]


def test_the_push_is_as_entered_and_else_assumed(demo: Case, met: Closed) -> None:
    start = closed_by(met.first.closing_rad) @ met.pose  # type: ignore[union-attr]
    page = Ledger("contacts")
    usual = told._push(demo, met, start, page)
    assert usual.direction == pytest.approx((0.0, 1.0, 0.0)) and usual.point_mm[2] == 0.0
    assert {a.field for a in page.assumptions} == {
        f"push.{name}" for name in ("ahead_mm", "above_mm", "right_mm", "forward_deg", "right_deg")
    }
    entries = {"ahead_mm": 70.0, "above_mm": -30.0, "right_mm": 4.0, "forward_deg": 45.0, "right_deg": 0.0}
    given = demo.model_copy(update={"push": demo.push.model_copy(update=entries)})
    page = Ledger("contacts")
    push = told._push(given, met, start, page)
    assert push.point_mm == (70.0, -30.0, 4.0) and not page.assumptions
    assert push.direction == pytest.approx((math.sqrt(0.5), math.sqrt(0.5), 0.0))
