"""One thing that is wrong with an entry of a case, before its line is known."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.case.lines import Path


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
