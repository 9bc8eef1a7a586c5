"""A sheet of answers as it travels: words in the language asked for, numbers as data and as read."""

from __future__ import annotations

from collections.abc import Mapping

from mountproof.answers.known import is_answered, next_up, turns_on
from mountproof.answers.result import Answer, Quantity, Table
from mountproof.answers.words import CAUTIONS, QUESTIONS, Question
from mountproof.case.store import Accepted
from mountproof.said import joined, term
from mountproof.surfaces.web.answering import Asked
from mountproof.surfaces.web.shapes.basics import fault_out, finite, need_out
from mountproof.surfaces.web.tongue import Speak, System, speaker, words
from mountproof.surfaces.web.wire import (
    AcceptedOut,
    AnswerOut,
    AnswerState,
    AssumptionOut,
    GateOut,
    QuantityOut,
    ReasonOut,
    SheetOut,
    TableOut,
)
from mountproof.surfaces.wording import MARKS, interval_text, number_text, value_text, with_unit


def sheet_out(
    asked: Asked,
    accepted: Mapping[str, tuple[Accepted, bool]],
    case_id: int,
    revision: int,
    language: str,
    numbering: System,
) -> SheetOut:
    """Return the sheet; ``accepted`` maps a question to what stands accepted, and whether that is out of date."""
    sheet = asked.sheet
    return SheetOut(
        case_id=case_id,
        revision=revision,
        code=sheet.code,
        answers=[
            answer_out(sheet.answers[q.key], accepted.get(q.key), language, numbering)
            if q.key in sheet.answers
            else _not_there(q, q.key in asked.stopped, accepted.get(q.key), language)
            for q in QUESTIONS
        ],
        next=[need_out(key, need, language, numbering) for key, need in next_up(sheet)],
        questions=[words(text, language, numbering) for text in sheet.questions],
        echoes=[words(text, language, numbering) for text in sheet.echoes],
        faults=[fault_out(one, language, numbering) for one in sheet.faults],
        cautions=[words(text, language, numbering) for text in CAUTIONS],
        gates=[
            GateOut(
                key=gate.key,
                words=words(gate.words, language, numbering),
                why=words(gate.why, language, numbering),
                field=gate.field,
            )
            for gate in sheet.gates
        ],
        work=asked.work,
    )


def answer_out(
    answer: Answer, accepted: tuple[Accepted, bool] | None, language: str, numbering: System
) -> AnswerOut:
    """Return one answer in a language."""

    said = speaker(language, numbering)

    question = next(q for q in QUESTIONS if q.key == answer.key)
    main = turns_on(answer)
    return AnswerOut(
        key=answer.key,
        number=question.number,
        question=said(answer.question),
        state=AnswerState.READY if is_answered(answer) else AnswerState.NOT_BUILT,
        headline=said(answer.headline),
        verdict=answer.verdict.value,
        verdict_word=said(term(answer.verdict.value)),
        mark=MARKS[answer.verdict],
        interval="" if main is None else said(joined(": ", (main.label, interval_text(main)))),
        reasons=[
            ReasonOut(
                why=r.why.value,
                text=said(r.text),
                field=r.field,
                suggestion=r.suggestion,
            )
            for r in answer.reasons
        ],
        quantities=[_quantity(q, language, numbering) for q in answer.quantities],
        needs=[need_out(answer.key, n, language, numbering) for n in answer.needs],
        assumptions=[
            AssumptionOut(what=said(a.what), value=said(a.value), source=said(a.source), field=a.field)
            for a in answer.assumptions
        ],
        tables=[table_out(t, said) for t in answer.tables],
        notes=[said(n) for n in answer.notes],
        cautions=[said(c) for c in answer.cautions],
        sources=[said(s) for s in answer.sources],
        digest=answer.digest,
        accepted=_accepted(accepted),
    )


def _quantity(q: Quantity, language: str, numbering: System) -> QuantityOut:
    said = speaker(language, numbering)

    return QuantityOut(
        key=q.key,
        label=said(q.label),
        value=finite(q.value),
        unit=said(q.unit),
        u=finite(q.u),
        low=finite(q.low),
        high=finite(q.high),
        assumed=q.assumed,
        note=said(q.note),
        shown=said(value_text(q)),
        interval=said(interval_text(q)),
        u_shown="" if finite(q.u) is None else said(with_unit(number_text(q.u or 0.0, q.decimals), q.unit)),
    )


def _not_there(
    question: Question, stopped: bool, accepted: tuple[Accepted, bool] | None, language: str
) -> AnswerOut:
    return AnswerOut(
        key=question.key,
        number=question.number,
        question=words(question.words, language),
        state=AnswerState.STOPPED if stopped else AnswerState.WORKING,
        headline="",
        verdict="",
        verdict_word="",
        mark="",
        interval="",
        reasons=[],
        quantities=[],
        needs=[],
        assumptions=[],
        tables=[],
        notes=[],
        cautions=[],
        sources=[],
        digest="",
        accepted=_accepted(accepted),
    )


def _accepted(accepted: tuple[Accepted, bool] | None) -> AcceptedOut | None:
    if accepted is None:
        return None
    one, old = accepted
    return AcceptedOut(who=one.who, at=one.at, revision=one.number, out_of_date=old)


def table_out(table: Table, said: Speak) -> TableOut:
    """Return a table of an answer in words."""
    return TableOut(
        title=said(table.title),
        columns=[said(c) for c in table.columns],
        rows=[[said(cell) for cell in row] for row in table.rows],
        note=said(table.note),
    )
