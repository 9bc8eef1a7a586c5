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
from mountproof.said import capital, figure, joined, say

_RESEAT_NEED = (
    say("the record taken off and put back five times, three pairs of marks each"),
    say("it shows how well it seats"),
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
        return ledger.answer(say("Nothing was measured with a record in yet."), Verdict.CANNOT_TELL)
    marks = marks_input(case.marks, case.caliper, ledger)
    states = states_of(case, ledger)
    says = [*_reseat(case, marks, ledger), *_compare(case, marks, states, ledger)]
    if not ledger.verdicts:
        ledger.because(
            Verdict.CANNOT_TELL, Why.MISSING, say("neither re-seating nor a second record was measured")
        )
        says = [say("One record, seated once, cannot be judged")]
    return ledger.answer(joined(". ", says))


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
    limit = case.limits.reseat_sd
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
        say(
            "{record} finds its seat to {seat:.2f} mm (SD; at most {high:.2f}; agrees up to {decent:g}, redo "
            "above {redo:g})",
            record=name,
            seat=seat,
            high=high,
            decent=limit.decent,
            redo=limit.redo,
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


def _compare(case: Case, marks: MarksInput, states: States, ledger: Ledger) -> list[str]:
    """Compare all records of CR that were measured before stone."""
    assert case.marks is not None
    names = _one_a_record(case.marks, marks, ledger)
    if len(names) >= 2 and states.mip is None:
        ledger.need(
            say("the same pairs of marks in MIP by hand"),
            say("the records are compared against it"),
            "marks.states",
        )
        return []
    if len(names) < 2 or states.mip is None:
        ledger.need(
            say("a second and a third CR record, measured at the same marks"),
            say("one record shows no spread"),
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
            Point(say("right condyle"), (0.0, 0.0, half)),
            Point(say("left condyle"), (0.0, 0.0, -half)),
            Point(front.name, (front.x_mm, front.y_mm, 0.0)),
        )
        features = place_features(fit, names, points)
        what = say("condyles and {teeth}, closed to one opening", teeth=front.name)
    else:
        straight = [a for a in marks.arms if all(a.pair in marks.table[s] for s in (states.mip, *names))]
        if len(straight) < 2:
            ledger.need(
                say("two or more pairs in MIP and with every record in"),
                say("records are compared by them"),
                "marks.readings_mm",
            )
            return []
        features = residual_features(straight, marks.table, states.mip, names)
        what = say("pairs of marks, hinge opening taken out")
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
            say(
                "the {count} records agree as far as these pairs see; a difference fore-aft, to a side or in yaw "
                "would not show",
                count=len(names),
            ),
        )
        return [
            say(
                "The records agree as far as these pairs see; nearest the middle is {best}",
                best=wording[found.mount_on],
            )
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
                    say(
                        "{state} is a further column of {record}: the records are compared by {before}.",
                        state=name,
                        record=state.record or name,
                        before=before,
                    )
                )
    return list(first.values())


def _missing(ledger: Ledger, fit: PoseTable, names: list[str]) -> None:
    blind = fit.poses[names[0]].not_seen
    if blind:
        ledger.notes.append(
            say("These marks do not see: {ways}.", ways=joined("; ", (s.words for s in blind)))
        )
        ledger.need(
            say("slanted and cross-arch pairs of marks"),
            say("straight pairs do not see fore-aft, side and yaw"),
            "marks.readings_mm",
        )


def _tell(found: Comparison, wording: dict[str, str], ledger: Ledger, case: Case) -> str:
    best = wording[found.mount_on]
    mounted = case.mounted_on
    used = say("; mounted on {record}", record=mounted) if mounted else ""
    if found.agreement == "same":
        ledger.because(
            Verdict.AGREES,
            Why.INSIDE,
            say(
                "the {count} records agree; a difference above {detectable:.2f} mm would show",
                count=len(wording),
                detectable=found.detectable,
            ),
        )
        return say("The records agree; nearest the middle is {best}{used}", best=best, used=used)
    if found.agreement == "one stands out" and found.outlier is not None:
        odd = wording[found.outlier]
        tail = found.tails[list(wording).index(found.outlier)]
        ledger.notes.append(
            capital(
                say(
                    "{odd} is told by all compared numbers together: an honest record lies so far from the "
                    "others in {chance}.",
                    odd=odd,
                    chance=_chance(tail),
                )
            )
        )
        ledger.notes.append(
            say(
                "Mean values would hide it: use a real record, the one nearest the median ({best}).",
                best=best,
            )
        )
        if mounted == odd:
            ledger.because(
                Verdict.DISAGREES,
                Why.OUTSIDE,
                say("{odd} stands out from the others, and the cast is mounted on it", odd=odd),
            )
            ledger.need(
                say("mount on {best}, or take another record", best=best),
                say("{odd} stands out", odd=odd),
                "mounted_on",
            )
        else:
            ledger.because(
                Verdict.AGREES,
                Why.INSIDE,
                say("{odd} stands out and must not be used; the others agree", odd=odd),
            )
        return capital(
            say(
                "{odd} stands out; nearest the middle of the others is {best}{used}",
                odd=odd,
                best=best,
                used=used,
            )
        )
    if found.agreement in ("scattered", "differ"):
        ledger.because(
            Verdict.DISAGREES, Why.OUTSIDE, say("the records lie farther apart than honest repeats would")
        )
        ledger.need(
            say("another record, after a rest or on another day"), say("these do not agree"), "records"
        )
        return say("The records do not agree with each other")
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.GUARD_BAND,
        say(
            "no difference was found, but one of up to {detectable:.2f} mm would not show",
            detectable=found.detectable,
        ),
        limit=found.detectable,
        unit="mm",
    )
    ledger.need(
        say("every pair three times with each record in"),
        say("smaller differences then show"),
        "marks.readings_mm",
    )
    return say(
        "No difference between the records was found, but {detectable:.1f} mm would not show",
        detectable=found.detectable,
    )


def _chance(tail: float) -> str:
    return say("fewer than 1 of 1000") if tail < 0.001 else say("{count:.0f} of 1000", count=1000 * tail)


def _compared_table(found: Comparison, wording: dict[str, str], what: str) -> Table:
    rows = tuple(
        (
            f.name,
            *(figure(v - min(f.values), ".2f") for v in f.values),
            figure(f.range, ".2f"),
            figure(f.critical, ".2f"),
            say("beyond") if f.beyond else "",
        )
        for f in found.features
    )
    return Table(
        say("Records compared: {what}, mm", what=what),
        ("", *wording.values(), say("range"), say("allowed"), ""),
        rows,
        say(
            "Each row from its smallest value; allowed: the range honest records keep (critical range, ISO "
            "5725-6)."
        ),
    )
