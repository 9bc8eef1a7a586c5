"""What a change was made for, as the program itself says it: kept in English with the revision, known again when it is read."""

from __future__ import annotations

import datetime as dt

from mountproof.case.base import Arch
from mountproof.said import say
from mountproof.said.recall import recalled as fitted

IMPORTED = say("imported")
CHANGED = say("changed")
BEGUN = say("begun")
ENTERED = say("entered at the command line")


def undone(number: int) -> str:
    """Say that a revision was taken back."""
    return say("undo of revision {number}", number=number)


def brought_in(name: str) -> str:
    """Say where a case came from."""
    return say("brought in from {name}", name=name)


def scan_of(arch: Arch) -> str:
    """Say that a scan was put in."""
    return say("scan of the {arch} cast", arch=arch)


def record_scan(name: str) -> str:
    """Say that the scan of a record was put in."""
    return say("scan of {record}", record=name)


def further_scan(arch: Arch) -> str:
    """Say that a further scan of an arch was put in."""
    return say("further scan: {arch}", arch=arch)


def teeth_of(arch: Arch) -> str:
    """Say that tooth numbers were put beside a scan."""
    return say("tooth numbers of the {arch} cast", arch=arch)


def instrument(name: str, kept: dt.date) -> str:
    """Say that a kept instrument was put in."""
    return say("instrument {name} of {day}", name=name, day=f"{kept:%Y-%m-%d}")


_TEMPLATES = (
    IMPORTED,
    CHANGED,
    BEGUN,
    ENTERED,
    "undo of revision {number}",
    "scan of the {arch} cast",
    "tooth numbers of the {arch} cast",
    "scan of {record}",
    "further scan: {arch}",
    "brought in from {name}",
    "instrument {name} of {day}",
)


def recalled(kept: str) -> str:
    """Return what was kept with a revision, ready for other languages where the program itself said it."""
    return fitted(kept, _TEMPLATES, [arch.value for arch in Arch])
