"""What an occlusal device or a stop in front asks of the pin: from the lengths alone, or at the tightest tooth of two scans."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from mountproof.answers.bench_inputs import pin_input
from mountproof.answers.foils import written
from mountproof.answers.guidance_ranges import JointRange
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.poses import half_width
from mountproof.answers.result import Table
from mountproof.bench.pin import Tooth, opening_at, opening_from_gap, pin_from_opening
from mountproof.case.model import Case
from mountproof.said import figure, say

if TYPE_CHECKING:
    from mountproof.answers.guidance_stop import Behind
    from mountproof.answers.scanned_contacts import Closed

#: Thicknesses that are told (mm). Hard devices have 1.5 to 2 mm at the molars: common practice, no source.
_THICK_MM: Final = (1.5, 2.0)


def tell_device(
    case: Case, ledger: Ledger, closing: Closed | None = None, joints: dict[str, JointRange] | None = None
) -> None:
    """Note how far to open for a thickness between the teeth, and with scans what a stop in front leaves open behind."""
    if case.instrument is None:
        return
    if closing is not None and closing.first is not None and joints is not None:
        _by_scans(case, ledger, closing, joints)
        return
    teeth = tooth_places(case, ledger)
    front, last = front_tooth(teeth), min(teeth, key=lambda t: t.x_mm)
    if last.x_mm >= front.x_mm:
        return
    rows = [(figure(mm, ".1f"), *_openings(case, front, opening_from_gap(last, mm))) for mm in _THICK_MM]
    ledger.tables.append(
        Table(
            say("Occlusal device: how far to open for a thickness at the {teeth}", teeth=last.name),
            (
                say("at the {teeth}, mm", teeth=last.name),
                say("at the {teeth}, mm", teeth=front.name),
                say("at the pin, mm"),
            ),
            tuple(rows),
            say(
                "From where the teeth touch, turned about the hinge; by lengths alone, so cusps and the curve of the teeth count "
                "for nothing: one tooth may be tighter. Record at this opening, and no hinge error is left on delivery."
            ),
        )
    )


def _openings(case: Case, front: Tooth, turn_rad: float) -> tuple[str, str]:
    assert case.instrument is not None
    pin = pin_input(case.instrument, case.caliper, Ledger("guidance")).pin
    return (
        figure(opening_at(front, turn_rad).gap_mm, "+.1f"),
        figure(pin_from_opening(pin, turn_rad), "+.1f"),
    )


def _by_scans(case: Case, ledger: Ledger, closing: Closed, joints: dict[str, JointRange]) -> None:
    # Surfaces need compiled kernels, which are slow to import: a caliper-only case must not wait for them.
    from mountproof.answers.guidance_stop import FAR_MM, stops

    front = front_tooth(tooth_places(case, ledger))
    place = np.array([front.x_mm, front.y_mm, 0.0])
    found = stops(closing, joints, half_width(case, ledger), place, _THICK_MM)
    ways = {
        "ahead": say("behind, straight ahead"),
        "right": say("behind, jaw to the right"),
        "left": say("behind, jaw to the left"),
    }
    there = [b.direction for b in found[0].behind]
    rows = [
        (
            figure(one.thickness_mm, ".1f"),
            f"{_tooth(case, one.upper_tooth)} / {_tooth(case, one.lower_tooth)}",
            *_openings(case, front, one.opening_rad),
            *_behind(case, one.behind, FAR_MM),
        )
        for one in found
    ]
    ledger.tables.append(
        Table(
            say("Occlusal device or stop in front: how far to open over first contact in CR"),
            (
                say("thickness, mm"),
                say("tightest at"),
                say("at the {teeth}, mm", teeth=front.name),
                say("at the pin, mm"),
                *(ways[d] for d in there),
            ),
            tuple(rows),
            say(
                "Thickness across, at the tightest place of all teeth. Behind: the least gap of back teeth along closing with a "
                "level stop in front alone, middle settings, half way and at the end of the records. Record at this opening, and "
                "no hinge error is left on delivery."
            ),
        )
    )


def _tooth(case: Case, tooth: int) -> str:
    return written(case, tooth) if tooth > 0 else say("no tooth")


def _behind(case: Case, every: Sequence[Behind], far_mm: float) -> tuple[str, ...]:
    return tuple(
        say("{mm:.1f} at {tooth}", mm=b.gap_mm, tooth=written(case, b.tooth))
        if b.tooth is not None and math.isfinite(b.gap_mm)
        else say("over {mm:.0f}", mm=far_mm)
        for b in every
    )
