"""What an incisal table does to a straight protrusion, from the numbers alone: how far each tooth goes down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from mountproof.answers.bench_inputs import pin_input
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import tooth_places
from mountproof.answers.poses import half_width
from mountproof.answers.result import Assumption
from mountproof.answers.result import Table as Shown
from mountproof.bench.pin import Tooth
from mountproof.case.model import Case
from mountproof.geometry.carry import measured, stack, through
from mountproof.geometry.guides import Straight, protruded
from mountproof.geometry.poses import Array, closed, transform
from mountproof.geometry.stops import Table, table_closing
from mountproof.records.settings import Told
from mountproof.said import figure, say

#: Protrusions that are told (mm of the condyles).
_TRAVELS_MM: Final = (3.0, 5.0)
#: How well the angle of a table is read when nobody said (1 SD, degrees). Common practice, no source.
_TABLE_U_DEG: Final = 1.0


def tell_by_table(case: Case, ahead: Sequence[Told], ledger: Ledger) -> None:
    """Note how far teeth part straight ahead with the pin on its table; nothing unless table, pin and both joints are known.

    ``ahead``: inclinations of the right and the left joint (rad) against the instrument's horizontal.
    """
    given = case.settings.table_deg
    angles = [t.angle for t in ahead if t.angle is not None]
    if given is None or case.instrument is None or len(angles) != 2:
        return
    pin = pin_input(case.instrument, case.caliper, Ledger(ledger.key)).pin
    width = 2.0 * half_width(case, ledger)
    table = measured(math.radians(given.value), math.radians(given.u or _TABLE_U_DEG), "typed/table")
    every = stack([*angles, table])

    def drop(tooth: Tooth, travel: float, three: Array) -> float:
        axis = protruded(Straight(float(three[0])), Straight(float(three[1])), travel, travel, width)
        rests = table_closing(Table((pin.x_mm, -pin.below_mm, 0.0), ahead_rad=float(three[2])), axis)
        place = np.array([tooth.x_mm, tooth.y_mm, 0.0])
        return float(place[1] - transform(axis @ closed(rests), place)[1])

    rows = []
    for tooth in tooth_places(case, ledger):
        downs = [through(lambda v, at=tooth, mm=mm: drop(at, mm, v), every) for mm in _TRAVELS_MM]  # type: ignore[misc]
        slope = math.degrees(math.atan2(downs[-1].value, _TRAVELS_MM[-1]))
        cells = (
            say("{mm} ± {half}", mm=figure(d.value + 0.0, ".2f"), half=figure(1.96 * d.u, ".2f"))
            for d in downs
        )
        rows.append((tooth.name, *cells, figure(slope, ".0f")))
    ledger.tables.append(
        Shown(
            say("How far teeth part straight ahead with the pin on its table"),
            (
                say("teeth"),
                *(say("{mm:.0f} mm ahead, mm", mm=mm) for mm in _TRAVELS_MM),
                say("steep, degrees"),
            ),
            tuple(rows),
            say(
                "With the angles of both joints and the table of {deg:.0f} degrees as typed. A tooth parts where its cusp is "
                "flatter than this; the front teeth may take over from the table.",
                deg=given.value,
            ),
        )
    )


def set_table(case: Case, first_rad: float, ledger: Ledger) -> Table | None:
    """Return the incisal table as it is set, its pin just resting on it at first contact (a closing, rad); None: not used."""
    given = case.settings.table_deg
    if given is None or case.instrument is None:
        return None
    pin = pin_input(case.instrument, case.caliper, Ledger(ledger.key)).pin
    ledger.assumptions.append(
        Assumption(
            say("where the pin stands while excursions run"),
            say("just resting on its table at first contact in CR"),
            say("common practice, no source"),
            "settings.table_deg",
        )
    )
    return Table((pin.x_mm, -pin.below_mm, 0.0), ahead_rad=math.radians(given.value), zero_rad=first_rad)
