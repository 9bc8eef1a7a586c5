"""Does what is asked of the lab fit together?"""

from __future__ import annotations

from collections.abc import Iterator

from mountproof.case.finding import Finding
from mountproof.case.model import Case
from mountproof.said import say


def prescription_findings(case: Case) -> Iterator[Finding]:
    """Yield what contradicts itself in the prescription of a case."""
    asked = case.prescription
    if asked.ovd_change_mm and asked.ovd_change_at is None:
        yield Finding(
            "case.missing_field",
            ("prescription", "ovd_change_at"),
            say("a change of the vertical dimension is given, but not where it is told"),
            say('Add ovd_change_at = "incisors", "first molars" or "pin"'),
        )
    if asked.no_new_material and case.space.wanted:
        yield Finding(
            "case.contradiction",
            ("prescription", "no_new_material"),
            say("nothing is restored, it says here, and a thickness is wanted under space"),
            say("Take one of them out"),
            about=("space", "wanted"),
        )
    for at, step in enumerate(asked.steps):
        if step.reversible_trial is not None and step.no_reversible_trial:
            yield Finding(
                "case.contradiction",
                ("prescription", "steps", at, "no_reversible_trial"),
                say("a reversible trial has its day here, and also why there is none"),
                say("Take one of them out"),
            )
