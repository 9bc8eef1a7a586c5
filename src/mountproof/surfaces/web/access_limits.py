"""How large and how slow a request may be."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Mapping
from typing import Literal

from starlette.types import Message, Receive

from mountproof.case.store.scans import LARGEST_BYTES as LARGEST_SCAN

#: The largest body of a request that is no file, and of one that only pairs a device.
MOST_BODY, MOST_PAIRING = 4_000_000, 2_000
#: The longest head of a request: addresses of search words and a cookie, with room.
MOST_HEAD = 16_384
#: A part of a body has to come within this; and after the first so many seconds at least so many bytes a second.
PART_S, GRACE_S, LEAST_BYTES_PER_S = 20.0, 30.0, 1_000.0

Stop = Literal["large", "slow", "ended"]


def most_bytes(method: str, path: str) -> int:
    """Return the largest body that an address takes. Files come in portions and never stand in memory whole."""
    parts = path.strip("/").split("/")
    if parts == ["api", "cases", "bring-in"] or (method == "PUT" and len(parts) == 5 and parts[3] == "scans"):
        return LARGEST_SCAN + 1
    return MOST_PAIRING if parts == ["api", "pair"] else MOST_BODY


def said_length(headers: Mapping[str, str]) -> int:
    """Return how long a body says it is; 0 where it does not say."""
    said = headers.get("content-length", "")
    return int(said) if said.isascii() and said.isdecimal() and len(said) < 20 else 0


class Body:
    """What a request sends, as ``receive`` of an application, until it is too much, too slow, or not wanted any more.

    From then on the sender is as good as gone, so that whatever was half received is dropped; ``stopped`` says why.
    """

    def __init__(
        self, receive: Receive, most: int, *, unwanted: Callable[[], bool] = lambda: False,
        steady: Callable[[], float] = time.monotonic, part_s: float = PART_S,
    ) -> None:  # fmt: skip
        self.stopped: Stop | None = None
        self._receive, self._most, self._unwanted = receive, most, unwanted
        self._steady, self._part_s = steady, part_s
        self._start, self._size, self._whole = steady(), 0, False

    async def __call__(self) -> Message:
        """Return the next part."""
        if self._whole:
            return await self._receive()
        if self.stopped is None:
            try:
                message = await asyncio.wait_for(self._receive(), self._part_s)
            except TimeoutError:
                self.stopped = "slow"
            else:
                if message["type"] != "http.request":
                    return message
                self._size += len(message.get("body", b""))
                self._whole = not message.get("more_body", False)
                self.stopped = self._wrong()
                if self.stopped is None:
                    return message
        return {"type": "http.disconnect"}

    def _wrong(self) -> Stop | None:
        if self._size > self._most:
            return "large"
        if self._unwanted():
            return "ended"
        spent = self._steady() - self._start
        slow = not self._whole and spent > GRACE_S and self._size < LEAST_BYTES_PER_S * spent
        return "slow" if slow else None
