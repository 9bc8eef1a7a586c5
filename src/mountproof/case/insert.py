"""Add an entry to a text where a person would: in the place of its example, or below its neighbours."""

from __future__ import annotations

from typing import Any

from mountproof.case.dump import key, value
from mountproof.case.lines import Path, locate
from mountproof.case.syntax import without_remark


def insert(text: str, path: Path, entry: Any) -> str | None:
    """Return the text with a new entry under a heading that is there; None where it has no such heading.

    An example of the entry that stands behind ``#`` gives way to it, and its remark stays.
    """
    if not isinstance(path[-1], str):
        return None
    places = locate(text)
    around, name = path[:-1], str(path[-1])
    start = 0
    if around:
        found = [line for line, heading in places.headings if heading == around]
        if len(found) != 1:
            return None
        start = found[0]
    end = min((line for line, _ in places.headings if line > start), default=len(text.split("\n")) + 1) - 1
    lines = text.split("\n")
    new = f"{key(name)} = {value(entry)}"
    for at in range(start, end):
        line = lines[at]
        if line.startswith(f"#{key(name)} =") and not _example(line).endswith(("[", '"""')):
            remark = line[len(_example(line)) :]
            lines[at] = (
                new.ljust(len(line) - len(remark.lstrip())) + remark.lstrip() if remark.strip() else new
            )
            return "\n".join(lines)
    own = [
        line
        for place, line in places.lines.items()
        if place[: len(path) - 1] == around and start < line <= end
    ]
    last = max(own, default=start)
    texts = [
        line
        for place, line in places.texts.items()
        if place[: len(path) - 1] == around and start < line <= end
    ]
    if texts and max(texts) >= last:
        return None  # a text over several lines comes last; where it ends is not looked for
    lines.insert(last, new)
    return "\n".join(lines)


def _example(line: str) -> str:
    """Return an example that stands behind ``#``, without the remark behind it."""
    return line[:1] + without_remark(line[1:])
