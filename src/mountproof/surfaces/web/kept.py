"""What was worked out before, kept while there is room: the least used goes first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, MutableMapping
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(MutableMapping[str, T], Generic[T]):
    """A mapping that threads may share, with room for ``most`` entries and ``most_large`` large ones.

    ``large`` tells which entries are: answers carry arrays of hundreds of megabytes where there are scans.
    """

    def __init__(
        self, most: int, most_large: int | None = None, large: Callable[[T], bool] = lambda _: False
    ) -> None:
        self._most, self._most_large, self._large = most, most if most_large is None else most_large, large
        self._entries: OrderedDict[str, T] = OrderedDict()
        self._large_keys: OrderedDict[str, None] = OrderedDict()
        self._lock = threading.Lock()

    def __getitem__(self, key: str) -> T:
        with self._lock:
            found = self._entries[key]
            self._entries.move_to_end(key)
            if key in self._large_keys:
                self._large_keys.move_to_end(key)
            return found

    def __setitem__(self, key: str, value: T) -> None:
        with self._lock:
            self._drop(key)
            self._entries[key] = value
            if self._large(value):
                self._large_keys[key] = None
            while len(self._large_keys) > self._most_large:
                self._drop(next(iter(self._large_keys)))
            while len(self._entries) > self._most:
                self._drop(next(iter(self._entries)))

    def __delitem__(self, key: str) -> None:
        with self._lock:
            if key not in self._entries:
                raise KeyError(key)
            self._drop(key)

    def __iter__(self) -> Iterator[str]:
        with self._lock:
            return iter(list(self._entries))

    def __len__(self) -> int:
        return len(self._entries)

    def _drop(self, key: str) -> None:
        self._entries.pop(key, None)
        self._large_keys.pop(key, None)
