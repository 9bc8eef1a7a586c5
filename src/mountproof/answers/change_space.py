"""Part of question 7: which space an opening gives between the teeth, and which pin reading gives the space that is wanted."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Final, NamedTuple

from mountproof.answers.bench_inputs import PIN_READING_U_MARKS, PinInput, pin_reading, states_of
from mountproof.answers.foils import iso, present, written
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import SAME_MM, SpaceChart, SpaceTooth
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.result import Table
from mountproof.bench.pin import (
    Tooth,
    carried_opening_from_pin,
    carried_pin_from_opening,
    opening_at,
    opening_from_gap,
)
from mountproof.bench.scale import mm_from_reading, reading_from_mm
from mountproof.case.model import Case
from mountproof.geometry.carry import Carried, exact, measured, stack, through
from mountproof.geometry.poses import Array
from mountproof.said import figure, joined, say
from mountproof.teeth import place

#: Openings of the pin that the table tells, mm from where the teeth touch: closing a little, then opening.
_PIN_MM: Final = (-1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
#: How far teeth may stand from where they are said to stand, one coordinate (1 SD, mm): measured, or the usual places.
_MEASURED_U_MM, _USUAL_U_MM = 1.0, 3.0
_COMMON: Final = say("common practice, no source")
_TWICE: Final = 1.96
#: Places by the number of a tooth from the middle.
_PLACE_OF: Final = {
    1: say("incisors"), 2: say("incisors"), 3: say("canines"), 4: say("premolars"), 5: say("premolars"),
    6: say("first molars"), 7: say("second molars"),
}  # fmt: skip


class Place(NamedTuple):
    """One place of teeth seen from the side, and how well its lengths are known (SD, mm)."""

    tooth: Tooth
    u_mm: float

    @property
    def carried(self) -> Carried:
        """Ahead and above (2), as sources of their own."""
        name = f"place/{self.tooth.name}"
        return stack(
            [
                measured(self.tooth.x_mm, self.u_mm, f"{name}/ahead"),
                measured(self.tooth.y_mm, self.u_mm, f"{name}/above"),
            ]
        )


def places(case: Case, ledger: Ledger) -> tuple[Place, ...]:
    """Return the places of the teeth from front to back with their doubt; premolars midway where nobody measured them."""
    teeth = {t.name: t for t in tooth_places(case, ledger)}
    usual = _MEASURED_U_MM if case.teeth_at else _USUAL_U_MM
    if not case.teeth_at or any(at.u_mm is None for at in case.teeth_at.values()):
        ledger.assume(
            say("how far teeth may stand from these places, one coordinate (1 SD)"),
            usual,
            "mm",
            _COMMON,
            "teeth_at",
        )
    given = {name: at.u_mm for name, at in case.teeth_at.items() if at.u_mm is not None}
    found = {name: Place(t, given.get(name, usual)) for name, t in teeth.items()}
    a, b = found.get(_PLACE_OF[3]), found.get(_PLACE_OF[6])
    if _PLACE_OF[4] not in found and a is not None and b is not None:
        midway = Tooth(_PLACE_OF[4], 0.5 * (a.tooth.x_mm + b.tooth.x_mm), 0.5 * (a.tooth.y_mm + b.tooth.y_mm))
        found[midway.name] = Place(midway, max(a.u_mm, b.u_mm))
    return tuple(sorted(found.values(), key=lambda one: -one.tooth.x_mm))


class Touching(NamedTuple):
    """Where the teeth touch: what the pin shows there (mm along it), and whether somebody read it."""

    pin_mm: Carried
    read: bool


def touching(case: Case, pin: PinInput, ledger: Ledger, otherwise: Carried | None = None) -> Touching:
    """Return where the pin stands when the teeth first touch: as read in that state, else ``otherwise``, else at zero."""
    if case.marks is not None:
        quiet = Ledger(ledger.key)
        read = pin_reading(case, pin, [states_of(case, quiet).contact], quiet, by_hand=False)
        if read is not None:
            return Touching(read, True)
    if otherwise is not None:
        return Touching(otherwise, True)
    ledger.assume(
        say("pin, where the teeth touch"),
        0.0,
        "mm",
        say("the pin at zero with the teeth together"),
        "pin_readings",
    )
    return Touching(exact(0.0), False)


def opened(pin: PinInput, start: Touching, by_mm: Carried) -> Carried:
    """Return how far the members turn apart (rad) when the pin goes out by so much from where the teeth touch."""
    there = carried_opening_from_pin(pin.pin, start.pin_mm + by_mm, pin.lengths)
    return there - carried_opening_from_pin(pin.pin, start.pin_mm, pin.lengths)


def pin_for(pin: PinInput, start: Touching, turned: Carried) -> Carried:
    """Return by how much the pin goes out (mm) from where the teeth touch to turn the members apart by ``turned`` (rad)."""
    at = carried_opening_from_pin(pin.pin, start.pin_mm, pin.lengths) + turned
    return carried_pin_from_opening(pin.pin, at, pin.lengths) - start.pin_mm


def gap(one: Place, turned: Carried) -> Carried:
    """Return the vertical gap (mm) that an opening (rad) makes at a place."""
    return _at(one, turned, lambda t, a: opening_at(t, a).gap_mm)


def goes_back(one: Place, turned: Carried) -> Carried:
    """Return how far back (mm) an opening (rad) takes a place of the lower."""
    return _at(one, turned, lambda t, a: opening_at(t, a).back_mm)


def _at(one: Place, turned: Carried, what: Callable[[Tooth, float], float]) -> Carried:
    def value(v: Array) -> float:
        return what(Tooth(one.tooth.name, float(v[0]), float(v[1])), float(v[2]))

    return through(value, stack([one.carried, turned]))


def turn_for(one: Place, gap_mm: float) -> Carried:
    """Return the opening (rad) that makes a vertical gap at a place, with the doubt of where it stands."""
    return through(
        lambda v: opening_from_gap(Tooth(one.tooth.name, float(v[0]), float(v[1])), gap_mm), one.carried
    )


def set_by_hand(pin: PinInput, mm: float) -> Carried:
    """Return a setting of the pin (mm) with what reading its scale leaves open."""
    return measured(mm, PIN_READING_U_MARKS * pin.scale.mm_per_mark, "pin/set")


def height_rows(pin: PinInput, start: Touching, at: Sequence[Place]) -> Table:
    """Return the table from pin reading to gaps, overjet and overbite."""
    front = front_tooth([one.tooth for one in at])
    incisors = next(one for one in at if one.tooth is front)
    rows = []
    for mm in _PIN_MM:
        by = set_by_hand(pin, mm)
        turned = opened(pin, start, by)
        reads = reading_from_mm(pin.scale, start.pin_mm + exact(mm)).value
        rows.append(
            (
                figure(mm, "+.0f"),
                figure(reads, ".1f"),
                *(_pm(gap(one, turned)) for one in at),
                _pm(goes_back(incisors, turned)),
                _pm(gap(incisors, turned).times(-1.0)),
            )
        )
    return Table(
        say("What a change of the vertical dimension does, mm"),
        (
            say("pin, from where the teeth touch"),
            say("pin then reads"),
            *(say("gap at the {tooth}", tooth=one.tooth.name) for one in at),
            say("overjet"),
            say("overbite"),
        ),
        tuple(rows),
        say(
            "Turned about the hinge from where the teeth touch; ± 95 %. Gaps upright, from these places of the teeth; premolars "
            "stand midway between canines and first molars where nobody measured them. Minus closes."
        ),
    )


def _pm(value: Carried) -> str:
    return say("{mm:+.2f} ± {twice:.2f}", mm=value.value + 0.0, twice=_TWICE * value.u)


def wanted_mm(case: Case) -> dict[int, float]:
    """Return the least thickness wanted by tooth (ISO 3950), mm."""
    return {iso(case, t): one.thickness_mm for one in case.space.wanted for t in one.teeth}


class Asked(NamedTuple):
    """One tooth that wants a thickness: its number (ISO 3950), the thickness (mm), and the opening (rad) that gives it."""

    tooth: int
    thickness_mm: float
    turned: Carried


def tell_wanted(
    case: Case, pin: PinInput, start: Touching, asked: Sequence[Asked], ledger: Ledger
) -> Carried | None:
    """Note the smallest opening of the pin that gives every wanted thickness; return its opening (rad), None: nothing wanted."""
    if not asked:
        return None
    most = max(asked, key=lambda one: one.turned.value)
    mm = pin_for(pin, start, most.turned)
    assumed = not start.read
    teeth = written(case, most.tooth)
    ledger.quantity(
        "space_pin",
        say("smallest opening of the pin that gives every wanted thickness ({tooth} decides)", tooth=teeth),
        mm,
        "mm",
        assumed=assumed,
        note=say("from where the teeth touch"),
    )
    reads = reading_from_mm(pin.scale, start.pin_mm + mm)
    ledger.quantity(
        "space_pin_reads",
        say("the pin then reads, for that space"),
        reads,
        "marks",
        assumed=assumed or pin.scale.assumed,
    )
    return most.turned


def looked_at(
    case: Case, pin: PinInput, start: Touching, least: Carried | None
) -> tuple[Carried, Carried] | None:
    """Return the opening of the pin (mm) and of the members (rad) at which space is looked at; None: nobody asks.

    The entered pin reading goes first, then the smallest that gives every wanted thickness.
    """
    if case.space.pin_reads is not None:
        reads = measured(case.space.pin_reads, PIN_READING_U_MARKS, "pin/space")
        by = mm_from_reading(pin.scale, reads) - start.pin_mm
        return by, opened(pin, start, by)
    if least is None:
        return None
    # the pin is set to a number: what was open while it was found stays open at the teeth
    by = set_by_hand(pin, pin_for(pin, start, least).value)
    return by, opened(pin, start, by)


def chart_of(
    case: Case,
    pin: PinInput,
    start: Touching,
    by: Carried,
    gaps: Mapping[int, Carried | None],
    exact_: bool,
    views: object = None,
) -> SpaceChart:
    """Return what the chart of space draws; ``gaps`` (mm) by tooth (ISO 3950), None: nothing near enough opposes it."""
    wanted = wanted_mm(case)
    teeth = []
    for tooth, found in gaps.items():
        want = wanted.get(tooth)
        if found is None:
            teeth.append(SpaceTooth(tooth, math.inf, 0.0, want))
        else:
            teeth.append(SpaceTooth(tooth, max(found.value, 0.0), found.u, want))
    reads = reading_from_mm(pin.scale, start.pin_mm + by)
    return SpaceChart(by.value, reads.value, tuple(teeth), exact_, views)


def tell_space(case: Case, chart: SpaceChart, ledger: Ledger) -> None:
    """Note the space at each tooth at the opening that is looked at, and which teeth stay short and by how much."""
    short = chart.short
    rows = []
    for one in chart.teeth:
        mm = say("over {mm:.0f}", mm=FAR_MM) if math.isinf(one.gap_mm) else say(
            "{mm:.2f} ± {twice:.2f}", mm=one.gap_mm, twice=_TWICE * one.u_mm
        )  # fmt: skip
        lacks = "-" if one.wanted_mm is None else say("enough")
        if one.short_mm > SAME_MM:
            lacks = say("{mm:.2f} short", mm=one.short_mm)
            if one.short_mm <= 2.0 * one.u_mm:
                lacks = say("{mm:.2f} short, within the doubt", mm=one.short_mm)
        elif one.wanted_mm is not None and one.gap_mm - one.wanted_mm < 2.0 * one.u_mm:
            lacks = say("enough, within the doubt")
        wanted = "-" if one.wanted_mm is None else figure(one.wanted_mm, ".2f")
        rows.append((written(case, one.tooth), mm, wanted, lacks))
    how = (
        say("Across, from each tooth to the nearest place of the other arch.")
        if chart.exact
        else say("Upright, from places of teeth alone: cusps and the curve of the teeth count for nothing.")
    )
    ledger.tables.append(
        Table(
            say("Space at each tooth, the pin {mm:.1f} mm out from where the teeth touch (reads {reads:.1f})",
                mm=chart.pin_mm, reads=chart.pin_reads),
            (say("tooth"), say("space, mm (± 95 %)"), say("wanted, mm"), say("and that is")),
            tuple(rows),
            how,
        )
    )  # fmt: skip
    if short:
        named = joined(
            ", ", (say("{tooth} by {mm:.2f} mm", tooth=written(case, s.tooth), mm=s.short_mm) for s in short)
        )
        ledger.notes.append(say("Short of the wanted thickness at this pin reading: {teeth}.", teeth=named))


#: Space beyond this is not told (mm).
FAR_MM: Final = 8.0


def space_says(case: Case, ledger: Ledger, chart: SpaceChart | None) -> str:
    """Return what the headline says of the space that is wanted; nothing where nothing is."""
    pin = next((q for q in ledger.quantities if q.key == "space_pin"), None)
    if pin is None or chart is None:
        return ""
    says = say("the wanted thickness everywhere takes the pin {mm:.1f} mm out", mm=pin.value)
    if chart.short:
        return say(
            "{says}; at {mm:.1f} mm short: {teeth}",
            says=says,
            mm=chart.pin_mm,
            teeth=joined(", ", (written(case, s.tooth) for s in chart.short)),
        )
    return says


def bench_space(case: Case, ledger: Ledger, pin: PinInput) -> SpaceChart | None:
    """Tell table, wanted pin reading and space from places of teeth alone; return the chart, None where nobody asks."""
    at, start = places(case, ledger), touching(case, pin, ledger)
    ledger.tables.append(height_rows(pin, start, at))
    by_name = {one.tooth.name: one for one in at}
    known = {
        tooth: by_name[_PLACE_OF[place(tooth)]]
        for arch in ("upper", "lower")
        for tooth in present(case, arch)
        if _PLACE_OF.get(place(tooth)) in by_name
    }
    asked, unplaced = [], []
    for tooth, mm in wanted_mm(case).items():
        if tooth not in known:
            unplaced.append(written(case, tooth))
            continue
        asked.append(Asked(tooth, mm, turn_for(known[tooth], mm)))
    if unplaced:
        ledger.need(
            say("where these teeth stand: {teeth}", teeth=joined(", ", unplaced)),
            say("a thickness is wanted there"),
            "teeth_at",
        )
    looked = looked_at(case, pin, start, tell_wanted(case, pin, start, asked, ledger))
    if looked is None:
        return None
    by, turned = looked
    chart = chart_of(case, pin, start, by, {t: gap(one, turned) for t, one in known.items()}, False)
    tell_space(case, chart, ledger)
    return chart
