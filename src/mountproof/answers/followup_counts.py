"""What a visit afterwards found against what the casts on the instrument said, tooth by tooth: counts alone."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.answers.foils import FREE, HOLDS, first_foil, iso, present, state_of
from mountproof.case.model import Case, Foil, FollowUp, Relation, Where


class Compared(NamedTuple):
    """One tooth (ISO 3950) at one visit: whether the foil held on the mounting, and whether it held in the mouth."""

    tooth: int
    predicted: bool
    found: bool


def found_at(case: Case, visit: FollowUp, tooth: int) -> bool | None:
    """Return whether a tooth (ISO 3950) held the foil at a visit; None where that was not said."""
    if tooth in {iso(case, t) for t in visit.held}:
        return True
    if visit.others_free or tooth in {iso(case, t) for t in visit.free}:
        return False
    return None


def teeth_told(case: Case, visit: FollowUp, *others: Foil) -> tuple[int, ...]:
    """Return the teeth that are compared: of the arch that the lists name, upper where both or none; a pair counts once."""
    named = {iso(case, t) for t in (*visit.held, *visit.free)}
    for foil in others:
        named |= {iso(case, t) for t in (*foil.held, *foil.drags, *foil.free)}
    upper = [t for t in named if t // 10 in (1, 2)]
    return present(case, "upper" if upper or not named else "lower")


def compared(case: Case, visit: FollowUp) -> tuple[Compared, ...]:
    """Return every tooth that both the mounting and the visit tell of; none where the foils differ in thickness."""
    foil = first_foil(case, Where.MOUNTING, Relation.CR)
    if foil is None or visit.thickness_um not in (None, foil.thickness_um):
        return ()
    out = []
    for tooth in teeth_told(case, visit, foil):
        on_casts, in_mouth = state_of(case, foil, tooth), found_at(case, visit, tooth)
        if in_mouth is not None and on_casts in (HOLDS, FREE):
            out.append(Compared(tooth, on_casts == HOLDS, in_mouth))
    return tuple(out)


def adjusted_um(visit: FollowUp) -> float | None:
    """Return how much came off in all at a visit (um); None where no tooth has a number."""
    told = [a.um for a in visit.adjusted if a.um is not None]
    return float(sum(told)) if told else None


def followup_values(case: Case) -> list[tuple[str, float, float | None]]:
    """Return the numbers of all visits of a case that many cases are watched by; the first delivery's minutes and um."""
    if not case.followups:
        return []
    values: list[tuple[str, float, float | None]] = [("followup_visits", float(len(case.followups)), None)]
    first = case.followups[0]
    if first.minutes is not None:
        values.append(("followup_minutes", float(first.minutes), None))
    um = adjusted_um(first)
    if um is not None:
        values.append(("followup_adjusted_um", um, None))
    if first.adjusted:
        values.append(("followup_teeth", float(len(first.adjusted)), None))
    rows = compared(case, first)
    if rows:
        agree = sum(1 for r in rows if r.predicted == r.found)
        values += [
            ("followup_agree", float(agree), None),
            ("followup_compared", float(len(rows)), None),
        ]
    return values
