"""Question 5: where the teeth first meet in CR, which come next, and how the lower slides from there into MIP."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from mountproof.answers.asked import asked
from mountproof.answers.foils import iso, written
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress, within
from mountproof.answers.relation import Relation, told
from mountproof.answers.result import Answer, Verdict, Why, worst
from mountproof.answers.scanned_records import placed_arches, scanned_relations
from mountproof.answers.told_apart import Told
from mountproof.answers.words import CLOSING, SOURCES
from mountproof.case.model import Arch, Case, RecordKind, Where
from mountproof.case.model import Relation as FoilRelation
from mountproof.faults import Fault, FaultError
from mountproof.geometry.poses import inverse, why_not_rigid
from mountproof.said import capital, joined, say

if TYPE_CHECKING:
    from mountproof.answers.scanned_contacts import Closed
    from mountproof.answers.slide import Slide


def answer(case: Case, progress: Progress) -> Answer:
    """Answer first contact exactly, with every tooth pair's remaining gap and what the record leaves open."""
    ledger = Ledger("contacts")
    ledger.sources += [SOURCES["contact"], SOURCES["iso3950"]]
    missing = [arch for arch in Arch if not any(s.arch is arch for s in case.scans)]
    if missing:
        for arch in missing:
            ledger.need(
                say("a scan of the {arch} cast", arch=arch),
                say("first contact is found on the surfaces of both"),
                "scans",
            )
        _by_marks(case, ledger, progress)
        return _by_foil(case, ledger)
    noted = noted_closing(case, progress)
    ledger.take(noted.ledger)
    ledger.needs[:] = noted.ledger.needs
    if noted.closed is None:
        return ledger.answer(
            say("Both scans are here, but not how they stand to each other in CR."), Verdict.CANNOT_TELL
        )
    from mountproof.answers.scanned_contacts import scanned_contacts

    met = scanned_contacts(case, ledger, noted.closed)
    slid = _slid(Told(case, CLOSING, within(progress, 0.8, 0.2)))
    return met if slid is None else _with_slide(met, slid)


@lru_cache(maxsize=1)
def _slid(told: Told) -> Slide | None:
    """Return the slide of a case whose scans were closed; a reading of the bench beside does not move it."""
    from mountproof.answers.slide import slide

    closed = noted_closing(told.case, told.progress).closed
    return None if closed is None else slide(told.case, closed, told.progress)


def _with_slide(met: Answer, slid: Slide) -> Answer:
    """Return the answer to first contact, and after it what happens from there."""
    from mountproof.answers.contact_evidence import ContactEvidence

    page = slid.page.answer(slid.sentence)
    evidence = met.evidence
    if isinstance(evidence, ContactEvidence) and slid.path is not None:
        evidence = replace(evidence, slide=slid.path)
    return replace(
        met,
        headline=say("{first} {then}", first=met.headline, then=capital(page.headline)),
        verdict=worst((met.verdict, *slid.page.verdicts)),
        reasons=(*met.reasons, *page.reasons),
        quantities=(*met.quantities, *page.quantities),
        needs=tuple(dict.fromkeys((*met.needs, *page.needs))),
        assumptions=tuple(dict.fromkeys((*met.assumptions, *page.assumptions))),
        tables=(*met.tables, *page.tables),
        notes=tuple(dict.fromkeys((*met.notes, *page.notes))),
        sources=(*met.sources, SOURCES["slide"]),
        evidence=evidence,
    )


class Noted(NamedTuple):
    """Both scans closed in the record's relation, None where that is not known, and what was noted on the way."""

    ledger: Ledger
    closed: Closed | None


def noted_closing(case: Case, progress: Progress) -> Noted:
    """Return the closed scans of a case that has both; questions that ask for the same get the same."""
    page = Ledger("contacts")
    if _record_relation(case, page, progress) is None:
        return Noted(page, None)
    return _noted(Told(case, CLOSING, progress))


@lru_cache(maxsize=1)
def _noted(told: Told) -> Noted:
    case, progress = told.case, told.progress
    page = Ledger("contacts")
    relation = _record_relation(case, page, progress)
    if relation is None:
        return Noted(page, None)
    # Surfaces need compiled kernels, which are slow to import: a caliper-only case must not wait for them.
    from mountproof.answers.scanned_contacts import close_scans

    return Noted(page, close_scans(case, page, relation, progress))


