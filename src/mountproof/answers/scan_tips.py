"""Cusp tips and edges of the upper teeth from its scan, in the frame, for a bench answer that can use them."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from mountproof.answers.foils import iso
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed, placements
from mountproof.answers.scan_units import unit_mm
from mountproof.case.digest import scan_digests
from mountproof.case.model import Arch, Case
from mountproof.case.scans import read_face_teeth, read_scan
from mountproof.faults import FaultError
from mountproof.geometry.poses import Array, transform
from mountproof.occlusion.tips import tip
from mountproof.said import say
from mountproof.teeth import side_of

#: A molar wears to where its outer tips are as low as its inner ones: both sides are told by the inner, which bear.
_MOLARS = (6, 7)
#: That middle lies 0.04 to 0.22 mm above the lowest point of a tooth of the open arch this was tried on: alike on all teeth to
#: this (1 SD), as little as a tip is found better by hand.
TIP_U_MM = 0.1


class Tips(NamedTuple):
    """The lowest place of every upper tooth (ISO 3950), mm in the frame; ``inner``: of the inner half of a molar.

    ``placed``: how the scan was placed. Heights are known to ``TIP_U_MM`` beside that.
    """

    places: dict[int, Array]
    inner: dict[int, Array]
    placed: Placed


def upper_tips(case: Case, ledger: Ledger) -> Tips | None:
    """Return the tips of the upper teeth; None where there is no scan that stands in the frame by something measured.

    A scan that cannot be used is said in a note: the answers that rest on it say what to do. Read once for a file.
    """
    entry = next((e for e in case.scans if e.arch is Arch.UPPER), None)
    if entry is None or case.folder is None:
        return None
    try:
        placed = placements(case, Ledger(ledger.key), {e.arch: unit_mm(e) for e in case.scans})[Arch.UPPER]
        if placed.assumed:
            return None
        seen = scan_digests(case)
        teeth = entry.teeth_file
        found = _tips(
            str(case.folder / entry.file),
            seen[entry.file],
            unit_mm(entry),
            str(case.folder / teeth) if teeth is not None else "",
            seen[teeth] if teeth is not None else "",
            tuple(iso(case, t) for t in case.dentition.missing),
            placed.frame_from_scan.tobytes(),
        )
    except FaultError as error:
        ledger.notes.append(
            say("The scan of the upper cast is not used here: {why}.", why=error.faults[0].what)
        )
        return None
    whole, inner = ({tooth: np.array(at) for tooth, at in one} for one in found)
    return Tips(whole, inner, placed)


_Places = tuple[tuple[int, tuple[float, float, float]], ...]


@lru_cache(maxsize=8)
def _tips(
    file: str,
    scan_digest: str,
    unit: float,
    teeth_file: str,
    teeth_digest: str,
    missing: tuple[int, ...],
    frame_from_scan: bytes,
) -> tuple[_Places, _Places]:
    """Return (tooth, (x, y, z)) of every upper tooth, and of the inner half of every molar.

    The digests stand for what the files hold: a changed file is new.
    """
    scan = read_scan(Path(file))
    points = transform(np.frombuffer(frame_from_scan).reshape(4, 4), scan.vertices * unit)
    if teeth_file:
        teeth = read_face_teeth(Path(teeth_file), len(scan.faces))
    else:
        from mountproof.occlusion.numbering import number_faces

        teeth = number_faces(np.ascontiguousarray(points), scan.faces, "upper", missing).labels
    out, inner = [], []
    for tooth in (int(t) for t in np.unique(teeth[teeth > 0])):
        own = points[np.unique(scan.faces[teeth == tooth])]
        out.append((tooth, _lowest(own)))
        if tooth % 10 in _MOLARS:
            outwards = 1.0 if side_of(tooth) == "right" else -1.0
            inner.append((tooth, _lowest(own[outwards * (own[:, 2] - own[:, 2].mean()) <= 0.0])))
    return tuple(out), tuple(inner)


def _lowest(own: Array) -> tuple[float, float, float]:
    x, y, z = tip(own, "upper")
    return float(x), float(y), float(z)
