"""The moments of every pour: when to stop mixing, to have poured, to keep hands off, when it sets, when to release.

All count from powder into water, the only zero they share, and all are absolute: a closed page, a computer that slept
or the change to summer time moves none of them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import NamedTuple

from mountproof.bench import stone
from mountproof.case.model import Arch, Bench, Case, Pour
from mountproof.said import say

#: Keys of the moments, in their order; the first three are over when hands are off.
MIX, POURED, HANDS_OFF, SET, RELEASE = "mix", "poured", "hands_off", "set", "release"
_WORKED = (MIX, POURED, HANDS_OFF)
_KEY_OF = {
    "stop mixing": MIX,
    "poured by": POURED,
    "hands off from": HANDS_OFF,
    "initial set": SET,
    "may be released": RELEASE,
}
_TIME_OF = {MIX: "mix_s", POURED: "work_min", HANDS_OFF: "work_min", SET: "set_min", RELEASE: "release_min"}
_WORDS = {
    MIX: say("stop mixing"),
    POURED: say("poured by"),
    HANDS_OFF: say("hands off from"),
    SET: say("initial set"),
    RELEASE: say("may be released"),
}
#: A clock on the wall is read to the minute.
_WALL_S = 60.0


class Mark(NamedTuple):
    """One moment of a pour, and by whose word; ``assumed`` where neither the pour nor the product sheet says."""

    key: str
    words: str
    at: dt.datetime
    source: str
    assumed: bool


class PourTimes(NamedTuple):
    """One pour with its moments; ``asked`` is what does not fit together in it.

    ``marks`` is empty where its times contradict each other.
    """

    name: str
    cast: Arch
    number: int
    words: str
    begun: dt.datetime
    marks: tuple[Mark, ...]
    hands_off: dt.datetime | None
    released: dt.datetime | None
    by: str
    note: str
    asked: tuple[str, ...]

    def open_marks(self) -> tuple[Mark, ...]:
        """Return the moments that are not over by what a person noted: hands off, released."""
        if self.released is not None:
            return ()
        if self.hands_off is not None:
            return tuple(mark for mark in self.marks if mark.key not in _WORKED)
        return self.marks


def pour_times(case: Case) -> tuple[PourTimes, ...]:
    """Return the pours of a case with their moments, in the order in which powder met water."""
    bench = case.bench if case.bench is not None else Bench()
    found = [_times(name, pour, bench) for name, pour in case.pours.items()]
    return tuple(sorted(found, key=lambda one: (one.begun, one.name)))


def sheet_of(bench: Bench, pour: Pour | None = None) -> stone.Sheet:
    """Return what is entered of the product sheet; the pour's own times go before it."""
    given = bench.sheet
    own = {} if pour is None else {name: getattr(pour, name) for name in set(_TIME_OF.values())}
    times = {name: getattr(given, name) if own.get(name) is None else own[name] for name in _TIME_OF.values()}
    return stone.Sheet(
        given.water_ml_per_100g, given.setting_expansion_percent, given.powder_density_g_per_ml, **times
    )


def next_mark(pour: PourTimes, now: dt.datetime) -> Mark | None:
    """Return the next moment of a pour that is still to come; None where there is none."""
    return next((mark for mark in pour.open_marks() if mark.at > now), None)


def late(pour: PourTimes, now: dt.datetime) -> Mark | None:
    """Return the moment that waits for a person: hands are still on past theirs, or it may be released by now."""
    waiting = [mark for mark in pour.open_marks() if mark.key in (HANDS_OFF, RELEASE) and mark.at <= now]
    return waiting[-1] if waiting else None


def in_order(pours: Iterable[PourTimes], now: dt.datetime) -> list[PourTimes]:
    """Return the pours of any number of cases as they are to be seen to.

    First those with hands on past their moment, then by the next moment that comes, then those that may be released (the
    longest ready first), then what was released or has no moments. Equal moments stay in the order they came in.
    """
    return sorted(pours, key=lambda pour: _rank(pour, now))


def _rank(pour: PourTimes, now: dt.datetime) -> tuple[int, dt.datetime]:
    waits, comes = late(pour, now), next_mark(pour, now)
    if waits is not None and waits.key == HANDS_OFF:
        return 0, waits.at
    if comes is not None:
        return 1, comes.at
    return (2, waits.at) if waits is not None else (3, pour.begun)


def bench_questions(case: Case) -> tuple[str, ...]:
    """Return what is asked where a clock time of the bench part is that of no pour of the lower cast.

    The pours go before these clock times; without a pour of the lower cast the clock times stand for it.
    """
    lower = [pour for pour in case.pours.values() if pour.cast is Arch.LOWER]
    if case.bench is None or not lower:
        return ()
    asked = []
    for name in ("powder_met_water", "hands_off", "released"):
        wall: dt.time | None = getattr(case.bench, name)
        if wall is None:
            continue
        said = [moment for pour in lower if (moment := getattr(pour, name)) is not None]
        if not any(_apart_s(wall, moment) <= _WALL_S for moment in said):
            pours = ", ".join(f"{moment:%H:%M}" for moment in said)
            asked.append(
                say(
                    "Which is right: {pours} as the pours have it, or {wall} as bench.{name}? The pours are used",
                    pours=pours,
                    wall=wall,
                    name=name,
                )
                if said
                else say(
                    "No pour has {wall}, which stands as bench.{name}: note it with its pour",
                    wall=wall,
                    name=name,
                )
            )
    return tuple(asked)


def _apart_s(wall: dt.time, moment: dt.datetime) -> float:
    """Seconds between a time of day and a moment's own time of day, whichever way round the clock is shorter."""
    seconds = (wall.hour - moment.hour) * 3600 + (wall.minute - moment.minute) * 60
    seconds += wall.second - moment.second
    return float(min(seconds % 86400, -seconds % 86400))


def _times(name: str, pour: Pour, bench: Bench) -> PourTimes:
    asked = list(_contradictions(pour))
    try:
        steps = stone.steps(sheet_of(bench, pour))
    except ValueError:
        steps = ()
        asked.append(
            say("its times contradict each other: mixing, working, set, release must follow in this order")
        )
    marks = [
        Mark(key, _WORDS[key], at, _source(key, pour, bench), step.assumed)
        for step, at in stone.clock(pour.powder_met_water, steps)
        if (key := _KEY_OF.get(step.name, ""))
    ]
    cast = say("upper cast") if pour.cast is Arch.UPPER else say("lower cast")
    words = cast if pour.number == 1 else say("{cast}, pour {number}", cast=cast, number=pour.number)
    return PourTimes(
        name,
        pour.cast,
        pour.number,
        words,
        pour.powder_met_water,
        tuple(marks),
        pour.hands_off,
        pour.released,
        pour.by,
        pour.note,
        tuple(asked),
    )


def _source(key: str, pour: Pour, bench: Bench) -> str:
    entry = _TIME_OF[key]
    if getattr(pour, entry) is not None:
        return say("this pour's own time")
    if getattr(bench.sheet, entry) is not None:
        return say("product sheet")
    return say("common practice, no source")


def _contradictions(pour: Pour) -> Iterable[str]:
    """Moments in a wrong order. Asked about, never refused: at the bench a tap must not be lost."""
    if pour.hands_off is not None and pour.hands_off < pour.powder_met_water:
        yield say("hands off lies before powder met water: one of the two is wrong")
    if pour.released is not None and pour.released < pour.powder_met_water:
        yield say("released lies before powder met water: one of the two is wrong")
    if pour.released is not None and pour.hands_off is not None and pour.released < pour.hands_off:
        yield say("released lies before hands off: one of the two is wrong")
