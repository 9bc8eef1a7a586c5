"""Who may come in: the one seam between the guard, the page of this computer, and paired devices."""

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
    """Let a request in. The guard does so for whoever knows the key; a middleware before it may for a paired device."""
    scope[SCOPE_KEY] = entry
