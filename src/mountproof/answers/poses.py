"""Poses of the lower cast from the table of marks, as the answers use them; and readings that want a second look."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from mountproof.answers.bench_inputs import MarksInput, States
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.bench import pose
from mountproof.bench.doubtful import Question, questions
from mountproof.bench.reach import Point, place_in
from mountproof.case.finding import dotted
from mountproof.case.model import Case, StateKind
from mountproof.faults import Fault, FaultError
from mountproof.geometry.carry import Carried, exact
from mountproof.said import capital, figure, joined, say

#: Play of the condylar elements when locked, where it was not measured: 0.02 to 0.1 mm. Common practice, no source.
_PLAY_MM = 0.05
_INTERCONDYLAR_MM = 110.0
#: Marks of a pair stand on different casts, some centimetres apart; nearer than this one of the two places is a slip.
_ONE_SPOT_MM = 0.5
#: One or two slips in a table happen, three may; with more it is the table.
_MANY = 4


def bench_marks(case: Case, marks: MarksInput) -> pose.Marks | None:
    """Return the marks with places, or None where no pair has both places."""
    assert case.marks is not None
    placed = {
        name: pose.Place(
            (float(at[0]), float(at[1]), float(at[2])), case.marks.places[name].u_mm or marks.mark_u_mm
        )
        for name, at in marks.places.items()
    }
    pairs = tuple(pose.MarkPair(*pair) for pair in marks.pairs if pair[1] in placed and pair[2] in placed)
    if not pairs:
        return None
    _refuse_one_spot(placed, pairs)
    upper = {n: p for n, p in placed.items() if case.marks.places[n].arch.value == "upper"}
    lower = {n: p for n, p in placed.items() if case.marks.places[n].arch.value == "lower"}
    return pose.Marks(upper, lower, pairs)


def _refuse_one_spot(placed: Mapping[str, pose.Place], pairs: Sequence[pose.MarkPair]) -> None:
    """Raise FaultError for a pair whose two marks are said to stand on one spot: no distance has a direction there."""
    faults = [
        Fault(
            "marks.one_spot",
            say(
                "{upper} and {lower} are said to stand in the same place, yet they are a pair that is measured",
                upper=p.upper,
                lower=p.lower,
            ),
            say("Measure the place of both marks again: ahead, above and right"),
            field=f"marks.places.{p.lower}",
        )
        for p in pairs
        if math.dist(placed[p.upper].xyz_mm, placed[p.lower].xyz_mm) < _ONE_SPOT_MM
    ]
    if faults:
        raise FaultError(faults)


def record_slack(case: Case, states: Sequence[str]) -> Mapping[str, pose.Slack]:
    """Return how far each state may plausibly differ from MIP."""
    assert case.marks is not None
    wide = {StateKind.PROTRUSIVE, StateKind.LEFT, StateKind.RIGHT}
    return {
        s: pose.EXCURSION_SLACK if case.marks.states[s].kind in wide else pose.RECORD_SLACK for s in states
    }


def note_slack(ledger: Ledger) -> None:
    """Say that a plausible motion of the joints stands in where the marks do not see."""
    s = pose.RECORD_SLACK
    ledger.assume(
        say("how far the joints may shift between MIP and CR (1 SD fore-aft; height and side less)"),
        s.fore_aft_mm,
        "mm",
        say("condylar shifts of 0.2 to 0.9 mm are reported (PMC5506257 and others); our choice"),
        "marks.places",
    )


def instrument_slack(case: Case, ledger: Ledger) -> pose.Slack:
    """Return how far the instrument lets the lower stray from its hinge: the play of its condylar elements."""
    play = case.instrument.play_mm if case.instrument is not None else None
    if play is None:
        play = ledger.assume(
            say("play of the locked condylar elements"),
            _PLAY_MM,
            "mm",
            say("0.02 to 0.1 mm; common practice, no source"),
            "instrument.play_mm",
        )
    turn = math.sqrt(2.0) * play / (2.0 * half_width(case, ledger))
    return pose.Slack(turn, turn, math.radians(10.0), play, play, play)


def half_width(case: Case, ledger: Ledger) -> float:
    """Return half the distance between the condyles (mm): entered, or assumed."""
    width = case.instrument.intercondylar_mm if case.instrument is not None else None
    if width is not None:
        return 0.5 * width.value
    return 0.5 * ledger.assume(
        say("distance between the condyles"),
        _INTERCONDYLAR_MM,
        "mm",
        say("common setting, no source"),
        "instrument.intercondylar_mm",
    )


def opening(motion: Carried) -> Carried:
    """Return the opening about the hinge axis (rad) of a motion: minus its turn about z."""
    return -motion[2]


class Look(NamedTuple):
    """Which states are held against each other, and how far they may plausibly differ."""

    reference: str
    states: tuple[str, ...]
    slack: pose.Slack | Mapping[str, pose.Slack]
    mip: str | None = None


def marks_at(case: Case, marks: MarksInput, placed: pose.Marks, mip: str | None, state: str) -> pose.Marks:
    """Return the marks with those of the lower cast where they stand in ``state``, as far as the readings tell.

    They are entered as they stand in MIP; first contact may lie a slide of a millimetre or two away. What the readings
    leave open of that motion goes into the uncertainty of the places. Without MIP they come back as they are.
    """
    if mip is None or not marks.table.get(mip) or not marks.table.get(state):
        return placed
    fit = pose.fit_poses(
        placed, marks.table, mip, [state], slack=record_slack(case, [state]), slack_everywhere=True
    )
    if not fit.settled:
        return placed
    lower = {}
    for name, place in placed.lower.items():
        there = place_in(fit, state, Point(name, place.xyz_mm))
        moved = there - exact(place.xyz_mm)
        u = math.hypot(place.u_mm, float(np.max(moved.without("mark").us)))
        x, y, z = (float(v) for v in there.values)
        lower[name] = pose.Place((x, y, z), u)
    return placed._replace(lower=lower)


def looks_of(case: Case, states: States, ledger: Ledger) -> tuple[Look, ...]:
    """Return how the columns of the mounted record are held against each other, for readings that stand out.

    All against MIP, where the joints may have shifted; and first contact against the record, where only the play
    of the instrument lies between.
    """
    known = [s for s in (states.mip, states.record, states.after_set, states.contact) if s is not None]
    looks = []
    if len(known) > 1:
        looks.append(Look(known[0], tuple(known[1:]), record_slack(case, known[1:])))
    on_instrument = states.after_set or states.record
    if states.contact is not None and on_instrument is not None:
        looks.append(Look(states.contact, (on_instrument,), instrument_slack(case, ledger), states.mip))
    return tuple(looks)


def set_aside(case: Case, marks: MarksInput, looks: Sequence[Look], ledger: Ledger) -> MarksInput:
    """Question every reading that the rigid residual of the others does not allow, and leave it out until answered.

    It stays in the case as it was typed, is asked for by name, and what it would change is for the answer to
    say. Without places of the marks there is no such residual and the table comes back as it is.
    """
    placed = bench_marks(case, marks)
    if placed is None:
        return marks
    table = {s: dict(row) for s, row in marks.table.items()}
    for look in looks:
        seen = {s: table[s] for s in (look.reference, *look.states) if table.get(s)}
        try:
            there = marks_at(case, marks._replace(table=table), placed, look.mip, look.reference)
            asked = questions(there, seen, look.reference, slack=look.slack, step_mm=marks.step_mm)
        except ValueError:
            continue  # no pair with places was read in these states
        if len(asked) >= _MANY:
            _contradicts(look, len(asked), ledger)
            continue
        for one in asked:
            _ask(case, one, ledger)
            if len(table[one.state]) > 1:
                del table[one.state][one.pair]
    return marks._replace(table=table)


def left_out(before: MarksInput, after: MarksInput) -> str:
    """Return in words which readings were set aside, or nothing."""
    gone = [
        say("{pair} in {state}", pair=pair, state=s)
        for s, row in before.table.items()
        for pair in row
        if pair not in after.table[s]
    ]
    if len(gone) < 2:
        return gone[0] if gone else ""
    return say("{first} and {last}", first=joined(", ", gone[:-1]), last=gone[-1])


def _contradicts(look: Look, count: int, ledger: Ledger) -> None:
    """Say that a whole table goes against what it is said to be good for: then no single reading is to blame."""
    states = joined(", ", (look.reference, *look.states))
    ledger.because(
        Verdict.DOUBTFUL,
        Why.BETWEEN,
        say(
            "{count} or more readings in {states} contradict the others: the readings, or the places of the "
            "marks, are not as well known as the case says",
            count=count,
            states=states,
        ),
    )
    ledger.need(
        say("one distance measured ten times, and the places of the marks once more"),
        say("so many readings contradict each other that the stated uncertainties cannot be right"),
        "caliper.sd_mm",
    )


def _ask(case: Case, asked: Question, ledger: Ledger) -> None:
    assert case.marks is not None
    repeats = case.marks.readings_mm.get(asked.pair, asked.state)
    found = say("{mm:.2f} mm", mm=asked.found_mm)
    if len(repeats) > 1:
        found = say(
            "{mm} (mean of {repeats})", mm=found, repeats=joined(", ", (figure(v, ".2f") for v in repeats))
        )
    really = say(
        "Is {pair} in state {state} really {found}? The other pairs expect {expected:.2f} mm, give or take {by:.2f}.",
        pair=asked.pair,
        state=asked.state,
        found=found,
        expected=asked.expected_mm,
        by=2 * asked.expected_u_mm,
    )
    for slip in asked.slips[:1]:
        really = say("{asked} {how}: {mm:.2f}?", asked=really, how=capital(slip.how), mm=slip.value_mm)
    ledger.because(
        Verdict.DOUBTFUL,
        Why.QUESTIONED,
        really,
        value=asked.found_mm,
        limit=asked.expected_mm,
        unit="mm",
        field=dotted(("marks", "readings_mm", asked.pair, asked.state)),
        suggestion=figure(asked.slips[0].value_mm, ".2f") if asked.slips else "",
    )
    ledger.need(
        say("{pair} in state {state} once more", pair=asked.pair, state=asked.state),
        say("{mm:.2f} mm does not go with the other pairs; it is left out until then", mm=asked.found_mm),
        "marks.readings_mm",
    )
