"""Part of question 7: the vertical dimensions at which it is told what would change."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from mountproof.answers.bench_inputs import PinInput, pin_input
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.progress import Progress
from mountproof.answers.scanned_contacts import Closed, left_open
from mountproof.answers.scanned_records import ScannedRelation, scanned_relations
from mountproof.bench.pin import carried_opening_from_pin, carried_pin_from_opening, pin_from_opening
from mountproof.case.model import Arch, Case, RecordKind
from mountproof.geometry.carry import Carried, exact, from_covariance
from mountproof.geometry.contact import Contact, PairContact
from mountproof.geometry.poses import Array, inverse, transform
from mountproof.occlusion.change import carried_closing, carried_height, height_closing
from mountproof.occlusion.tips import tip
from mountproof.said import say

#: Teeth from the middle to the canines are the front.
_FRONT = (1, 2, 3)


class Stand(NamedTuple):
    """One vertical dimension: its key, its words, and the closing (rad) from the record that leads to it."""

    key: str
    words: str
    closing: Carried


class Heights(NamedTuple):
    """What the vertical dimension is told against.

    ``motion``: what record and placement leave open; ``stands`` in the order of closing; ``zero``: the closing at which the
    pin is told as 0 (MIP where it is known, else first contact); ``pin`` None where the instrument is not known: then
    heights are told at the ``front_mm`` place (3,) of the upper's frame.
    """

    motion: Carried
    first: Contact
    stands: tuple[Stand, ...]
    zero: Carried
    by_mip: bool
    pin: PinInput | None
    front_mm: Array

    def stand(self, key: str) -> Stand | None:
        """Return a stand by its key, None where it is not known."""
        return next((s for s in self.stands if s.key == key), None)

    def pin_mm(self, closing_rad: float) -> float:
        """Return how far (mm) the pin, or the front teeth, stand open over the zero after closing so far."""
        opened = self.zero.value - closing_rad
        if self.pin is not None:
            return pin_from_opening(self.pin.pin, opened)
        return float(self.front_mm[0]) * math.sin(opened)

    def closing_at(self, pin_mm: float) -> Carried:
        """Return the closing (rad) at which the pin, or the front teeth, stand so far open over the zero."""
        if self.pin is not None:
            opened = carried_opening_from_pin(self.pin.pin, exact(pin_mm), self.pin.lengths)
        else:
            opened = exact(math.asin(max(-1.0, min(1.0, pin_mm / float(self.front_mm[0])))))
        return self.zero - opened

    def carried_pin(self, closing: Carried) -> Carried:
        """Return the same with its doubt."""
        opened = self.zero - closing
        if self.pin is not None:
            return carried_pin_from_opening(self.pin.pin, opened, self.pin.lengths)
        return opened.times(float(self.front_mm[0]))


def heights_of(case: Case, ledger: Ledger, closed: Closed, progress: Progress) -> Heights | None:
    """Return the vertical dimensions of a case whose scans were closed; None where no numbered teeth meet."""
    if closed.first is None or not closed.pairs:
        return None
    first = closed.pairs[0].contact
    motion = left_open(case, ledger, closed, closed.first)
    pin = None if case.instrument is None else pin_input(case.instrument, case.caliper, ledger)
    mips = scanned_relations(case, ledger, progress, RecordKind.MIP)
    tip = _front_tip(closed)
    if tip is None:
        place = front_tooth(tooth_places(case, ledger))
        own = inverse(mips[0].upper_from_lower if mips else closed.pose)
        tip = transform(own, np.array([place.x_mm, place.y_mm, 0.0]))
    start = carried_closing(first, motion)
    stands = [Stand("first", say("first contact in CR"), start)]
    zero = start
    if mips:
        zero = _of_mip(closed.pose, mips[0], tip, motion)
        stands.append(Stand("mip", say("height of MIP"), zero))
    front = _first_of_front(closed.pairs)
    if front is not None:
        stands.append(Stand("front", say("front teeth meet"), carried_closing(front.contact, motion)))
    stands.sort(key=lambda s: s.closing.value)
    return Heights(motion, first, tuple(stands), zero, bool(mips), pin, transform(closed.pose, tip))


def _of_mip(pose: Array, mip: ScannedRelation, tip: Array, motion: Carried) -> Carried:
    closing = height_closing(pose, mip.upper_from_lower, tip)
    own = from_covariance(np.zeros(6), mip.cov6, "mip")
    return carried_height(closing, pose, tip, motion, own)


def _front_tip(closed: Closed) -> Array | None:
    """Return the edge of the lower incisors in the lower's own coordinates, where the scan has them."""
    low = closed.arches[Arch.LOWER]
    for teeth in ((31, 41), (32, 42), (33, 43)):
        used = np.unique(low.faces[np.isin(low.teeth, teeth)])
        if len(used):
            return tip(low.vertices_mm[used], "lower")
    return None


def is_front(*teeth: int) -> bool:
    """Tell whether all of these teeth are incisors or canines."""
    return all(tooth % 10 in _FRONT for tooth in teeth)


def _first_of_front(pairs: Iterable[PairContact]) -> PairContact | None:
    return next((p for p in pairs if is_front(p.upper_label, p.lower_label)), None)
