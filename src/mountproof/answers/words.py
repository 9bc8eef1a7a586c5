"""The questions, the cautions and the sources, each written once."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.said import say


class Question(NamedTuple):
    """One of the eight questions: its key, its words, and the parts of the case it reads."""

    key: str
    number: int
    words: str
    reads: tuple[str, ...]


_ALWAYS = ("limits",)
_MARKS = (
    "instrument",
    "caliper",
    "marks",
    "teeth_at",
    "records",
    "mounted_on",
    "record_repeat_mm",
    "pin_readings",
    *_ALWAYS,
)

_REPEATS = ("record_repeat_dof", "visit_repeat_mm")

#: What the mounting is judged by, and what rests on that judgement.
_MOUNTING = (
    *_MARKS,
    *_REPEATS,
    "foils",
    "bench",
    "pours",
    "dentition",
    "procedure",
    "casts",
    "facebow",
    "proof",
    "few_teeth",
    "scans",
)

#: What the closing of two scans, and the slide from there, are found from.
CLOSING = (
    "instrument",
    "dentition",
    "scans",
    "records",
    "mounted_on",
    "record_repeat_mm",
    "foils",
    "push",
    *_ALWAYS,
)

QUESTIONS: tuple[Question, ...] = (
    Question("pin", 1, say("How far do I open the pin for this record?"), _MARKS),
    Question(
        "stone",
        2,
        say("How much stone and water, in how many pours, and when may I touch it?"),
        ("bench", "pours", *_ALWAYS),
    ),
    Question(
        "record",
        3,
        say("Is this record good enough to mount with?"),
        (*_MARKS, *_REPEATS, "scans", "dentition", "facebow", "few_teeth"),
    ),
    Question(
        "mounting",
        4,
        say("Did the mounting come out as the records say?"),
        _MOUNTING,
    ),
    Question(
        "contacts",
        5,
        say("Where do the teeth first meet in CR, and what happens from there?"),
        (*_MOUNTING, "push"),
    ),
    Question(
        "guidance",
        6,
        say("What do I set on the condyles and the table, and what disoccludes?"),
        (*_MARKS, "plane", "settings", "scans", "dentition", "foils"),
    ),
    Question(
        "change",
        7,
        say("What would it take to bring CR and MIP together?"),
        (*_MOUNTING, "space", "change"),
    ),
    Question(
        "doubt",
        8,
        say("Which step limits me, and what should I measure next?"),
        (*_MOUNTING, "plane", "settings", "space", "change", "push", "doubt", "followups"),
    ),
)

BY_KEY = {question.key: question for question in QUESTIONS}

#: Cautions that go with every sheet, on every surface.
CAUTIONS: tuple[str, ...] = (
    say(
        "These are measurements of casts and scans. They inform a licensed clinician; they decide "
        "nothing, and local rules on who may do what come first."
    ),
    say(
        "Pain, locking, a recent change of the bite, swelling or limited opening: examine and treat "
        "reversibly first."
    ),
    say("A difference between CR and MIP is common and no disease by itself."),
    say(
        "Reshaping teeth is irreversible. Before it: a mounting that agrees with its records, agreement "
        "with the mouth, a trial on duplicate casts, and the patient's consent."
    ),
    say(
        "Depths and gaps from casts are no cutting instruction: teeth give, casts and poses carry a few "
        "tenths of a millimetre. Confirm in the mouth, in small steps."
    ),
)

#: Cautions of single questions.
CAUTION_BY_KEY: dict[str, tuple[str, ...]] = {
    "pin": (
        say(
            "The record carries the jaw relation; the pin only carries how parallel the members stand. A pin "
            "at zero proves little, a pin where it was predicted proves much."
        ),
    ),
    "stone": (say("The product sheet decides; where it and this page differ, follow the sheet."),),
    "record": (say("Agreement between records of one visit is repeatability, not truth."),),
    "mounting": (
        say(
            "A mounting that agrees with its record says nothing about whether the record agrees with the "
            "mouth."
        ),
    ),
    "contacts": (
        say(
            "A contact on the casts is not yet a contact in the mouth: teeth give by some hundredths of a "
            "millimetre, stone does not."
        ),
        say("Gaps near holes of a scan are unknown, not open."),
    ),
    "change": (
        say(
            "Before anything that cannot be undone, each of these: the mounting agrees with its records (question 4); first "
            "contact in the mouth agrees with the casts (question 5); a trial on duplicate casts, never on the master; consent."
        ),
        say(
            "No thickness of enamel is assumed. Over a fissure it can be a fifth or a sixth of what a probe suggests; a worn "
            "tooth may have none. How much may come off a tooth is the clinician's own number."
        ),
        say(
            "Not by numbers from casts alone: mobile teeth, active disease of the gums, teeth that were moved lately, casts that "
            "are months old, restorations changed since the impression."
        ),
        say("Implants are not felt as teeth are: numbers for teeth are not copied to them."),
        say(
            "The vertical dimension: as little change as serves, tried first with something that can be taken away again."
        ),
    ),
}

#: What the formulas rest on. Keys stand in docs/sources.bib.
SOURCES: dict[str, str] = {
    "pin": say(
        "own derivation, docs/theory/pin.md; Kaiser & Schelb, J Prosthet Dent, geometric study of "
        "incisal guide pin opening"
    ),
    "gum": say("JCGM 100:2008, 5.1.2 (first order) and JCGM 101:2008 (Monte Carlo, as the check)"),
    "critical": say("ISO 5725-6, critical range"),
    "hinge_axis": say(
        "own derivation, docs/theory/records.md, from M. Chasles 1830; size of the doubt as H. Woltring et al., "
        "J Biomech 1985;18:379-389"
    ),
    "stone": say("own arithmetic from the product sheet; ISO 6873 names the classes"),
    "axis": say(
        "own derivation, docs/theory/facebow.md; scatter of axes as quoted by Simpson et al., "
        "J Prosthet Dent 1984 (Beck, Lauritzen, Schallhorn, Teteruck, Walker)"
    ),
    "change": say("own derivation, docs/theory/change.md; compared with booleans of closed bodies"),
    "contact": say("own closed forms for contact under a rotation (docs/theory/first-contact.md)"),
    "slide": say(
        "own derivation, docs/theory/slide.md and docs/theory/settling.md; programmes solved by HiGHS"
    ),
    "iso3950": say("ISO 3950:2016, tooth numbers"),
}
