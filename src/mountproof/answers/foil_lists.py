"""Foil lists of a case as intervals tooth by tooth: all thicknesses of one relation and closure, mouth and casts side by side."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from mountproof.answers.foils import iso, present, state_of
from mountproof.answers.implants import at_implants
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Assumption
from mountproof.answers.usual_sites import usual_sites
from mountproof.case.model import Case, Closure, Foil, Relation, Where
from mountproof.doubt.foil_fit import PRIOR_SD_MM, Site
from mountproof.doubt.foil_readings import (
    EDGE_SD_MM,
    OWN_CAST_SD_MM,
    OWN_GIVE_SD_MM,
    THICKNESS_PART,
    Read,
    State,
    give_values,
    interval_of,
)
from mountproof.doubt.foil_tables import CONTACT_PART, GAP_SD_MM
from mountproof.said import say
from mountproof.teeth import opposite

#: What teeth give under a foil (mean and 1 SD, mm): lightly closed where nobody entered it, and firmly closed.
_GIVE_MM = {Closure.LIGHT: (0.030, 0.015), Closure.FIRM: (0.060, 0.030)}
#: A give that was entered is known to this part of itself (1 SD).
_GIVE_PART = 0.3
_STATES: tuple[State, ...] = ("holds", "drags", "free")


class Lists(NamedTuple):
    """All lists of one relation and closure, in the mouth and on the casts, the thinnest foil first."""

    relation: Relation
    closure: Closure
    mouth: tuple[Foil, ...]
    casts: tuple[Foil, ...]

    def alike(self) -> tuple[Foil, Foil]:
        """Return one list of each, of one thickness where there are such, else the thinnest of each."""
        same = [(m, c) for m in self.mouth for c in self.casts if m.thickness_um == c.thickness_um]
        return same[0] if same else (self.mouth[0], self.casts[0])


class TeethRead(NamedTuple):
    """Teeth (ISO 3950) read in both with what was read, those whose foils contradict each other, and the values of give."""

    teeth: tuple[int, ...]
    sites: tuple[Site, ...]
    states: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]
    contradict: tuple[int, ...]
    gives_mm: tuple[float, ...]


def lists_of(case: Case, where: Where, relation: Relation, closure: Closure) -> Lists | None:
    """Return the lists in the mouth and at ``where``; None where one of the two is missing."""
    sides = [
        tuple(
            sorted(
                (
                    f
                    for f in case.foils
                    if f.where is side and f.relation is relation and f.closure is closure
                ),
                key=lambda f: f.thickness_um,
            )
        )
        for side in (Where.MOUTH, where)
    ]
    return Lists(relation, closure, *sides) if all(sides) else None


def contact_teeth(case: Case, lists: Iterable[Foil]) -> tuple[int, ...]:
    """Return the teeth that lists speak of: upper ones, where any upper one is named or none at all; else lower ones."""
    named = {iso(case, t) for f in lists for t in (*f.held, *f.drags, *f.free)}
    upper = present(case, "upper")
    return upper if not named or named & set(upper) else present(case, "lower")


def teeth_read(case: Case, lists: Lists, ledger: Ledger) -> TeethRead:
    """Return what all foils tell tooth by tooth, and note what was assumed."""
    free = {iso(case, t) for t in case.dentition.meant_free}
    give, sd = give_of(case, lists.closure, ledger)
    at = usual_sites(case, ledger)
    teeth, sites, states, contradict = [], [], [], []
    for tooth in contact_teeth(case, (*lists.mouth, *lists.casts)):
        place = at.get(tooth) or at.get(opposite(tooth))
        mouth, casts = (reads_of(case, side, tooth) for side in (lists.mouth, lists.casts))
        if not mouth and tooth in free and lists.closure is Closure.LIGHT:
            # what is meant to be free at light closure is not tried in the mouth: the target stands for it
            mouth = [Read(lists.mouth[0].thickness_um / 1000.0, "free")]
        if place is None or not mouth or not casts:
            continue
        gives = not at_implants(case, [tooth])
        in_mouth = interval_of(mouth, OWN_GIVE_SD_MM if gives else 0.0, -math.inf)
        on_casts = interval_of(casts, OWN_CAST_SD_MM, 0.0)
        if in_mouth is None or on_casts is None:
            contradict.append(tooth)
            continue
        teeth.append(tooth)
        sites.append(Site(*place, in_mouth, on_casts, gives))
        states.append((tuple(r.state for r in mouth), tuple(r.state for r in casts)))
    return TeethRead(tuple(teeth), tuple(sites), tuple(states), tuple(contradict), give_values(give, sd))


def assume_of_fit(ledger: Ledger) -> None:
    """Note what every fit takes for granted."""
    ledger.assumptions.append(
        Assumption(
            say("for the fit of foils (1 SD)"),
            say(
                "change {change:g} mm at the last teeth; gap {gap:g} mm, {percent:.0f} % in contact; one place of a cast "
                "{cast:g} mm; a foil's edge {edge:g} um and {part:.0f} % of it",
                change=PRIOR_SD_MM,
                gap=GAP_SD_MM,
                percent=100.0 * CONTACT_PART,
                cast=OWN_CAST_SD_MM,
                edge=1000.0 * EDGE_SD_MM,
                part=100.0 * THICKNESS_PART,
            ),
            say("our choice, no source"),
        )
    )


def give_of(case: Case, closure: Closure, ledger: Ledger) -> tuple[float, float]:
    """Return how far teeth give under a foil (mm, and its SD): as entered, or the usual, noted as assumed."""
    given = case.dentition.give_um
    if closure is Closure.LIGHT and given is not None:
        return given / 1000.0, _GIVE_PART * given / 1000.0
    mean, sd = _GIVE_MM[closure]
    what = {
        Closure.LIGHT: say("how far teeth give under a foil at light closure (± half of it, 1 SD)"),
        Closure.FIRM: say("how far teeth give under a foil at firm closure (± half of it, 1 SD)"),
    }[closure]
    entry = "dentition.give_um" if closure is Closure.LIGHT else ""
    ledger.assume(what, 1000.0 * mean, "um", say("common practice, no source"), entry)
    return mean, sd


def reads_of(case: Case, lists: Sequence[Foil], tooth: int) -> list[Read]:
    """Return what each foil of some lists did at a tooth (ISO 3950); foils that say nothing of it are left out."""
    out = []
    for foil in lists:
        word = state_of(case, foil, tooth)
        state = next((s for s in _STATES if s == str.__str__(word)), None)
        if state is not None:
            out.append(Read(foil.thickness_um / 1000.0, state, bool(foil.drags)))
    return out
