"""The steps of a mounting with what was ticked, what the case itself says of them, and the gates that are not met."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from mountproof.answers.procedure_evidence import Evidence, evidence_of
from mountproof.answers.procedure_words import STAGES, USUAL_WORDS, StepWords
from mountproof.answers.result import Answer, Gate
from mountproof.case.finding import dotted
from mountproof.case.model import Case, OwnStep, Stage, StepEntry
from mountproof.case.procedure import USUAL
from mountproof.case.steps_order import placed
from mountproof.said import joined, say

#: The questions whose answers steps are held against.
LOOKED_AT: tuple[str, ...] = ("pin", "record")


class StepState(StrEnum):
    """Where a step stands. ``passed over``: not ticked, though a later one is. ``asked``: ticked, but the case says otherwise."""

    TO_COME = "to come"
    MET = "met"
    NOT_MET = "not met"
    PASSED = "passed over"
    ASKED = "asked"
    LEFT_OUT = "left out"


#: States in which a gate stays open.
_OPEN = frozenset({StepState.NOT_MET, StepState.PASSED, StepState.ASKED, StepState.LEFT_OUT})


@dataclass(frozen=True, slots=True)
class ProcedureStep:
    """One step as it stands. ``found`` is what the case holds of it, ``asked`` what contradicts the tick.

    ``own`` tells whose step it is: empty for a usual one, else ``instrument`` or ``case``. ``field`` is its entry.
    """

    key: str
    stage: Stage
    stage_words: str
    words: str
    why: str
    closes: str
    gate: bool
    own: str
    entry: StepEntry
    state: StepState
    found: str
    asked: str
    field: str


def procedure_steps(case: Case, answers: Mapping[str, Answer] | None = None) -> tuple[ProcedureStep, ...]:
    """Return all steps of a mounting in order; ``answers`` are those that ticks are held against, where they are there."""
    own = case.instrument.steps if case.instrument is not None else {}
    stages = placed(case.procedure, own).stages
    made = [_step(case, key, stage, own.get(key), answers or {}) for key, stage in stages.items()]
    last_met = max((at for at, step in enumerate(made) if step.entry.met is True), default=-1)
    return tuple(
        replace(step, state=StepState.PASSED) if step.state is StepState.TO_COME and at < last_met else step
        for at, step in enumerate(made)
    )


def open_gates(case: Case, answers: Mapping[str, Answer] | None = None) -> tuple[Gate, ...]:
    """Return the gates that are not met: noted so, passed over, left out, or ticked against what the case says.

    Nothing where the procedure was not used. Gates still to come are not open: nobody went through them yet.
    """
    if not case.procedure.steps:
        return ()
    return tuple(
        Gate(step.key, step.words, _reason(step, case.date), step.field)
        for step in procedure_steps(case, answers)
        if step.gate and step.state in _OPEN
    )


def mounting_needs(case: Case) -> tuple[tuple[str, str, str], ...]:
    """Return what is to be looked at again because gates were not met: its reading, why, and its entry.

    Only the gates that carry the relation of the casts: those of the lower cast and between, but for the pin, whose setting
    the marks and the pin's own reading see.
    """
    if not case.procedure.steps:
        return ()
    found = [
        step
        for step in procedure_steps(case)
        if step.gate
        and step.state in _OPEN
        and step.key != "pin_set"
        and step.stage in (Stage.BETWEEN, Stage.LOWER)
    ]
    if not found:
        return ()
    words = joined("; ", (step.words for step in found))
    why = say("a mounting is as sure as the steps it stands on, and these gates are not met")
    return ((say("a second look at: {steps}", steps=words), why, found[0].field),)


def _step(
    case: Case, key: str, stage: Stage, own: OwnStep | None, answers: Mapping[str, Answer]
) -> ProcedureStep:
    entry = case.procedure.steps.get(key, StepEntry())
    usual = USUAL_WORDS.get(key, StepWords("", ""))
    words = entry.words or (own.words if own is not None else "") or usual.words or key
    gate = bool(usual.closes) if own is None or own.gate is None else own.gate
    seen = evidence_of(key, case, entry, answers)
    return ProcedureStep(
        key=key,
        stage=stage,
        stage_words=STAGES[stage],
        words=words,
        why=usual.why,
        closes=usual.closes,
        gate=gate if entry.gate is None else entry.gate,
        own="" if key in USUAL else "instrument" if own is not None else "case",
        entry=entry,
        state=_state(entry, seen),
        found=seen.found,
        asked=seen.against if entry.met is True else "",
        field=dotted(("procedure", "steps", key)),
    )


def _state(entry: StepEntry, seen: Evidence) -> StepState:
    if entry.left_out:
        return StepState.LEFT_OUT
    if entry.met is None:
        return StepState.TO_COME
    if not entry.met:
        return StepState.NOT_MET
    return StepState.ASKED if seen.against else StepState.MET


def _reason(step: ProcedureStep, day: dt.date | None) -> str:
    """Say why a gate stays open: what was noted, by whom, and what the case says."""
    noted = _noted(step.entry, day)
    match step.state:
        case StepState.LEFT_OUT:
            said = say("left out")
        case StepState.PASSED:
            said = say("not ticked, though later steps are")
        case StepState.ASKED:
            said = say("ticked, but {against}", against=step.asked)
        case _:
            said = say("not met")
            if step.found:
                said = say("not met, {found}", found=step.found)
    parts = [said, *([noted] if noted else []), *([step.entry.note] if step.entry.note else [])]
    return joined("; ", parts)


def _noted(entry: StepEntry, day: dt.date | None) -> str:
    """Say when and by whom; the day only where it is not that of the case."""
    if entry.at is None:
        return say("by {by}", by=entry.by) if entry.by else ""
    when: str = say("{time}", time=entry.at.time())
    if entry.at.date() != day:
        when = say("{day} {time}", day=entry.at.date(), time=entry.at.time())
    return say("{when} by {by}", when=when, by=entry.by) if entry.by else when
