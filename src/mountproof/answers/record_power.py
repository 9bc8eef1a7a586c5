"""Part of question 3: how many records it takes to be sure of a difference at a condyle."""

from __future__ import annotations

from mountproof.answers.bench_inputs import record_repeat
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Quantity
from mountproof.case.model import Case
from mountproof.records.repeats import repeats_for_mean, repeats_needed, sd_factors_of_dof
from mountproof.said import say

#: A difference that is there is to be found in so many of the trials.
_POWER = 0.9


def how_many(case: Case, ledger: Ledger) -> None:
    """Note how many records hold one relation to the wanted difference, and how many tell two relations apart."""
    s = record_repeat(case, ledger)
    wanted = case.limits.records_at_condyle.decent
    if wanted <= 0.0:
        return
    factors = (
        sd_factors_of_dof(case.record_repeat_dof)
        if case.record_repeat_mm is not None and case.record_repeat_dof is not None
        else None
    )
    counts = []
    for key, label, count in (
        ("records_for_one", say("records whose mean holds a condyle to {mm:g} mm", mm=wanted), _for_mean),
        (
            "records_to_compare",
            say("records of each to tell two relations {mm:g} mm apart", mm=wanted),
            _each,
        ),
    ):
        n = count(s, wanted)
        low, high = (float(count(f * s, wanted)) for f in factors) if factors else (None, None)
        counts.append(n)
        ledger.quantities.append(
            Quantity(
                key,
                label,
                float(n),
                say("CR records"),
                None,
                low,
                high,
                0,
                case.record_repeat_mm is None,
                say("at {s:g} mm, 1 SD along one axis", s=s),
            )
        )
    one = (
        say("one of your records lies within {mm:g} mm at a condyle in 95 of 100 cases", mm=wanted)
        if counts[0] == 1
        else say(
            "the mean of {one} of your records lies within {mm:g} mm at a condyle in 95 of 100 cases",
            one=counts[0],
            mm=wanted,
        )
    )
    ledger.notes.append(
        say(
            "At {s:g} mm (1 SD) {one}. To tell two relations apart that differ by {mm:g} mm, in {power:.0f} of 100 "
            "cases, take {each} records of each.",
            s=s,
            one=one,
            mm=wanted,
            power=100.0 * _POWER,
            each=counts[1],
        )
    )


def _for_mean(s: float, wanted: float) -> int:
    return repeats_for_mean(s, wanted)


def _each(s: float, wanted: float) -> int:
    return repeats_needed(s, wanted, power=_POWER)
