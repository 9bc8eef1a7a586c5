"""Part of question 4: the change between mouth and casts that all foil lists tell together, judged, drawn and noted.

Casts closer together or farther apart, front or one side more than the other: three numbers from intervals tooth by tooth.
CR and MIP, light and firm closure are fitted apart; only CR at light closure is judged and weighed with the other checks.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from mountproof.answers.finds import Found
from mountproof.answers.foil_fit_shown import DEG, Fitted, named, note_change, note_chart, note_table, places
from mountproof.answers.foil_lists import Lists, assume_of_fit, lists_of, teeth_read
from mountproof.answers.foils import state_of, written
from mountproof.answers.implants import Held, held_to
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.case.model import Case, Closure, Relation, Where
from mountproof.doubt.foil_fit import (
    Ends,
    FoilFit,
    Gain,
    Site,
    as_reading,
    best_reading,
    fit_foils,
    fitted_gaps,
)
from mountproof.doubt.guard import judge_interval
from mountproof.doubt.motions import hinge_opening
from mountproof.said import capital, joined, say

#: Foils that are at hand, and strips of up to a fifth of a millimetre (mm).
_AT_HAND_MM: Final = (0.008, 0.012, 0.020, 0.040, 0.060, 0.080, 0.100, 0.200)
#: Closing to first contact is left to the hinge: what the lists tell of it is no part of the find (rad). Wider than any fault.
_HINGE_RAD: Final = 0.02


def foil_fit(case: Case, ledger: Ledger, *, compared: bool) -> str:
    """Fit all lists of the mounting; return what CR at light closure comes to, or nothing.

    ``compared``: whether two lists were compared tooth by tooth already, which has a verdict of its own.
    """
    said = ""
    for relation in Relation:
        for closure in Closure:
            lists = lists_of(case, Where.MOUNTING, relation, closure)
            found = _fitted(case, lists, ledger) if lists is not None else None
            if found is None:
                continue
            ends = note_change(found, ledger)
            differs = _differing(case, found)
            note_chart(case, found, differs, ledger)
            note_table(case, found, ledger)
            if relation is Relation.CR and closure is Closure.LIGHT:
                said = _judge(case, found, ends, ledger, bool(differs), compared)
                _note_find(found, ledger)
            else:
                _not_judged(found, ledger)
    return said


def hand_fit(case: Case, ledger: Ledger, closure: Closure, differs: tuple[int, ...]) -> None:
    """Leave the picture of casts held together by hand beside the mouth, in MIP, with the gaps that are left."""
    lists = lists_of(case, Where.HAND, Relation.MIP, closure)
    found = _fitted(case, lists, ledger) if lists is not None else None
    if found is not None:
        note_chart(case, found, differs, ledger)


def _fitted(case: Case, lists: Lists, ledger: Ledger) -> Fitted | None:
    read = teeth_read(case, lists, ledger)
    if read.contradict:
        ledger.need(
            say(
                "the foils at {teeth} once more, all thicknesses",
                teeth=joined(", ", (written(case, t) for t in read.contradict)),
            ),
            say("a thicker foil came free where a thinner one was held"),
            "foils",
        )
    if not read.sites:
        return None
    assume_of_fit(ledger)
    fit, gaps = _cached(read.sites, read.gives_mm)
    return Fitted(lists, read, fit, gaps)


@lru_cache(maxsize=16)
def _cached(sites: tuple[Site, ...], gives_mm: tuple[float, ...]) -> tuple[FoilFit, tuple[Ends, ...]]:
    fit = fit_foils(sites, gives_mm)
    return fit, fitted_gaps(fit)


@lru_cache(maxsize=16)
def _best(sites: tuple[Site, ...], gives_mm: tuple[float, ...], scale: tuple[float, ...]) -> Gain | None:
    return best_reading(_cached(sites, gives_mm)[0], _AT_HAND_MM, np.maximum(scale, 1e-4))


_WHY: Final = {
    Verdict.AGREES: Why.INSIDE,
    Verdict.DOUBTFUL: Why.BETWEEN,
    Verdict.DISAGREES: Why.OUTSIDE,
    Verdict.CANNOT_TELL: Why.GUARD_BAND,
}


def _judge(
    case: Case, found: Fitted, ends: dict[str, Ends], ledger: Ledger, differs: bool, compared: bool
) -> str:
    """Judge shift and tilt; tell bounds, what is not held, odd teeth, and the foil that would narrow it most."""
    shift = held_to(case, "foil_fit_shift")
    tilt = Held(case.limits.foil_fit_tilt)
    verdicts: dict[str, Verdict] = {}
    for held, key in ((shift, "down"), (tilt, "pitch"), (tilt, "roll")):
        e = ends[key]
        limit = held.limit
        verdict = Verdict(judge_interval(e.low, e.high, limit.decent, limit.redo))
        verdicts[key] = verdict
        # a few foils seldom reach the limit: where lists were compared, that alone makes no verdict open
        if verdict is Verdict.CANNOT_TELL and compared:
            continue
        ledger.because(
            verdict,
            _WHY[verdict],
            held.says(
                say(
                    "{what}: {low:+.2f} to {high:+.2f} {unit} (agrees up to {decent:g}, redo above {redo:g})",
                    what=_TOLD[key],
                    low=e.low,
                    high=e.high,
                    unit=say("mm") if limit.unit == "mm" else say("deg"),
                    decent=limit.decent,
                    redo=limit.redo,
                )
            ),
            value=e.mean,
            u=e.u,
            limit=limit.decent,
            unit=limit.unit,
        )
    _bounds(found, ledger)
    _odd(case, found, ledger)
    _narrowed(case, found, verdicts, ledger, asked=differs or not compared)
    worst = max(("front", "right", "left"), key=lambda k: _surely(ends[k]))
    if _surely(ends[worst]) <= 0.0 or not (differs or Verdict.DISAGREES in verdicts.values()):
        return ""
    place = next(words for key, words, _ in places(found) if key == worst)
    return say(
        "by the foils the casts stand {low:+.2f} to {high:+.2f} mm apart against the mouth at the {place}",
        low=ends[worst].low,
        high=ends[worst].high,
        place=place,
    )


_TOLD: Final = {
    "down": say("the foils in CR tell a shift of the casts, apart (minus: closer)"),
    "pitch": say("the foils in CR tell a tilt of the casts, open to the front (minus: to the back)"),
    "roll": say("the foils in CR tell a tilt of the casts, open to the right (minus: to the left)"),
}
_WAYS: Final = {
    "down": say("how far apart the casts are altogether"),
    "pitch": say("front against back"),
    "roll": say("right against left"),
}


def _surely(e: Ends) -> float:
    """Return how far an interval lies from zero."""
    return max(e.low, -e.high)


def _bounds(found: Fitted, ledger: Ledger) -> None:
    """Tell lists that hold bounds only, and directions that the readings do not tell."""
    every = {state for mouth, casts in found.read.states for state in (*mouth, *casts)}
    down = found.fit.along([1.0, 0.0, 0.0])
    if every == {"holds"}:
        ledger.notes.append(
            say(
                "Every tooth held its foil, in the mouth and on the mounting: that bounds the change ({low:+.2f} to "
                "{high:+.2f} mm at the middle of the teeth) and measures none. Thinner foils would tell more.",
                low=down.low,
                high=down.high,
            )
        )
    elif every == {"free"}:
        ledger.notes.append(
            say("No tooth held its foil, in the mouth or on the mounting: that tells no change at all.")
        )
    ledger.notes.append(
        say(
            "A foil is held in the mouth up to its thickness and what teeth give, on stone and at implants up to its "
            "thickness: the fit allows for that, tooth by tooth."
        )
    )


def _odd(case: Case, found: Fitted, ledger: Ledger) -> None:
    odd = [found.read.teeth[i] for i in found.fit.odd()]
    if odd:
        teeth = joined(", ", (written(case, t) for t in odd))
        ledger.need(
            say("the foil at {teeth} once more, in the mouth and on the mounting", teeth=teeth),
            say(
                "no small change of the whole cast makes it differ there and agree elsewhere: misread, or the cast there"
            ),
            "foils",
        )


def _narrowed(
    case: Case, found: Fitted, verdicts: dict[str, Verdict], ledger: Ledger, *, asked: bool
) -> None:
    """Tell what stays open against its limit, and the one foil that narrows it most; ask for that where lists leave a doubt."""
    still = [key for key, verdict in verdicts.items() if verdict is Verdict.CANNOT_TELL]
    if not still and Verdict.DOUBTFUL not in verdicts.values():
        return
    shift, tilt = case.limits.foil_fit_shift.decent, case.limits.foil_fit_tilt.decent
    if still:
        ledger.notes.append(
            say(
                "Foils do not tell to {shift:g} mm and {tilt:g} degrees: {ways}. Too few teeth hold, or too few thicknesses "
                "were tried.",
                shift=shift,
                tilt=tilt,
                ways=joined(", ", (_WAYS[key] for key in still)),
            )
        )
    ways = [tuple(_WAYS.values())[int(np.argmax(np.abs(way)))] for _, way in found.fit.not_held()]
    if ways:
        ledger.notes.append(
            say(
                "What is shown of it is mostly what was assumed: {ways}.",
                ways=joined(", ", dict.fromkeys(ways)),
            )
        )
    gain = _best(found.read.sites, found.read.gives_mm, (shift, tilt / DEG, tilt / DEG))
    if gain is None:
        return
    reading = say(
        "foil of {um:g} um at {tooth} {where}",
        um=1000.0 * gain.thickness_mm,
        tooth=written(case, found.read.teeth[gain.site]),
        where=say("in the mouth") if gain.in_mouth else say("on the mounting"),
    )
    if asked:
        why = say("of all single foils it narrows most what the lists tell of shift and tilt")
        ledger.need(reading, why, "foils")
    else:
        ledger.notes.append(say("What would narrow it most: {reading}.", reading=reading))


def _not_judged(found: Fitted, ledger: Ledger) -> None:
    if found.lists.closure is Closure.FIRM:
        why = say("closed firmly, teeth sink by an amount that nobody knows")
    else:
        why = say("in MIP the casts are brought together by hand, which is no matter of the mounting")
    ledger.notes.append(
        say("{lists}: the change is shown and not judged; {why}.", lists=capital(named(found.lists)), why=why)
    )


def _differing(case: Case, found: Fitted) -> tuple[int, ...]:
    mouth, casts = found.lists.alike()
    states = [(t, state_of(case, mouth, t), state_of(case, casts, t)) for t in found.read.teeth]
    return tuple(t for t, m, c in states if m and c and m != c)


def _note_find(found: Fitted, ledger: Ledger) -> None:
    """Leave the change for all checks to be weighed together.

    Whether the casts come down to contact at all is a check of its own (``none_held``), taken from the same lists. So what
    the hinge alone would do is left out here: nothing is counted twice. Without contact on the casts there is no find.
    """
    if not any(state != "free" for _, casts in found.read.states for state in casts):
        return
    values, cov = as_reading(found.fit)
    turn = hinge_opening()[:3]
    ledger.finds.append(
        Found(
            "foils",
            say("foils in CR, mouth against mounting, tooth by tooth"),
            ("down", "pitch", "roll"),
            values,
            cov + _HINGE_RAD**2 * np.outer(turn, turn),
        )
    )
