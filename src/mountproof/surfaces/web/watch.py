"""What is written to the store, here or by another program, told to everybody who listens."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

from mountproof.case.store import Store
from mountproof.case.store.latest import Latest, latest, news
from mountproof.faults import FaultError
from mountproof.surfaces.web.hub import Happened, Hub

#: How often the store is looked at for what other programs write, while somebody listens.
EVERY_S = 1.0
_LOG = logging.getLogger("mountproof.web")


class Watch:
    """One look at a time: everything that was written is told once, in order."""

    def __init__(self, store: Store, hub: Hub) -> None:
        self._store, self._hub = store, hub
        self._lock = threading.Lock()
        with store.snapshot() as snapshot:
            self._known: Latest = latest(snapshot)

    def look(self) -> None:
        """Tell what was written since the last look. Called after every change made here."""
        with self._lock:
            with self._store.snapshot() as snapshot:
                now = latest(snapshot)
                found = news(snapshot, self._known)
            self._known = now
            for one in found:
                self._hub.publish(Happened(one.kind, one.case_id, one.number, one.who, one.question))

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Look about once a second while the block runs and somebody listens."""
        task = asyncio.create_task(self._look_on())
        try:
            yield
        finally:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task

    async def _look_on(self) -> None:
        while True:
            await asyncio.sleep(EVERY_S)
            if not self._hub.listeners:
                continue
            try:
                await asyncio.to_thread(self.look)
            except FaultError as error:
                _LOG.warning("the store could not be looked at: %s", error)
