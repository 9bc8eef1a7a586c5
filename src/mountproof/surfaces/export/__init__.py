"""Files for other programs: answers as JSON, contacts and closing map as tables, casts as coloured surfaces."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mountproof.surfaces.export.contacts import export_contacts as export_contacts


def __getattr__(name: str) -> object:
    # The exports need array libraries; JSON alone must not wait for them.
    if name == "export_contacts":
        from mountproof.surfaces.export.contacts import export_contacts

        return export_contacts
    raise AttributeError(name)
