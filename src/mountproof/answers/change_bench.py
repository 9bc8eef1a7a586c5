"""Part of question 7 without scans: what an opening in front gives elsewhere, and what a millimetre removed closes."""

from __future__ import annotations

from collections.abc import Sequence

from mountproof.answers.bench_inputs import PinInput, pin_input
from mountproof.answers.change_space import bench_space
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import SpaceChart
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.result import Table
from mountproof.bench.pin import (
    Tooth,
    carried_pin_from_opening,
    opening_at,
    opening_from_gap,
)
from mountproof.case.model import Case
from mountproof.geometry.carry import exact
from mountproof.said import figure, say

#: The opening whose pin reading is told with its doubt, mm in front.
_TOLD_MM = 2.0


def vertical_tables(case: Case, ledger: Ledger) -> SpaceChart | None:
    """Note what heights give and the space that is wanted, from lengths and places of teeth alone; return the chart of it."""
    if case.instrument is None:
        ledger.need(
            say("hinge to pin, forward, and hinge to pin tip, down"),
            say("what an opening gives at pin and teeth follows from the instrument's lengths"),
            "instrument.pin",
        )
        return None
    pin = pin_input(case.instrument, case.caliper, ledger)
    chart = bench_space(case, ledger, pin)
    by_lengths(case, ledger, pin)
    return chart


def by_lengths(case: Case, ledger: Ledger, pin: PinInput) -> None:
    """Note the closure per millimetre, and the pin for an opening in front."""
    teeth = tooth_places(case, ledger)
    ledger.tables.append(_per_millimetre(teeth))
    front = front_tooth(teeth)
    ledger.quantity(
        "pin_for_two",
        say("pin for {mm:g} mm more at the {tooth}", mm=_TOLD_MM, tooth=front.name),
        carried_pin_from_opening(pin.pin, exact(opening_from_gap(front, _TOLD_MM)), pin.lengths),
        "mm",
        assumed=not case.teeth_at,
    )


def _per_millimetre(teeth: Sequence[Tooth]) -> Table:
    """How far the front closes when a tooth that alone holds the jaws apart loses one millimetre of height."""
    front = front_tooth(teeth)
    rows = [
        (tooth.name, figure(opening_at(front, opening_from_gap(tooth, 1.0)).gap_mm, ".2f"))
        for tooth in teeth
        if tooth is not front
    ]
    return Table(
        say("How far the {tooth} close when 1 mm of height goes elsewhere", tooth=front.name),
        (say("1 mm less at the"), say("{tooth} close by mm", tooth=front.name)),
        tuple(rows),
        say("Height along closure, where that tooth alone holds the jaws apart."),
    )
