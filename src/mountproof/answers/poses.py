"""Poses of the lower cast from the table of marks, as the answers use them; and readings that want a second look."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from mountproof.answers.bench_inputs import MarksInput
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.bench import pose
from mountproof.bench.doubtful import questions
from mountproof.case.model import Case, StateKind
from mountproof.geometry.carry import Carried

#: Play of the condylar elements when locked, where it was not measured: 0.02 to 0.1 mm. Common practice, no source.
_PLAY_MM = 0.05


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
    upper = {n: p for n, p in placed.items() if case.marks.places[n].arch.value == "upper"}
    lower = {n: p for n, p in placed.items() if case.marks.places[n].arch.value == "lower"}
    return pose.Marks(upper, lower, pairs)


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
        "how far the joints may shift between MIP and CR (1 SD fore-aft; height and side less)",
        s.fore_aft_mm,
        "mm",
        "condylar shifts of 0.2 to 0.9 mm are reported (PMC5506257 and others); our choice",
        "marks.places",
    )


def instrument_slack(case: Case, ledger: Ledger) -> pose.Slack:
    """Return how far the instrument lets the lower stray from its hinge: the play of its condylar elements."""
    play = case.instrument.play_mm if case.instrument is not None else None
    if play is None:
        play = ledger.assume(
            "play of the locked condylar elements",
            _PLAY_MM,
            "mm",
            "0.02 to 0.1 mm; common practice, no source",
            "instrument.play_mm",
        )
    width = case.instrument.intercondylar_mm if case.instrument is not None else None
    turn = math.sqrt(2.0) * play / (width.value if width is not None else 110.0)
    return pose.Slack(turn, turn, math.radians(10.0), play, play, play)


def opening(motion: Carried) -> Carried:
    """Return the opening about the hinge axis (rad) of a motion: minus its turn about z."""
    return -motion[2]


def question_readings(
    placed: pose.Marks,
    marks: MarksInput,
    fit: pose.PoseTable,
    ledger: Ledger,
    slack: pose.Slack | Mapping[str, pose.Slack],
) -> None:
    """Question every reading that the rigid residual of the others does not allow; drop none."""
    seen = {s: marks.table[s] for s in fit.poses if s in marks.table}
    for asked in questions(placed, seen, fit.reference, slack=slack, step_mm=marks.step_mm, fitted=fit):
        slip = f" {asked.slips[0].how.capitalize()}: {asked.slips[0].value_mm:.2f}?" if asked.slips else ""
        ledger.because(
            Verdict.DOUBTFUL,
            Why.QUESTIONED,
            f"Is {asked.pair} in state {asked.state} really {asked.found_mm:.2f} mm? The other pairs expect "
            f"{asked.expected_mm:.2f} mm, give or take {2 * asked.expected_u_mm:.2f}.{slip}",
            value=asked.found_mm,
            limit=asked.expected_mm,
            unit="mm",
        )
        ledger.need(
            f"{asked.pair} in state {asked.state} once more",
            f"{asked.found_mm:.2f} mm does not go with the other pairs",
            "marks.readings_mm",
        )
