"""Question 5: where the teeth first meet in CR, and which come next."""

from __future__ import annotations

import numpy as np

from mountproof.answers.foils import iso, written
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress
from mountproof.answers.relation import Relation, told
from mountproof.answers.result import Answer, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.case.model import Arch, Case, RecordKind, Where
from mountproof.case.model import Relation as FoilRelation
from mountproof.faults import Fault, FaultError
from mountproof.geometry.poses import why_not_rigid
from mountproof.said import joined, say


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
        return _by_foil(case, ledger)
    relation = _record_relation(case, ledger)
    if relation is None:
        return ledger.answer(
            say("Both scans are here, but not how they stand to each other in CR."), Verdict.CANNOT_TELL
        )
    # Surfaces need compiled kernels, which are slow to import: a caliper-only case must not wait for them.
    from mountproof.answers.scanned_contacts import scanned_contacts

    return scanned_contacts(case, ledger, relation, progress)


def _record_relation(case: Case, ledger: Ledger) -> Relation | None:
    """Return the relation in the record the cast was mounted on, or None with what is needed."""
    posed = {
        n: r for n, r in case.records.items() if r.kind is RecordKind.CR and r.upper_from_lower is not None
    }
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
