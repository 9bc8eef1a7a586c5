"""Part of question 4: every mounting of the case, and what trying until one pleases does to the comfort of the last."""

from __future__ import annotations

from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Table
from mountproof.case.model import Case
from mountproof.doubt.attempts import best_of, false_comfort
from mountproof.doubt.rates import Rates
from mountproof.said import figure, say


def attempts(case: Case, ledger: Ledger, rates: Rates | None) -> list[str]:
    """List every attempt; where there was more than one, say aloud what choosing among them does; return that."""
    tried = case.proof.attempts
    if not tried:
        return []
    ledger.tables.append(
        Table(
            say("Every mounting of this case"),
            ("", say("day"), say("record"), say("kept"), say("why")),
            tuple(
                (
                    figure(i, "d"),
                    str(a.date) if a.date else "-",
                    a.record or "-",
                    say("kept") if a.kept else say("taken off"),
                    a.why or "-",
                )
                for i, a in enumerate(tried, start=1)
            ),
        )
    )
    n = len(tried)
    if n < 2:
        return []
    ledger.notes.append(
        say(
            "The best of {count} readings looks small by chance: on average {part:.2f} times as large as a single one, "
            "with nothing better about it.",
            count=n,
            part=best_of(n),
        )
    )
    if rates is not None and rates.miss.share == rates.miss.share:
        ledger.notes.append(
            say(
                "A mounting that is off passes these checks in {once:.1f} of 100 cases; one of {count} does in {many:.1f}.",
                once=100 * rates.miss.share,
                count=n,
                many=100 * false_comfort(rates.miss.share, n),
            )
        )
    return [
        say(
            "{count} mountings were tried: choosing among remounts until one pleases makes its checks prove less",
            count=n,
        )
    ]
