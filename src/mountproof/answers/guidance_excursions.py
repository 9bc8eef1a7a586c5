"""What disoccludes: who guides in each excursion, what touches whatever is set and what hangs on the setting."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.contacts import noted_closing
from mountproof.answers.excursion_data import Travel
from mountproof.answers.foils import written
from mountproof.answers.guidance_device import tell_device
from mountproof.answers.guidance_paths import SIDES, Excursion
from mountproof.answers.guidance_ranges import joint_range
from mountproof.answers.guidance_table import set_table
from mountproof.answers.guidance_typed import TypedJoint
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.poses import half_width
from mountproof.answers.progress import Progress, within
from mountproof.answers.result import Quantity, Table
from mountproof.case.model import Arch, Case
from mountproof.faults import FaultError
from mountproof.geometry.carry import Carried, stack, through
from mountproof.geometry.guides import Straight, protruded
from mountproof.geometry.poses import Array, closed, transform
from mountproof.geometry.quantile import coverage_factor
from mountproof.geometry.stops import plane_closing
from mountproof.records.settings import Told
from mountproof.said import capital, figure, joined, say, term
from mountproof.teeth import arch_of, is_posterior, side_of

#: Protrusion over which the gap behind is told from the numbers alone (mm of the condyles).
_AHEAD_MM: Final = 5.0
#: Stations of the tables (mm).
_SHOWN_MM: Final = (1.0, 2.0, 3.0, 4.0, 5.0)
_COVERAGE: Final = coverage_factor(0.95)


class Driven(NamedTuple):
    """What the excursions add to the answer: sentences for the headline, and the arrays behind the pictures."""

    says: tuple[str, ...]
    travels: tuple[Travel, ...]


def tell_excursions(
    case: Case,
    found: Sequence[Excursion],
    typed: Mapping[str, TypedJoint],
    ledger: Ledger,
    progress: Progress,
) -> Driven:
    """Drive the scans along the settings and tell who guides; without scans of both casts nothing is driven."""
    if any(not any(s.arch is arch for s in case.scans) for arch in Arch):
        tell_device(case, ledger)
        return Driven((), ())
    try:
        noted = noted_closing(case, within(progress, 0.0, 0.5))
    except FaultError as error:
        # what is wrong with a scan stands in question 5; the settings do not hang on it
        ledger.notes.append(say("Who guides is not told: {why}.", why=error.faults[0].what))
        tell_device(case, ledger)
        return Driven((), ())
    if noted.closed is None or noted.closed.first is None:
        ledger.needs += [n for n in noted.ledger.needs if n not in ledger.needs]
        ledger.notes.append(
            say("Who guides is not told: it is not known how the scans stand to each other in CR.")
        )
        tell_device(case, ledger)
        return Driven((), ())
    if any(not arch.teeth.any() for arch in noted.closed.arches.values()):
        ledger.notes.append(say("Who guides is not told: no tooth has a number on one of the scans."))
        tell_device(case, ledger)
        return Driven((), ())
    joints = {side: joint_range(side, found, ledger, typed[side]) for side in SIDES}
    # Surfaces need compiled kernels, which are slow to import: a caliper-only case must not wait for them.
    from mountproof.answers.guidance_driven import WIDTH_MM, drive

    front = front_tooth(tooth_places(case, ledger))
    travels = drive(
        noted.closed,
        joints,
        half_width(case, ledger),
        np.array([front.x_mm, front.y_mm, 0.0]),
        within(progress, 0.5, 0.4),
        set_table(case, noted.closed.first.closing_rad, ledger),
    )
    if not travels:
        return Driven((), ())
    ledger.assume(
        say("how much farther apart or nearer the patient's condyles may lie than those of the articulator"),
        WIDTH_MM,
        "mm",
        say("common practice, no source"),
        "instrument.intercondylar_mm",
    )
    _guides_table(case, travels, ledger)
    for travel in travels:
        _gaps_table(case, travel, ledger)
        _least(case, travel, ledger)
    tell_device(case, ledger, noted.closed, joints)
    if any(any(t.by_table) for t in travels):
        ledger.notes.append(
            say(
                "Where the incisal table guides, no tooth touches: gaps are those that the table leaves open."
            )
        )
    ledger.notes.append(
        say(
            "Excursions begin at first contact in CR, not in MIP. The casts touch without giving; in the mouth teeth and joints "
            "give. Confirm with foil before anything is changed."
        )
    )
    return Driven(tuple(_says(case, t) for t in travels), travels)


def way_words(direction: str) -> str:
    """Return the words for an excursion."""
    return {
        "ahead": say("straight ahead"),
        "right": say("jaw to the right"),
        "left": say("jaw to the left"),
    }[direction]


def _pair(case: Case, pair: tuple[int, int] | None) -> str:
    if pair is None:
        return say("no tooth")
    return f"{written(case, pair[0])} / {written(case, pair[1])}"


def _guide(case: Case, travel: Travel, at: int) -> str:
    """What stops the closing at a station: the table, or a pair of teeth."""
    if travel.by_table and travel.by_table[at]:
        return say("the incisal table")
    return _pair(case, travel.guides[at])


def watched(travel: Travel) -> tuple[int, ...]:
    """Return places among the teeth of the upper back teeth that should part: all, or on the nonworking side."""
    return tuple(
        i
        for i, t in enumerate(travel.teeth)
        if arch_of(t) == "upper"
        and is_posterior(t)
        and (travel.direction == "ahead" or side_of(t) != travel.direction)
    )


def _says(case: Case, travel: Travel) -> str:
    guides = [_guide(case, travel, k) for k, mm in enumerate(travel.travel_mm) if mm >= travel.from_mm]
    # the picture and the table name all that follow
    named = list(dict.fromkeys(guides))[:2]
    who = say("{way} guided by {teeth}", way=way_words(travel.direction), teeth=joined(say(", then "), named))
    return say("{who}; {what}", who=who, what=_touching(case, travel))


def _touching(case: Case, travel: Travel) -> str:
    """Say which back teeth touch where they should part."""
    by = {
        touch: [written(case, travel.teeth[i]) for i in watched(travel) if travel.touch[i] == touch]
        for touch in ("always", "depends", "unknown")
    }
    back = say("back teeth") if travel.direction == "ahead" else say("teeth of the nonworking side")
    parts = []
    if by["always"]:
        parts.append(
            say("{back} touch whatever is set: {teeth}", back=back, teeth=joined(", ", by["always"]))
        )
    if by["depends"]:
        parts.append(
            say("{back} touch with some settings: {teeth}", back=back, teeth=joined(", ", by["depends"]))
        )
    if by["unknown"]:
        parts.append(
            say("a hole may hide a contact at one of them")
            if len(by["unknown"]) == 1
            else say("holes may hide contacts at {count} of them", count=len(by["unknown"]))
        )
    if not by["always"] and not by["depends"] and by["unknown"]:
        parts.insert(0, say("no touch of {back} seen", back=back))
    return joined("; ", parts) if parts else say("{back} do not touch, whatever is set", back=back)


def _guides_table(case: Case, travels: Sequence[Travel], ledger: Ledger) -> None:
    longest = max(travels, key=lambda t: len(t.travel_mm))
    rows = []
    for k, mm in enumerate(longest.travel_mm.tolist()):
        cells = []
        for t in travels:
            if k >= len(t.travel_mm):
                cells += ["", ""]
            else:
                cells += [figure(t.incisor_mm[k], ".1f"), _guide(case, t, k)]
        rows.append((figure(mm, ".1f"), *cells))
    heads = [
        head for t in travels for head in (say("at the incisors mm"), capital(way_words(t.direction)))
    ]  # fmt: skip
    ledger.tables.append(
        Table(
            say("Who guides, by travel of the condyle that goes forward"),
            (say("travel mm"), *heads),
            tuple(rows),
            say(
                "The pair of teeth that stops the closing, with the middle settings: the very first to touch, though its "
                "neighbours may be as near as a scan can tell."
            ),
        )
    )


def _gaps_table(case: Case, travel: Travel, ledger: Ledger) -> None:
    at = [
        int(np.argmin(np.abs(travel.travel_mm - mm))) for mm in _SHOWN_MM if mm <= travel.travel_mm[-1] + 1e-9
    ]
    words = {
        "always": say("whatever is set"),
        "depends": say("with some settings"),
        "never": say("with none"),
        "unknown": say("unknown, a hole"),
    }
    rows = []
    for i, tooth in enumerate(travel.teeth):
        if arch_of(tooth) != "upper":
            continue
        gaps = [_mm(travel.gap_mm[i, k], travel.far_mm) for k in at]
        low, high = (_mm(x, travel.far_mm) for x in (travel.low_mm[i], travel.high_mm[i]))
        ends = low if low == high else say("{low} to {high}", low=low, high=high)
        rows.append((written(case, tooth), *gaps, ends, words[travel.touch[i]]))
    ledger.tables.append(
        Table(
            say("Gap at each upper tooth, {way} (mm along closing)", way=way_words(travel.direction)),
            (
                say("tooth"),
                *(say("at {mm:.0f} mm", mm=travel.travel_mm[k]) for k in at),
                say("least, over all settings"),
                say("touches"),
            ),
            tuple(rows),
            say(
                "Middle settings at each travel; least gap from {start:.0f} mm on over {count} settings of inclination, way "
                "inward, shift and distance of the condyles. Closer than {um:.0f} µm counts as touching. What the CR record "
                "itself leaves open is not in this range.",
                start=travel.from_mm,
                count=travel.settings,
                um=1000.0 * travel.touch_mm,
            ),
        )
    )


def _mm(value: float, far_mm: float) -> str:
    return figure(value + 0.0, ".2f") if math.isfinite(value) else say("over {mm:.0f}", mm=far_mm)


def _least(case: Case, travel: Travel, ledger: Ledger) -> None:
    """Note the least gap of the back teeth that should part, with the range that the settings leave."""
    places = [i for i in watched(travel) if math.isfinite(travel.low_mm[i])]
    if not places:
        return
    on = travel.travel_mm >= travel.from_mm - 1e-9
    i = min(places, key=lambda p: float(travel.gap_mm[p, on].min()))
    value = float(travel.gap_mm[i, on].min())
    if not math.isfinite(value):
        return
    label = (
        say("least gap of the back teeth straight ahead, at {tooth}", tooth=written(case, travel.teeth[i]))
        if travel.direction == "ahead"
        else say(
            "least gap of the nonworking side, {way}, at {tooth}",
            way=way_words(travel.direction),
            tooth=written(case, travel.teeth[i]),
        )
    )
    # the settings were tried between their 95 % ends, and a gap is no less than nothing
    low, high = float(travel.low_mm[i]), min(float(travel.high_mm[i]), travel.far_mm)
    low, value = max(low, 0.0), max(value, 0.0)
    u = (high - low) / (2.0 * _COVERAGE)
    ledger.quantities.append(
        Quantity(f"least_gap_{travel.direction}", label, value, term("mm"), u, low, high, assumed=True)
    )


def tell_gap_behind(case: Case, ahead: Sequence[Told], ledger: Ledger) -> None:
    """Tell the gap that opens behind in protrusion while the incisors slide level, from the inclinations alone.

    ``ahead``: of the right and the left joint, against the frame of the articulator. Nothing is told unless both are.
    """
    angles = [t.angle for t in ahead if t.angle is not None]
    if len(angles) != 2:
        return
    teeth = tooth_places(case, ledger)
    front, last = front_tooth(teeth), min(teeth, key=lambda t: t.x_mm)
    if last.x_mm >= front.x_mm:
        return
    width = 2.0 * half_width(case, ledger)
    incisor, molar = np.array([front.x_mm, front.y_mm, 0.0]), np.array([last.x_mm, last.y_mm, 0.0])

    def gap(two: Array) -> float:
        axis = protruded(Straight(float(two[0])), Straight(float(two[1])), _AHEAD_MM, _AHEAD_MM, width)
        turn = plane_closing(axis, incisor, incisor, [0.0, -1.0, 0.0])
        return float(molar[1] - transform(axis @ closed(turn), molar)[1])

    both: Carried = stack(angles)
    ledger.quantity(
        "gap_behind",
        say(
            "gap behind, between the {teeth}, {mm:.0f} mm ahead, if the incisors slide level",
            teeth=last.name,
            mm=_AHEAD_MM,
        ),
        through(gap, both),
        "mm",
        note=say("in the middle of the arch, with flat cusps; steeper front teeth add to it"),
    )
