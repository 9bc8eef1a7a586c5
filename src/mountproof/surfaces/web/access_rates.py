"""How much one address or device may ask for: buckets that fill with time, and only so many of them."""

from __future__ import annotations

import ipaddress
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import NamedTuple


class Rate(NamedTuple):
    """``burst`` requests at once, and ``per_s`` more every second."""

    burst: float
    per_s: float


class Rates:
    """A bucket for each name, at most ``most`` of them, in memory that does not grow.

    A bucket that is full again says nothing and may go. Where all are in use, newcomers share one: who comes from many
    addresses gains nothing by it, and nobody's bucket is forgotten early.
    """

    def __init__(self, rate: Rate, most: int = 1000, steady: Callable[[], float] = time.monotonic) -> None:
        self._rate, self._most, self._steady = rate, most, steady
        self._lock = threading.Lock()
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def __len__(self) -> int:
        return len(self._buckets)

    def wait_s(self, name: str, cost: float = 1.0) -> float:
        """Take ``cost`` out of a bucket and return 0; where it holds less, take nothing and return when it will."""
        with self._lock:
            now = self._steady()
            name = self._place_for(name, now)
            left = self._left(name, now)
            wait = 0.0 if left >= cost else (cost - left) / self._rate.per_s
            self._buckets[name] = (left - cost if wait == 0.0 else left, now)
            self._buckets.move_to_end(name)
            return wait

    def _left(self, name: str, now: float) -> float:
        left, since = self._buckets.get(name, (self._rate.burst, now))
        return min(self._rate.burst, left + max(now - since, 0.0) * self._rate.per_s)

    def _place_for(self, name: str, now: float) -> str:
        if name in self._buckets or len(self._buckets) < self._most:
            return name
        oldest = next(iter(self._buckets))
        if self._left(oldest, now) < self._rate.burst:
            return "everybody else"
        del self._buckets[oldest]
        return name


def network_of(address: str) -> str:
    """Return what stands for an address in counting: of IPv6 its first 64 bits, for one machine has all the others."""
    try:
        known = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return "unknown"
    if isinstance(known, ipaddress.IPv6Address):
        if known.ipv4_mapped is not None:
            return str(known.ipv4_mapped)
        return str(ipaddress.IPv6Network((known, 64), strict=False))
    return str(known)
