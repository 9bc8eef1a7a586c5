"""The movements of the picture in space: what the answers to contacts and guidance worked out, position by position.

Nothing is worked out between two positions, and nothing here that the answers do not hold: poses, places and gaps are theirs.
"""

from __future__ import annotations

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.excursion_data import Direction, GuidanceEvidence, Travel
from mountproof.answers.foils import written
from mountproof.answers.motion_parts import Movement
from mountproof.answers.progress import Progress, quiet, within
from mountproof.answers.result import Answer, Need
from mountproof.case.model import Case
from mountproof.said import joined, say

_SIDES: tuple[Direction, ...] = ("ahead", "right", "left")


def motion_steps(
    case: Case, contacts: Answer, guidance: Answer, progress: Progress = quiet
) -> tuple[Movement, ...]:
    """Return the five movements of a case, from its answers to contacts and guidance.

    Closing from the record to first contact, the slide from there into the rest, and the lower straight ahead, to the right and
    to the left. One that cannot be worked out has no positions, and says what is missing.
    """
    evidence = contacts.evidence if isinstance(contacts.evidence, ContactEvidence) else None
    behind = guidance.evidence if isinstance(guidance.evidence, GuidanceEvidence) else None
    travels = {t.direction: t for t in behind.travels} if behind is not None else {}
    return (
        _closing(case, contacts, evidence, within(progress, 0.0, 0.8)),
        _slide(case, contacts, evidence),
        *(_excursion(case, contacts, guidance, evidence, way, travels.get(way)) for way in _SIDES),
    )


def _closing(case: Case, contacts: Answer, evidence: ContactEvidence | None, progress: Progress) -> Movement:
    title = say("Closing to first contact")
    about = say("Amounts are what is left until first contact, along closure at its place.")
    if evidence is None:
        return Movement("closing", title, about, (), _for_scans(contacts), (contacts.headline,))
    # Surfaces need compiled kernels, which are slow to import: a caliper-only case must not wait for them.
    from mountproof.answers.motion_closing import OPEN_MM, begins_open, closing_steps

    notes = (
        (
            say(
                "The record holds the casts together: the way begins with them {mm:g} mm open instead.",
                mm=OPEN_MM,
            ),
        )
        if begins_open(evidence)
        else ()
    )
    return Movement("closing", title, about, closing_steps(case, evidence, progress), (), notes)


def _slide(case: Case, contacts: Answer, evidence: ContactEvidence | None) -> Movement:
    title = say("Slide from first contact into MIP")
    if evidence is None:
        return Movement("slide", title, "", (), _for_scans(contacts), (contacts.headline,))
    path = evidence.slide
    if path is None or not path.stages:
        return Movement("slide", title, "", (), _numbers(), ())
    from mountproof.answers.motion_slide import slide_steps

    about = say("Amounts are the way of the {place} since first contact.", place=path.names[0])
    notes = [say("Poses on the way that was found; in the mouth muscles and joints choose the way.")]
    needs: tuple[Need, ...] = ()
    if path.mip_mm is None:
        notes.append(say("No scan of MIP: the way ends where the casts, pushed together, come to rest."))
        needs = (
            Need(
                say("the scanned relation in MIP"),
                say("it tells where the teeth meet in MIP; so far the casts say it alone"),
                "records",
            ),
        )
    else:
        notes.append(
            say(
                "The way ends where the casts, pushed together, come to rest; question 5 holds that against MIP as scanned."
            )
        )
    return Movement("slide", title, about, slide_steps(case, evidence, path), needs, tuple(notes))


def _excursion(
    case: Case,
    contacts: Answer,
    guidance: Answer,
    evidence: ContactEvidence | None,
    way: Direction,
    travel: Travel | None,
) -> Movement:
    title = {
        "ahead": say("Straight ahead"),
        "right": say("Jaw to the right"),
        "left": say("Jaw to the left"),
    }[way]
    if evidence is None or travel is None or not travel.stations:
        return Movement(way, title, "", (), _missing(contacts, guidance, evidence), (guidance.headline,))
    from mountproof.answers.motion_excursions import excursion_steps

    about = {
        "ahead": say("Amounts are the travel of the condyles; at each the lower is closed until it touches."),
        "right": say(
            "Amounts are the travel of the left condyle; at each the lower is closed until it touches."
        ),
        "left": say(
            "Amounts are the travel of the right condyle; at each the lower is closed until it touches."
        ),
    }[way]
    notes = [
        say(
            "With the middle settings of the joints; question 6 tells what touches with others. Excursions begin at first "
            "contact in CR, not in MIP."
        )
    ]
    hidden = [
        written(case, t) for t, touch in zip(travel.teeth, travel.touch, strict=True) if touch == "unknown"
    ]
    if hidden:
        notes.append(
            say("Holes in the scans leave part of these teeth unknown: {teeth}.", teeth=joined(", ", hidden))
        )
    return Movement(way, title, about, excursion_steps(case, evidence, travel), (), tuple(notes))


def _missing(contacts: Answer, guidance: Answer, evidence: ContactEvidence | None) -> tuple[Need, ...]:
    """Return what keeps an excursion from being worked out: scans and their relation, records, numbers of teeth."""
    if evidence is None:
        return tuple(dict.fromkeys((*_for_scans(contacts), *guidance.needs)))
    if not (evidence.upper_teeth.any() and evidence.lower_teeth.any()):
        return _numbers()
    return guidance.needs


def _for_scans(contacts: Answer) -> tuple[Need, ...]:
    """Return what the scans lack: a foil names teeth, and moves no cast."""
    return tuple(need for need in contacts.needs if need.field != "foils")


def _numbers() -> tuple[Need, ...]:
    return (
        Need(
            say("tooth numbers on both scans"),
            say("no pair of numbered teeth meets, so nothing can be told of teeth"),
            "scans",
        ),
    )
