"""The steps and faults of one case: what was measured takes the place of what is usual, and all else is noted as assumed."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from mountproof.answers.axis_doubt import axis_doubt
from mountproof.answers.bench_inputs import marks_input, pin_input, record_repeat, states_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import openings
from mountproof.answers.poses import half_width
from mountproof.bench.pin import pin_from_opening
from mountproof.case.model import Case, PinKind, RecordKind, RecordStop, StateKind
from mountproof.doubt.faults import (
    cast_faults,
    instrument_faults,
    record_faults,
    seat_faults,
    set_faults,
)
from mountproof.doubt.hypotheses import Hypotheses, enumerate_hypotheses
from mountproof.doubt.network import Network, build
from mountproof.doubt.steps import (
    BANDS,
    USUAL_STOPS_MM,
    Step,
    axis_motion,
    axis_step,
    covariance,
    free_step,
    play_step,
    record_step,
    seat_step,
)
from mountproof.said import say

#: Records beyond these are left out of the weighing: each further one adds faults of its own, and little else.
_MOST_RECORDS = 5
#: The record opens the hinge by about so much (rad) where nobody measured it: 3 mm at the front teeth.
_USUAL_OPENING = 0.033
#: A seat is not better known than this, however well five re-seatings agree.
_LEAST_SEAT_MM = 0.02


class Model(NamedTuple):
    """The network of a case, its hypotheses, and how far record and contact stand apart (rad)."""

    network: Network
    hypotheses: Hypotheses
    closing_rad: float


def records_of(case: Case) -> tuple[str, ...]:
    """Return the CR records of a case by name, the mounted one first."""
    names = [n for n, r in case.records.items() if r.kind is RecordKind.CR]
    if case.marks is not None:
        kinds = (StateKind.RECORD, StateKind.RECORD_SET)
        names += [s.record for s in case.marks.states.values() if s.kind in kinds and s.record]
    names += [s.record for s in case.proof.seatings]
    names += [s.record for s in case.proof.split_casts if s.record]
    names += [s.record for s in case.proof.condyle_gaps if s.record]
    other = {n for n, r in case.records.items() if r.kind is not RecordKind.CR}
    known = [n for n in dict.fromkeys(names) if n not in other]
    first = case.mounted_on or (known[0] if known else say("the record"))
    return (first, *(n for n in known if n != first))[:_MOST_RECORDS]


def model_of(case: Case, ledger: Ledger, found: Ledger) -> Model:
    """Return the model; ``found`` is the page of the record's question, for the seat that was measured there."""
    half = half_width(case, ledger)
    records = records_of(case)
    closing = closing_of(case, ledger)
    stops = tuple((s.ahead_mm, s.right_mm) for s in stops_of(case, records[0]))
    repeat = record_repeat(case, ledger)
    seat = seat_sd(case, ledger, found)
    play = case.instrument.play_mm if case.instrument is not None else None
    axis = axis_doubt(case, ledger)
    steps: list[tuple[str, Step]] = []
    for k in range(len(records)):
        steps.append((f"record/{k}", record_step(repeat, half)))
        steps.append((f"seat/{k}", seat_step(seat, stops if k == 0 and stops else USUAL_STOPS_MM)))
    steps += [
        (
            "set",
            free_step("set", _usual(ledger, "set", say("how far an orderly cast moves while stone sets"))),
        ),
        (
            "play",
            play_step(
                # no play is a reading too
                play
                if play is not None
                else _usual(
                    ledger, "play", say("play of the locked condylar elements"), "instrument.play_mm"
                ),
                half,
            ),
        ),
        (
            "cast",
            free_step("cast", _usual(ledger, "cast", say("what orderly casts are off by where they meet"))),
        ),
        ("mouth", free_step("mouth", BANDS["mouth"].sd_mm)),
        ("axis", axis_step(axis.u_mm, closing)),
        ("width", _number("width")),
        ("twist", _number("twist")),
        ("pin", _number("pin")),
    ]
    badly = None
    if stops:
        held = covariance(seat_step(seat, stops))
        badly = held if held[0, 0] + 400.0 * held[1, 1] > 4.0 * seat**2 else None
    faults = [
        *record_faults(len(records), half),
        *seat_faults(badly),
        *set_faults(),
        *cast_faults(),
        *instrument_faults(half, axis_motion(closing), _other_pin(case, closing)),
    ]
    network = build(records, steps, faults)
    return Model(network, enumerate_hypotheses(network.modes, least=2e-5), closing)


def stops_of(case: Case, name: str) -> tuple[RecordStop, ...]:
    """Return where a record bears; none for one that nobody described."""
    record = case.records.get(name)
    return record.stops if record is not None else ()


def _number(key: str) -> Step:
    return Step(key, np.ones((1, 1)), np.array([[BANDS[key].sd_mm ** 2]]))


def _usual(ledger: Ledger, key: str, what: str, entry: str = "") -> float:
    band = BANDS[key]
    return ledger.assume(say("{what} (1 SD)", what=what), band.sd_mm, "mm", band.source, entry)


def seat_sd(case: Case, ledger: Ledger, found: Ledger) -> float:
    """How well the record finds its seat (mm): re-seated, with the reading taken out, else as is usual."""
    seat = next((q.value for q in found.quantities if q.key == "reseat_seat"), None)
    if seat is None:
        whole = next((q.value for q in found.quantities if q.key == "reseat_sd"), None)
        if whole is None or case.marks is None:
            return _usual(
                ledger, "seat", say("how well a record finds its seat on the casts"), "marks.reseat_mm"
            )
        reading = marks_input(case.marks, case.caliper, Ledger("record")).sd_mm
        seat = float(np.sqrt(max(0.0, whole**2 - reading**2)))
    return max(_LEAST_SEAT_MM, seat)


def closing_of(case: Case, ledger: Ledger) -> float:
    """Return the opening from first contact, else from MIP, to the record (rad), as far as it was measured."""
    if case.marks is not None:
        page = Ledger("mounting")
        marks, states = marks_input(case.marks, case.caliper, page), states_of(case, page)
        if states.record is not None:
            known = openings(case, marks, states, page)
            for one in (known.from_contact, known.from_mip):
                if one is not None and 0.0 < one.value < 0.3:
                    return one.value
    return float(
        np.radians(
            ledger.assume(
                say("how far the record opens the hinge"),
                round(float(np.degrees(_USUAL_OPENING)), 1),
                say("degrees"),
                say("3 mm at the front teeth; our choice, no source"),
                "marks.readings_mm",
            )
        )
    )


def _other_pin(case: Case, closing_rad: float) -> float | None:
    """Return how far the pin would read off its prediction (mm) were it curved where it is entered straight, or not."""
    if case.instrument is None or case.instrument.pin is None:
        return None
    page = Ledger("mounting")
    pin = pin_input(case.instrument, case.caliper, page).pin
    straight, curved = replace(pin, kind="straight"), replace(pin, kind="curved")
    more = pin_from_opening(curved, closing_rad) - pin_from_opening(straight, closing_rad)
    return -more if case.instrument.pin.kind is PinKind.STRAIGHT else more
