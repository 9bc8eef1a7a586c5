"""Do the entries about a change agree with each other?"""

from __future__ import annotations

from collections.abc import Iterator

from mountproof import teeth
from mountproof.case.finding import Finding
from mountproof.case.lines import Path
from mountproof.case.model import Case, StopAt
from mountproof.case.tooth_numbers import is_number, teeth_iso, told_otherwise
from mountproof.said import say


def change_findings(case: Case) -> Iterator[Finding]:
    """Yield what is wrong with budgets, teeth that are left out, and where a trial ends."""
    given = ((one.teeth, one.most_mm) for one in case.change.budgets)
    for at, i, tooth, before, now in told_otherwise(given):
        yield Finding(
            "case.contradiction",
            ("change", "budgets", at, "teeth", i),
            say(
                "tooth {tooth} has a budget of {before:g} mm, and here of {now:g} mm",
                tooth=tooth,
                before=before,
                now=now,
            ),
            say("Name each tooth once"),
            str(tooth),
        )
    yield from _stop_findings(case)
    yield from _seen_findings(case)
    names = [branch.name for branch in case.change.branches]
    for at, name in enumerate(names):
        if name in names[:at]:
            yield Finding(
                "case.contradiction",
                ("change", "branches", at, "name"),
                say("two ways of the trial have one name"),
                say("Name each way once"),
                name,
            )


def _stop_findings(case: Case) -> Iterator[Finding]:
    stop = case.change.stop
    if stop.at is StopAt.PIN and stop.pin_mm is None:
        yield Finding(
            "case.missing_field",
            ("change", "stop", "at"),
            say("the trial ends at a height of the pin, and that height is not said"),
            say("Add pin_mm under change.stop"),
        )
    if stop.pin_mm is not None and stop.at is not StopAt.PIN:
        yield Finding(
            "case.contradiction",
            ("change", "stop", "pin_mm"),
            say("a height of the pin is given, but the trial does not end at the pin"),
            say('Write at = "pin", or take pin_mm out'),
        )


def _seen_findings(case: Case) -> Iterator[Finding]:
    """Yield upper back teeth that were seen in two thirds, and teeth that are none."""
    seen: dict[int, str] = {}
    for at, one in enumerate(case.change.means.seen):
        for i, tooth in enumerate(one.teeth):
            where = ("change", "means", "seen", at, "teeth", i)
            if not is_number(tooth, case.dentition.numbering):
                continue  # told with all tooth numbers
            iso = teeth_iso(case, (tooth,))[0]
            if teeth.arch_of(iso) != "upper" or not teeth.is_posterior(iso):
                yield Finding("case.contradiction", where, say("tooth {tooth} is no upper back tooth", tooth=tooth),
                              say("Name the upper premolar or molar under which the lower cusp stands"), str(tooth))  # fmt: skip
            if seen.setdefault(iso, one.third) != one.third:
                yield Finding("case.contradiction", where, say("tooth {tooth} was seen in two thirds", tooth=tooth),
                              say("Name each tooth once"), str(tooth))  # fmt: skip


def change_teeth(case: Case) -> list[tuple[Path, int]]:
    """Return every tooth number of these entries and where it stands."""
    found: list[tuple[Path, int]] = []
    for name in ("budgets", "excluded"):
        for at, one in enumerate(getattr(case.change, name)):
            found += [(("change", name, at, "teeth", i), n) for i, n in enumerate(one.teeth)]
    for at, branch in enumerate(case.change.branches):
        found += [(("change", "branches", at, "excluded", i), n) for i, n in enumerate(branch.excluded)]
    for at, one in enumerate(case.change.means.seen):
        found += [(("change", "means", "seen", at, "teeth", i), n) for i, n in enumerate(one.teeth)]
    return found + [(("change", "restored", i), n) for i, n in enumerate(case.change.restored)]
