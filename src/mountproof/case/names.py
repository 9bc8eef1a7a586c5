"""Names of entries, as faults write them and people type them: ``records."record 1".kind``, ``foils.2.held``."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from mountproof.case.finding import dotted
from mountproof.case.lines import Path
from mountproof.faults import Fault, FaultError
from mountproof.said import say

#: Stands in a path for a new item at the end of a list: ``foils.+``. No name can be typed that is the same.
APPEND = "\ue000+"
#: Stands in a path for every row of a table: ``marks.readings_mm.*.B`` is a column.
EVERY = "\ue000*"

_QUOTED_OR_SIGN = re.compile(r""""(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[*+]""")


def parse_field(dotted_field: str) -> Path:
    """Read the name of an entry as faults write it; FaultError where it is none.

    ``+`` alone between dots stands for a new item at the end of a list, ``*`` for every row of a table.
    """
    text = _QUOTED_OR_SIGN.sub(_sign, dotted_field)
    try:
        doc = tomllib.loads(f"{text} = 0")
    except (tomllib.TOMLDecodeError, RecursionError):
        doc = {}
    found: list[str | int] = []
    here: Any = doc
    while isinstance(here, dict) and len(here) == 1 and "\n" not in dotted_field:
        ((name, here),) = here.items()
        found.append(name)
    if here != 0 or not found:
        todo = say(
            'Write it as it stands in a fault, such as instrument.pin.ahead_mm or records."record 1".kind'
        )
        raise FaultError(
            [Fault("case.unknown_field", say("this is no name of an entry"), todo, field=dotted_field[:80])]
        )
    return tuple(found)


def shown_field(path: Path) -> str:
    """Return a path as its user sees it, signs as they were typed."""
    return re.sub('"\ue000([*+])"', r"\1", dotted(path))


def _sign(match: re.Match[str]) -> str:
    text = match.group()
    return f'"\ue000{text}"' if text in "*+" else text
