"""What a check of the mounting found, in one shape, so that all checks can be weighed together."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.geometry.poses import Array


class Found(NamedTuple):
    """One check: numbers found less what a mounting without any fault would show, with their covariance.

    ``key`` is one of ``CHECKS``; ``parts`` (m) say what each number is, from ``PARTS``; ``values`` (m,) in mm (tilts in
    rad) and ``cov`` (m, m) from reading and from what is known to vary between honest mountings is not in it: only the
    doubt of the measurement itself. ``record`` names the record that was in, where one was.
    """

    key: str
    words: str
    parts: tuple[str, ...]
    values: Array
    cov: Array
    record: str = ""


#: The checks, by name.
CHECKS = (
    "repeats",
    "reseat",
    "on_cast",
    "stops",
    "rock",
    "width",
    "other_scan",
    "hand_foils",
    "facebow",
    "set_movement",
    "pin",
    "second_record",
    "split_cast",
    "condyles",
    "foils",
    "contact_pin",
)
#: What a number of a check is. Motions are of the lower cast against the upper as honest records hold it: ``down`` of
#: the middle of the teeth, ``pitch`` opens the front, ``roll`` lowers the right side, ``ahead`` and ``right`` shift,
#: ``yaw`` turns the front to the right; ``condyle`` numbers are of one condyle, ``pin`` is along the pin, opened.
PARTS = (
    "down",
    "pitch",
    "roll",
    "ahead",
    "right",
    "yaw",
    "right condyle down",
    "left condyle down",
    "right condyle ahead",
    "left condyle ahead",
    "pin",
    "width",
    "twist",
    "amount",
)
