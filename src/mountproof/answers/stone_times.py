"""The clock of question 2: the moments of each pour, and whether hands and release kept to them."""

from __future__ import annotations

import datetime as dt

from mountproof.answers.ledger import Ledger
from mountproof.answers.pours import PourTimes, bench_questions, pour_times, sheet_of
from mountproof.answers.result import Table, Verdict, Why
from mountproof.bench import stone
from mountproof.case.model import Arch, Bench, Case
from mountproof.said import say

#: Clock times have no day; sums with them need one.
_ANY_DAY = dt.date(2000, 1, 1)
_IN_ORDER = say("mixing, working, setting and release times in this order")
_CONTRADICT = say("they contradict each other")


def tell_times(case: Case, ledger: Ledger) -> None:
    """Note the table of moments and judge what was noted of hands off and release.

    The pours of the case go before the clock times of its bench part, which stand for one pour of the lower cast where
    there is none.
    """
    bench = case.bench if case.bench is not None else Bench()
    pours = pour_times(case)
    for text in bench_questions(case):
        ledger.because(Verdict.DOUBTFUL, Why.QUESTIONED, text)
    if pours:
        _tell_pours(pours, case, ledger)
        return
    entered = sheet_of(bench)
    moments = _moments(entered, ledger)
    if moments is None:
        return
    met = bench.powder_met_water
    ledger.tables.append(_table(moments, None if met is None else dt.datetime.combine(_ANY_DAY, met)))
    if met is None:
        ledger.need(
            say("the time powder met water"),
            say("then every step has its clock time"),
            "bench.powder_met_water",
        )
    else:
        hands = None if bench.hands_off is None else _after(met, bench.hands_off)
        released = None if bench.released is None else _after(met, bench.released)
        _judge("", hands, released, entered, ledger)


def _tell_pours(pours: tuple[PourTimes, ...], case: Case, ledger: Ledger) -> None:
    bench = case.bench if case.bench is not None else Bench()
    shown = [pour for pour in pours if pour.cast is Arch.LOWER] or pours
    for pour in pours:
        entered = sheet_of(bench, case.pours[pour.name])
        for text in pour.asked:
            ledger.because(
                Verdict.DOUBTFUL, Why.QUESTIONED, say("Pour {pour}: {text}", pour=pour.name, text=text)
            )
        if not pour.marks:
            ledger.need(_IN_ORDER, _CONTRADICT, "bench.sheet")
            continue
        if pour is shown[-1]:
            ledger.tables.append(_table(stone.steps(entered), pour.begun, pour.words))
        hands = None if pour.hands_off is None else (pour.hands_off - pour.begun).total_seconds()
        released = None if pour.released is None else (pour.released - pour.begun).total_seconds()
        if not pour.asked:
            _judge(say("{pour}: ", pour=pour.words), hands, released, entered, ledger)


def _moments(entered: stone.Sheet, ledger: Ledger) -> tuple[stone.Step, ...] | None:
    try:
        return stone.steps(entered)
    except ValueError:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say("the times of the product sheet contradict each other: mixing, working, set, release"),
        )
        ledger.need(_IN_ORDER, _CONTRADICT, "bench.sheet")
        return None


def _table(moments: tuple[stone.Step, ...], begun: dt.datetime | None, pour: str = "") -> Table:
    rows = []
    for step in moments:
        wait = (
            say("{s:.0f} s", s=step.after_s)
            if step.after_s < 60
            else say("{min:g} min", min=step.after_s / 60)
        )
        rows.append((step.name, wait, _clock(begun, step.after_s), say("assumed") if step.assumed else ""))
    title = say("Times, from powder meets water")
    if pour:
        title = say("Times, from powder meets water: {pour}", pour=pour)
    return Table(title, ("", say("after"), say("clock"), ""), tuple(rows))


def _judge(
    pour: str, hands_s: float | None, released_s: float | None, entered: stone.Sheet, ledger: Ledger
) -> None:
    """Judge the seconds from powder into water to hands off and to release."""
    full, _ = stone.filled_in(entered)
    initial, release = 60.0 * (full.set_min or 0.0), 60.0 * (full.release_min or 0.0)
    if hands_s is not None and hands_s > initial:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            pour + say("hands were on it past the initial set ({since})", since=_since(hands_s)),
        )
    if released_s is None:
        return
    if released_s < initial:
        ledger.because(
            Verdict.DISAGREES,
            Why.OUTSIDE,
            pour + say("released before the initial set ({since})", since=_since(released_s)),
        )
    elif released_s < release:
        ledger.because(
            Verdict.DOUBTFUL, Why.BETWEEN, pour + say("released early ({since})", since=_since(released_s))
        )


def _after(met: dt.time, then: dt.time) -> float:
    """Seconds from one clock time to a later one, over midnight where it must be."""
    seconds = (then.hour - met.hour) * 3600 + (then.minute - met.minute) * 60 + then.second - met.second
    return float(seconds % 86400)


def _since(seconds: float) -> str:
    return say("{min:.0f} min after powder met water", min=seconds / 60)


def _clock(begun: dt.datetime | None, after_s: float) -> str:
    if begun is None:
        return ""
    at = begun + dt.timedelta(seconds=after_s)
    return at.strftime("%H:%M:%S" if after_s % 60 else "%H:%M")
