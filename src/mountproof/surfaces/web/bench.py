"""What every request works with: the store, the answers, the work that goes on, and who listens."""

from __future__ import annotations

from dataclasses import dataclass

from mountproof.answers.case_numbers import CaseNumbers
from mountproof.case.store import Snapshot, Store
from mountproof.case.store.trial import opened_case
from mountproof.surfaces.web.answering import Answering, Opened
from mountproof.surfaces.web.checks import Checks
from mountproof.surfaces.web.hub import Happened, Hub
from mountproof.surfaces.web.kept import Kept
from mountproof.surfaces.web.watch import Watch
from mountproof.surfaces.web.works import Standing, Works

#: Rows that are kept, a few kilobytes each.
_MOST_ROWS = 20_000


@dataclass(frozen=True, slots=True)
class Bench:
    """One store with everything that is kept in memory beside it."""

    store: Store
    hub: Hub
    works: Works
    answering: Answering
    checks: Checks
    watch: Watch
    #: Rows of many cases that were worked out before, by case and revision.
    rows: Kept[CaseNumbers | str]

    def close(self) -> None:
        """Stop all work, end the streams of events, close the store."""
        self.hub.close()
        self.works.close()
        self.store.close()


def make_bench(store: Store) -> Bench:
    """Return the bench of a store."""
    hub = Hub()

    def tell_work(work: Standing) -> None:
        hub.publish(Happened("work", work.case_id, work=work))

    def tell_answer(case_id: int, number: int, question: str) -> None:
        hub.publish(Happened("answer", case_id, number, question=question))

    def tell_check(case_id: int, number: int) -> None:
        hub.publish(Happened("scans", case_id, number))

    works = Works(tell_work)
    answering, checks = Answering(works, tell_answer), Checks(works, tell_check)
    return Bench(store, hub, works, answering, checks, Watch(store, hub), Kept(_MOST_ROWS))


def opened(snapshot: Snapshot, case_id: int, number: int | None = None) -> Opened:
    """Return a revision of a case (the newest unless told), ready for questions.

    FaultError where there is none, or this program finds faults in its text. A stored scan that is missing or damaged
    keeps only its own questions from being answered.
    """
    head = snapshot.head(case_id)
    newest = number is None or number == head.number
    case, faults = opened_case(snapshot, head if newest else snapshot.revision(case_id, number or 0))
    return Opened(case_id, head.number if newest else number or 0, newest, case, faults)
