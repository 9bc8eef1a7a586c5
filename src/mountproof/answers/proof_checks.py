"""What the checks of a case read of the steps: rows for numbers, conditions for ways of seating, chances for yes and no."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.finds import Found
from mountproof.case.model import Case, Seating, Seats, Side
from mountproof.doubt.causes import Direct, Look
from mountproof.doubt.faults import INCISORS_MM, MOLAR_MM
from mountproof.doubt.motions import MOTION, at_place, condyles_of, hinge_opening
from mountproof.doubt.network import SHOWN, Network
from mountproof.doubt.outcomes import Choice, Condition
from mountproof.doubt.weighing import Checks
from mountproof.geometry.poses import Array
from mountproof.said import say

#: How far a hand may close or open the hinge while a record is held in (rad): 0.1 mm at the teeth.
_HELD_RAD: Final = 0.0015
#: How far the closing to first contact differs from that of the mouth (rad): it is stopped by other slopes.
_CLOSED_RAD: Final = 0.004
#: A hand feels a record stand off beyond this, give or take (mm). Our choice, no source.
FELT_MM: Final = 0.15
FELT_SD_MM: Final = 0.06

_CONDYLES: Final = (
    "right condyle down",
    "left condyle down",
    "right condyle ahead",
    "left condyle ahead",
)
#: A share of teeth that differ, or a disagreement in foils, beyond this shows (8 of 10 teeth alike is usual).
_FOILS_DIFFER: Final = 0.2
#: Stops that make an error this many times larger at a tooth do not hold the cast (the case's own limit is used where
#: there is one).
_AMPLIFIED: Final = 2.0

#: Chance that another case of an instrument with an offset is off in the same way, and that one of any other is (one of
#: about ten patterns, in half of the cases that somebody looks at). Our choices, no source.
_ALIKE: Final = 0.8
_ALIKE_BY_CHANCE: Final = 0.05
#: So many other cases say all there is to say.
_MOST_CASES: Final = 20


class _Source(NamedTuple):
    """Which motion (6, d) a check sees, and how freely the hinge turns meanwhile (rad)."""

    motion: Array
    hinge_rad: float


def checks_of(case: Case, finds: Sequence[Found], network: Network, half_mm: float) -> Checks:
    """Return every check as the weighing wants it; finds that speak of nothing the steps move are left out."""
    looks: list[Look] = []
    directs: list[Direct] = []
    for find in finds:
        look = look_of(find, network, half_mm)
        if look is not None:
            looks.append(look)
        direct = direct_of(find, case)
        if direct is not None:
            directs.append(direct)
    choices: list[Choice] = []
    for seating in case.proof.seatings:
        if seating.record in network.records:
            if seating.found is Seats.ROCKS:
                directs.append(_rocking(seating, network))
            else:
                choices.append(choice_of(seating, network))
    return Checks(tuple(looks), tuple(choices), (*directs, *_other_cases(case)))


def _other_cases(case: Case) -> list[Direct]:
    """Return what other cases of the instrument show, one finding a case: each is off in the same way, or is not."""
    count, alike = case.proof.other_cases_looked_at, case.proof.other_cases_alike
    if count is None or alike is None:
        return []
    if count > _MOST_CASES:
        count, alike = _MOST_CASES, round(alike * _MOST_CASES / count)
    return [other_case(seen) for seen in (*[True] * alike, *[False] * (count - alike))]


def other_case(seen: bool) -> Direct:
    """Return what one other case of the instrument shows: off in the same way, or not."""
    words = say("another case on this instrument is not off in this way")
    if seen:
        words = say("another case on this instrument is off in the same way")
    return Direct("other_cases", words, {"instrument": _ALIKE}, _ALIKE_BY_CHANCE, seen=seen)


def look_of(find: Found, network: Network, half_mm: float) -> Look | None:
    """Return one find as rows over the steps, or None where it is of no number that they move."""
    source = _source(find, network)
    rows, keep = [], []
    for i, part in enumerate(find.parts):
        row = _row(part, source, network, half_mm)
        if row is not None:
            rows.append(row)
            keep.append(i)
    if not rows:
        return None
    honest, faults = network.rows(np.stack(rows))
    cov = np.array(find.cov, dtype=np.float64)[np.ix_(keep, keep)]
    if source is not None and source.hinge_rad > 0.0:
        turn = np.array([_of_motion(find.parts[i], half_mm) @ hinge_opening() for i in keep])
        cov = cov + source.hinge_rad**2 * np.outer(turn, turn)
    return Look(find.key, find.words, honest, faults, np.asarray(find.values, dtype=np.float64)[keep], cov)


def _source(find: Found, network: Network) -> _Source | None:
    k = network.records.index(find.record) if find.record in network.records else 0
    other = k if k else min(1, len(network.records) - 1)
    if find.key == "set_movement":
        return _Source(network.pick("set"), 0.0)
    if find.key == "second_record":
        return _Source(network.against(other, seated=False), _HELD_RAD)
    if find.key in ("split_cast", "condyles"):
        return _Source(network.against(k if find.record else other, seated=k != 0), _HELD_RAD)
    if find.key == "foils":
        return _Source(network.pick(*SHOWN, minus=("mouth",)), _CLOSED_RAD)
    if find.key == "on_cast":
        return _Source(network.pick(f"seat/{k}"), 0.0)
    if find.key == "repeats" and k:
        return _Source(network.pick(f"record/{k}", f"seat/{k}", minus=("record/0", "seat/0")), 0.0)
    return None


def _row(part: str, source: _Source | None, network: Network, half_mm: float) -> Array | None:
    if part in ("width", "twist", "pin"):
        if part == "pin" and source is not None:
            return None
        number: Array = network.pick(part)[0]
        return number
    if source is None or (part not in MOTION and part not in _CONDYLES):
        return None
    out: Array = _of_motion(part, half_mm) @ source.motion
    return out


def _of_motion(part: str, half_mm: float) -> Array:
    out: Array = np.zeros(6)
    if part in MOTION:
        out = np.eye(6)[MOTION.index(part)]
    elif part in _CONDYLES:
        out = condyles_of(half_mm)[_CONDYLES.index(part)]
    return out


def direct_of(find: Found, case: Case) -> Direct | None:
    """Return a find that shows a fault itself as a yes or a no, or None."""
    if "amount" not in find.parts:
        return None
    amount = float(find.values[find.parts.index("amount")])
    if not math.isfinite(amount):
        return None
    if find.key == "rock":
        return Direct(
            "rock",
            find.words,
            {"misfit": 0.6, "twist": 0.5, "narrow": 0.1, "wide": 0.1},
            0.03,
            seen=amount > 0.5,
        )
    if find.key == "hand_foils":
        return Direct(
            "hand_foils",
            find.words,
            {"misfit": 0.8, "twist": 0.6, "narrow": 0.3, "wide": 0.3, "moved": 0.6},
            0.05,
            seen=amount > _FOILS_DIFFER,
        )
    if find.key == "reseat":
        return Direct("reseat", find.words, {"rocks": 0.7, "stops": 0.5, "gum": 0.3}, 0.02, seen=amount > 0.0)
    if find.key == "stops":
        limit = case.limits.stop_amplification.redo or _AMPLIFIED
        return Direct("stops", find.words, {"stops": 0.97, "rocks": 0.01}, 0.001, seen=amount > limit)
    if find.key == "soft_tissue":
        return Direct("soft_tissue", find.words, {"gum": 0.9}, 0.02, seen=amount > 0.0)
    if find.key == "none_held":
        return Direct("none_held", find.words, {"heel": 0.95, "pin_apart": 0.9}, 0.02, seen=amount > 0.5)
    return None


def _felt(network: Network, k: int) -> dict[str, tuple[Array, float]]:
    """Numbers that a hand feels of record k on the mounting (d,), with their scatter: right lower, front, and evenly."""
    misfit = network.against(k)
    x, y, z = MOLAR_MM
    right, left = at_place((x, y, z))[0], at_place((x, y, -z))[0]
    front = at_place(INCISORS_MM)[0]
    back = 0.5 * (right + left)
    turn = hinge_opening()
    made = {"side": right - left, "length": front - back, "middle": np.eye(6)[0]}
    return {
        name: (row @ misfit, math.hypot(FELT_SD_MM, _HELD_RAD * abs(float(row @ turn))))
        for name, row in made.items()
    }


def seat_outcomes(network: Network, k: int) -> tuple[tuple[Condition, ...], ...]:
    """Return the ways in which a record sits (right, left, front, back, evenly, fully) as conditions."""
    felt = _felt(network, k)

    def one(name: str, low: float, high: float) -> Condition:
        row, sd = felt[name]
        honest, faults = network.rows(row[None])
        return Condition(honest[0], faults[0], sd, low, high)

    far, c = math.inf, FELT_MM
    level = (one("side", -c, c), one("length", -c, c))
    return (
        (one("side", c, far),),
        (one("side", -far, -c),),
        (one("length", c, far),),
        (one("length", -far, -c),),
        (*level, one("middle", c, far)),
        (*level, one("middle", -far, c)),
    )


_PLACES: Final = (Side.RIGHT, Side.LEFT, Side.FRONT, Side.BACK, Side.EVENLY)


def choice_of(seating: Seating, network: Network) -> Choice:
    """Return a record tried on the mounting as a choice among the ways it may sit."""
    ways = seat_outcomes(network, network.records.index(seating.record))
    if seating.found is Seats.FULLY:
        words = say("{record} seats fully on the mounting", record=seating.record)
        return Choice("seating", words, ways, len(ways) - 1)
    if seating.where is None:
        words = say("{record} stands off on the mounting", record=seating.record)
        return Choice("seating", words, (ways[-1], ()), 1)
    words = say(
        "{record} stands off on the mounting, {where}", record=seating.record, where=_WHERE[seating.where]
    )
    return Choice("seating", words, ways, _PLACES.index(seating.where))


_WHERE: Final = {
    Side.RIGHT: say("on the right"),
    Side.LEFT: say("on the left"),
    Side.FRONT: say("in front"),
    Side.BACK: say("behind"),
    Side.EVENLY: say("evenly"),
}


def _rocking(seating: Seating, network: Network) -> Direct:
    k = network.records.index(seating.record)
    chances = {"twist": 0.4, "misfit": 0.2, "set_aside": 0.3, "set_right": 0.2, "set_left": 0.2}
    if k == 0:
        chances |= {"rocks": 0.6, "stops": 0.5, "gum": 0.4}
    else:
        chances |= {f"off/{k}": 0.4, "off/0": 0.3}
    return Direct("seating", say("{record} rocks on the mounting", record=seating.record), chances, 0.05)
