"""Part of question 7: the heights at which every limit of the clinician holds, and the smallest change among them.

A budget of what comes off ends the way down where the first tooth has used it up; one of what is added ends the way up where the
first tooth would need more. Both ends are closings at which a pair stands so deep or so far open, so they carry the doubt of
that pair's own first contact. Without limits nothing is claimed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from mountproof.answers.change_allowed import Allowed
from mountproof.answers.change_curves import added
from mountproof.answers.change_stands import Stand
from mountproof.answers.change_swept import Pair, Swept, pair_words
from mountproof.answers.foils import written
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ChangeLimit, ChangeTotals, ChangeWindow
from mountproof.answers.result import K95, Table, Verdict, Why
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried
from mountproof.occlusion.change import crossing, parts_of
from mountproof.said import say


class _End(NamedTuple):
    """A closing at which a limit is reached, the pair whose it is, and the words for it."""

    closing: Carried
    pair: Pair
    words: str


def within_limits(
    case: Case, ledger: Ledger, found: Swept, target: Stand, allow: Allowed, told: ChangeTotals
) -> ChangeWindow | None:
    """Note between which heights all limits hold and where the change is smallest; None where nobody entered a limit."""
    if not allow.budget_mm and not allow.on_mm:
        return None
    floor = min(_floors(case, found, allow), key=lambda e: e.closing.value, default=None)
    ceiling = max(_ceilings(case, found, target, allow), key=lambda e: e.closing.value, default=None)
    if floor is not None and ceiling is not None:
        _judge(ledger, found, floor, ceiling)
    elif floor is not None:
        text = say("{why}: no lower than pin {pin}", why=floor.words, pin=_pin(found, floor))
        ledger.notes.append(say("Limits: {text}.", text=text))
    elif ceiling is not None:
        text = say("{why}: no higher than pin {pin}", why=ceiling.words, pin=_pin(found, ceiling))
        ledger.notes.append(say("Limits: {text}.", text=text))
    least = _smallest(ledger, found, told, floor, ceiling)
    ledger.tables.append(_table(found, floor, ceiling))
    return ChangeWindow(_limit(found, floor), _limit(found, ceiling), least)


def _floors(case: Case, found: Swept, allow: Allowed) -> Iterator[_End]:
    """Yield the closings at which a tooth has lost its budget, or two that keep their shape meet."""
    angles = found.sweep.angles_rad
    for pair in found.pairs:
        parts = parts_of(pair.upper, pair.lower, allow.share, frozenset(allow.kept))
        if parts is None:
            words = say("{pair} meet, and neither may be reshaped", pair=pair_words(case, pair))
            yield _End(pair.meets, pair, words)
            continue
        for tooth, part in zip((pair.upper, pair.lower), parts, strict=True):
            budget = allow.budget_mm.get(tooth)
            if budget is None or part == 0.0:
                continue
            closing = crossing(angles, part * found.sweep.normal_mm[pair.row], budget)
            if budget > 0.0 and not math.isfinite(closing):
                continue  # not reached as far as the sweep goes
            closing = pair.meets.value if budget == 0.0 else closing
            words = say("{tooth} has lost its {mm:g} mm", tooth=written(case, tooth), mm=budget)
            yield _End(_at(pair, closing), pair, words)


def _ceilings(case: Case, found: Swept, target: Stand, allow: Allowed) -> Iterator[_End]:
    """Yield the closings above which a tooth would need more than may be added."""
    for pair in added(found, target):
        for tooth in (pair.upper, pair.lower):
            budget = allow.on_mm.get(tooth)
            if budget is not None:
                closing = pair.meets.value - budget / pair.radius_mm
                words = say("{tooth} needs its {mm:g} mm", tooth=written(case, tooth), mm=budget)
                yield _End(_at(pair, closing), pair, words)


def _at(pair: Pair, closing_rad: float) -> Carried:
    """Return a closing that goes along with the first contact of a pair."""
    return pair.meets + (closing_rad - pair.meets.value)


def _pin(found: Swept, end: _End) -> str:
    pin = found.heights.carried_pin(end.closing)
    return say("{mm:+.2f} ± {twice:.2f} mm", mm=pin.value, twice=K95 * pin.u)


def _judge(ledger: Ledger, found: Swept, floor: _End, ceiling: _End) -> None:
    """Tell whether any height lies inside both, with a guard band of two standard uncertainties."""
    room = found.heights.carried_pin(ceiling.closing) - found.heights.carried_pin(floor.closing)
    words = say("room on the pin between the limits (below zero: none)")
    ledger.quantity("limits_room", words, room, "mm", assumed=True)
    both = {
        "low": floor.words,
        "high": ceiling.words,
        "low_pin": _pin(found, floor),
        "high_pin": _pin(found, ceiling),
    }
    if room.value - 2.0 * room.u > 0.0:
        text = say("all limits hold from pin {high_pin} ({high}) down to {low_pin} ({low})", **both)
        ledger.because(Verdict.AGREES, Why.INSIDE, text)
    elif room.value + 2.0 * room.u < 0.0:
        text = say(
            "no height is inside the limits: {low} at pin {low_pin}, but {high} already at {high_pin}",
            **both,
        )
        ledger.because(Verdict.DISAGREES, Why.OUTSIDE, text)
    else:
        text = say(
            "whether any height is inside the limits, the record leaves open: {low} at pin {low_pin}, {high} at {high_pin}",
            **both,
        )
        ledger.because(Verdict.CANNOT_TELL, Why.GUARD_BAND, text)


def _smallest(
    ledger: Ledger, found: Swept, told: ChangeTotals, floor: _End | None, ceiling: _End | None
) -> float | None:
    """Note the height inside the limits at which the least volume comes off and is added in all; None where there is none."""
    angles = found.sweep.angles_rad[found.shown]
    low = -math.inf if ceiling is None else ceiling.closing.value
    high = math.inf if floor is None else floor.closing.value
    inside = np.flatnonzero((angles >= low) & (angles <= high))
    if not len(inside):
        return None
    whole = told.off_mm3.mid + told.on_mm3.mid
    at = int(inside[np.argmin(whole[inside])])
    pin = found.heights.pin_mm(float(angles[at]))
    ledger.notes.append(
        say(
            "Inside the limits the least volume is changed at pin {pin:+.2f} mm: {off:.1f} mm3 come off and {on:.1f} mm3 are "
            "added, up to {off_mm:.2f} mm off and {on_mm:.2f} mm on. Whether that is wanted is the clinician's to say.",
            pin=pin,
            off=float(told.off_mm3.mid[at]),
            on=float(told.on_mm3.mid[at]),
            off_mm=float(told.off_mm.mid[at]),
            on_mm=float(told.on_mm.mid[at]),
        )
    )
    return pin


def _limit(found: Swept, end: _End | None) -> ChangeLimit | None:
    if end is None:
        return None
    pin = found.heights.carried_pin(end.closing)
    return ChangeLimit(pin.value, pin.value - K95 * pin.u, pin.value + K95 * pin.u, end.words)


def _table(found: Swept, floor: _End | None, ceiling: _End | None) -> Table:
    ends = ((say("no higher than"), ceiling), (say("no lower than"), floor))
    return Table(
        say("Heights inside the limits that were entered"),
        ("", say("pin over MIP, mm") if found.heights.by_mip else say("pin over first contact, mm"), say("why")),
        tuple(
            (side, say("no limit is reached") if end is None else _pin(found, end), "-" if end is None else end.words)
            for side, end in ends
        ),
        say("The limits are the clinician's own; a tooth without one sets none."),
    )  # fmt: skip
