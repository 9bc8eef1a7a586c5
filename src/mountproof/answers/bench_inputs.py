"""From what a case says to what the bench mathematics takes; every default is noted as assumed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.bench.marks import Arms, arms_from_places
from mountproof.bench.pin import Pin, pin_lengths
from mountproof.bench.readings import Reading, reading
from mountproof.bench.scale import Calibration, PinScale, calibrate, mm_from_reading, stated_scale
from mountproof.case.model import Caliper, Case, Counting, Instrument, MarkPlace, Marks, StateKind
from mountproof.case.model import Pin as PinGiven
from mountproof.case.numbers import Cell
from mountproof.case.pairs import pair_marks
from mountproof.geometry.carry import Carried, measured
from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array
from mountproof.said import figure, joined, say

_CALIPER_STEP_MM = 0.05
_READING_SD_MM = 0.05
_LENGTH_U_MM = 0.5
_MARK_U_MM = 0.5
_REPEAT_MM = 0.1
#: A pin's scale is read to a fifth of a mark: a rectangle of that width. Common practice, no source.
PIN_READING_U_MARKS = 0.2 / math.sqrt(12.0)
#: Repeats of one pin reading farther apart than this are asked about: the range of three keeps within 4.1 SDs at 99 %.
_APART_SDS = 5.0
#: Repeats pooled over all cells tell an SD once they leave so many degrees of freedom (95 % factor 0.68 to 1.9).
_ENOUGH_DOF = 9
_COMMON = say("common practice, no source")
#: Contradictions that chance alone would leave in fewer than one of a hundred; and the same in SDs, 1 in 1000.
_CHANCE, _SDS = 0.01, 3.3


class PinInput(NamedTuple):
    """The pin, its two lengths with their doubt, and its scale."""

    pin: Pin
    lengths: Carried
    scale: PinScale


def pin_input(instrument: Instrument, caliper: Caliper, ledger: Ledger) -> PinInput:
    """Take the pin and its scale from the instrument; calibrated where there are two blocks, else as stated."""
    given = instrument.pin
    slope = given.table_slope_deg
    pin = Pin(
        given.ahead_mm.value,
        given.below_mm.value,
        given.kind.value,
        math.radians(slope or 0.0),
    )
    if slope is None and given.kind.value == "straight":
        ledger.assume(
            say("slope of the table under the pin"),
            0.0,
            "deg",
            say("a flat table"),
            "instrument.pin.table_slope_deg",
        )
    us = [
        length.u
        if length.u is not None
        else ledger.assume(
            say("uncertainty of {what}", what=what),
            _LENGTH_U_MM,
            "mm",
            joined("; ", (say("caliper on an instrument"), _COMMON)),
            entry,
        )
        for length, what, entry in (
            (given.ahead_mm, say("hinge to pin, forward"), "instrument.pin.ahead_mm"),
            (given.below_mm, say("hinge to pin tip, down"), "instrument.pin.below_mm"),
        )
    ]
    return PinInput(pin, pin_lengths(pin, us[0], us[1]), _scale(instrument, caliper, ledger))


def _scale(instrument: Instrument, caliper: Caliper, ledger: Ledger) -> PinScale:
    given = instrument.pin
    zero_u = ledger.assume(
        say("uncertainty of reading the pin's scale"),
        round(PIN_READING_U_MARKS, 2),
        "marks",
        joined("; ", (say("read to a fifth of a mark"), _COMMON)),
        "instrument.pin.zero_reads",
    )
    zero = given.zero_reads
    if zero is None:
        zero = ledger.assume(
            say("pin reading with the members parallel"),
            0.0,
            "",
            say("scale as made"),
            "instrument.pin.zero_reads",
        )
    if len(given.calibration) >= 2:
        # A block between the jaws is read better than two dimples: only the caliper's step counts.
        step = caliper_step(caliper, ledger)
        u_block = step / math.sqrt(12.0)
        done = calibrate(
            [p.block_mm for p in given.calibration],
            [p.reads for p in given.calibration],
            u_block,
            PIN_READING_U_MARKS,
            zero=measured(zero, zero_u, "scale/zero"),
        )
        _hold_calibration(given, done, ledger)
        return done.scale
    size = given.mm_per_mark
    if size is None:
        size = ledger.assume(
            say("millimetres per mark of the pin"),
            1.0,
            "mm",
            say("scale as made"),
            "instrument.pin.mm_per_mark",
        )
    ledger.need(
        say("the pin's scale against two blocks of known thickness"),
        say("the size and the direction of its marks are taken as stated"),
        "instrument.pin.calibration",
    )
    return stated_scale(size, given.counts is Counting.UP_ON_OPENING, zero, zero_u)


def _hold_calibration(given: PinGiven, done: Calibration, ledger: Ledger) -> None:
    """Ask where the blocks contradict each other, or the size or direction stated beside them."""
    odd = []
    if chi2_tail(done.chi_square, done.dof) < _CHANCE:
        worst = max(range(len(given.calibration)), key=lambda i: abs(float(done.residuals[i])))
        point = given.calibration[worst]
        odd.append(
            say(
                "the blocks under the pin do not lie on one line: {block:g} mm reads {reads:g}, "
                "{off:.2f} marks from where the others put it",
                block=point.block_mm,
                reads=point.reads,
                off=abs(float(done.residuals[worst])),
            )
        )
    stated_up = given.counts is Counting.UP_ON_OPENING
    if done.scale.counts_up and not stated_up:
        odd.append(say("the scale is stated to count down on opening, and counts up on the blocks"))
    elif stated_up and not done.scale.counts_up:
        # Up is also what stands there where nobody said anything.
        ledger.notes.append(
            say("The pin's scale counts down on the blocks as the pin is opened; that is what is used.")
        )
    if given.mm_per_mark is not None:
        slope, u = done.scale.marks_per_mm, float(done.scale.zero_and_slope.us[1])
        if abs(abs(slope) - 1.0 / given.mm_per_mark) > _SDS * u:
            odd.append(
                say(
                    "a mark is stated to be {stated:g} mm, and is {found:.2f} mm on the blocks",
                    stated=given.mm_per_mark,
                    found=done.scale.mm_per_mark,
                )
            )
    for text in odd:
        ledger.because(
            Verdict.DOUBTFUL, Why.QUESTIONED, say("Look at the pin's scale again: {text}", text=text)
        )
        ledger.need(say("the pin's scale against its blocks once more"), text, "instrument.pin.calibration")


def pin_reading(
    case: Case, pin: PinInput, states: Sequence[str | None], ledger: Ledger, *, by_hand: bool
) -> Carried | None:
    """Return what the pin was set to (``by_hand``) or showed in one of the states, in millimetres along the pin."""
    read = [at for at in case.pin_readings if at.set_by_hand is by_hand and at.state in states]
    here = [at.reads for at in read if at.state == read[0].state]
    if not here:
        return None
    mean = math.fsum(here) / len(here)
    if max(here) - min(here) > _APART_SDS * PIN_READING_U_MARKS:
        listed = joined(say(" and "), (figure(reads, "g") for reads in here))
        ledger.because(
            Verdict.DOUBTFUL,
            Why.QUESTIONED,
            say(
                "Which is it: the pin in state {state} is entered as {readings} marks",
                state=read[0].state,
                readings=listed,
            ),
        )
        ledger.need(
            say("the pin in state {state} once more", state=read[0].state),
            say("it is entered as {readings} marks", readings=listed),
            "pin_readings",
        )
    # Readings of one scale by one pair of eyes: their mean is not taken to be better than one of them.
    return mm_from_reading(pin.scale, measured(mean, PIN_READING_U_MARKS, f"pin/{read[0].state}"))


class MarksInput(NamedTuple):
    """Readings by state and pair, where the marks stand, and what one reading is good for."""

    table: dict[str, dict[str, Reading]]
    places: dict[str, Array]
    arms: tuple[Arms, ...]
    pairs: tuple[tuple[str, str, str], ...]
    sd_mm: float
    step_mm: float
    mark_u_mm: float


def record_repeat(case: Case, ledger: Ledger) -> float:
    """Return how well CR records of one sitting repeat at a condyle (mm, 1 SD an axis): entered, or assumed."""
    if case.record_repeat_mm is not None:
        return case.record_repeat_mm
    return ledger.assume(
        say("how well CR records of one sitting repeat at a condyle (1 SD an axis)"),
        _REPEAT_MM,
        "mm",
        joined("; ", (say("0.1 to 0.3 mm"), _COMMON)),
        "record_repeat_mm",
    )


def visit_repeat(case: Case, repeat_mm: float, ledger: Ledger) -> float:
    """Return what another visit adds to the spread of records (mm, 1 SD an axis): entered, or assumed as much again."""
    if case.visit_repeat_mm is not None:
        return case.visit_repeat_mm
    return ledger.assume(
        say("what another visit adds to the spread of records (1 SD an axis)"),
        repeat_mm,
        "mm",
        say("as much again as within a visit; our choice, no source"),
        "visit_repeat_mm",
    )


def caliper_step(caliper: Caliper, ledger: Ledger) -> float:
    """Return the smallest step the caliper shows (mm): entered, or assumed."""
    if caliper.resolution_mm is not None:
        return caliper.resolution_mm
    return ledger.assume(say("caliper step"), _CALIPER_STEP_MM, "mm", _COMMON, "caliper.resolution_mm")


def caliper_sd(caliper: Caliper, cells: Iterable[Cell], ledger: Ledger) -> tuple[float, float]:
    """Return the SD of one reading and the step of the caliper (mm): entered, pooled from repeats, or assumed."""
    step = caliper_step(caliper, ledger)
    if caliper.sd_mm is not None:
        return caliper.sd_mm, step
    squares, dof = 0.0, 0
    for cell in cells:
        if len(cell.values) > 1:
            squares += float(np.var(cell.values)) * len(cell.values)
            dof += len(cell.values) - 1
    if dof >= _ENOUGH_DOF:
        pooled = max(math.sqrt(squares / dof), step / math.sqrt(12.0))
        ledger.notes.append(
            say(
                "SD of one caliper reading {pooled:.3f} mm, pooled from the repeats ({dof} degrees of freedom).",
                pooled=pooled,
                dof=dof,
            )
        )
        return pooled, step
    sd = ledger.assume(say("SD of one caliper reading"), _READING_SD_MM, "mm", _COMMON, "caliper.sd_mm")
    ledger.need(
        say("every pair three times in two states"),
        say("the SD of one caliper reading is assumed so far"),
        "marks.readings_mm",
    )
    return sd, step


def caliper_offset(caliper: Caliper, ledger: Ledger) -> float:
    """Return what the caliper shows too much (mm), from a block of known thickness; zero where none was tried."""
    if caliper.block_mm is None or caliper.block_reads_mm is None:
        return 0.0
    offset = caliper.block_reads_mm - caliper.block_mm
    if offset:
        ledger.notes.append(
            say(
                "The caliper shows {offset:+.2f} mm on a known block; this was taken off every reading.",
                offset=offset,
            )
        )
    return offset


def place_of(place: MarkPlace) -> Array | None:
    """Return a mark's place (x, y, z) in the frame, or None where only its distance from the hinge is known."""
    if place.ahead_mm is None or place.above_mm is None or place.right_mm is None:
        return None
    return np.array([place.ahead_mm, place.above_mm, place.right_mm])


