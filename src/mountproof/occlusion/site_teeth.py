"""Every tooth at one closure: its smallest gap, and what it holds under each foil."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mountproof.occlusion.site_table import Pair, Site, Sited, State, Tooth


def tooth_rows(
    sited: Sited, closed_rad: float, foils_um: Sequence[float], pairs: Sequence[Pair], sites: Sequence[Site]
) -> tuple[Tooth, ...]:
    """Return one row for each tooth that has a place on the map, or a site; the upper's first, numbers ascending.

    ``pairs``, ``sites``: as they are told at ``closed_rad``. A tooth holds a foil where it has a site under it, and the area is
    that of those sites.
    """
    chart = sited.closing
    between = np.isfinite(chart.gap_rad) & ~chart.unknown & (sited.upper_tooth > 0) & (sited.lower_tooth > 0)
    gap = np.where(between, chart.gap_mm(closed_rad), np.inf)
    known = np.isfinite(chart.gap_rad) & ~chart.unknown
    cell_mm2 = chart.cell_mm**2
    rows = []
    for arch, number_of in enumerate((sited.upper_tooth, sited.lower_tooth)):
        size = int(number_of.max(initial=0)) + 1
        size = max([size, *((s.upper_tooth, s.lower_tooth)[arch] + 1 for s in sites)])
        least = np.full(size, np.inf)
        np.minimum.at(least, number_of[between], gap[between])
        # The exact contact can be closer than the centre of any cell.
        for p in pairs:
            if p.known:
                t = (p.upper_tooth, p.lower_tooth)[arch]
                least[t] = min(least[t], p.remaining_along_closure_mm)
        hidden = np.bincount(number_of[chart.unknown], minlength=size)
        facing = np.bincount(number_of[known | chart.unknown], minlength=size)
        under: dict[tuple[int, float], float] = {}
        for s in sites:
            t = (s.upper_tooth, s.lower_tooth)[arch]
            under[t, s.foil_um] = under.get((t, s.foil_um), 0.0) + s.area_mm2
            least[t] = min(least[t], s.gap_along_closure_mm)
        numbers = {*np.flatnonzero(np.bincount(number_of.ravel())).tolist(), *(t for t, _ in under)}
        for t in sorted(numbers - {0}):
            state: list[State] = [
                "holds" if (t, foil) in under else "unknown" if hidden[t] else "free" for foil in foils_um
            ]
            rows.append(
                Tooth(
                    t,
                    float(least[t]) if np.isfinite(least[t]) else float("nan"),
                    tuple(under.get((t, foil), 0.0) for foil in foils_um),
                    tuple(state),
                    int(facing[t]) * cell_mm2,
                    int(hidden[t]) * cell_mm2,
                )
            )
    return tuple(rows)
