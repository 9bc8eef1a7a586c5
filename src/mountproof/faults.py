"""What can be wrong with something a person gave us, as a value they can act on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from mountproof.said import Said, joined, say, term


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
        return self.sentence()

    def sentence(self) -> str:
        """Return the fault as one line that other languages can say, too."""
        place = say("{where}, line {line}", where=self.where, line=self.line) if self.line else self.where
        what = joined(": ", [part for part in (place, self.field, self.what) if part])
        if self.got and self.allowed:
            what = say(
                "{what} (got {got}; allowed: {allowed})", what=what, got=self.got, allowed=self.allowed
            )
        elif self.got:
            what = say("{what} (got {got})", what=what, got=self.got)
        elif self.allowed:
            what = say("{what} (allowed: {allowed})", what=what, allowed=self.allowed)
        return joined(". ", (what, self.todo))


class FaultError(Exception):
    """Every fault found in one input, all at once. ``faults`` is never empty."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))


def refusal(error: OSError) -> str:
    """Return in words why the computer refused (no room, no permission)."""
    why = error.strerror or say("unknown reason")
    return why if isinstance(why, Said) else term(why.lower())


class Cancelled(Exception):
    """A person stopped long work before it was done."""
