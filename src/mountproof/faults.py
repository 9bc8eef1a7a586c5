"""What can be wrong with something a person gave us, as a value they can act on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, where it stands, and what to do about it.

    ``code`` is a short stable name (``scan.truncated``); ``where`` a file name or a place in the case;
    ``line`` the line of that file, where there is one; ``field`` the dotted name of the entry;
    ``got`` and ``allowed`` are echoed as text, units included; ``todo`` is the very next step.
    """

    code: str
    what: str
    todo: str
    where: str = ""
    line: int | None = None
    field: str = ""
    got: str = ""
    allowed: str = ""

    def __str__(self) -> str:
        """Return the fault as one line of plain text."""
        place = self.where + (f", line {self.line}" if self.line else "")
        parts = [f"{place}: " if place else ""]
        if self.field:
            parts.append(f"{self.field}: ")
        parts.append(self.what)
        if self.got:
            parts.append(f" (got {self.got}" + (f"; allowed: {self.allowed})" if self.allowed else ")"))
        elif self.allowed:
            parts.append(f" (allowed: {self.allowed})")
        return "".join(parts) + f". {self.todo}"


class FaultError(Exception):
    """Every fault found in one input, all at once. ``faults`` is never empty."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))


class Cancelled(Exception):
    """A person stopped long work before it was done."""
