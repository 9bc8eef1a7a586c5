"""The page for the patient: what was found, what is not known, what can be taken back. No promise, and no name for an illness."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from mountproof.answers.paper import Block, Line, Paper, Stands
from mountproof.answers.paper_checks import STEPS, checks_of, second_record
from mountproof.answers.result import Sheet, Verdict
from mountproof.case.model import Case, PlannedStep, Relation, Where
from mountproof.case.model import Final as FinalStep
from mountproof.case.tooth_numbers import teeth_iso
from mountproof.said import capital, figure, joined, say
from mountproof.teeth import along_arch_key, name

_RECORD: Final = {
    Verdict.AGREES: say("We took prints of how your teeth come together. They agree with each other."),
    Verdict.DOUBTFUL: say("We took prints of how your teeth come together. They do not all agree."),
    Verdict.DISAGREES: say(
        "We took prints of how your teeth come together. They do not agree. We need a new one."
    ),
    Verdict.CANNOT_TELL: say(
        "We took prints of how your teeth come together. We do not know yet how well they agree."
    ),
}
_MOUNTING: Final = {
    Verdict.AGREES: say("The copies stand as the prints say."),
    Verdict.DOUBTFUL: say("The copies may not stand quite as the prints say."),
    Verdict.DISAGREES: say("The copies do not stand as the prints say. They must be set up again."),
    Verdict.CANNOT_TELL: say("We do not know yet if the copies stand as the prints say."),
}
#: A slide shorter than this is told as less than it (mm).
_SHORT_MM: Final = 0.5


def patient_page(case: Case, sheet: Sheet) -> Paper:
    """Return the page of one case, from its answers to the record, the mounting and the contacts; pure."""
    blocks = (
        Block(say("What was done"), tuple(_done(case))),
        Block(say("What was found"), tuple(_found(case, sheet))),
        Block(say("What is not known"), tuple(_unknown(case, sheet))),
        Block(say("What can be taken back"), tuple(_back(case))),
        *_for_good(case, sheet),
        Block(
            say("What you can do"),
            (
                Line(say("Ask about all that is not clear to you.")),
                Line(say("Take your time. You can say no to any step.")),
                Line(say("Tell us at once if your bite changes, or if your jaw hurts or locks.")),
            ),
        ),
    )
    return Paper(
        "patient",
        say("Your teeth and how they meet"),
        say(
            "This page tells what we have measured. What to do next is for you and your dentist to talk about."
        ),
        blocks,
        large=True,
    )


def _done(case: Case) -> Iterator[Line]:
    yield Line(say("We made copies of your teeth."))
    yield Line(say("We set the copies in a frame. The frame opens and shuts much as your jaw does."))
    if case.foils:
        yield Line(say("With thin foil we looked which of your teeth touch."))


def _found(case: Case, sheet: Sheet) -> Iterator[Line]:
    for key, words in (("record", _RECORD), ("mounting", _MOUNTING)):
        if key in sheet.answers and (key != "record" or case.records):
            yield Line(words[sheet.answers[key].verdict])
    first = _first_teeth(case, sheet)
    if first:
        yield Line(
            say("When your jaw hangs back and shuts, these teeth touch first: {teeth}.", teeth=_names(first))
        )
    slide = _slide_mm(sheet)
    if slide is not None:
        if slide < _SHORT_MM:
            yield Line(say("From there the jaw slides less than half a millimetre until all teeth meet."))
        else:
            shown = figure(round(2.0 * slide) / 2.0, ".1f")
            yield Line(
                say("From there the jaw slides about {mm} millimetres until all teeth meet.", mm=shown)
            )
        yield Line(say("Such a slide is common. It is not an illness."))


def _names(teeth: tuple[int, ...]) -> str:
    return joined(", ", [name(tooth) for tooth in teeth])


def _first_teeth(case: Case, sheet: Sheet) -> tuple[int, ...]:
    """Teeth that held the thinnest foil in the mouth in CR; else the pair that meets first on the scans."""
    lists = sorted(
        (f for f in case.foils if f.where is Where.MOUTH and f.relation is Relation.CR and f.held),
        key=lambda f: f.thickness_um,
    )
    if lists:
        return tuple(sorted(teeth_iso(case, lists[0].held), key=along_arch_key))
    found = sheet.answers.get("contacts")
    table = getattr(found.evidence, "table", None) if found is not None else None
    pairs = sorted(table.pairs, key=lambda p: p.closing_rad) if table is not None else []
    return (int(pairs[0].upper_tooth), int(pairs[0].lower_tooth)) if pairs else ()


def _slide_mm(sheet: Sheet) -> float | None:
    """Length of the slide at the incisors, where all three parts of it are known."""
    for key in ("contacts", "mounting"):
        found = sheet.answers.get(key)
        if found is not None:
            parts = {q.key: q.value for q in found.quantities if q.key in _SLIDE}
            if len(parts) == len(_SLIDE):
                return math.hypot(*parts.values())
    return None


_SLIDE: Final = ("slide_forward", "slide_up", "slide_right")


_OPEN: Final = {
    "mounting": say("We do not know yet if the copies are set as your jaw stands."),
    "mouth": say("We do not know yet if your mouth shows the same first touch as the copies."),
}


def _unknown(case: Case, sheet: Sheet) -> Iterator[Line]:
    if not second_record(case, sheet):
        yield Line(say("No second print was used to check the copies."))
    for check in checks_of(case, sheet, None):
        if check.key in _OPEN and check.stands is not Stands.THERE:
            yield Line(_OPEN[check.key])
    if _slide_mm(sheet) is None:
        yield Line(say("We do not know how far your jaw slides from the first touch."))
    yield Line(say("The copies do not show your jaw joints, your muscles or the roots of your teeth."))
    yield Line(say("The copies cannot tell why something hurts."))
    yield Line(say("Stone is hard. Your teeth give a little. So your mouth may differ from the copies."))


def _back(case: Case) -> Iterator[Line]:
    yield Line(say("Copies, prints and foil change nothing in your mouth."))
    yield Line(say("A step can be tried on a second set of copies first."))
    yield Line(say("What can be taken out or taken off can be tried first in your mouth."))
    for step in case.prescription.steps:
        if step.reversible_trial is not None and step.reversible_with:
            yield Line(say("You have begun such a trial with this: {what}.", what=step.reversible_with))


def _for_good(case: Case, sheet: Sheet) -> Iterator[Block]:
    """Every kind of step that cannot be taken back, planned or not, with the checks that come before it."""
    for step in case.prescription.steps:
        yield _step(case, sheet, step, step.step)
    planned = {step.step for step in case.prescription.steps}
    others = [kind for kind in FinalStep if kind not in planned]
    if others:
        checks = joined("; ", [check.plain for check in checks_of(case, sheet, None)])
        yield Block(
            say("What cannot be taken back, and is not planned now"),
            tuple(Line(STEPS[kind][1], note=say("Before it: {checks}.", checks=checks)) for kind in others),
        )


def _step(case: Case, sheet: Sheet, step: PlannedStep, kind: FinalStep) -> Block:
    lines = tuple(Line(capital(check.plain), stands=check.stands) for check in checks_of(case, sheet, step))
    if step.teeth:
        intro = say(
            "This step is planned for: {teeth}. It cannot be taken back. These checks come before it:",
            teeth=_names(teeth_iso(case, step.teeth)),
        )
    else:
        intro = say("This step is planned. It cannot be taken back. These checks come before it:")
    return Block(say("What cannot be taken back: {step}", step=STEPS[kind][1]), lines, intro)
