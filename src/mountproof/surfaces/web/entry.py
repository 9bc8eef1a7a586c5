"""Who a request comes from: written by the layer that lets it in, read by the routes."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import Any, NamedTuple

#: Under this name a request carries its ``Entry``, once somebody has vouched for it.
SCOPE_KEY = "mountproof.entry"


class Entry(NamedTuple):
    """That a request may come in. ``here``: from the computer that keeps the cases; else ``device`` names a paired one."""

    here: bool
    device: str = ""


def entry_of(scope: MutableMapping[str, Any]) -> Entry:
    """Return who a request comes from; nobody known is nobody here."""
    found = scope.get(SCOPE_KEY)
    return found if isinstance(found, Entry) else Entry(False)


def vouch(scope: MutableMapping[str, Any], entry: Entry) -> None:
    """Write down who a request comes from."""
    scope[SCOPE_KEY] = entry
