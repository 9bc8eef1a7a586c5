"""The checks behind a step that cannot be taken back, and whether each stands on this case."""

from __future__ import annotations

import datetime as dt
from typing import Final, NamedTuple

from mountproof.answers.foils import compare_foils
from mountproof.answers.ledger import Ledger
from mountproof.answers.paper import Stands
from mountproof.answers.result import Sheet, Verdict, worst
from mountproof.answers.split_cast import verified_by
from mountproof.case.model import Case, PlannedStep
from mountproof.case.model import Final as FinalStep
from mountproof.said import say


class Check(NamedTuple):
    """One check: its key, its words for a clinician and for a patient, whether it stands, and why or since when."""

    key: str
    words: str
    plain: str
    stands: Stands
    why: str


#: Steps that cannot be taken back: as a clinician calls them, and as a patient is told.
STEPS: Final[dict[FinalStep, tuple[str, str]]] = {
    FinalStep.SHAPING: (say("shaping enamel"), say("Changing the shape of a tooth")),
    FinalStep.PREPARATION: (say("crown preparation"), say("Cutting a tooth down for a crown")),
    FinalStep.HEIGHT: (
        say("fixed work at another OVD"),
        say("Fixed crowns that keep your bite higher or lower"),
    ),
}


def checks_of(case: Case, sheet: Sheet, step: PlannedStep | None) -> tuple[Check, ...]:
    """Return the five checks behind a step; of one that is not planned (None), what the case itself can tell."""
    return (
        _mounting(case, sheet),
        _mouth(case),
        _trial(step),
        _consent(step),
        _reversible(step),
    )


def second_record(case: Case, sheet: Sheet) -> bool:
    """Tell whether a second record was held against this mounting."""
    found = sheet.answers.get("mounting")
    by_marks = found is not None and any(q.key == "second_record" for q in found.quantities)
    return by_marks or bool(verified_by(case))


def _mounting(case: Case, sheet: Sheet) -> Check:
    words, plain = say("verified mounting"), say("the stone copies are set as your jaw stands")
    found = sheet.answers.get("mounting")
    if found is None or found.verdict is Verdict.CANNOT_TELL:
        stands, why = Stands.MISSING, say("it cannot be told whether the mounting agrees with its records")
    elif found.verdict is Verdict.DISAGREES:
        stands, why = Stands.AGAINST, say("the mounting does not agree with its records")
    elif not second_record(case, sheet):
        stands, why = Stands.MISSING, say("no second record was held against it")
    elif found.verdict is Verdict.DOUBTFUL:
        stands, why = Stands.AGAINST, say("it is doubtful whether the mounting agrees with its records")
    else:
        stands, why = Stands.THERE, say("it agrees with its records and with a second one")
    return Check("mounting", words, plain, stands, why)


def _mouth(case: Case) -> Check:
    words, plain = say("agreement with the mouth"), say("your mouth shows the same first touch")
    ledger = Ledger("mounting")
    compare_foils(case, ledger)
    if not ledger.verdicts:
        stands, why = Stands.MISSING, say("no foil in CR was compared between mouth and mounting")
    else:
        verdict = worst(tuple(ledger.verdicts))
        stands, why = {
            Verdict.AGREES: (Stands.THERE, say("foil in CR: the same teeth hold it in the mouth and on the mounting")),
            Verdict.DOUBTFUL: (Stands.AGAINST, say("foil in CR: it is doubtful whether the same teeth hold it")),
            Verdict.DISAGREES: (Stands.AGAINST, say("foil in CR: other teeth hold it in the mouth")),
            Verdict.CANNOT_TELL: (Stands.MISSING, say("foil in CR: too few teeth to tell")),
        }[verdict]  # fmt: skip
    return Check("mouth", words, plain, stands, why)


def _dated(day: dt.date | None, missing: str) -> tuple[Stands, str]:
    return (Stands.MISSING, missing) if day is None else (Stands.THERE, say("on {day}", day=day))


def _trial(step: PlannedStep | None) -> Check:
    day = None if step is None else step.duplicate_trial
    stands, why = _dated(day, say("no day of such a trial was entered"))
    plain = say("the step was tried on a second set of stone copies")
    return Check("trial", say("trial on duplicate casts"), plain, stands, why)


def _consent(step: PlannedStep | None) -> Check:
    stands, why = _dated(None if step is None else step.consent, say("no day of consent was entered"))
    return Check("consent", say("consent"), say("you said yes to this step"), stands, why)


def _reversible(step: PlannedStep | None) -> Check:
    words, plain = say("reversible trial"), say("it was tried with something that comes off again")
    if step is not None and step.reversible_trial is not None:
        why = say("on {day}", day=step.reversible_trial)
        if step.reversible_with:
            why = say("on {day}, with {what}", day=step.reversible_trial, what=step.reversible_with)
        return Check("reversible", words, plain, Stands.THERE, why)
    if step is not None and step.no_reversible_trial:
        why = say("said not to be possible: {why}", why=step.no_reversible_trial)
        return Check("reversible", words, plain, Stands.TOLD, why)
    return Check(
        "reversible", words, plain, Stands.MISSING, say("no day of such a trial, nor why none is possible")
    )
