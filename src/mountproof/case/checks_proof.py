"""Do the checks of casts and mounting that were entered fit together: widths, gaps, strips, seatings, attempts?

Scans with too few points so far, and three stops in a line, are a case all the same: the answers say what they lack.
"""

from __future__ import annotations

from collections.abc import Iterator

from mountproof.case.doubt_entries import Steps
from mountproof.case.finding import Finding, figure
from mountproof.case.lines import Path
from mountproof.case.model import Case, Seats
from mountproof.case.tooth_numbers import arch_of
from mountproof.said import say


def named_records(case: Case) -> list[tuple[Path, str | None]]:
    """Return every record that the checks of the mounting name, and where."""
    found: list[tuple[Path, str | None]] = []
    for field in ("seatings", "split_casts", "condyle_gaps", "attempts"):
        for at, one in enumerate(getattr(case.proof, field)):
            found.append((("proof", field, at, "record"), one.record))
    return found


def proof_findings(case: Case) -> Iterator[Finding]:
    """Yield what is impossible, or contradicts itself, among the checks of casts and mounting."""
    yield from _width_findings(case)
    yield from _gap_findings(case)
    for at, seating in enumerate(case.proof.seatings):
        if seating.where is not None and seating.found is Seats.FULLY:
            yield Finding(
                "case.contradiction",
                ("proof", "seatings", at, "where"),
                say("the record seats fully, and stands off at one place"),
                say("Take the place out, or say how it sat"),
                f'"{seating.where.value}"',
            )
    kept = [at for at, attempt in enumerate(case.proof.attempts) if attempt.kept]
    for at in kept[1:]:
        yield Finding(
            "case.contradiction",
            ("proof", "attempts", at, "kept"),
            say("two mountings are said to stand now"),
            say("Leave kept = true only at the one that stands"),
            allowed=say("one mounting that was kept"),
        )
    yield from _other_cases_findings(case)
    yield from _source_findings(case)


def _source_findings(case: Case) -> Iterator[Finding]:
    """Yield each source that is told of a number which the steps do not have."""
    known = [name for name in Steps.model_fields if name != "source"]
    for name in case.doubt.source:
        if name not in known:
            yield Finding(
                "case.reference",
                ("doubt", "source", name),
                say("a source is told of a number that steps do not have"),
                say("Name the number as it is called under [doubt]"),
                f'"{name}"',
                ", ".join(known),
            )


def _other_cases_findings(case: Case) -> Iterator[Finding]:
    looked_at, alike = case.proof.other_cases_looked_at, case.proof.other_cases_alike
    if alike is not None and looked_at is None:
        yield Finding(
            "case.missing_field",
            ("proof", "other_cases_alike"),
            say("it is not said how many other cases were looked at"),
            say("Give other_cases_looked_at as well"),
        )
    elif alike is not None and looked_at is not None and alike > looked_at:
        yield Finding(
            "case.contradiction",
            ("proof", "other_cases_alike"),
            say("more cases are off in the same way than were looked at"),
            say("Put one of the two numbers right"),
            str(alike),
            say("at most {count}", count=looked_at),
        )


def _width_findings(case: Case) -> Iterator[Finding]:
    for at, width in enumerate(case.casts.widths):
        here: Path = ("casts", "widths", at, "between")
        first, second = width.between
        if first == second:
            yield Finding(
                "case.contradiction",
                here,
                say("a width is measured between two different teeth"),
                say("Put one of the two numbers right"),
                f"[{first}, {second}]",
            )
        for i, number in enumerate(width.between):
            arch = arch_of(number, case.dentition.numbering)
            if arch is not None and arch is not width.arch:
                yield Finding(
                    "case.contradiction",
                    (*here, i),
                    say("tooth {number} is not in the {arch} arch", number=number, arch=width.arch),
                    say("Put the number or the arch right"),
                    str(number),
                )


def _gap_findings(case: Case) -> Iterator[Finding]:
    for at, split in enumerate(case.proof.split_casts):
        for i, gap in enumerate(split.gaps):
            here: Path = ("proof", "split_casts", at, "gaps", i)
            if gap.gap_mm is None and gap.holds_um is None and gap.passes_um is None:
                yield Finding(
                    "case.missing_field",
                    here,
                    say("no gap is given at this place, and no strip"),
                    say("Give gap_mm, or holds_um, passes_um or both"),
                )
            if gap.holds_um is not None and gap.passes_um is not None and gap.holds_um <= gap.passes_um:
                yield Finding(
                    "case.contradiction",
                    (*here, "holds_um"),
                    say("a strip is held, and one that is no thinner passes"),
                    say("Put one of the two right: the strip that is held is the thicker one"),
                    say("{holds} and {passes}", holds=figure(gap.holds_um), passes=figure(gap.passes_um)),
                    say("holds_um above passes_um"),
                )
