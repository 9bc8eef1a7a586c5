"""What the pin reads while the lower closes from the record's pose."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.answers.bench_inputs import PinInput, pin_input, pin_reading
from mountproof.answers.ledger import Ledger
from mountproof.bench.pin import opening_from_pin, pin_from_opening
from mountproof.bench.scale import reading_from_mm
from mountproof.case.model import Case, StateKind
from mountproof.said import say


class PinScene(NamedTuple):
    """The pin beside a closing lower: ``open_rad`` the opening of the members in the record's pose.

    ``was_set``: it follows from what the pin was set to with the record in; else the members are taken to be parallel at
    first contact.
    """

    input: PinInput
    open_rad: float
    was_set: bool


def pin_scene(case: Case, first_rad: float) -> PinScene | None:
    """Return the pin of a case, None without an instrument. ``first_rad``: closing from the record to first contact."""
    if case.instrument is None:
        return None
    quiet = Ledger("contacts")
    pin = pin_input(case.instrument, case.caliper, quiet)
    states = [] if case.marks is None else [
        name
        for name, state in case.marks.states.items()
        if state.kind in (StateKind.RECORD, StateKind.RECORD_SET)
        and (case.mounted_on is None or state.record in (None, case.mounted_on))
    ]  # fmt: skip
    set_mm = pin_reading(case, pin, states, quiet, by_hand=True)
    try:
        opened = None if set_mm is None else opening_from_pin(pin.pin, set_mm.value)
    except ValueError:
        opened = None
    return PinScene(pin, first_rad if opened is None else opened, opened is not None)


def pin_words(scene: PinScene | None, closed_rad: float) -> str:
    """Return what the pin reads when the lower has closed by ``closed_rad`` from the record's pose; empty without a pin."""
    if scene is None:
        return ""
    try:
        mm = pin_from_opening(scene.input.pin, scene.open_rad - closed_rad)
    except ValueError:
        return say("the pin does not reach the table")
    if scene.was_set:
        return say(
            "pin reads {marks:.2f}", marks=round(reading_from_mm(scene.input.scale, mm).value, 2) + 0.0
        )
    if abs(mm) < 0.005:
        return say("pin as at first contact")
    if mm < 0.0:
        return say("pin {mm:.2f} mm lower than at first contact", mm=-mm)
    return say("pin {mm:.2f} mm higher than at first contact", mm=mm)
