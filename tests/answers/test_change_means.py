"""Question 7, the means side by side: numbers over all that stays open, against the clinician's own limits, and no choice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from answers import kestrel
from mountproof.answers.change_across import Across, Tip, across, fronts
from mountproof.answers.change_allowed import allowed
from mountproof.answers.change_means import (
    BY_PLACE,
    BY_POSE,
    HOLDS,
    HOLDS_NOT,
    UNKNOWN,
    joint,
    lacking,
    losses,
    state,
    tell_means,
    tips_in,
)
from mountproof.answers.change_stands import Heights, Stand, heights_of
from mountproof.answers.change_swept import Swept, swept
from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.contacts import noted_closing
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import quiet
from mountproof.answers.result import Table
from mountproof.answers.scanned_contacts import Closed
from mountproof.answers.sheet import answer
from mountproof.case.adjusting import Change
from mountproof.case.checks_change import change_findings, change_teeth
from mountproof.case.files import load_case
from mountproof.case.means import Means, Seen, Third
from mountproof.case.model import Case
from mountproof.geometry.carry import exact, measured, stack
from mountproof.geometry.surface import moved
from mountproof.occlusion.thirds import outer_tips, table_of


class Made(NamedTuple):
    case: Case
    closed: Closed
    found: Swept
    mip: Stand

    @property
    def heights(self) -> Heights:
        return self.found.heights

    @property
    def evidence(self) -> ContactEvidence:
        assert self.closed.evidence is not None
        return self.closed.evidence


@pytest.fixture(scope="module")
def made(small_demo: Path) -> Made:
    case = load_case(small_demo)
    closed = noted_closing(case, quiet).closed
    assert closed is not None
    heights = heights_of(case, Ledger("change"), closed, quiet)
    assert heights is not None
    mip = heights.stand("mip")
    assert mip is not None
    return Made(case, closed, swept(closed, heights), mip)


@pytest.fixture(scope="module")
def where(made: Made) -> Across:
    return across(made.case, made.evidence, made.heights.motion, made.mip)


def told(made: Made, means: Means | None = None, budget_mm: float | None = None) -> tuple[Table, Ledger]:
    change = Change(means=means or Means(), most_off_mm=budget_mm)
    case, ledger = made.case.model_copy(update={"change": change}), Ledger("change")
    tell_means(case, ledger, made.closed, made.found, made.mip, allowed(case))
    return ledger.tables[0], ledger


def rows(table: Table, means: str, words: str) -> tuple[str, ...]:
    return next(r for r in table.rows if r[0] == means and words in r[1])


def test_the_made_up_jaws_meet_at_the_grooves(where: Across) -> None:
    """They were built with the lower buccal cusps in the upper fossae: no tip stands in the outer third or beyond."""
    assert not where.lacking
    assert {t.lower for t in where.tips} == {34, 35, 36, 37, 44, 45, 46, 47}
    assert all(t.upper == {3: 20, 4: 10}[t.lower // 10] + t.lower % 10 for t in where.tips)
    assert all(abs(t.part.value) < 0.6 and t.zones()[1] <= 2 for t in where.tips)


def test_a_lower_jaw_moved_sideways_moves_every_tip_by_that_over_its_width(made: Made, where: Across) -> None:
    """To the right: outward on the right, inward on the left, each by the part along its own axis."""
    aside = 0.2
    sideways = np.eye(4)
    sideways[2, 3] = aside
    shifted = made.evidence.sited._replace(
        lower=moved(made.evidence.sited.lower, sideways @ made.closed.pose)
    )
    after = across(made.case, replace(made.evidence, sited=shifted), made.heights.motion, made.mip)
    before = {(t.lower, t.cusp): t for t in where.tips}
    assert len(after.tips) == len(where.tips)
    for now in after.tips:
        was = before[now.lower, now.cusp]
        outward = made.evidence.sited.upper_frames[now.upper].outward[2] * aside
        assert now.from_groove.value - was.from_groove.value == pytest.approx(outward, abs=0.06)
        assert (now.part.value - was.part.value) * (1 if now.lower // 10 == 4 else -1) > 0.0


def test_intervals_of_the_pose_are_those_of_exact_draws(made: Made, where: Across) -> None:
    """The lower really moved by draws of what stays open, and closed as far as each draw asks."""
    both = stack([made.heights.motion, made.mip.closing])
    normal = np.random.default_rng(3).standard_normal((4000, both.parts.shape[1]))
    drawn = both.values + normal @ both.parts.T
    turn = Rotation.from_rotvec(drawn[:, :3])
    sited = made.evidence.sited
    for tip in where.tips[::4]:
        own = _place(made, tip)
        closed = Rotation.from_rotvec(np.outer(drawn[:, 6], [0.0, 0.0, 1.0])).apply(own)
        out = (turn.apply(closed) + drawn[:, 3:6]) @ sited.upper_frames[tip.upper].outward
        assert tip.part.without("landmark").u == pytest.approx(out.std() / tip.width_mm, rel=0.06)


def _place(made: Made, tip: Tip) -> np.ndarray:
    sited, teeth = made.evidence.sited, made.evidence.lower_teeth
    table = table_of(
        sited.lower.vertices_mm, sited.lower.faces[teeth == tip.lower], sited.lower_frames[tip.lower]
    )
    assert table is not None
    return outer_tips(table)[tip.cusp].point_mm


def test_a_missing_upper_tooth_is_said_and_asked_for(made: Made) -> None:
    without = np.where(made.evidence.upper_teeth == 16, 0, made.evidence.upper_teeth).astype(np.int32)
    sited = made.evidence.sited
    gone = sited._replace(upper_frames={t: f for t, f in sited.upper_frames.items() if t != 16})
    evidence = replace(made.evidence, sited=gone, upper_teeth=without)
    found = across(made.case, evidence, made.heights.motion, made.mip)
    assert {lower for lower, _, _ in found.lacking} == {46}
    ledger = Ledger("change")
    tell_means(
        made.case, ledger, made.closed._replace(evidence=evidence), made.found, made.mip, allowed(made.case)
    )
    assert any(need.field == "change.means.seen" for need in ledger.needs)
    assert any("cannot tell" in row[-1] for row in ledger.tables[1].rows)
    (line,) = tips_in("m", "w", found._replace(tips=()), 2)
    assert line.state == UNKNOWN


def test_without_limits_there_are_numbers_and_no_statement_but_the_thirds(made: Made) -> None:
    table, ledger = told(made)
    assert {r[0] for r in table.rows} >= {"leave", "subtract", "add", "move", "operate", "front teeth"}
    assert {r[4] for r in table.rows if r[5] != "-"} == {"rule of thirds"}
    assert "no source" in table.note and "stays with the clinician" in table.note
    assert not ledger.reasons  # a number, never a verdict
    assert (
        rows(table, "subtract", "(15)")[2]
        == f"{losses(made.found, made.mip, allowed(made.case))[0].off.value:.2f} mm"
    )


def test_limits_of_the_clinician_turn_numbers_into_states(made: Made) -> None:
    wide = Means(leave_open_mm=5, subtract_teeth=32, move_mm=5, operate_mm=5, overjet_mm=9)
    table, _ = told(made, wide, 2.0)
    assert {r[5] for r in table.rows if r[4] not in ("-", "rule of thirds")} == {HOLDS}
    none = Means(leave_open_mm=0, subtract_teeth=0, move_mm=0, overjet_mm=0)
    table, _ = told(made, none, 0.0)
    for means, words in (
        ("leave", ""),
        ("subtract", "budget"),
        ("subtract", "teeth that lose"),
        ("front teeth", "overjet"),
    ):
        assert rows(table, means, words)[5] == HOLDS_NOT, means


def test_what_holds_depends_on_the_pose_once_its_doubt_grows() -> None:
    pose, place = measured(0.2, 0.02, "record/0"), measured(0.0, 0.01, "landmark/tip")
    assert state(pose + place, 0.3) == HOLDS
    assert state(pose.linear(np.eye(1) * 4, [0.2]) + place, 0.3) == BY_POSE
    assert state(pose + place.times(10.0), 0.3) == BY_PLACE
    assert state(pose + place, 0.1) == HOLDS_NOT
    assert state(-(pose + place), 0.3) == HOLDS
    assert state(-(pose + place), 0.1) == HOLDS_NOT
    assert state(pose, None) == ""


@pytest.mark.parametrize(("part", "u", "inner", "middle"), [
    (0.0, 0.1, HOLDS, HOLDS), (0.5, 0.05, HOLDS_NOT, HOLDS), (0.9, 0.05, HOLDS_NOT, HOLDS_NOT),
    (0.3, 0.1, BY_POSE, HOLDS), (-0.8, 0.1, HOLDS_NOT, HOLDS_NOT), (0.6, 0.2, BY_POSE, BY_POSE),
])  # fmt: skip
def test_thirds_hold_or_depend_on_the_pose(part: float, u: float, inner: str, middle: str) -> None:
    tip = Tip(46, 0, 1, 16, measured(part, u, "record/0"), exact(2.0 * part), 2.0)
    for most, wanted in ((1, inner), (2, middle)):
        (line,) = tips_in("m", "w", Across((tip,), ()), most)
        assert line.state == wanted
        assert line.between == {HOLDS: (1, 1), HOLDS_NOT: (0, 0)}.get(wanted, (0, 1))
    blunt = tip._replace(part=exact(part) + measured(0.0, u, "landmark/tip"))
    (line,) = tips_in("m", "w", Across((blunt,), ()), 2)
    assert line.state == (BY_PLACE if middle == BY_POSE else middle)


def test_one_that_does_not_hold_decides_for_all() -> None:
    assert joint([HOLDS, BY_POSE, HOLDS_NOT]) == HOLDS_NOT
    assert joint([HOLDS, BY_PLACE, BY_POSE]) == BY_POSE
    assert joint([HOLDS, UNKNOWN]) == UNKNOWN
    assert joint([HOLDS, HOLDS]) == HOLDS
    assert joint([]) == UNKNOWN


def test_front_edges_come_nearer_by_what_closing_gives(made: Made) -> None:
    """From first contact to MIP the lower edge rises about the hinge: overbite grows by that rise."""
    first = made.heights.stand("first")
    assert first is not None
    (one, _), (other, _) = (fronts(made.evidence, made.heights.motion, s) for s in (first, made.mip))
    rise = (made.mip.closing.value - first.closing.value) * float(made.heights.front_mm[0])
    assert other.overbite.value - one.overbite.value == pytest.approx(rise, abs=0.1)
    assert other.overjet.value < one.overjet.value
    assert 0.0 < other.overbite.u < 0.5


def test_at_first_contact_the_pair_that_lacks_most_is_the_last_to_meet(made: Made) -> None:
    first = made.heights.stand("first")
    assert first is not None
    pair = lacking(made.found, first)
    assert pair is not None
    assert pair.upper % 10 >= 4
    # the invented case: the last back pair lacks 0.34 mm along closure
    assert -pair.off(first.closing).value == pytest.approx(0.34, abs=0.06)


def test_the_bench_user_enters_thirds_by_eye() -> None:
    means = Means(seen=(Seen(teeth=(16, 17), third=Third.INNER), Seen(teeth=(24,), third=Third.OUTER)))
    case = kestrel.case().model_copy(update={"change": Change(means=means)})
    got = answer(case, ["change"])["change"]
    table = next(t for t in got.tables if t.title.startswith("Thirds seen"))
    assert [r[0] for r in table.rows] == ["17", "16", "24"]
    assert [r[1] for r in table.rows] == ["inner third", "inner third", "outer third"]
    assert "no source" in table.note


def test_thirds_by_eye_are_checked() -> None:
    means = Means(seen=(Seen(teeth=(16, 46, 11), third=Third.INNER), Seen(teeth=(16,), third=Third.OUTER)))
    case = kestrel.case().model_copy(update={"change": Change(means=means)})
    places = [found.path[-3:] for found in change_findings(case)]
    assert places == [(0, "teeth", 1), (0, "teeth", 2), (1, "teeth", 0)]
    assert len(change_teeth(case)) == 4
