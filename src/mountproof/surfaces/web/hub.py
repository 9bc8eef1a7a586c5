"""What happened, told to everybody who listens: a short memory of events, each with its number."""

from __future__ import annotations

import asyncio
import secrets
import threading
from collections import deque
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from typing import Literal, NamedTuple

from mountproof.surfaces.web.works import Standing

#: How many events are remembered for a page that lost its connection.
_REMEMBERED = 1000


Kind = Literal["work", "revision", "answer", "scans", "state", "pours", "profiles", "devices", "anew"]


class Happened(NamedTuple):
    """Something that happened, to a case or to the bench; texts in the program's own words."""

    kind: Kind
    case_id: int | None = None
    revision: int | None = None
    who: str = ""
    question: str = ""
    work: Standing | None = None


class Told(NamedTuple):
    """One event with its name for ``Last-Event-ID``."""

    id: str
    event: Happened


class Hub:
    """Events of one server. Any thread may publish; listeners wait on the loop that they run on."""

    def __init__(self) -> None:
        #: Told apart from the numbers of an earlier start, which a page may come back with.
        self._start = secrets.token_hex(4)
        self._count = 0
        self._told: deque[tuple[int, Happened]] = deque(maxlen=_REMEMBERED)
        self._lock = threading.Lock()
        self._listeners: dict[asyncio.Event, asyncio.AbstractEventLoop] = {}
        self._closed = False

    @property
    def listeners(self) -> int:
        """How many listen now."""
        return len(self._listeners)

    def publish(self, event: Happened) -> None:
        """Tell everybody who listens."""
        with self._lock:
            self._count += 1
            self._told.append((self._count, event))
            self._wake()

    def close(self) -> None:
        """End every stream of events: the server is about to stop."""
        with self._lock:
            self._closed = True
            self._wake()

    async def listen(self, last_id: str = "") -> AsyncIterator[Told]:
        """Yield events as they come, first those behind ``last_id``; ``anew`` where some of these are forgotten."""
        with self._listener() as woken:
            at, missed = self._behind(last_id)
            if missed:
                yield Told(f"{self._start}-{at}", Happened("anew"))
            while True:
                woken.clear()
                found, lost = self._since(at)
                if lost:
                    at = self._count
                    yield Told(f"{self._start}-{at}", Happened("anew"))
                    continue
                for number, event in found:
                    at = number
                    yield Told(f"{self._start}-{number}", event)
                if not found:
                    if self._closed:
                        return
                    await woken.wait()

    @contextmanager
    def _listener(self) -> Iterator[asyncio.Event]:
        woken = asyncio.Event()
        with self._lock:
            self._listeners[woken] = asyncio.get_running_loop()
        try:
            yield woken
        finally:
            with self._lock:
                del self._listeners[woken]

    def _wake(self) -> None:
        for woken, loop in self._listeners.items():
            if not loop.is_closed():
                loop.call_soon_threadsafe(woken.set)

    def _behind(self, last_id: str) -> tuple[int, bool]:
        """Return the number after which to go on, and whether events before it were missed."""
        if not last_id:
            return self._count, False
        start, _, number = last_id.partition("-")
        if start != self._start or not (number.isascii() and number.isdecimal()) or len(number) > 15:
            return self._count, True
        return min(int(number), self._count), False

    def _since(self, at: int) -> tuple[list[tuple[int, Happened]], bool]:
        with self._lock:
            found = [one for one in self._told if one[0] > at]
            lost = self._count > at and (not found or found[0][0] != at + 1)
        return found, lost
