"""Answers for the requests: bench answers at once, answers that look at scans in work beside the requests.

Answers are kept by the digest of what they read, for all cases, revisions and languages. For the newest revision of a
case there is one work at most; it goes over to a newer revision as soon as that is there, and begins a question anew
only where what the question reads was changed.
"""

from __future__ import annotations

import itertools
import logging
import threading
from collections.abc import Callable
from concurrent.futures import wait
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import NamedTuple

from mountproof.answers.known import cache_key, scan_questions, together
from mountproof.answers.progress import Progress, quiet
from mountproof.answers.result import Answer, Sheet
from mountproof.answers.sheet import answer, kept_from
from mountproof.answers.words import BY_KEY, QUESTIONS
from mountproof.case.model import Case
from mountproof.faults import Cancelled, Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.kept import Kept
from mountproof.surfaces.web.works import Works

#: An answer takes some 100 kB, most of it the texts that other languages need.
_MOST_ANSWERS = 800
#: Answers with surfaces behind them: a pair of arches of 214 000 triangles takes some 45 MB.
_MOST_LARGE = 8
_MOST_FAILED = 500
_LOG = logging.getLogger("mountproof.web")
#: How many requests work out answers at once. The interpreter gives one thread its turn at a time: with more, everybody
#: waits as long as the last one.
_AT_ONCE = 2
#: Cases that share a turn are few enough to meet seldom.
_TURNS = 64


class Opened(NamedTuple):
    """A revision of a case, ready for questions. ``faults``: what is wrong with its stored scans."""

    case_id: int
    number: int
    newest: bool
    case: Case
    faults: tuple[Fault, ...] = ()


class Asked(NamedTuple):
    """The answers that are there, those that somebody stopped, and the name of the work on the rest."""

    sheet: Sheet
    stopped: frozenset[str]
    work: str | None


class _Stale(Cancelled):
    """What is being answered was changed meanwhile."""


@dataclass(slots=True, eq=False)
class _Line:
    """What the work on one case looks at now: the newest revision that somebody asked for."""

    opened: Opened
    keys: dict[str, str]
    work: str
    done: set[str] = field(default_factory=set)


#: An answer, and the faults that kept it from being whole.
Part = tuple[Answer, tuple[Fault, ...]]
#: Tells that an answer came: case, revision, question.
Tell = Callable[[int, int, str], None]


