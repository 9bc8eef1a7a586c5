"""Tooth numbers beside a scan: one number of ISO 3950 for each triangle."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from mountproof.case.scans._scan import Ints
from mountproof.faults import Fault, FaultError
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
    todo = "Write one tooth number of ISO 3950 a line, 0 where the triangle is no tooth"
    try:
        if not place.is_file() or place.stat().st_size > MAX_BYTES:
            raise OSError(0, "no such file, or too large for one number a line")
        text = place.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not text"
        raise FaultError(
            [Fault("teeth.missing", f"the tooth numbers cannot be read ({reason})", todo, place.name)]
        ) from None
    lines = [line.strip().strip(",;") for line in text.splitlines()]
    while lines and not lines[-1]:
        lines.pop()
    heading = bool(lines) and not any(c.isdigit() for c in lines[0])
    known = {str(t): t for t in range(100) if t == 0 or is_tooth(t)}
    known["00"] = 0
    teeth = [known.get(line, -1) for line in lines[heading:]]
    faults = [
        Fault("teeth.not_a_tooth", "this is no tooth number of ISO 3950", todo, place.name, i + 1 + heading,
              got=repr(lines[i + heading][:20]))
        for i, tooth in enumerate(teeth)
        if tooth < 0
    ]  # fmt: skip
    if len(faults) > _SHOWN:
        more = f"{len(faults) - _SHOWN} further lines are no tooth numbers either"
        faults = [*faults[:_SHOWN], Fault("teeth.not_a_tooth", more, todo, place.name)]
    if len(teeth) != n_faces:
        faults.append(
            Fault(
                "teeth.count",
                f"there are {len(teeth)} tooth numbers for {n_faces} triangles",
                "Give the file that belongs to this scan",
                place.name,
            )
        )
    if faults:
        raise FaultError(faults)
    return np.array(teeth, np.int32)
