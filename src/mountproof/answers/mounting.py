"""Question 4: whether the mounting came out as the records say. The parts stand in modules of their own."""

from __future__ import annotations

from functools import lru_cache

from mountproof.answers.bench_inputs import marks_input, pin_input, states_of
from mountproof.answers.casts_checks import casts_checks
from mountproof.answers.facebow import facebow
from mountproof.answers.foil_fit import foil_fit
from mountproof.answers.foils import compare_foils
from mountproof.answers.ledger import Ledger
from mountproof.answers.mounting_moved import moved
from mountproof.answers.mounting_pin import pin_found
from mountproof.answers.mounting_second import second_record
from mountproof.answers.mounting_slide import slide
from mountproof.answers.other_scans import other_scans
from mountproof.answers.picture_data import Cause, FoilChart, MountingEvidence, SplitPlane
from mountproof.answers.poses import looks_of, set_aside
from mountproof.answers.procedure import mounting_needs
from mountproof.answers.progress import Progress
from mountproof.answers.proof import proof
from mountproof.answers.proof_scans import ask_of_scans
from mountproof.answers.record import Noted
from mountproof.answers.result import Answer, Verdict, Why
from mountproof.answers.split_cast import split_casts, verified_by
from mountproof.answers.told_apart import Told
from mountproof.answers.words import BY_KEY, SOURCES
from mountproof.case.model import Case
from mountproof.said import capital, joined, say


def answer(case: Case, progress: Progress) -> Answer:
    """Answer from movement during set, the record-out reading against its prediction, the slide, and foils."""
    noted = noted_parts(case, progress)
    ledger, says = noted.ledger.copied(), list(noted.says)
    ledger.sources[:0] = [SOURCES["pin"], SOURCES["gum"]]
    if not ledger.verdicts:
        ledger.because(Verdict.CANNOT_TELL, Why.MISSING, say("no check of the mounting was entered"))
        says = [say("Not verified: no check of this mounting was entered.")]
    return ledger.answer(capital(joined("; ", says)), evidence=evidence(ledger))


def noted_parts(case: Case, progress: Progress) -> Noted:
    """Make every check, once for questions 4 and 8 (for its ``finds``)."""
    return _noted(Told(case, BY_KEY["mounting"].reads, progress))


@lru_cache(maxsize=8)
def _noted(read: Told) -> Noted:
    ledger = Ledger("mounting")
    return Noted(ledger, tuple(parts(read.case, ledger, read.progress)))


def parts(case: Case, ledger: Ledger, progress: Progress) -> list[str]:
    """Make every check that there are entries for; return what they come to, the most decisive first.

    What each check found stands in ``ledger.finds`` afterwards, for the causes to be weighed.
    """
    says, tried, second = by_marks(case, ledger)
    foil = compare_foils(case, ledger)
    fitted = foil_fit(case, ledger, compared=bool(foil))
    says += [text for text in (foil, fitted) if text]
    says = [*casts_checks(case, ledger), *says]
    says += other_scans(case, ledger, progress)
    says += facebow(case, ledger)
    split = split_casts(case, ledger)
    others = verified_by(case)
    if not second and others:
        second = say("tried with {records}", records=others)
    says += [*split, second or say("not verified by a second record")]
    if not second:
        ledger.need(
            say("a second CR record seated on the mounting, pin or split cast read"),
            say("the record it was mounted on cannot prove it"),
            "marks.states",
        )
    for need in mounting_needs(case):
        ledger.need(*need)
    ask_of_scans(case, ledger)
    if ledger.verdicts and not tried and not second:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say("neither movement during set nor the pin with the record out was checked"),
        )
    return [*proof(case, ledger, progress), *says]


def by_marks(case: Case, ledger: Ledger, *, tell_slide: bool = True) -> tuple[list[str], bool, str]:
    """Make the checks by marks and pin; return what they say, whether one was made, and how a second record seats.

    The slide is told, never judged: who only wants what was judged leaves it out.
    """
    if case.marks is None:
        ledger.need(
            say("marks before and after set, record in, then with the record out"),
            say("they show what moved and what the pin means"),
            "marks",
        )
        return [], False, ""
    marks = marks_input(case.marks, case.caliper, ledger)
    states = states_of(case, ledger)
    marks = set_aside(case, marks, looks_of(case, states, ledger), ledger)
    says = moved(case, marks, states, ledger)
    tried = bool(says)
    if case.instrument is not None:
        pin = pin_input(case.instrument, case.caliper, ledger)
        says += pin_found(case, pin, marks, states, ledger)
        tried = tried or any(q.key == "found" for q in ledger.quantities)
    else:
        ledger.need(
            say("hinge to pin, forward, and hinge to pin tip, down"),
            say("what the pin reads is predicted from its own lengths"),
            "instrument.pin",
        )
    if tell_slide:
        slide(case, marks, states, ledger)
    return says, tried, second_record(case, marks, ledger)


def evidence(ledger: Ledger) -> MountingEvidence | None:
    """Return the arrays behind the pictures that the parts noted on the page; None where there are none."""
    foils = tuple(p for p in ledger.pictures if isinstance(p, FoilChart))
    splits = tuple(p for p in ledger.pictures if isinstance(p, SplitPlane))
    causes = tuple(p for p in ledger.pictures if isinstance(p, Cause))
    return MountingEvidence(foils, splits, causes) if foils or splits or causes else None
