"""Foils: which teeth hold in the mouth and on the mounting, compared tooth by tooth."""

from __future__ import annotations

from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Table, Verdict, Why
from mountproof.case.model import Case, Foil, Numbering, Relation, Where
from mountproof.teeth import format_tooth, is_posterior, iso_from_universal, name, right_to_left


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
    mouth = _find(case, Where.MOUTH, Relation.CR)
    bench = _find(case, Where.MOUNTING, Relation.CR)
    if mouth is None or bench is None:
        missing = "in the mouth" if mouth is None else "on the mounting"
        ledger.need(
            f"which teeth hold shim stock in CR {missing}, light closure",
            "it compares cast and mouth",
            "foils",
        )
        return ""
    if mouth.thickness_um != bench.thickness_um:
        ledger.need(
            "foil of one thickness in the mouth and on the mounting",
            f"{mouth.thickness_um:g} um (mouth) and {bench.thickness_um:g} um (mounting) are not compared",
            "foils",
        )
        return ""
    if mouth.closure is not bench.closure:
        ledger.need(
            "the same foil at light closure in the mouth and on the mounting",
            f"{mouth.closure.value} closure in the mouth and {bench.closure.value} on the mounting are not compared",
            "foils",
        )
        return ""
    teeth = [t for t in present(case, "upper") if is_posterior(t)]
    states = [(t, _state(case, mouth, t), _state(case, bench, t)) for t in teeth]
    both = [(t, m, b) for t, m, b in states if m and b]
    if not both:
        return ""
    wrong = [t for t, m, b in both if m != b]
    share = 100.0 * len(wrong) / len(both)
    limit = case.limits.foil_disagreement
    if share <= limit.decent:
        verdict, why = Verdict.AGREES, Why.INSIDE
    elif share <= limit.redo:
        verdict, why = Verdict.DOUBTFUL, Why.BETWEEN
    else:
        verdict, why = Verdict.DISAGREES, Why.OUTSIDE
    ledger.because(
        verdict,
        why,
        f"foil of {mouth.thickness_um:g} um in CR: {len(both) - len(wrong)} of {len(both)} posterior upper teeth as in the mouth",
        value=share,
        limit=limit.decent,
        unit="%",
    )
    ledger.tables.append(
        Table(
            f"Foil {mouth.thickness_um:g} um in CR, {mouth.closure.value} closure",
            ("tooth", "", "mouth", "mounting", ""),
            tuple(
                (written(case, t), name(t), m or "-", b or "-", "" if m == b else "differs")
                for t, m, b in states
            ),
        )
    )
    ledger.notes.append("Teeth give under the foil by some hundredths of a millimetre, stone does not.")
    if not wrong:
        return "the foils agree with the mouth"
    return f"foils differ from the mouth at {', '.join(written(case, t) for t in wrong)}"


def _find(case: Case, where: Where, relation: Relation) -> Foil | None:
    found = [f for f in case.foils if f.where is where and f.relation is relation]
    return min(found, key=lambda f: (f.closure.value != "light", f.thickness_um), default=None)


def _state(case: Case, foil: Foil, tooth: int) -> str:
    for word, teeth in (("holds", foil.held), ("drags", foil.drags), ("free", foil.free)):
        if tooth in {iso(case, t) for t in teeth}:
            return word
    return "free" if foil.others_free else ""
