"""Do the parts of a case fit together: names that refer to each other, readings that cannot be."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path as FilePath

from mountproof.case.checks_change import change_findings
from mountproof.case.checks_prescription import prescription_findings
from mountproof.case.checks_proof import named_records, proof_findings
from mountproof.case.checks_scans import scan_findings
from mountproof.case.checks_settings import setting_findings
from mountproof.case.checks_teeth import tooth_findings
from mountproof.case.finding import Finding
from mountproof.case.lines import Path
from mountproof.case.marks import LONGEST_MM
from mountproof.case.model import Bench, Caliper, Case, Counting, Marks, Readings
from mountproof.case.pairs import is_upper_lower, ways
from mountproof.case.steps_order import step_findings
from mountproof.said import joined, say

_PLACES, _STATES, _RECORDS = ("marks", "places"), ("marks", "states"), ("records",)
#: A caliper that is off by more on a block was read or typed wrongly.
_MOST_OFF_MM = 2.0


def case_findings(case: Case, folder: FilePath | None = None) -> Iterator[Finding]:
    """Yield everything in a case that does not fit together; nothing where all is well."""
    yield from _caliper_findings(case.caliper)
    yield from _pin_findings(case)
    yield from setting_findings(case)
    yield from prescription_findings(case)
    yield from change_findings(case)
    if case.marks is not None:
        yield from _marks_findings(case.marks)
    yield from _name_findings(case)
    if case.bench is not None:
        yield from _clock_findings(case.bench)
    for name, field in type(case.limits).model_fields.items():
        got, unit = getattr(case.limits, name).unit, field.default.unit
        if got != unit:
            yield Finding(
                "case.out_of_range",
                ("limits", name, "unit"),
                say("a limit keeps its unit"),
                say("Take the unit out, and write both numbers in the unit allowed"),
                f'"{got}"',
                f'"{unit}"',
            )
    for name, record in case.records.items():
        if record.upper_from_lower is not None and record.upper_from_lower[3] != (0, 0, 0, 1):
            yield Finding(
                "case.out_of_range",
                ("records", name, "upper_from_lower", 3),
                say("the last row of the matrix is not 0, 0, 0, 1"),
                say("Write it row by row; if it was written column by column, turn it over"),
                str(list(record.upper_from_lower[3])),
                "[0, 0, 0, 1]",
            )
    yield from tooth_findings(case)
    yield from proof_findings(case)
    yield from scan_findings(case, folder)
    yield from step_findings(case)


def _caliper_findings(caliper: Caliper) -> Iterator[Finding]:
    step, sd = caliper.resolution_mm, caliper.sd_mm
    if step is not None and sd is not None and sd < 0.999 * step / math.sqrt(12):
        # A reading rounded to a step has at least the standard deviation of the step's rectangle, JCGM 100 F.2.2.1.
        yield Finding(
            "case.out_of_range",
            ("caliper", "sd_mm"),
            say("readings cannot scatter less than the caliper's own steps let them"),
            say("Measure one distance ten times anew, or put resolution_mm right"),
            say("{mm:.12g} mm", mm=sd),
            say("at least {least:.4f} mm for steps of {step:.12g} mm", least=step / math.sqrt(12), step=step),
        )
    block, reads = caliper.block_mm, caliper.block_reads_mm
    if (block is None) != (reads is None):
        lacking = "block_mm" if block is None else "block_reads_mm"
        yield Finding(
            "case.missing_field",
            ("caliper", "block_reads_mm" if block is None else "block_mm"),
            say(
                "a block needs both its thickness and what the caliper shows; {lacking} is missing",
                lacking=lacking,
            ),
            say("Add {lacking}, or take the other out", lacking=lacking),
        )
    if block is not None and reads is not None and abs(reads - block) > _MOST_OFF_MM:
        yield Finding(
            "case.out_of_range",
            ("caliper", "block_reads_mm"),
            say("no caliper is off by that much"),
            say("Measure the block again, or put the number right"),
            say("{reads:.12g} mm on a block of {block:.12g} mm", reads=reads, block=block),
            say("at most {mm:.12g} mm apart", mm=_MOST_OFF_MM),
        )


def _pin_findings(case: Case) -> Iterator[Finding]:
    if case.instrument is None:
        return
    pin = case.instrument.pin
    points = sorted(pin.calibration, key=lambda point: point.block_mm)
    here: Path = ("instrument", "pin", "calibration")
    if len(points) < 2 or points[0].block_mm == points[-1].block_mm:
        return
    rise = points[-1].reads - points[0].reads
    if rise == 0:
        yield Finding(
            "case.contradiction",
            here,
            say("the scale shows the same on blocks of different thickness"),
            say("Read the scale again on both blocks"),
        )
    elif (rise > 0) != (pin.counts is Counting.UP_ON_OPENING):
        runs = Counting.UP_ON_OPENING if rise > 0 else Counting.DOWN_ON_OPENING
        yield Finding(
            "case.contradiction",
            here,
            say(
                "on these blocks the scale runs {runs}, but counts says {counts}",
                runs=runs.value,
                counts=pin.counts.value,
            ),
            say('Write counts = "{runs}" under [instrument.pin], or read the blocks again', runs=runs.value),
        )


def _marks_findings(marks: Marks) -> Iterator[Finding]:
    for name in [*marks.places, *marks.states]:
        part = "places" if name in marks.places else "states"
        if any(c.isspace() for c in name) or "#" in name:
            yield Finding(
                "case.wrong_type",
                ("marks", part, name),
                say("a name that stands in the table of readings cannot hold a space or #"),
                say("Shorten the name, such as UR"),
                f'"{name}"',
            )
    yield from _table_findings(marks, marks.readings_mm, "readings_mm")
    if marks.reseat_mm is not None:
        yield from _table_findings(marks, marks.reseat_mm, "reseat_mm")
    for state in marks.readings_mm.states:
        if state not in marks.states:
            yield _unknown_name(
                ("marks", "readings_mm", state), "state", state, marks.states, _STATES, "kind = ..."
            )


def _table_findings(marks: Marks, table: Readings, field: str) -> Iterator[Finding]:
    for pair in table.rows:
        yield from _pair_findings(marks, pair, ("marks", field, pair))
    for pair, state, values in table.cells():
        for value in values:
            if not 0 < value <= LONGEST_MM:
                yield Finding(
                    "case.out_of_range",
                    ("marks", field, pair, state),
                    say("no two marks on a pair of casts are that far apart")
                    if value > 0
                    else say("a distance is more than nothing"),
                    say("Measure again, or put the number right"),
                    say("{mm:.12g} mm", mm=value),
                    say("more than 0 mm, at most {mm:.12g} mm", mm=LONGEST_MM),
                )


def _pair_findings(marks: Marks, pair: str, path: Path) -> Iterator[Finding]:
    found = ways(pair, marks.places)
    fitting = [names for names in found if is_upper_lower(names, marks.places)]
    if len(fitting) == 1:
        return
    shown = f'"{pair}"'
    allowed = say("upper mark, hyphen, lower mark")
    if len(fitting) > 1:
        both = joined(say(" or "), (say("{upper} with {lower}", upper=a, lower=b) for a, b in fitting))
        yield Finding(
            "case.reference",
            path,
            say("the pair can be read as {both}", both=both),
            say("Rename a mark so that its name holds no hyphen"),
            shown,
            allowed,
            about=_PLACES,
        )
    elif found:
        upper, lower = found[0]
        arches = {marks.places[upper].arch, marks.places[lower].arch}
        if len(arches) == 2:
            todo = say("Write the upper mark first: {lower}-{upper}", lower=lower, upper=upper)
            yield Finding(
                "case.reference",
                path,
                say("the lower mark stands first"),
                todo,
                shown,
                allowed,
                about=_PLACES,
            )
        else:
            what = say("both marks are on the {arch} cast", arch=next(iter(arches)))
            todo = say("Pair an upper mark with a lower one, or put the arch of one of them right")
            yield Finding("case.reference", path, what, todo, shown, allowed, about=_PLACES)
    elif "-" not in pair:
        yield Finding(
            "case.reference",
            path,
            say("this is no pair of marks"),
            say("Write upper mark, hyphen, lower mark"),
            shown,
            allowed,
        )
    else:
        for name in _unknown_marks(pair, marks):
            yield _unknown_name(
                path, say("mark"), name, marks.places, _PLACES, say('arch = "upper" or "lower"'), shown
            )


def _unknown_marks(pair: str, marks: Marks) -> list[str]:
    """Return the names in a pair that are not known, by the hyphen that leaves the fewest unknown."""
    splits = [(pair[:at], pair[at + 1 :]) for at, letter in enumerate(pair) if letter == "-"]
    unknown = [[name for name in names if name not in marks.places] for names in splits[:8]]
    return min(unknown, key=len)


def _unknown_name(
    path: Path, what: str, name: str, known: Iterable[str], about: Path, entry: str, got: str = ""
) -> Finding:
    import difflib  # only a mistake needs it

    known, heading = list(known), f"[{'.'.join(map(str, about))}]"
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
    todo = (
        say("Did you mean {name}?", name=close[0])
        if close
        else say("Add it under {heading}, with {entry}, or put the name right", heading=heading, entry=entry)
    )
    listed = ", ".join(known[:12])
    if len(known) > 12:
        listed = say("{names} and more", names=listed)
    return Finding(
        "case.reference",
        path,
        say("the {what} {name!r} is not known under {heading}", what=what, name=name, heading=heading),
        todo,
        got or f'"{name}"',
        listed or say("none is listed under {heading}", heading=heading),
        about=about,
    )


def _name_findings(case: Case) -> Iterator[Finding]:
    states = case.marks.states if case.marks else {}
    for at, reading in enumerate(case.pin_readings):
        if reading.state not in states:
            yield _unknown_name(
                ("pin_readings", at, "state"), say("state"), reading.state, states, _STATES, "kind = ..."
            )
    records: list[tuple[Path, str | None]] = [(("mounted_on",), case.mounted_on)]
    records += named_records(case)
    records += [(("marks", "states", name, "record"), state.record) for name, state in states.items()]
    if case.marks is not None:
        records.append((("marks", "reseat_record"), case.marks.reseat_record))
    for path, name in records:
        if name is not None and name not in case.records:
            yield _unknown_name(
                path, say("record"), name, case.records, _RECORDS, say('kind = "CR" or another')
            )


def _clock_findings(bench: Bench) -> Iterator[Finding]:
    """Times in a wrong order; a bench session may pass midnight, but does not last half a day."""
    order = [(name, getattr(bench, name)) for name in ("powder_met_water", "hands_off", "released")]
    given: list[tuple[str, dt.time]] = [(name, time) for name, time in order if time is not None]
    for (before, early), (after, late) in pairwise(given):
        minutes = (late.hour * 60 + late.minute) - (early.hour * 60 + early.minute)
        if -720 < minutes < 0:
            yield Finding(
                "case.contradiction",
                ("bench", after),
                say("{after} lies before {before}", after=after, before=before),
                say("Put one of the two times right"),
                say("{late} and {early}", late=late, early=early),
                say("{after} at or after {before}", after=after, before=before),
            )