def _record_relation(case: Case, ledger: Ledger, progress: Progress) -> Relation | None:
    """Return the relation in the record the cast was mounted on, or None with what is needed."""
    posed = {
        n: r for n, r in case.records.items() if r.kind is RecordKind.CR and r.upper_from_lower is not None
    }
    by_scan = [
        n
        for n, r in case.records.items()
        if r.kind is RecordKind.CR and r.scan is not None and n not in posed
    ]
    if case.mounted_on in by_scan or (case.mounted_on not in posed and not posed and len(by_scan) == 1):
        name = case.mounted_on if case.mounted_on in by_scan else by_scan[0]
        return _scanned(case, ledger, str(name), progress)
    if case.mounted_on in posed:
        chosen = posed[case.mounted_on]
    elif len(posed) == 1:
        name, chosen = next(iter(posed.items()))
        ledger.notes.append(say("Closed from the one CR record with a scanned relation: {name}.", name=name))
    else:
        ledger.need(
            say("the scanned relation of the CR record"),
            say("closing starts from it"),
            "records.upper_from_lower",
        )
        return None
    assert chosen.upper_from_lower is not None
    pose = np.array(chosen.upper_from_lower)
    name = next(n for n, r in case.records.items() if r is chosen)
    reasons = why_not_rigid(pose)
    if reasons:
        raise FaultError(
            [
                Fault(
                    f"scan.transform_{reason.code}",
                    say("the relation of {name} is no rigid motion: {why}", name=name, why=reason.text),
                    say("Export it again as a rotation and a shift; a mirrored or scaled one moves teeth"),
                    where="case.toml",
                    field=f"records.{name}.upper_from_lower",
                )
                for reason in reasons
            ]
        )
    return told(case, ledger, pose, chosen.relation_in, f"records.{name}.relation_in")


def _scanned(case: Case, ledger: Ledger, name: str, progress: Progress) -> Relation | None:
    """Return the relation that the scan of a record shows, held by both casts together; None with what is needed."""
    found = next((r for r in scanned_relations(case, ledger, progress) if r.record == name), None)
    placed = placed_arches(case, ledger)
    if found is None or placed is None:
        return None
    upper, lower = placed[Arch.UPPER].frame_from_scan, placed[Arch.LOWER].frame_from_scan
    ledger.notes.append(say("Closed from the scan of {name}.", name=name))
    return Relation(inverse(upper) @ found.upper_from_lower @ lower, True)


def _by_marks(case: Case, ledger: Ledger, progress: Progress) -> None:
    """Without scans: the slide into MIP as question 4 has it from the marks, the same numbers."""
    if case.marks is None:
        return
    found = [q for q in asked(case, "mounting", progress).quantities if q.key.startswith("slide_")]
    if found:
        ledger.quantities += found
        ledger.notes.append(
            say("The slide into MIP is that of the marks: question 4 tells it at every place.")
        )


def _by_foil(case: Case, ledger: Ledger) -> Answer:
    """Without scans: what the foil says about first contact."""
    for where in (Where.MOUNTING, Where.MOUTH):
        for foil in case.foils:
            if foil.where is where and foil.relation is FoilRelation.CR and foil.held:
                held = joined(", ", (written(case, iso(case, t)) for t in foil.held))
                ledger.because(
                    Verdict.CANNOT_TELL, Why.MISSING, say("a foil names teeth, not gaps or runners-up")
                )
                return ledger.answer(
                    say(
                        "By foil of {um:g} um {place}: {teeth} held in CR. Gaps need scans.",
                        um=foil.thickness_um,
                        place=say("in the mouth") if where is Where.MOUTH else say("on the mounting"),
                        teeth=held,
                    )
                )
    ledger.need(
        say("which teeth hold shim stock in CR, light closure"),
        say("it names the first contact without a scan"),
        "foils",
    )
    return ledger.answer(say("First contact needs foil or scans."), Verdict.CANNOT_TELL)
