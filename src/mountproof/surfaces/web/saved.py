"""What a request gives back of a case: the revision as entered, and its sheet."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.case.store import Accepted, CaseState, Revision, Snapshot
from mountproof.case.tooth_numbers import system_of
from mountproof.surfaces.web.answering import Asked, Opened
from mountproof.surfaces.web.bench import Bench, opened
from mountproof.surfaces.web.shapes.cases import case_out
from mountproof.surfaces.web.shapes.sheets import sheet_out
from mountproof.surfaces.web.wire import CaseOut, SavedOut, SheetOut


class Seen(NamedTuple):
    """Everything that the store knows of one revision of a case, at one moment."""

    opened: Opened
    revision: Revision
    state: CaseState
    accepted: dict[str, tuple[Accepted, bool]]


def look(snapshot: Snapshot, case_id: int, number: int | None = None) -> Seen:
    """Return a revision of a case (the newest unless told). FaultError where there is none."""
    found = opened(snapshot, case_id, number)
    old = set(snapshot.out_of_date(case_id, found.case))
    return Seen(
        found,
        snapshot.revision(case_id, found.number),
        snapshot.state(case_id),
        {one.question: (one, one in old) for one in snapshot.accepted(case_id)},
    )


def shown_case(bench: Bench, seen: Seen, asked: Asked, language: str) -> CaseOut:
    """Return the revision as entered."""
    sizes = {
        sha: bench.store.scans.path(sha).stat().st_size
        for sha in seen.revision.files.values()
        if bench.store.scans.holds(sha)
    }
    return case_out(
        seen.opened,
        seen.revision,
        seen.state,
        asked.sheet,
        language,
        sizes=sizes,
        looks=bench.checks.look(seen.opened),
    )


def shown_sheet(seen: Seen, asked: Asked, language: str) -> SheetOut:
    """Return the answers to it."""
    numbering = system_of(seen.opened.case)
    return sheet_out(asked, seen.accepted, seen.opened.case_id, seen.opened.number, language, numbering)


def saved(bench: Bench, case_id: int, language: str) -> SavedOut:
    """Return a case as it is now with its sheet, and tell what was written; work goes over to the newest revision."""
    bench.watch.look()
    with bench.answering.turn(case_id):
        with bench.store.snapshot() as snapshot:
            seen = look(snapshot, case_id)
        bench.answering.newer(seen.opened)
        asked = bench.answering.ask(seen.opened)
    return SavedOut(case=shown_case(bench, seen, asked, language), sheet=shown_sheet(seen, asked, language))
