"""The paper "before you cut": every check that is missing on this case, and what stands behind each step for good."""

from __future__ import annotations

from mountproof.answers.known import is_answered
from mountproof.answers.paper import Block, Line, Paper, Stands
from mountproof.answers.paper_checks import STEPS, Check, checks_of, second_record
from mountproof.answers.result import Sheet, Verdict
from mountproof.answers.words import BY_KEY, CAUTION_BY_KEY, CAUTIONS
from mountproof.case.model import Case, Final, PlannedStep
from mountproof.case.tooth_numbers import teeth_iso
from mountproof.said import capital, joined, say
from mountproof.teeth import tooth_text


def before_cutting(case: Case, sheet: Sheet) -> Paper:
    """Return the list of one case; pure. Questions that the sheet does not hold are listed as not asked."""
    planned = case.prescription.steps
    others = [kind for kind in Final if all(step.step is not kind for step in planned)]
    blocks = [_step_block(case, sheet, step) for step in planned]
    blocks += [_step_block(case, sheet, None, kind) for kind in others]
    return Paper(
        "before-cutting",
        say("Before you cut: what is missing"),
        _headline(case, sheet, blocks),
        (_missing(sheet), *blocks),
        (*CAUTIONS, *CAUTION_BY_KEY["change"]),
        sign=True,
    )


def _headline(case: Case, sheet: Sheet, blocks: list[Block]) -> str:
    planned = len(case.prescription.steps)
    open_ = sum(
        any(line.stands in (Stands.MISSING, Stands.AGAINST) for line in b.lines) for b in blocks[:planned]
    )
    parts = (
        []
        if second_record(case, sheet)
        else [say("Not verified: no second record was held against the mounting.")]
    )
    if not planned:
        parts.append(say("No step for good is entered; what each would need is listed."))
    elif open_:
        parts.append(say("{n} of {all} planned steps have checks missing.", n=open_, all=planned))
    else:
        parts.append(
            say("Every planned step has its checks; whether it is taken is the clinician's decision.")
        )
    return joined(" ", parts)


def _missing(sheet: Sheet) -> Block:
    """Every reading that an answer still asks for, and every gate that is not met, once each."""
    found: dict[str, Line] = {}
    for gate in sheet.gates:
        found.setdefault(gate.words, Line(gate.words, note=gate.why, stands=Stands.MISSING))
    for key in BY_KEY:
        answer = sheet.answers.get(key)
        if answer is None:
            found[key] = Line(BY_KEY[key].words, note=say("not asked"), stands=Stands.MISSING)
        elif is_answered(answer) and answer.verdict is not Verdict.AGREES:
            for need in answer.needs:
                found.setdefault(
                    need.reading, Line(capital(need.reading), note=need.why, stands=Stands.MISSING)
                )
    return Block(say("Checks and readings that are missing on this case"), tuple(found.values()))


def _step_block(case: Case, sheet: Sheet, step: PlannedStep | None, kind: Final | None = None) -> Block:
    name = STEPS[step.step if step is not None else kind or Final.SHAPING][0]
    if step is None:
        title = say("{step}: not planned here", step=name)
    elif step.teeth:
        teeth = joined(", ", [tooth_text(t) for t in teeth_iso(case, step.teeth)])
        title = say("{step}: teeth {teeth}", step=name, teeth=teeth)
    else:
        title = name
    return Block(
        capital(title),
        tuple(_line(check) for check in checks_of(case, sheet, step)),
        say("Cannot be taken back. It stands behind these checks:"),
    )


def _line(check: Check) -> Line:
    return Line(check.words, note=check.why, stands=check.stands)
