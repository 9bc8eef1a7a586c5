"""Long work beside the requests: how far it is, who waits for it, and how it is stopped."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from mountproof.answers.progress import Progress
from mountproof.faults import Cancelled, Fault, FaultError
from mountproof.said import say

State = Literal["going on", "done", "cancelled", "failed"]
#: Progress is told at most this often.
_TELL_EVERY_S = 0.2
#: Works that are over are remembered so that a page can still ask how they ended.
_REMEMBERED = 200
_LOG = logging.getLogger("mountproof.web")


class Standing(NamedTuple):
    """How far one work was at one moment."""

    name: str
    case_id: int | None
    what: str
    done: float
    state: State
    faults: tuple[Fault, ...]


def _nothing(_state: State) -> None:
    pass


@dataclass(slots=True, eq=False)
class Work:
    """One piece of long work. Read it from any thread; only its own thread writes to it."""

    name: str
    case_id: int | None
    what: str
    done: float = 0.0
    state: State = "going on"
    faults: tuple[Fault, ...] = ()
    stop: threading.Event = field(default_factory=threading.Event)
    future: Future[None] | None = None
    ended: Callable[[State], None] = _nothing

    def now(self) -> Standing:
        """Return how far it is now."""
        return Standing(self.name, self.case_id, self.what, self.done, self.state, self.faults)


class Works:
    """All long work of one server. ``tell`` is called, from any thread, whenever one of them got on or ended."""

    def __init__(self, tell: Callable[[Standing], None], threads: int = 2) -> None:
        self._tell = tell
        self._pool = ThreadPoolExecutor(threads, thread_name_prefix="work")
        self._works: dict[str, Work] = {}
        self._lock = threading.Lock()

    def begin(
        self,
        name: str,
        case_id: int | None,
        what: str,
        run: Callable[[Progress], None],
        ended: Callable[[State], None] = _nothing,
    ) -> Work:
        """Begin work under a name and return it; what goes on under that name already is returned as it is.

        ``run`` gets a function for its progress, which raises Cancelled where somebody stopped the work. ``ended`` is
        called once, however the work ends, also where it never began.
        """
        with self._lock:
            known = self._works.get(name)
            if known is not None and known.state == "going on" and not known.stop.is_set():
                return known
            work = Work(name, case_id, what, ended=ended)
            self._works.pop(name, None)
            self._works[name] = work
            over = [key for key, one in self._works.items() if one.state != "going on"]
            for key in over[: max(0, len(self._works) - _REMEMBERED)]:
                del self._works[key]
            work.future = self._pool.submit(self._run, work, run)
        return work

    def get(self, name: str) -> Work | None:
        """Return the work of this name, or None."""
        with self._lock:
            return self._works.get(name)

    def cancel(self, name: str) -> Work | None:
        """Stop work; it ends at its next word of progress. None where there is no such work."""
        work = self.get(name)
        if work is not None and work.state == "going on":
            work.stop.set()
            if work.future is not None and work.future.cancel():
                self._end(work, "cancelled")
        return work

    def close(self) -> None:
        """Stop all work and wait until it has ended."""
        with self._lock:
            works = list(self._works.values())
        for work in works:
            work.stop.set()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _run(self, work: Work, run: Callable[[Progress], None]) -> None:
        last = 0.0

        def progress(fraction: float, what: str) -> None:
            nonlocal last
            if work.stop.is_set():
                raise Cancelled
            changed, work.done, work.what = what != work.what, min(max(fraction, 0.0), 1.0), what
            now = time.monotonic()
            if changed or now - last >= _TELL_EVERY_S:
                last = now
                self._tell(work.now())

        try:
            progress(0.0, work.what)
            run(progress)
        except Cancelled:
            self._end(work, "cancelled")
        except FaultError as error:
            self._end(work, "failed", error.faults)
        except Exception as error:
            _LOG.exception("the program itself went wrong in long work")
            what = say("the program itself went wrong ({kind})", kind=type(error).__name__)
            self._end(work, "failed", (Fault("program.broken", what, say("Report what the terminal shows")),))
        else:
            work.done = 1.0
            self._end(work, "done")

    def _end(self, work: Work, state: State, faults: tuple[Fault, ...] = ()) -> None:
        work.ended(state)
        work.faults, work.state = faults, state
        self._tell(work.now())
