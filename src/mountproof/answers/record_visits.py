"""Part of question 3: how records vary within a visit, and how between visits."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.record_gathered import Gathered
from mountproof.answers.result import Table, Verdict, Why
from mountproof.case.model import Case
from mountproof.records.compare import groups_apart
from mountproof.records.joint import Spread
from mountproof.records.visits import one_way
from mountproof.said import figure, say

#: Visits that chance alone would part so far in fewer than one of a hundred cases are told.
_CHANCE = 0.01
#: The numbers at the condyles; both lie alike to the side, so that is told once.
_AT_CONDYLES = (0, 1, 3, 4, 2)


def visits_of(case: Case, given: Gathered) -> tuple[str, ...]:
    """Return the visit of each compared record; records of which none is said belong together."""
    return tuple(case.records[r].visit if r in case.records else "" for r in given.wording.values())


def within_and_between(case: Case, given: Gathered, spread: Spread, ledger: Ledger) -> None:
    """Tell the spread within visits from that between them, where there are records of several visits."""
    visits = visits_of(case, given)
    labels = list(dict.fromkeys(visits))
    if len(labels) < 2:
        return
    if len(labels) < len(visits) and given.points:
        ledger.tables.append(_table(given, visits, labels))
    if "" in labels:
        ledger.notes.append(
            say("Records without a visit are taken as of one visit of their own: enter when they were taken.")
        )
    tail = groups_apart(
        given.features.values, given.features.covs, visits, spread._replace(visits=(), s_visit=0.0)
    )
    if tail < _CHANCE:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say("the relation moved between the visits by more than records of one visit differ"),
        )
        ledger.need(
            say("a record at a further visit, when joints and muscles are at rest"),
            say("what is recorded has not settled yet"),
            "records",
        )


def _table(given: Gathered, visits: tuple[str, ...], labels: list[str]) -> Table:
    rows = []
    for j in _AT_CONDYLES:
        values = given.features.values[:, j]
        found = one_way([values[[v == label for v in visits]].tolist() for label in labels])
        rows.append(
            (
                given.features.names[j],
                figure(math.sqrt(found.within), ".2f"),
                _ends(found.within_sd),
                figure(math.sqrt(found.between), ".2f") if found.between > 0.0 else say("none seen"),
                _ends(found.between_sd),
            )
        )
    return Table(
        say("Within and between visits, mm"),
        ("", say("SD within"), say("its 95 % interval"), say("SD between"), say("its 95 % interval")),
        tuple(rows),
        say(
            "Analysis of variance, visits by chance; a variance that comes out below zero is told as none seen."
        ),
    )


def _ends(interval: tuple[float, float]) -> str:
    low, high = interval
    if not np.isfinite(high):
        return say("from {low:.2f}", low=low)
    return say("{low:.2f} to {high:.2f}", low=low, high=high)
