"""What a change of a surface or a pose does to the contacts: teeth that gain or lose a foil.

A surface that was thinned out or smoothed has lower cusps; a pose that moved by a tenth moves every count. So
the two lists are laid beside each other instead of being trusted one by one.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from mountproof.occlusion.site_table import SiteTable, State


class Change(NamedTuple):
    """One tooth whose state under one foil differs, and by how much its smallest gap grew (NaN: not on both)."""

    tooth: int
    foil_um: float
    before: State
    after: State
    gap_grew_mm: float


def changes(before: SiteTable, after: SiteTable) -> tuple[Change, ...]:
    """List the teeth whose state under a foil differs between two tables, by foil, then in the order of ``before``.

    A tooth that only one table knows counts as ``free`` in the other. ValueError when the foils differ.
    """
    if before.foils_um != after.foils_um:
        raise ValueError("tables of the same foils are wanted")
    old, new = ({t.tooth: t for t in table.teeth} for table in (before, after))
    found = []
    for k, foil in enumerate(before.foils_um):
        for tooth in (*old, *(t for t in new if t not in old)):
            was: State = old[tooth].state[k] if tooth in old else "free"
            now: State = new[tooth].state[k] if tooth in new else "free"
            if was != now:
                grew = (
                    new[tooth].smallest_gap_mm - old[tooth].smallest_gap_mm
                    if tooth in old and tooth in new
                    else math.nan
                )
                found.append(Change(tooth, foil, was, now, grew))
    return tuple(found)
