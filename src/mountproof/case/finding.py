"""One thing that is wrong with an entry of a case, before its line is known."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.case.lines import Path
from mountproof.said import say


class Finding(NamedTuple):
    """What is wrong at ``path``, and the next step.

    ``row`` is a line inside a text over several lines; ``about`` the part of the case whose names the entry
    refers to, so that nothing is said of a name that could not be read.
    """

    code: str
    path: Path
    what: str
    todo: str
    got: str = ""
    allowed: str = ""
    row: int | None = None
    about: Path = ()


def figure(value: float) -> str:
    """Write a number as a person would: no trailing zeros."""
    return format(value, ".12g")


def dotted(path: Path) -> str:
    """Write a path as its user sees it: names joined by dots, items of a list counted from 1."""
    parts = []
    for part in path:
        if isinstance(part, int):
            parts.append(str(part + 1))
        elif part and part.isascii() and all(c.isalnum() or c in "-_" for c in part):
            parts.append(part)
        else:
            parts.append('"' + part.replace("\\", "\\\\").replace('"', '\\"') + '"')
    return ".".join(parts)


#: Every kind of fault of a case file, by its code, as it stands on the page about the case file.
CODES = {
    "case.missing": say("There is no case file, or it may not be read."),
    "case.exists": say("A new case was to be begun where there is one already."),
    "case.not_text": say("The file is not plain text in UTF-8."),
    "case.too_large": say("The file is larger than 2 MB."),
    "case.syntax": say("A line is written in a way that cannot be read."),
    "case.version": say("The file was written for a newer version of this program."),
    "case.unknown_field": say("An entry has a name that is not known there."),
    "case.missing_field": say("An entry is missing without which its part cannot be used."),
    "case.wrong_type": say("An entry is of a wrong kind: text for a number, one value for a list."),
    "case.out_of_range": say("A value is outside of what is allowed, or is impossible."),
    "case.reference": say("An entry names a mark, state, record or file that is not there, or does not fit."),
    "case.tooth_number": say("A number is no tooth in the numbering of the case."),
    "case.contradiction": say("Two entries cannot both be true."),
    "case.changed": say(
        "The file was changed by somebody else while it was being written; nothing was written."
    ),
    "case.not_written": say("The file could not be written; it is as it was."),
}