def marks_input(marks: Marks, caliper: Caliper, ledger: Ledger) -> MarksInput:
    """Take the table of marks by states: means of repeats with their uncertainty, places, arms."""
    cells = marks.readings_mm.cells()
    sd, step = caliper_sd(caliper, cells, ledger)
    offset = caliper_offset(caliper, ledger)
    table: dict[str, dict[str, Reading]] = {}
    for cell in cells:
        table.setdefault(cell.state, {})[cell.pair] = reading([v - offset for v in cell.values], sd, step)
    places = {name: p for name, given in marks.places.items() if (p := place_of(given)) is not None}
    unknown = [name for name, given in marks.places.items() if given.u_mm is None]
    if unknown:
        ledger.assume(say("uncertainty of where the marks stand"), _MARK_U_MM, "mm", _COMMON, "marks.places")
    given_u = [given.u_mm for given in marks.places.values() if given.u_mm is not None]
    mark_u = max([*given_u, *([_MARK_U_MM] if unknown else [])], default=_MARK_U_MM)
    pairs = tuple((pair, *pair_marks(marks, pair)) for pair in marks.readings_mm.rows)
    arms = tuple(
        arm
        for pair, upper, lower in pairs
        if (arm := _arms(pair, marks.places[upper], marks.places[lower], upper, lower))
    )
    return MarksInput(table, places, arms, pairs, sd, step, mark_u)


