"""Whether a hole of a scan may hide a contact that comes before the first one found."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.geometry.sites import unknown_places
from mountproof.occlusion.site_table import Sited

#: How high a surface may stand in a hole above the hole's rim, as a part of the hole's width: a roof of 45 degrees
#: on both sides. Our choice: cusp inclines are flatter than that on the whole, if not everywhere.
_ROOF = 0.5


class Hidden(NamedTuple):
    """A hole that may hide the first contact: the teeth at it, gap at its rim and its width as seen along closure, mm."""

    upper_tooth: int
    lower_tooth: int
    rim_gap_mm: float
    width_mm: float


def hidden_contacts(sited: Sited, closed_rad: float) -> tuple[Hidden, ...]:
    """Return the holes between teeth whose missing surface may meet its opponent before ``closed_rad``, widest first.

    ``closed_rad``: closing angle of the first contact found, from the map's pose. A hole counts where the smallest
    gap at its rim, with this much closed, is no larger than half its width.
    """
    chart = sited.closing
    found = []
    for place in unknown_places(chart, (sited.upper_tooth > 0) & (sited.lower_tooth > 0)):
        i, j = place.cells.T
        width = chart.cell_mm * float(max(np.ptp(i), np.ptp(j)) + 1)
        radius = float(np.mean(chart.r_mm[i]))
        # A hole with no rim at all hides everything.
        rim_gap = 0.0 if math.isnan(place.rim_gap_rad) else (place.rim_gap_rad - closed_rad) * radius
        if rim_gap <= _ROOF * width:
            upper, lower = (_most(t[i, j]) for t in (sited.upper_tooth, sited.lower_tooth))
            found.append(Hidden(upper, lower, rim_gap, width))
    return tuple(sorted(found, key=lambda h: (-h.width_mm, h.upper_tooth, h.lower_tooth)))


def _most(teeth: np.ndarray[tuple[int, ...], np.dtype[np.int32]]) -> int:
    numbers, counts = np.unique(teeth, return_counts=True)
    return int(numbers[np.argmax(counts)])
