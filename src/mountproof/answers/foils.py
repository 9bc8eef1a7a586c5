"""Foils: which teeth hold in the mouth and on the mounting, compared tooth by tooth."""

from __future__ import annotations

from mountproof.answers.implants import held_foils
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Table, Verdict, Why
from mountproof.case.model import Case, Foil, Numbering, Relation, Where
from mountproof.said import joined, say
from mountproof.teeth import format_tooth, is_posterior, iso_from_universal, name, right_to_left

#: What a foil does between two teeth.
HOLDS, DRAGS, FREE = say("holds"), say("drags"), say("free")


def iso(case: Case, tooth: int) -> int:
    """Return the ISO 3950 number of a tooth as the case writes it."""
    return iso_from_universal(tooth) if case.dentition.numbering is Numbering.UNIVERSAL else tooth


def written(case: Case, tooth: int) -> str:
    """Return a tooth (ISO 3950) as the case writes it."""
    return format_tooth(tooth, case.dentition.numbering.value)


def present(case: Case, arch: str) -> tuple[int, ...]:
    """Return the teeth of an arch that are there (ISO 3950), from the patient's right to the left."""
    gone = {iso(case, t) for t in case.dentition.missing}
    return tuple(t for t in right_to_left(arch) if t not in gone)  # type: ignore[arg-type]


def compare_foils(case: Case, ledger: Ledger) -> str:
    """Compare foils held in the mouth in CR with those held on the mounting; return what to say, or nothing."""
    mouth = first_foil(case, Where.MOUTH, Relation.CR)
    bench = first_foil(case, Where.MOUNTING, Relation.CR)
    if mouth is None or bench is None:
        missing = say("in the mouth") if mouth is None else say("on the mounting")
        ledger.need(
            say("which teeth hold shim stock in CR {where}, light closure", where=missing),
            say("it compares cast and mouth"),
            "foils",
        )
        return ""
    if mouth.thickness_um != bench.thickness_um:
        ledger.need(
            say("foil of one thickness in the mouth and on the mounting"),
            say(
                "{mouth:g} um (mouth) and {mounting:g} um (mounting) are not compared",
                mouth=mouth.thickness_um,
                mounting=bench.thickness_um,
            ),
            "foils",
        )
        return ""
    if mouth.closure is not bench.closure:
        ledger.need(
            say("the same foil at light closure in the mouth and on the mounting"),
            say(
                "{mouth} closure in the mouth and {mounting} on the mounting are not compared",
                mouth=mouth.closure,
                mounting=bench.closure,
            ),
            "foils",
        )
        return ""
    teeth = [t for t in present(case, "upper") if is_posterior(t)]
    states = [(t, state_of(case, mouth, t), state_of(case, bench, t)) for t in teeth]
    both = [(t, m, b) for t, m, b in states if m and b]
    if not both:
        return ""
    wrong = [t for t, m, b in both if m != b]
    share = 100.0 * len(wrong) / len(both)
    held = held_foils(case, wrong)
    limit = held.limit
    if share <= limit.decent:
        verdict, why = Verdict.AGREES, Why.INSIDE
    elif share <= limit.redo:
        verdict, why = Verdict.DOUBTFUL, Why.BETWEEN
    else:
        verdict, why = Verdict.DISAGREES, Why.OUTSIDE
    ledger.because(
        verdict,
        why,
        held.says(
            say(
                "foil of {um:g} um in CR: {agree} of {all} posterior upper teeth as in the mouth",
                um=mouth.thickness_um,
                agree=len(both) - len(wrong),
                all=len(both),
            )
        ),
        value=share,
        limit=limit.decent,
        unit="%",
    )
    ledger.tables.append(
        Table(
            say("Foil {um:g} um in CR, {closure} closure", um=mouth.thickness_um, closure=mouth.closure),
            (say("tooth"), "", say("mouth"), say("mounting"), ""),
            tuple(
                (written(case, t), name(t), m or "-", b or "-", "" if m == b else say("differs"))
                for t, m, b in states
            ),
        )
    )
    ledger.notes.append(say("Teeth give under the foil by some hundredths of a millimetre, stone does not."))
    if not wrong:
        return say("the foils agree with the mouth")
    return say(
        "foils differ from the mouth at {teeth}", teeth=joined(", ", (written(case, t) for t in wrong))
    )


def first_foil(case: Case, where: Where, relation: Relation) -> Foil | None:
    """Return the list that is read first: light closure before firm, then the thinnest foil; None where there is none."""
    found = [f for f in case.foils if f.where is where and f.relation is relation]
    return min(found, key=lambda f: (f.closure.value != "light", f.thickness_um), default=None)


def state_of(case: Case, foil: Foil, tooth: int) -> str:
    """Return what a foil did at a tooth (ISO 3950): holds, drags or free; nothing where that was not said."""
    for word, teeth in ((HOLDS, foil.held), (DRAGS, foil.drags), (FREE, foil.free)):
        if tooth in {iso(case, t) for t in teeth}:
            return word
    return FREE if foil.others_free else ""
