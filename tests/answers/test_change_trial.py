"""A trial by the clinician's own entries: ways, budgets, teeth that keep their shape, who is reshaped; the scans never change."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from mountproof.answers.change_allowed import Allowed, allowed, end_of, kept_table, own_stand
from mountproof.answers.change_replay import replay
from mountproof.answers.change_stands import Stand, heights_of
from mountproof.answers.change_swept import Swept, swept
from mountproof.answers.change_trial import Trial, tried
from mountproof.answers.change_trial import trial as told_trial
from mountproof.answers.contacts import noted_closing
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import quiet
from mountproof.answers.scanned_contacts import Closed
from mountproof.case.adjusting import Branch, Budget, Change, Excluded, Reshape, Stop, StopAt
from mountproof.case.files import load_case
from mountproof.case.model import Case
from mountproof.occlusion.trial import duplicate_id, next_round

THREE = Stop(most_rounds=3)


class Ready(NamedTuple):
    """What every trial of this module starts from, worked out once."""

    case: Case
    closed: Closed
    found: Swept
    target: Stand

    def with_(self, **entries: object) -> Case:
        return self.case.model_copy(update={"change": Change(**entries)})  # type: ignore[arg-type]

    def tried(self, **entries: object) -> tuple[Trial, Allowed]:
        case = self.with_(**entries)
        allow = allowed(case)
        step = case.change.step_mm or 0.05
        return tried(case, self.closed, self.target, allow, step, quiet), allow


@pytest.fixture(scope="module")
def ready(small_demo: Path) -> Ready:
    case = load_case(small_demo)
    closed = noted_closing(case, quiet).closed
    assert closed is not None
    heights = heights_of(case, Ledger("change"), closed, quiet)
    assert heights is not None
    return Ready(case, closed, swept(closed, heights), end_of(case, Ledger("change"), heights))


def off(trial: Trial, way: int = 0, state: int = -1) -> dict[int, float]:
    return {cut.tooth: cut.across_mm for cut in trial.ways[way].states[state].totals()}


def test_another_way_keeps_rounds_of_the_first_and_goes_on_by_its_own_entries(ready: Ready) -> None:
    ways = (
        Branch(name="upper only", after=2, reshape=Reshape.UPPER),
        Branch(name="anew", step_mm=0.03, excluded=(15,)),
    )
    trial, _ = ready.tried(stop=THREE, branches=ways)
    first, upper, anew = trial.ways
    assert [way.name for way in trial.ways] == [first.name, "upper only", "anew"]
    assert all(a is b for a, b in zip(upper.states[:3], first.states[:3], strict=True))
    assert len(upper.states) == len(first.states) == 4
    # from there on the lower stays as the two rounds that are kept left it
    assert (upper.states[3].lower.surface.rest_mm == first.states[2].lower.surface.rest_mm).all()
    assert (upper.states[3].upper.surface.rest_mm != first.states[2].upper.surface.rest_mm).any()
    assert anew.states[0] is first.states[0] and anew.states[1] is not first.states[1]
    assert 15 not in off(trial, 2) and 45 in off(trial, 2)
    assert anew.plan.step_mm == 0.03 and first.plan.step_mm == 0.05


def test_ways_stand_side_by_side_with_why_each_ends(ready: Ready) -> None:
    case = ready.with_(
        stop=Stop(most_rounds=2),
        branches=(
            Branch(name="nothing may go", excluded=(15, 45)),
            Branch(name="later", after=1, reshape=Reshape.LOWER),
        ),
    )
    ledger = Ledger("change")
    told_trial(case, ledger, ready.closed, ready.found, ready.target, allowed(case), quiet)
    side = ledger.tables[-1]
    rows = {row[0]: row for row in side.rows}
    assert rows["later"][1] == "1" and rows["later"][2] == "2"
    assert rows["nothing may go"][2] == "0" and "may not be reshaped" in rows["nothing may go"][-1]
    assert any("after 2 rounds, as entered" in note for note in ledger.notes)


@pytest.mark.parametrize("entries", [
    {"budgets": (Budget(teeth=(15,), most_mm=0.06),)},
    {"most_off_mm": 0.3, "budgets": (Budget(teeth=(15, 45), most_mm=0.06),)},
])  # fmt: skip
def test_a_round_that_would_pass_a_budget_is_undone_and_said(
    ready: Ready, entries: dict[str, object]
) -> None:
    trial, allow = ready.tried(**entries)
    way = trial.ways[0]
    assert way.spent in (15, 45) and allow.budget_mm[way.spent] == 0.06
    assert off(trial)[way.spent] <= 0.06
    beyond = next_round(way.states[-1], way.plan)
    assert {c.tooth: c.across_mm for c in beyond.totals()}[way.spent] > 0.06
    case = ready.with_(**entries)
    ledger = Ledger("change")
    (played,) = told_trial(case, ledger, ready.closed, ready.found, ready.target, allow, quiet)
    assert any(f"would take {way.spent} beyond its budget" in note for note in ledger.notes)
    bench = next(t for t in ledger.tables if t.title.startswith("List for the bench"))
    left = [float(row[5]) for row in bench.rows if row[1] == str(way.spent)]
    assert left == sorted(left, reverse=True) and left[-1] >= 0.0
    assert "beyond its budget" in played.why and len(played.rounds) == len(way.states) - 1
    assert all(one.off_mm.get(way.spent, 0.0) <= 0.06 for one in played.rounds)


def test_what_stays_open_is_built_up_at_the_end_where_that_is_wanted(ready: Ready) -> None:
    case = ready.with_(fill=True, most_on_mm=0.5, stop=Stop(most_rounds=2))
    ledger = Ledger("change")
    told_trial(case, ledger, ready.closed, ready.found, ready.target, allowed(case), quiet)
    table = next(t for t in ledger.tables if t.title.startswith("What is added"))
    heights = {int(row[0]): float(row[1]) for row in table.rows}
    assert heights and max(heights.values()) <= 0.25 + 0.1  # half of a pair's, and the band above its place
    assert not {15, 45} & set(heights)  # they hold
    assert "these hold: " in table.note and "14 / 44" in table.note
    assert (
        "Left open, beyond what may be added: " in table.note
    )  # the front stands farther open after two rounds
    without = Ledger("change")
    told_trial(
        ready.with_(stop=Stop(most_rounds=2)),
        without,
        ready.closed,
        ready.found,
        ready.target,
        allowed(case),
        quiet,
    )
    assert not any(t.title.startswith("What is added") for t in without.tables)


def test_without_a_budget_no_tooth_has_a_limit(ready: Ready) -> None:
    assert ready.tried(stop=Stop(most_rounds=1))[1].budget_mm == {}


def test_restored_and_excluded_teeth_keep_their_shape_with_their_reason(ready: Ready) -> None:
    out = (Excluded(teeth=(44,), reason="worn through"),)
    trial, allow = ready.tried(stop=Stop(most_rounds=5), restored=(15,), excluded=out)
    touched = off(trial)
    assert not {15, 44} & set(touched) and {45, 14} <= set(touched)
    kept = kept_table(ready.with_(restored=(15,), excluded=out), allow)
    assert kept is not None and kept.rows == (("15", "restored"), ("44", "worn through"))
    free, allow = ready.tried(stop=THREE, restored=(15,), reshape_restored=True)
    assert 15 in off(free) and not allow.kept


@pytest.mark.parametrize("who", Reshape)
def test_who_is_reshaped_is_the_clinicians_choice_and_sums_are_conserved(ready: Ready, who: Reshape) -> None:
    trial, _ = ready.tried(stop=THREE, reshape=who)
    last = trial.ways[0].states[-1]
    arches = {"upper" if cut.tooth < 30 else "lower" for cut in last.totals() if cut.tooth}
    assert arches == ({"upper", "lower"} if who is Reshape.BOTH else {who.value})
    of_rounds: dict[int, float] = {}
    for cut in (cut for one in last.rounds for cut in one.cuts):
        of_rounds[cut.tooth] = of_rounds.get(cut.tooth, 0.0) + cut.volume_mm3
    assert {c.tooth: c.volume_mm3 for c in last.totals()} == pytest.approx(of_rounds, abs=1e-6)


def test_the_scans_are_as_they_were_and_every_state_has_a_name_of_its_own(ready: Ready) -> None:
    assert ready.closed.evidence is not None
    sited = ready.closed.evidence.sited
    before = duplicate_id(sited.upper), duplicate_id(sited.lower), sited.upper.rest_mm.copy()
    trial, _ = ready.tried(stop=THREE)
    assert (duplicate_id(sited.upper), duplicate_id(sited.lower)) == before[:2]
    assert (sited.upper.rest_mm == before[2]).all()
    names = [duplicate_id(state.upper.surface) for state in trial.ways[0].states]
    assert len(set(names)) == 4 and before[0] not in names
    again = next_round(trial.ways[0].states[1], trial.ways[0].plan)  # undone, and done once more
    assert duplicate_id(again.upper.surface) == names[2]


def test_a_trial_ends_at_the_users_own_height(ready: Ready) -> None:
    case = ready.with_(stop=Stop(at=StopAt.PIN, pin_mm=0.7))
    heights = own_stand(case, ready.found.heights)
    target = end_of(case, Ledger("change"), heights)
    assert heights.pin_mm(target.closing.value) == pytest.approx(0.7, abs=1e-6)
    states = tried(case, ready.closed, target, allowed(case), 0.05, quiet).ways[0].states
    assert heights.pin_mm(states[-1].closing_rad) <= 0.7 < heights.pin_mm(states[-2].closing_rad)


def test_the_replay_holds_what_the_states_hold(ready: Ready) -> None:
    trial, _ = ready.tried(stop=Stop(most_rounds=4))
    states = trial.ways[0].states
    way = trial.ways[0]
    played = replay(ready.found, way.name, states, way.totals, (15, 45), "")
    for n, (state, one) in enumerate(zip(states[1:], played.rounds, strict=True), start=1):
        assert one.number == n and one.first == state.rounds[-1].first
        assert one.off_mm == {c.tooth: c.across_mm for c in state.totals() if c.tooth}
        assert one.holding == state.rounds[-1].holding
        assert one.pin_mm == pytest.approx(ready.found.heights.pin_mm(state.closing_rad))
