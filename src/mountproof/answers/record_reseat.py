"""Part of question 3: whether one record, taken off and put back, finds its seat."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.bench_inputs import MarksInput
from mountproof.answers.finds import Found
from mountproof.answers.implants import held_to
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Quantity, Table, Verdict, Why
from mountproof.case.model import Case
from mountproof.records.repeats import SpreadOf
from mountproof.records.reseat import reseating
from mountproof.said import capital, figure, joined, say

RESEAT_NEED = (
    say("the record taken off and put back five times, three pairs of marks each"),
    say("it shows how well it seats"),
    "marks.reseat_mm",
)


def reseat(case: Case, marks: MarksInput, ledger: Ledger) -> list[str]:
    """Judge the seat of a record by its re-seatings; ask for them where there are none."""
    assert case.marks is not None
    table = case.marks.reseat_mm
    if table is None or len(table.states) < 2:
        ledger.need(*RESEAT_NEED)
        return []
    repeats = {
        pair: [math.fsum(cell) / len(cell) for cell in row] for pair, row in table.rows.items() if all(row)
    }
    gaps = [pair for pair, row in table.rows.items() if not all(row)]
    if gaps and repeats:
        which = joined(", ", gaps)
        ledger.notes.append(say("{pairs} was not read at every re-seating and is left out.", pairs=which))
        ledger.need(
            say("{pairs} at every re-seating", pairs=which),
            say("it has gaps and is left out"),
            "marks.reseat_mm",
        )
    if not repeats:
        ledger.need(
            say("every pair at every re-seating"), say("the re-seating table has gaps"), "marks.reseat_mm"
        )
        return []
    cells = [cell for pair in repeats for cell in table.rows[pair]]
    # the mean of repeats in a cell is read better than one of them
    reading_sd = marks.sd_mm * math.sqrt(math.fsum(1.0 / len(cell) for cell in cells) / len(cells))
    found = reseating(repeats, reading_sd)
    name = case.marks.reseat_record or say("the record")
    seat = found.seat_sd_mm(reading_sd)
    high = math.sqrt(max(0.0, found.pooled.high**2 - reading_sd**2))
    held = held_to(case, "reseat_sd")
    limit = held.limit
    _spread(ledger, "reseat_sd", say("SD of re-seating, reading included"), found.pooled)
    ledger.notes.append(
        say(
            "Of that the seat alone makes {seat:.3f} mm (at most {high:.3f}), the rest is reading the "
            "caliper.",
            seat=seat,
            high=high,
        )
    )
    rows = tuple(
        (p, *(figure(v, ".2f") for v in repeats[p]), figure(s.sd, ".3f")) for p, s in found.by_pair.items()
    )
    ledger.tables.append(
        Table(say("Re-seating of {record}, mm", record=name), (say("pair"), *table.states, say("SD")), rows)
    )
    apart = 0.0 if found.two_seats is None else found.two_seats.apart_mm
    ledger.finds.append(
        Found(
            "reseat",
            say("{record} put back, its seats apart", record=name),
            ("amount",),
            np.array([apart]),
            np.array([[found.pooled.sd**2 if found.two_seats is None else 2.0 * reading_sd**2]]),
        )
    )
    if found.two_seats is not None:
        ledger.because(
            Verdict.DISAGREES,
            Why.OUTSIDE,
            say(
                "{record} has two seats {apart:.2f} mm apart: it rocks",
                record=name,
                apart=found.two_seats.apart_mm,
            ),
            value=found.two_seats.apart_mm,
            unit="mm",
        )
        return [say("{record} rocks between two seats", record=name)]
    if found.trend.tail < 0.01:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say(
                "{record} wanders by {slope:+.3f} mm at each re-seating",
                record=name,
                slope=found.trend.slope_mm,
            ),
        )
    if high <= limit.redo and seat <= limit.decent:
        verdict, why = Verdict.AGREES, Why.INSIDE
    elif high <= limit.redo:
        verdict, why = Verdict.DOUBTFUL, Why.BETWEEN
    elif seat > limit.redo:
        verdict, why = Verdict.DISAGREES, Why.OUTSIDE
    else:
        verdict, why = Verdict.CANNOT_TELL, Why.GUARD_BAND
        ledger.need(
            say("more re-seatings"),
            say("{count} leave the SD open up to {high:.2f} mm", count=found.reseatings, high=high),
            "marks.reseat_mm",
        )
    ledger.because(
        verdict,
        why,
        held.says(
            say(
                "{record} finds its seat to {seat:.2f} mm (SD; at most {high:.2f}; agrees up to {decent:g}, redo "
                "above {redo:g})",
                record=name,
                seat=seat,
                high=high,
                decent=limit.decent,
                redo=limit.redo,
            )
        ),
        value=seat,
        limit=limit.decent,
        unit="mm",
    )
    return [capital(say("{record} finds its seat to {seat:.2f} mm (1 SD)", record=name, seat=seat))]


def _spread(ledger: Ledger, key: str, label: str, spread: SpreadOf) -> None:
    # The interval of an SD is not symmetric: chi-square, from its degrees of freedom.
    u = spread.sd / math.sqrt(2.0 * spread.dof)
    ledger.quantities.append(
        Quantity(key, label, spread.sd, say("mm"), u, spread.low, spread.high, 3, False, "")
    )
