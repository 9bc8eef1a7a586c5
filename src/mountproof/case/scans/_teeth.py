"""Tooth numbers beside a scan: one number of ISO 3950 for each triangle."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from mountproof.case.scans._scan import Ints
from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import say
from mountproof.teeth import is_tooth

#: Two million lines of a few characters, with room.
MAX_BYTES = 1 << 26
_SHOWN = 5


def read_face_teeth(path: str | Path, n_faces: int) -> Ints:
    """Read one tooth number per triangle, one a line: (n_faces,) int32, 0 for a triangle that is no tooth.

    A first line that is no number is a heading; further columns are not allowed. Raises FaultError with the
    first few wrong lines, ``teeth.count`` where the lines are not as many as the triangles, ``teeth.missing``.
    """
    place = Path(path)
    todo = say("Write one tooth number of ISO 3950 a line, 0 where the triangle is no tooth")
    try:
        if not place.is_file() or place.stat().st_size > MAX_BYTES:
            raise OSError(0, say("no such file, or too large for one number a line"))
        text = place.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = refusal(error) if isinstance(error, OSError) else say("it is not text")
        raise FaultError(
            [
                Fault(
                    "teeth.missing",
                    say("the tooth numbers cannot be read ({why})", why=reason),
                    todo,
                    place.name,
                )
            ]
        ) from None
    lines = [line.strip().strip(",;") for line in text.splitlines()]
    while lines and not lines[-1]:
        lines.pop()
    heading = bool(lines) and not any(c.isdigit() for c in lines[0])
    known = {str(t): t for t in range(100) if t == 0 or is_tooth(t)}
    known["00"] = 0
    teeth = [known.get(line, -1) for line in lines[heading:]]
    faults = [
        Fault("teeth.not_a_tooth", say("this is no tooth number of ISO 3950"), todo, place.name, i + 1 + heading,
              got=repr(lines[i + heading][:20]))
        for i, tooth in enumerate(teeth)
        if tooth < 0
    ]  # fmt: skip
    if len(faults) > _SHOWN:
        more = say("{count} further lines are no tooth numbers either", count=len(faults) - _SHOWN)
        faults = [*faults[:_SHOWN], Fault("teeth.not_a_tooth", more, todo, place.name)]
    if len(teeth) != n_faces:
        faults.append(
            Fault(
                "teeth.count",
                say(
                    "there are {count} tooth numbers for {triangles} triangles",
                    count=len(teeth),
                    triangles=n_faces,
                ),
                say("Give the file that belongs to this scan"),
                place.name,
            )
        )
    if faults:
        raise FaultError(faults)
    return np.array(teeth, np.int32)
