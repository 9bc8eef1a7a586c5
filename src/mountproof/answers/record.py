"""Question 3: whether the record is good enough to mount with (from marks; scans come with a later version)."""

from __future__ import annotations

import math

from mountproof.answers.bench_inputs import MarksInput, States, marks_input, record_repeat, states_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.poses import Look, bench_marks, half_width, record_slack, set_aside
from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer, Quantity, Table, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.bench.pose import PoseTable, fit_poses
from mountproof.bench.reach import Point
from mountproof.bench.same_opening import place_features, residual_features
from mountproof.case.model import Case, Marks, StateKind
from mountproof.records.compare import Comparison, compare_records
from mountproof.records.repeats import SpreadOf
from mountproof.records.reseat import reseating

_RESEAT_NEED = (
    "the record taken off and put back five times, three pairs of marks each",
    "it shows how well it seats",
    "marks.reseat_mm",
)
#: The full rank of a pose: six directions.
_ALL_SIX = 6


def answer(case: Case, progress: Progress) -> Answer:
    """Answer from re-seating, and from records compared after the hinge opening has been taken out."""
    ledger = Ledger("record")
    ledger.sources += [SOURCES["critical"], SOURCES["gum"]]
    if case.marks is None or not _anything_read(case.marks):
        ledger.need(*_RESEAT_NEED)
        return ledger.answer("Nothing was measured with a record in yet.", Verdict.CANNOT_TELL)
    marks = marks_input(case.marks, case.caliper, ledger)
    states = states_of(case, ledger)
    says = [*_reseat(case, marks, ledger), *_compare(case, marks, states, ledger)]
    if not ledger.verdicts:
        ledger.because(
            Verdict.CANNOT_TELL, Why.MISSING, "neither re-seating nor a second record was measured"
        )
        says = ["One record, seated once, cannot be judged"]
    return ledger.answer(". ".join(says) + ".")


def _anything_read(marks: Marks) -> bool:
    """Tell whether a record was measured at all: with it in, before or after set, or on and off again."""
    with_record = {n for n, s in marks.states.items() if s.kind in (StateKind.RECORD, StateKind.RECORD_SET)}
    return marks.reseat_mm is not None or any(c.state in with_record for c in marks.readings_mm.cells())


def _reseat(case: Case, marks: MarksInput, ledger: Ledger) -> list[str]:
    assert case.marks is not None
    table = case.marks.reseat_mm
    if table is None or len(table.states) < 2:
        ledger.need(*_RESEAT_NEED)
        return []
    repeats = {
        pair: [math.fsum(cell) / len(cell) for cell in row] for pair, row in table.rows.items() if all(row)
    }
    gaps = [pair for pair, row in table.rows.items() if not all(row)]
    if gaps and repeats:
        which = ", ".join(gaps)
        ledger.notes.append(f"{which} was not read at every re-seating and is left out.")
        ledger.need(f"{which} at every re-seating", "it has gaps and is left out", "marks.reseat_mm")
    if not repeats:
        ledger.need("every pair at every re-seating", "the re-seating table has gaps", "marks.reseat_mm")
        return []
    cells = [cell for pair in repeats for cell in table.rows[pair]]
    # the mean of repeats in a cell is read better than one of them
    reading_sd = marks.sd_mm * math.sqrt(math.fsum(1.0 / len(cell) for cell in cells) / len(cells))
    found = reseating(repeats, reading_sd)
    name = case.marks.reseat_record or "the record"
    seat = found.seat_sd_mm(reading_sd)
    high = math.sqrt(max(0.0, found.pooled.high**2 - reading_sd**2))
    limit = case.limits.reseat_sd
    _spread(ledger, "reseat_sd", "SD of re-seating, reading included", found.pooled)
    ledger.notes.append(
        f"Of that the seat alone makes {seat:.3f} mm (at most {high:.3f}), the rest is reading the caliper."
    )
    rows = tuple((p, *(f"{v:.2f}" for v in repeats[p]), f"{s.sd:.3f}") for p, s in found.by_pair.items())
    ledger.tables.append(Table(f"Re-seating of {name}, mm", ("pair", *table.states, "SD"), rows))
    if found.two_seats is not None:
        ledger.because(
            Verdict.DISAGREES,
            Why.OUTSIDE,
            f"{name} has two seats {found.two_seats.apart_mm:.2f} mm apart: it rocks",
            value=found.two_seats.apart_mm,
            unit="mm",
        )
        return [f"{name} rocks between two seats"]
    if found.trend.tail < 0.01:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            f"{name} wanders by {found.trend.slope_mm:+.3f} mm at each re-seating",
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
            "more re-seatings", f"{found.reseatings} leave the SD open up to {high:.2f} mm", "marks.reseat_mm"
        )
    ledger.because(
        verdict,
        why,
        f"{name} finds its seat to {seat:.2f} mm (SD; at most {high:.2f}; agrees up to {limit.decent:g}, "
        f"redo above {limit.redo:g})",
        value=seat,
        limit=limit.decent,
        unit="mm",
    )
    return [f"{name[:1].upper()}{name[1:]} finds its seat to {seat:.2f} mm (1 SD)"]


