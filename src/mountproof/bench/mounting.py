"""What a record-out pin reading means: the opening that was set, the record, the slide, and what is left over.

Two faults can cancel: a pin opened by the equal-millimetre habit stands too low, and a slide from first contact to
maximal intercuspation holds it up. So a pin about zero proves little; a pin where it was predicted proves much. All
angles are openings of the hinge in radians; each carries its doubt, and what two of them share cancels.
"""

from __future__ import annotations

from typing import NamedTuple

from mountproof.bench.pin import (
    Pin,
    Tooth,
    carried_opening_from_pin,
    carried_pin_from_opening,
    opening_from_gap,
)
from mountproof.geometry.carry import Carried, exact, through
from mountproof.said import say


class Prediction(NamedTuple):
    """A predicted record-out pin reading (mm along the pin, opened above zero) and what it supposes."""

    pin_mm: Carried
    supposes: str


class PinMeaning(NamedTuple):
    """The record-out reading taken apart (mm along the pin).

    ``set_mm`` what was set; ``needed_mip_mm`` what parallel members at MIP needed; ``needed_contact_mm`` the same at
    first contact (None before the record is out); ``if_contact_is_mip`` and ``from_marks`` the predictions;
    ``found_minus_*`` what was found less each. ``parts`` adds up to the found reading: what the setting fell
    short by, what first contact stands open over MIP, and the rest that neither explains.
    """

    set_mm: Carried
    needed_mip_mm: Carried
    needed_contact_mm: Carried | None
    if_contact_is_mip: Prediction
    from_marks: Prediction | None
    found_mm: Carried | None
    found_minus_if_mip: Carried | None
    found_minus_from_marks: Carried | None
    parts: tuple[tuple[str, Carried], ...]
    tilt_at_mip_rad: Carried


def predict_with_slide(
    pin: Pin,
    set_mm: Carried,
    record_opening: Carried,
    slide_gap_mm: Carried | float,
    incisor: Tooth,
    lengths: Carried | None = None,
) -> Prediction:
    """Return the record-out reading if first contact stands ``slide_gap_mm`` open at the incisors over MIP.

    ``record_opening`` is MIP to record (rad). A gap of zero is the case of contact at MIP.
    """
    gap = slide_gap_mm if isinstance(slide_gap_mm, Carried) else exact(slide_gap_mm)
    contact = through(lambda v: opening_from_gap(incisor, v[0]), gap)
    theta = carried_opening_from_pin(pin, set_mm, lengths) - (record_opening - contact)
    return Prediction(
        carried_pin_from_opening(pin, theta, lengths),
        say("CR contact = MIP")
        if gap.value == 0.0
        else say("CR contact {gap:g} mm open at the incisors", gap=gap.value),
    )


def pin_meaning(
    pin: Pin,
    set_mm: Carried,
    record_over_mip: Carried,
    record_over_contact: Carried | None = None,
    contact_over_mip: Carried | None = None,
    found_mm: Carried | None = None,
    lengths: Carried | None = None,
) -> PinMeaning:
    """Return what the pin must read when the record is out, and what the found reading is made of.

    ``set_mm`` and ``found_mm`` are millimetres along the pin; ``record_over_mip`` is the opening from MIP by hand to
    the record, ``record_over_contact`` that from first contact on the instrument to the record after set, and
    ``contact_over_mip`` that from MIP to first contact. With the record out the instrument closes by
    ``record_over_mip`` if first contact is MIP, else by ``record_over_contact``.
    """
    was_set = carried_opening_from_pin(pin, set_mm, lengths)
    needed_mip = carried_pin_from_opening(pin, record_over_mip, lengths)
    same = Prediction(
        carried_pin_from_opening(pin, was_set - record_over_mip, lengths), say("CR contact = MIP")
    )
    seen = None
    needed_contact = None
    if record_over_contact is not None:
        needed_contact = carried_pin_from_opening(pin, record_over_contact, lengths)
        seen = Prediction(
            carried_pin_from_opening(pin, was_set - record_over_contact, lengths),
            say("first contact as the marks show it"),
        )
    parts: list[tuple[str, Carried]] = []
    if found_mm is not None:
        short = same.pin_mm
        parts.append((say("setting against parallel members at MIP"), short))
        left = found_mm - short
        if contact_over_mip is not None:
            opened = carried_pin_from_opening(pin, contact_over_mip, lengths)
            parts.append((say("first contact stands open over MIP"), opened))
            left = left - opened
        parts.append((say("rest"), left))
    return PinMeaning(
        set_mm,
        needed_mip,
        needed_contact,
        same,
        seen,
        found_mm,
        None if found_mm is None else found_mm - same.pin_mm,
        None if found_mm is None or seen is None else found_mm - seen.pin_mm,
        tuple(parts),
        was_set - record_over_mip,
    )


def contact_from_found(
    pin: Pin, found_mm: Carried, set_mm: Carried, record_over_mip: Carried, lengths: Carried | None = None
) -> Carried:
    """Return how far (rad) first contact stands open over MIP, from the found reading alone.

    What was set, less the record, plus what is found: valid if nothing moved and the record was seated.
    """
    return (
        carried_opening_from_pin(pin, found_mm, lengths)
        - carried_opening_from_pin(pin, set_mm, lengths)
        + record_over_mip
    )
