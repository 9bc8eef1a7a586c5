"""Foils in the mouth against foils on the casts held together by hand, in MIP: tooth by tooth, and where they differ."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.answers.finds import Found
from mountproof.answers.foil_fit import hand_fit
from mountproof.answers.foil_lists import contact_teeth
from mountproof.answers.foils import DRAGS, FREE, HOLDS, iso, state_of, written
from mountproof.answers.implants import held_foils
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import WIDTH_95, Quantity, Table, Verdict, Why
from mountproof.bench.hand_casts import Pattern, pattern_chances
from mountproof.case.limits import Limit
from mountproof.case.model import Case, Closure, Foil, Relation, Where
from mountproof.geometry.quantile import binomial_interval
from mountproof.said import figure, joined, say
from mountproof.teeth import name, opposite

#: A pattern is named where it is so probable; below, nothing is made of where contacts are missing.
_NAMED = 0.8
_WORTH_SAYING = 0.05
#: A pattern takes two missing contacts; one is one.
_TWO = 2
_WORDS: dict[Pattern, str] = {
    "none": say("as single slips would"),
    "scattered": say("scattered over the arch"),
    "right": say("on the right side"),
    "left": say("on the left side"),
    "back": say("at the back teeth"),
    "front": say("at the front teeth"),
}


class _Site(NamedTuple):
    """One tooth: what the foil did in the mouth and on the casts, and why a difference is none."""

    tooth: int
    mouth: str
    casts: str
    excused: str

    @property
    def lost(self) -> bool:
        return not self.excused and self.mouth == HOLDS and self.casts != HOLDS

    @property
    def added(self) -> bool:
        return not self.excused and self.mouth != HOLDS and self.casts == HOLDS


def hand_foils(case: Case, ledger: Ledger) -> list[str]:
    """Compare the lists of one foil and closure, light and firm apart; return what to say."""
    mouth = [f for f in case.foils if f.where is Where.MOUTH and f.relation is Relation.MIP]
    hand = [f for f in case.foils if f.where is Where.HAND and f.relation is Relation.MIP]
    says: list[str] = []
    compared = False
    for closure in Closure:
        pairs = [
            (m, h)
            for m in mouth
            for h in hand
            if m.closure is closure and h.closure is closure and m.thickness_um == h.thickness_um
        ]
        if pairs:
            compared = True
            says += _compare(case, ledger, *min(pairs, key=lambda p: p[0].thickness_um), hand)
    if compared or not (mouth or hand):
        return says
    if mouth and hand:
        ledger.need(
            say("one foil at one closure, in MIP, in the mouth and on the casts by hand"),
            say("lists of different foils, or of light and firm closure, are not compared"),
            "foils",
        )
    else:
        missing = say("on the casts by hand") if mouth else say("in the mouth")
        ledger.need(
            say("which teeth hold the same foil in MIP {where}", where=missing),
            say("it tells whether the casts meet as the mouth does, before anything is mounted"),
            "foils",
        )
    return says


def _compare(case: Case, ledger: Ledger, mouth: Foil, casts: Foil, hand: list[Foil]) -> list[str]:
    sites = [
        s for s in (_site(case, mouth, casts, hand, t) for t in contact_teeth(case, (mouth, casts))) if s
    ]
    if not sites:
        ledger.need(
            say("the foil at every tooth, in the mouth and on the casts by hand"),
            say("no tooth was tried in both"),
            "foils",
        )
        return []
    lost = [s.tooth for s in sites if s.lost]
    added = [s.tooth for s in sites if s.added]
    differ = len(lost) + len(added)
    _note_tables(case, ledger, mouth, sites)
    hand_fit(case, ledger, mouth.closure, tuple(lost + added))
    share = _note_share(ledger, mouth, differ, len(sites))
    pattern = _pattern(case, ledger, [s.tooth for s in sites if s.mouth == HOLDS], lost)
    held = held_foils(case, (*lost, *added))
    verdict, why = _verdict(held.limit, mouth, differ, share, pattern)
    ledger.because(
        verdict,
        why,
        held.says(
            say(
                "casts by hand in MIP, foil of {um:g} um, {closure} closure: {agree} of {all} teeth as in the mouth",
                um=mouth.thickness_um,
                closure=mouth.closure,
                agree=len(sites) - differ,
                all=len(sites),
            )
        ),
        value=share,
        limit=held.limit.decent,
        unit="%",
    )
    if not differ:
        return []
    return [_told(case, ledger, mouth, lost, added, pattern)]


def _told(
    case: Case, ledger: Ledger, mouth: Foil, lost: list[int], added: list[int], pattern: Pattern | None
) -> str:
    parts = []
    if lost:
        teeth = joined(", ", (written(case, t) for t in lost))
        parts.append(say("open at {teeth}", teeth=teeth))
    if added:
        teeth = joined(", ", (written(case, t) for t in added))
        parts.append(say("early at {teeth}", teeth=teeth))
        ledger.need(
            say("a nodule or a bubble looked for at {teeth}", teeth=teeth),
            say("the casts hold foil there, the mouth does not; taken off, the others may come down"),
            "foils",
        )
    ledger.need(
        say("the casts by hand once more, cleaned; if it stays, a new impression"),
        say("the casts do not meet by hand as the mouth does: no mounting takes that away"),
        "foils",
    )
    where = say(" ({pattern})", pattern=_WORDS[pattern]) if pattern not in (None, "none") else ""
    if mouth.closure is Closure.FIRM:
        return say(
            "closed firmly, the casts by hand are {how} against the mouth{where}",
            how=joined(say(" and "), parts),
            where=where,
        )
    return say(
        "the casts by hand are {how} against the mouth{where}: look at the casts, not at the mounting",
        how=joined(say(" and "), parts),
        where=where,
    )


def _pattern(case: Case, ledger: Ledger, held: list[int], lost: list[int]) -> Pattern | None:
    """Return where contacts are missing, if that can be told, and note how probable each pattern is."""
    if len(lost) < _TWO:
        return None
    chances = pattern_chances(held, lost)
    best = max(chances, key=lambda k: chances[k])
    told = joined(
        ", ",
        (
            say("{pattern} {chance:.0f} %", pattern=_WORDS[p], chance=min(99.0, 100.0 * c))
            for p, c in sorted(chances.items(), key=lambda item: -item[1])
            if c >= _WORTH_SAYING
        ),
    )
    ledger.notes.append(say("Contacts of the mouth are missing on the casts: {patterns}.", patterns=told))
    if chances[best] >= _NAMED:
        return best
    ledger.notes.append(say("From these teeth it cannot be told where the casts are open."))
    return None


def _verdict(
    limit: Limit, mouth: Foil, differ: int, share: float, pattern: Pattern | None
) -> tuple[Verdict, Why]:
    if not differ:
        return Verdict.AGREES, Why.INSIDE
    # closed firmly, teeth sink by an unknown amount that stone does not: a contact more in the mouth is no proof
    if mouth.closure is Closure.FIRM:
        return Verdict.DOUBTFUL, Why.BETWEEN
    if share > limit.redo or pattern in ("right", "left", "back", "front"):
        return Verdict.DISAGREES, Why.OUTSIDE
    return Verdict.DOUBTFUL, Why.BETWEEN


def _note_share(ledger: Ledger, mouth: Foil, differ: int, count: int) -> float:
    """Note the share of teeth as in the mouth with its binomial interval; return the share that differs (%)."""
    low, high = binomial_interval(count - differ, count)
    agree = 1.0 - differ / count
    ledger.quantities.append(
        Quantity(
            f"hand_foils_{mouth.closure.value}",
            say("teeth that hold foil by hand as in the mouth ({closure} closure)", closure=mouth.closure),
            100.0 * agree,
            "%",
            100.0 * (high - low) / WIDTH_95,
            100.0 * low,
            100.0 * high,
            0,
        )
    )
    spread = agree * (1.0 - agree) / count
    ledger.finds.append(
        Found(
            "hand_foils",
            say(
                "share of teeth that differ, casts by hand against the mouth, {closure} closure",
                closure=mouth.closure,
            ),
            ("amount",),
            np.array([differ / count]),
            np.array([[spread]]),
        )
    )
    return 100.0 * differ / count


def _note_tables(case: Case, ledger: Ledger, mouth: Foil, sites: list[_Site]) -> None:
    counts = [
        [
            sum(1 for s in sites if (s.mouth == HOLDS) is held and (s.casts == HOLDS) is on_casts)
            for on_casts in (True, False)
        ]
        for held in (True, False)
    ]
    ledger.tables.append(
        Table(
            say(
                "Foil {um:g} um in MIP, {closure} closure: teeth, mouth against casts by hand",
                um=mouth.thickness_um,
                closure=mouth.closure,
            ),
            ("", say("casts hold"), say("casts do not hold")),
            (
                (say("mouth holds"), *(figure(n) for n in counts[0])),
                (say("mouth does not hold"), *(figure(n) for n in counts[1])),
            ),
        )
    )
    rows = [
        (
            written(case, s.tooth),
            name(s.tooth),
            s.mouth,
            s.casts,
            s.excused or (say("differs") if s.lost or s.added else ""),
        )
        for s in sites
        if s.mouth != s.casts or s.excused
    ]
    if rows:
        ledger.tables.append(
            Table(
                say("Where they differ, {closure} closure", closure=mouth.closure),
                (say("tooth"), "", say("mouth"), say("casts by hand"), ""),
                tuple(rows),
            )
        )


def _site(case: Case, mouth: Foil, casts: Foil, hand: list[Foil], tooth: int) -> _Site | None:
    in_mouth, on_casts = state_of(case, mouth, tooth), state_of(case, casts, tooth)
    light = mouth.closure is Closure.LIGHT
    free = {iso(case, t) for t in case.dentition.meant_free}
    if not in_mouth and light and tooth in free:
        in_mouth = FREE
    if not (in_mouth and on_casts):
        return None
    excused = _within_give(case, mouth, hand, tooth) if in_mouth == HOLDS and on_casts != HOLDS else ""
    if not excused and tooth in free and light and in_mouth == FREE and on_casts != HOLDS:
        excused = say("meant to be free")
    return _Site(tooth, in_mouth, on_casts, excused)


def _within_give(case: Case, mouth: Foil, hand: list[Foil], tooth: int) -> str:
    """Return why a tooth that holds in the mouth may be open on the casts: it gives under the foil, and stone does not.

    It drags on the casts, or holds a foil that is thicker by no more than a tooth gives. An implant does not give.
    """
    implants = {iso(case, t) for t in case.dentition.implants}
    if tooth in implants or opposite(tooth) in implants:
        return ""
    same = [f for f in hand if f.closure is mouth.closure]
    here = [f for f in same if f.thickness_um == mouth.thickness_um]
    if any(state_of(case, f, tooth) == DRAGS for f in here):
        return say("drags: within what a tooth gives")
    give = case.dentition.give_um
    if give is None:
        return ""
    thicker = [f for f in same if mouth.thickness_um < f.thickness_um <= mouth.thickness_um + give]
    held = [f for f in thicker if state_of(case, f, tooth) == HOLDS]
    return say("holds {um:g} um: within what a tooth gives", um=held[0].thickness_um) if held else ""
