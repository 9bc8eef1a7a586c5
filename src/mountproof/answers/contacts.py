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


def answer(case: Case, progress: Progress) -> Answer:
    """Answer first contact exactly, with every tooth pair's remaining gap and what the record leaves open."""
    ledger = Ledger("contacts")
    ledger.sources += [SOURCES["contact"], SOURCES["iso3950"]]
    missing = [arch for arch in Arch if not any(s.arch is arch for s in case.scans)]
    if missing:
        for arch in missing:
            ledger.need(
                f"a scan of the {arch.value} cast", "first contact is found on the surfaces of both", "scans"
            )
        return _by_foil(case, ledger)
    relation = _record_relation(case, ledger)
    if relation is None:
        return ledger.answer(
            "Both scans are here, but not how they stand to each other in CR.", Verdict.CANNOT_TELL
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
        ledger.notes.append(f"Closed from the one CR record with a scanned relation: {name}.")
    else:
        ledger.need(
            "the scanned relation of the CR record", "closing starts from it", "records.upper_from_lower"
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
                    f"the relation of {name} is no rigid motion: {reason.text}",
                    "Export it again as a rotation and a shift; a mirrored or scaled one moves teeth",
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
                held = ", ".join(written(case, iso(case, t)) for t in foil.held)
                ledger.because(Verdict.CANNOT_TELL, Why.MISSING, "a foil names teeth, not gaps or runners-up")
                place = "in the mouth" if where is Where.MOUTH else "on the mounting"
                return ledger.answer(
                    f"By foil of {foil.thickness_um:g} um {place}: {held} held in CR. Gaps need scans."
                )
    ledger.need(
        "which teeth hold shim stock in CR, light closure",
        "it names the first contact without a scan",
        "foils",
    )
    return ledger.answer("First contact needs foil or scans.", Verdict.CANNOT_TELL)