class Answering:
    """Asks the questions of cases, and remembers the answers."""

    def __init__(self, works: Works, tell: Tell) -> None:
        self._works, self._tell = works, tell
        self.cache: Kept[Answer] = Kept(_MOST_ANSWERS, _MOST_LARGE, lambda a: a.evidence is not None)
        self._failed: Kept[Part] = Kept(_MOST_FAILED)
        self._stopped: Kept[bool] = Kept(_MOST_FAILED)
        self._lines: dict[tuple[int, int], _Line] = {}
        self._lock = threading.Lock()
        self._desk = threading.BoundedSemaphore(_AT_ONCE)
        self._turns = tuple(threading.Lock() for _ in range(_TURNS))
        self._count = itertools.count(1)

    def turn(self, case_id: int) -> AbstractContextManager[object]:
        """Give one request at a time its turn at a case: the next one finds what the one before it worked out."""
        return self._turns[case_id % _TURNS]

    def ask(self, opened: Opened, *, begin: bool = True, again: bool = False) -> Asked:
        """Return what can be answered at once; what looks at scans begins as work (``begin``).

        ``again`` begins what was stopped, and what went wrong.
        """
        later = scan_questions(opened.case)
        parts = self._at_desk(opened.case, [q.key for q in QUESTIONS if q.key not in later])
        stopped: set[str] = set()
        missing: dict[str, str] = {}
        if opened.faults:
            parts += [(kept_from(key, opened.faults), opened.faults) for key in later]
            later = ()
        for key in later:
            name = cache_key(opened.case, key)
            if again:
                self._failed.pop(name, None)
                self._stopped.pop(name, None)
            there = self._there(name)
            if there is not None:
                parts.append(there)
            elif name in self._stopped:
                stopped.add(key)
            else:
                missing[key] = name
        work = self._begin(opened, missing) if missing and begin else None
        return Asked(together(opened.case, parts, self.cache), frozenset(stopped), work)

    def bench(self, case: Case) -> Asked:
        """Answer only what needs no scan; nothing is begun."""
        later = scan_questions(case)
        keys = [q.key for q in QUESTIONS if q.key not in later]
        return Asked(together(case, self._at_desk(case, keys), self.cache), frozenset(), None)

    def whole(self, opened: Opened, progress: Progress) -> Sheet:
        """Return the whole sheet: what is being worked on is waited for, what somebody stopped is answered here."""
        asked = self.ask(opened)
        work = None if asked.work is None else self._works.get(asked.work)
        if work is not None and work.future is not None:
            wait([work.future])
            asked = self.ask(opened, begin=False)
        if len(asked.sheet.answers) == len(QUESTIONS):
            return asked.sheet
        return answer(opened.case, cache=self.cache, progress=progress)

    def newer(self, opened: Opened) -> None:
        """Let work on this case go over to a newer revision, if there is any."""
        with self._lock:
            line = self._lines.get((opened.case_id, 0))
            if line is not None and line.opened.number < opened.number:
                line.opened, line.keys = opened, self._keys(opened)

    def _at_desk(self, case: Case, keys: list[str]) -> list[Part]:
        """Answer at once: what is remembered without waiting, anything else when it is this request's turn."""
        if all(cache_key(case, key) in self.cache for key in keys):
            return self._parts(case, keys)
        with self._desk:
            return self._parts(case, keys)

    def _parts(self, case: Case, keys: list[str]) -> list[Part]:
        try:
            sheet = answer(case, keys, cache=self.cache)
        except Exception:
            # One question cannot even be asked: the others still can.
            return [self._part(case, key, quiet) for key in keys]
        first, *rest = [sheet.answers[key] for key in keys]
        return [(first, sheet.faults), *((one, ()) for one in rest)]

    def _part(self, case: Case, key: str, progress: Progress) -> Part:
        """Answer one question; what goes wrong with it, be it in the program itself, keeps only this one back."""
        try:
            sheet = answer(case, [key], cache=self.cache, progress=progress)
            return sheet.answers[key], sheet.faults
        except Cancelled:
            raise
        except FaultError as error:
            return kept_from(key, error.faults), error.faults
        except Exception as error:
            _LOG.exception("the program itself went wrong in question %s", key)
            what = say("the program itself went wrong ({kind})", kind=type(error).__name__)
            fault = Fault("program.broken", what, say("Report what the terminal shows"))
            return kept_from(key, [fault]), (fault,)

    def _there(self, name: str) -> Part | None:
        found = self.cache.get(name)
        return (found, ()) if found is not None else self._failed.get(name)

    def _keys(self, opened: Opened) -> dict[str, str]:
        if opened.faults:
            return {}
        return {key: cache_key(opened.case, key) for key in scan_questions(opened.case)}

    def _begin(self, opened: Opened, missing: dict[str, str]) -> str:
        place = (opened.case_id, 0 if opened.newest else opened.number)
        with self._lock:
            line = self._lines.get(place)
            if line is not None:
                if line.opened.number < opened.number:
                    line.opened, line.keys = opened, self._keys(opened)
                return line.work
            line = _Line(opened, self._keys(opened), f"answers-{opened.case_id}-{next(self._count)}")
            self._lines[place] = line
        what = BY_KEY[next(iter(missing))].words
        self._works.begin(
            line.work,
            opened.case_id,
            what,
            lambda progress: self._run(place, line, progress),
            lambda state: self._ended(place, line, state),
        )
        return line.work

    def _run(self, place: tuple[int, int], line: _Line, progress: Progress) -> None:
        while (todo := self._next(place, line)) is not None:
            self._one(line, *todo, progress)

    def _ended(self, place: tuple[int, int], line: _Line, state: str) -> None:
        """Close the line. What somebody stopped stays open until it is asked for again."""
        with self._lock:
            if self._lines.get(place) is line:
                del self._lines[place]
            if state == "cancelled":
                for name in line.keys.values():
                    if self._there(name) is None:
                        self._stopped[name] = True

    def _next(self, place: tuple[int, int], line: _Line) -> tuple[Opened, str, str, float] | None:
        """Return what to answer next and how far the work is; None, with the line closed, where all is there."""
        with self._lock:
            todo = [
                (key, name)
                for key, name in line.keys.items()
                if name not in line.done and self._there(name) is None and name not in self._stopped
            ]
            if not todo:
                del self._lines[place]
                return None
            return line.opened, *todo[0], 1.0 - len(todo) / len(line.keys)

    def _one(
        self, line: _Line, opened: Opened, key: str, name: str, start: float, progress: Progress
    ) -> None:
        share = 1.0 / max(len(line.keys), 1)

        def told(fraction: float, what: str) -> None:
            if line.opened is not opened and line.keys.get(key) != name:
                raise _Stale
            progress(start + share * fraction, what)

        try:
            found, faults = self._part(opened.case, key, told)
        except _Stale:
            return
        if faults:
            self._failed[name] = (found, faults)
        line.done.add(name)
        self._tell(opened.case_id, line.opened.number, key)
