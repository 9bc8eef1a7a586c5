"""Steps of the procedure and pours as they travel. Moments are absolute; what a clock shows is that of this computer."""

from __future__ import annotations

import datetime as dt

from mountproof.answers.pours import Mark, PourTimes, late, next_mark
from mountproof.answers.procedure import ProcedureStep
from mountproof.case.finding import dotted
from mountproof.said import say, term
from mountproof.surfaces.web.tongue import System, speaker, words
from mountproof.surfaces.web.wire import PourMarkOut, PourOut, StepOut


def step_out(step: ProcedureStep, language: str, numbering: System) -> StepOut:
    """Return one step with what was ticked and what the case says of it."""

    said = speaker(language, numbering)

    return StepOut(
        key=step.key,
        field=step.field,
        stage=step.stage.value,
        stage_words=said(step.stage_words),
        words=said(step.words),
        why=said(step.why),
        closes=said(step.closes),
        gate=step.gate,
        own=step.own,
        state=step.state.value,
        state_words=said(term(step.state.value)),
        met=step.entry.met,
        left_out=step.entry.left_out,
        at=step.entry.at,
        at_shown="" if step.entry.at is None else said(_as_noted(step.entry.at)),
        by=step.entry.by,
        note=step.entry.note,
        found=said(step.found),
        asked=said(step.asked),
    )


def pour_out(
    case_id: int, revision: int, code: str, pour: PourTimes, now: dt.datetime, language: str
) -> PourOut:
    """Return one pour with its moments."""

    def mark(one: Mark | None) -> PourMarkOut | None:
        return None if one is None else _mark(one, now, language)

    return PourOut(
        case_id=case_id,
        revision=revision,
        code=code,
        key=pour.name,
        field=dotted(("pours", pour.name)),
        cast=pour.cast.value,
        number=pour.number,
        words=words(pour.words, language),
        begun=pour.begun,
        begun_shown=words(moment_text(pour.begun, now), language),
        marks=[_mark(one, now, language) for one in pour.marks],
        next=mark(next_mark(pour, now)),
        late=mark(late(pour, now)),
        hands_off=pour.hands_off,
        ended=pour.released,
        by=pour.by,
        note=pour.note,
        asked=[words(one, language) for one in pour.asked],
    )


def _mark(one: Mark, now: dt.datetime, language: str) -> PourMarkOut:
    return PourMarkOut(
        key=one.key,
        words=words(one.words, language),
        at=one.at,
        at_shown=words(moment_text(one.at, now), language),
        source=words(one.source, language),
        assumed=one.assumed,
    )


def _as_noted(at: dt.datetime) -> str:
    """Say a moment as the clock on the wall showed it to whoever noted it: so it stands on the sheet, too."""
    return say("{moment}", moment=at.replace(tzinfo=None))


def moment_text(at: dt.datetime, now: dt.datetime | None = None) -> str:
    """Say a moment as this computer's clock shows it; the day only where it is not today's (``now``)."""
    here = at.astimezone().replace(tzinfo=None)
    today = None if now is None else now.astimezone().date()
    if here.date() == today:
        return say("{time}", time=here.time().replace(microsecond=0))
    return say("{moment}", moment=here.replace(microsecond=0))