def _arms(pair: str, upper: MarkPlace, lower: MarkPlace, name_u: str, name_l: str) -> Arms | None:
    u = upper.u_mm or _MARK_U_MM, lower.u_mm or _MARK_U_MM
    p, q = place_of(upper), place_of(lower)
    if p is not None and q is not None:
        return arms_from_places(pair, p, q, max(u))._replace(upper=name_u, lower=name_l)
    a, b = _radius(upper), _radius(lower)
    if a is None or b is None:
        return None
    dz = (lower.right_mm or 0.0) - (upper.right_mm or 0.0)
    return Arms(pair, a, b, dz, u[0], u[1], math.hypot(*u) if dz else 0.0, name_u, name_l)


def _radius(place: MarkPlace) -> float | None:
    if place.from_hinge_mm is not None:
        return place.from_hinge_mm
    if place.ahead_mm is not None and place.above_mm is not None:
        return math.hypot(place.ahead_mm, place.above_mm)
    return None


class States(NamedTuple):
    """Which column of the table is which, for the record the cast was mounted on."""

    mip: str | None
    record: str | None
    after_set: str | None
    contact: str | None


def states_of(case: Case, ledger: Ledger) -> States:
    """Find the columns that belong to the mounted record; ask which one it is where that is not clear.

    A state without a single reading is not there yet.
    """
    assert case.marks is not None
    read = {cell.state for cell in case.marks.readings_mm.cells()}
    by_kind: dict[StateKind, list[str]] = {}
    for name, state in case.marks.states.items():
        if name in read:
            by_kind.setdefault(state.kind, []).append(name)

    marks, on = case.marks, case.mounted_on

    def pick(kind: StateKind) -> str | None:
        names = by_kind.get(kind, [])
        if on is not None:
            own = [n for n in names if marks.states[n].record == on]
            names = own or [n for n in names if marks.states[n].record is None]
            if len(names) > 1:
                ledger.notes.append(
                    say(
                        "{states} are columns of one record in one state; {used} is the one that is used.",
                        states=joined(", ", names),
                        used=names[0],
                    )
                )
            return names[0] if names else None
        if len(names) > 1:
            _which(ledger)
        return names[0] if len(names) == 1 else None

    mips = by_kind.get(StateKind.MIP, [])
    if len(mips) > 1:
        ledger.notes.append(
            say(
                "{states} are columns of MIP; {used} is the one that is used.",
                states=joined(", ", mips),
                used=mips[0],
            )
        )
    record, after_set, contact = pick(StateKind.RECORD), pick(StateKind.RECORD_SET), pick(StateKind.CONTACT)
    named = {marks.states[n].record for n in (record, after_set, contact) if n is not None} - {None}
    if len(named) > 1:
        # One column each, but of different records: their difference is no movement and no closing.
        _which(ledger)
        after_set = contact = None
    if on is not None and record is None and by_kind.get(StateKind.RECORD):
        have = joined(", ", (marks.states[n].record or n for n in by_kind[StateKind.RECORD]))
        ledger.need(
            say("the marks with {record} in, or the right record under mounted_on", record=on),
            say(
                "the cast is said to be mounted on {record}; with a record in, the table has {have}",
                record=on,
                have=have,
            ),
            "mounted_on",
        )
    return States(mips[0] if mips else None, record, after_set, contact)


def _which(ledger: Ledger) -> None:
    ledger.need(
        say("which record the lower cast was mounted on"), say("several records were measured"), "mounted_on"
    )