def _spread(ledger: Ledger, key: str, label: str, spread: SpreadOf) -> None:
    # The interval of an SD is not symmetric: chi-square, from its degrees of freedom.
    u = spread.sd / math.sqrt(2.0 * spread.dof)
    ledger.quantities.append(Quantity(key, label, spread.sd, "mm", u, spread.low, spread.high, 3, False, ""))


def _compare(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    """Compare all records of CR that were measured before stone."""
    assert case.marks is not None
    names = _one_a_record(case.marks, marks, ledger)
    if len(names) >= 2 and states.mip is None:
        ledger.need(
            "the same pairs of marks in MIP by hand", "the records are compared against it", "marks.states"
        )
        return []
    if len(names) < 2 or states.mip is None:
        ledger.need(
            "a second and a third CR record, measured at the same marks",
            "one record shows no spread",
            "marks.states",
        )
        return []
    repeat = record_repeat(case, ledger)
    placed = bench_marks(case, marks)
    fit = None
    if placed is not None:
        slack = record_slack(case, names)
        marks = set_aside(case, marks, [Look(states.mip, tuple(names), slack)], ledger)
        fit = fit_poses(placed, marks.table, states.mip, names, slack=slack)
    wording = {n: case.marks.states[n].record or n for n in names}
    if fit is not None and all(fit.poses[n].rank == _ALL_SIX for n in names):
        half = half_width(case, ledger)
        front = front_tooth(tooth_places(case, ledger))
        points = (
            Point("right condyle", (0.0, 0.0, half)),
            Point("left condyle", (0.0, 0.0, -half)),
            Point(front.name, (front.x_mm, front.y_mm, 0.0)),
        )
        features = place_features(fit, names, points)
        what = f"condyles and {front.name}, closed to one opening"
    else:
        straight = [a for a in marks.arms if all(a.pair in marks.table[s] for s in (states.mip, *names))]
        if len(straight) < 2:
            ledger.need(
                "two or more pairs in MIP and with every record in",
                "records are compared by them",
                "marks.readings_mm",
            )
            return []
        features = residual_features(straight, marks.table, states.mip, names)
        what = "pairs of marks, hinge opening taken out"
        if fit is not None:
            _missing(ledger, fit, names)
    found = compare_records(
        names, features.values, features.cov, features.names, repeat, case.limits.records_at_condyle.redo
    )
    ledger.tables.append(_compared_table(found, wording, what))
    blind = fit is None or any(fit.poses[n].rank < _ALL_SIX for n in names)
    if blind and found.agreement == "same":
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.NOT_CARRIED,
            f"the {len(names)} records agree as far as these pairs see; a difference fore-aft, to a side or in yaw "
            "would not show",
        )
        return [
            f"The records agree as far as these pairs see; nearest the middle is {wording[found.mount_on]}"
        ]
    return [_tell(found, wording, ledger, case)]


