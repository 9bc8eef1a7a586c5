"""Part of question 7 without scans: what an opening in front gives elsewhere, and what a millimetre removed closes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from mountproof.answers.bench_inputs import PinInput, pin_input
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.result import Table
from mountproof.bench.pin import (
    Tooth,
    carried_pin_from_opening,
    opening_at,
    opening_from_gap,
    pin_from_opening,
)
from mountproof.case.model import Case
from mountproof.geometry.carry import exact
from mountproof.said import figure, say

#: Openings in front that the table tells, mm: less and more than now.
_IN_FRONT_MM = (-1.0, 1.0, 2.0, 3.0, 4.0, 5.0)
#: The opening whose pin reading is told with its doubt, mm in front.
_TOLD_MM = 2.0
_DEG = 180.0 / math.pi


def vertical_tables(case: Case, ledger: Ledger) -> None:
    """Note the table of vertical dimensions and the closure per millimetre, from the instrument's and the teeth's lengths."""
    if case.instrument is None:
        ledger.need(
            say("hinge to pin, forward, and hinge to pin tip, down"),
            say("what an opening gives at pin and teeth follows from the instrument's lengths"),
            "instrument.pin",
        )
        return
    pin = pin_input(case.instrument, case.caliper, ledger)
    teeth = tooth_places(case, ledger)
    ledger.tables += [_vertical(pin, teeth), _per_millimetre(teeth)]
    front = front_tooth(teeth)
    ledger.quantity(
        "pin_for_two",
        say("pin for {mm:g} mm more at the {tooth}", mm=_TOLD_MM, tooth=front.name),
        carried_pin_from_opening(pin.pin, exact(opening_from_gap(front, _TOLD_MM)), pin.lengths),
        "mm",
        assumed=not case.teeth_at,
    )


def _vertical(pin: PinInput, teeth: Sequence[Tooth]) -> Table:
    front = front_tooth(teeth)
    others = [tooth for tooth in teeth if tooth is not front]
    rows = []
    for opened in _IN_FRONT_MM:
        turned = opening_from_gap(front, opened)
        rows.append(
            (
                figure(opened, "+.0f"),
                figure(turned * _DEG, "+.2f"),
                figure(pin_from_opening(pin.pin, turned), "+.2f"),
                *(figure(opening_at(tooth, turned).gap_mm, "+.2f") for tooth in others),
                figure(opening_at(front, turned).back_mm, "+.2f"),
            )
        )
    return Table(
        say("What a change of the vertical dimension does, mm"),
        (
            say("at the {tooth}", tooth=front.name),
            say("opening in degrees"),
            say("at the pin"),
            *(say("at the {tooth}", tooth=tooth.name) for tooth in others),
            say("{tooth} go back", tooth=front.name),
        ),
        tuple(rows),
        say("Turned about the hinge from the present height. Minus closes, and brings the front forward."),
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
