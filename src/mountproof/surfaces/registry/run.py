"""A run over many cases: what is there already is left, the rest is worked out, and each row is written once."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import NamedTuple

from mountproof.answers.case_numbers import CaseNumbers
from mountproof.answers.progress import Progress
from mountproof.case.store.registry import Member, Registry, Row
from mountproof.faults import Fault
from mountproof.said import say
from mountproof.surfaces.registry.one import Given, fault_of, numbers_of
from mountproof.surfaces.registry.sources import Source
from mountproof.surfaces.registry.spread import Crew, spread

#: Rows are written together for at most so long, or so many.
_HOLD_S, _HOLD = 0.5, 64


class Entry(NamedTuple):
    """A case of the registry: where it came from, its code, and its numbers or why it has none."""

    source: str
    code: str
    numbers: CaseNumbers | None
    fault: Fault | None


class Outcome(NamedTuple):
    """A whole run. ``there`` rows were there before, ``made`` were worked out in ``seconds``; ``twice`` cases have the text
    of another one, ``given_up`` took their workers with them: their rows hold that
    fault, and nobody works on them again.
    """

    entries: list[Entry]
    there: int
    made: int
    twice: int
    given_up: int
    seconds: float

    @property
    def numbers(self) -> list[CaseNumbers]:
        """The numbers of every case that has some, in the order of the list: what charts over many cases are made of."""
        return [one.numbers for one in self.entries if one.numbers is not None]

    @property
    def per_minute(self) -> float | None:
        """Cases worked out in a minute; None where none was."""
        return 60.0 * self.made / self.seconds if self.made and self.seconds > 0.0 else None


def carry_out(registry: Registry, sources: Sequence[Source], crew: Crew, progress: Progress) -> Outcome:
    """Bring the registry to hold every one of ``sources``; return them in their order, each text once.

    Whatever ends it early (also what ``progress`` raises), what was worked out so far is kept, and the same call goes on
    from there.
    """
    start = time.monotonic()
    run = registry.begin([Member(one.name, one.digest) for one in sources])
    state = "stopped"
    try:
        left = [sources[place] for place in registry.left(run)]
        texts = len({one.digest for one in sources})
        there, writer = texts - len(left), _Writer(registry)
        known = [one for one in left if one.fault is not None]
        registry.write([Row(one.digest, "", None, one.fault) for one in known])
        todo = [one.data for one in left if one.fault is None]
        back = 0

        def take(given: Sequence[Given]) -> None:
            nonlocal back
            writer.add(given)
            back += len(given)
            progress(back / len(todo), say("working out the cases"))

        try:
            given_up = spread(todo, crew, take) if todo else 0
        finally:
            writer.write()
        found = registry.rows(run)
        state = "done"
    finally:
        registry.end(run, state)
    entries = [_entry(member, row) for member, row in found]
    return Outcome(entries, there, len(left), len(sources) - texts, given_up, time.monotonic() - start)


class _Writer:
    """Holds what came back for a moment, so that a transaction is not paid for every case."""

    def __init__(self, registry: Registry) -> None:
        self._registry, self._held, self._since = registry, list[Row](), time.monotonic()

    def add(self, given: Sequence[Given]) -> None:
        self._held += [Row(one.digest, one.code, one.numbers, one.fault) for one in given]
        if len(self._held) >= _HOLD or time.monotonic() - self._since > _HOLD_S:
            self.write()

    def write(self) -> None:
        rows, self._held = self._held, []
        self._since = time.monotonic()
        self._registry.write(rows)


def _entry(member: Member, row: Row) -> Entry:
    numbers = None if row.numbers is None else numbers_of(row.numbers)
    return Entry(member.source, row.code, numbers, None if row.fault is None else fault_of(row.fault))