def _one_a_record(given: Marks, marks: MarksInput, ledger: Ledger) -> list[str]:
    """Return one column for each record with it in before stone; further columns of one record show its seat only."""
    first: dict[str, str] = {}
    for name, state in given.states.items():
        if state.kind is StateKind.RECORD and marks.table.get(name):
            before = first.setdefault(state.record or name, name)
            if before != name:
                ledger.notes.append(
                    f"{name} is a further column of {state.record}: the records are compared by {before}."
                )
    return list(first.values())


def _missing(ledger: Ledger, fit: PoseTable, names: list[str]) -> None:
    blind = fit.poses[names[0]].not_seen
    if blind:
        ledger.notes.append("These marks do not see: " + "; ".join(s.words for s in blind) + ".")
        ledger.need(
            "slanted and cross-arch pairs of marks",
            "straight pairs do not see fore-aft, side and yaw",
            "marks.readings_mm",
        )


def _tell(found: Comparison, wording: dict[str, str], ledger: Ledger, case: Case) -> str:
    best = wording[found.mount_on]
    mounted = case.mounted_on
    used = f"; mounted on {mounted}" if mounted else ""
    if found.agreement == "same":
        ledger.because(
            Verdict.AGREES,
            Why.INSIDE,
            f"the {len(wording)} records agree; a difference above {found.detectable:.2f} mm would show",
        )
        return f"The records agree; nearest the middle is {best}{used}"
    if found.agreement == "one stands out" and found.outlier is not None:
        odd = wording[found.outlier]
        tail = found.tails[list(wording).index(found.outlier)]
        ledger.notes.append(
            f"{odd[:1].upper()}{odd[1:]} is told by all compared numbers together: an honest record lies so far from the "
            f"others in {_chance(tail)}."
        )
        ledger.notes.append(
            f"Mean values would hide it: use a real record, the one nearest the median ({best})."
        )
        if mounted == odd:
            ledger.because(
                Verdict.DISAGREES,
                Why.OUTSIDE,
                f"{odd} stands out from the others, and the cast is mounted on it",
            )
            ledger.need(f"mount on {best}, or take another record", f"{odd} stands out", "mounted_on")
        else:
            ledger.because(
                Verdict.AGREES, Why.INSIDE, f"{odd} stands out and must not be used; the others agree"
            )
        return f"{odd[:1].upper()}{odd[1:]} stands out; nearest the middle of the others is {best}{used}"
    if found.agreement in ("scattered", "differ"):
        ledger.because(
            Verdict.DISAGREES, Why.OUTSIDE, "the records lie farther apart than honest repeats would"
        )
        ledger.need("another record, after a rest or on another day", "these do not agree", "records")
        return "The records do not agree with each other"
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.GUARD_BAND,
        f"no difference was found, but one of up to {found.detectable:.2f} mm would not show",
        limit=found.detectable,
        unit="mm",
    )
    ledger.need(
        "every pair three times with each record in", "smaller differences then show", "marks.readings_mm"
    )
    return f"No difference between the records was found, but {found.detectable:.1f} mm would not show"


def _chance(tail: float) -> str:
    return "fewer than 1 of 1000" if tail < 0.001 else f"{1000 * tail:.0f} of 1000"


def _compared_table(found: Comparison, wording: dict[str, str], what: str) -> Table:
    rows = tuple(
        (
            f.name,
            *(f"{v - min(f.values):.2f}" for v in f.values),
            f"{f.range:.2f}",
            f"{f.critical:.2f}",
            "beyond" if f.beyond else "",
        )
        for f in found.features
    )
    return Table(
        f"Records compared: {what}, mm",
        ("", *wording.values(), "range", "allowed", ""),
        rows,
        "Each row from its smallest value; allowed: the range honest records keep (critical range, ISO 5725-6).",
    )
