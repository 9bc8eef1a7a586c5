"""Who may come in: paired devices as the store keeps them, and what they have open."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from mountproof.case.store import Device, Store
from mountproof.case.store.times import utc_now
from mountproof.faults import FaultError
from mountproof.surfaces.web.access_tokens import LIFE_DAYS, digest_of

#: How long after a device was noted as seen it is noted again. The store itself keeps no finer count.
_NOTED_AGAIN = dt.timedelta(minutes=1)


class Devices:
    """Paired devices in the store, asked for at every request: what another program revoked counts here at once."""

    def __init__(self, store: Store, clock: Callable[[], dt.datetime] = utc_now) -> None:
        self._store, self._clock = store, clock

    def every(self) -> tuple[Device, ...]:
        """Return every device that may come in, in the order of pairing."""
        with self._store.snapshot() as snapshot:
            return tuple(one for one in snapshot.devices() if one.revoked is None and not self._over(one))

    def with_token(self, token: str) -> Device | None:
        """Return the device that has this token and may come in, or None."""
        with self._store.snapshot() as snapshot:
            device = snapshot.device_with(digest_of(token))
        if device is None or self._over(device):
            return None
        if device.seen is None or abs(self._clock() - device.seen) >= _NOTED_AGAIN:
            # Who may come in comes in, also while somebody else writes or the disk is full.
            with suppress(FaultError), self._store.change(device.name) as change:
                change.seen_device(device.id)
        return device

    def add(self, name: str, token: str, who: str) -> Device:
        """Note a device that was paired now, by the SHA-256 of its token. FaultError ``store.device``."""
        with self._store.change(who) as change:
            return change.add_device(name, digest_of(token))

    def revoke(self, device_id: str, who: str) -> Device:
        """Let a device in no more. FaultError ``store.missing`` where there is none."""
        with self._store.change(who) as change:
            return change.revoke_device(device_id)

    def _over(self, device: Device) -> bool:
        return self._clock() - device.paired >= dt.timedelta(days=LIFE_DAYS)


class Visits:
    """What every device has open, to be ended when it is revoked. Shared by threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._open: dict[str, set[Visit]] = {}

    @contextmanager
    def visit(self, device_id: str) -> Iterator[Visit]:
        """Keep note of one request of a device while the block runs."""
        one = Visit()
        with self._lock:
            self._open.setdefault(device_id, set()).add(one)
        try:
            yield one
        finally:
            with self._lock:
                left = self._open[device_id]
                left.discard(one)
                if not left:
                    del self._open[device_id]

    def count(self, device_id: str) -> int:
        """Return how many requests of a device are open."""
        with self._lock:
            return len(self._open.get(device_id, ()))

    def end(self, device_id: str) -> None:
        """End all that a device has open."""
        with self._lock:
            found = tuple(self._open.get(device_id, ()))
        for one in found:
            one.end()


class Visit:
    """One request of a device. ``then`` is called once when it is to end, from whatever thread ends it."""

    def __init__(self) -> None:
        self.ended = False
        self.then: Callable[[], None] | None = None

    def end(self) -> None:
        """Say that the device may come in no more."""
        self.ended = True
        if self.then is not None:
            self.then()
