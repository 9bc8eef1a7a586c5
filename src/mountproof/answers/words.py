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

QUESTIONS: tuple[Question, ...] = (
    Question("pin", 1, say("How far do I open the pin for this record?"), _MARKS),
    Question(
        "stone",
        2,
        say("How much stone and water, in how many pours, and when may I touch it?"),
        ("bench", "pours", *_ALWAYS),
    ),
    Question("record", 3, say("Is this record good enough to mount with?"), _MARKS),
    Question(
        "mounting",
        4,
        say("Did the mounting come out as the records say?"),
        (*_MARKS, "foils", "bench", "pours", "dentition", "procedure"),
    ),
    Question(
        "contacts",
        5,
        say("Where do the teeth first meet in CR, and what happens from there?"),
        ("instrument", "dentition", "scans", "records", "mounted_on", "record_repeat_mm", "foils", *_ALWAYS),
    ),
    Question(
        "guidance",
        6,
        say("What do I set on the condyles and the table, and what disoccludes?"),
        ("records", "scans"),
    ),
    Question("change", 7, say("What would it take to bring CR and MIP together?"), ("records", "scans")),
    Question(
        "doubt",
        8,
        say("Which step limits me, and what should I measure next?"),
        ("records", "marks", "scans"),
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
}

#: What the formulas rest on. Keys stand in docs/sources.bib.
SOURCES: dict[str, str] = {
    "pin": say(
        "own derivation, docs/theory/pin.md; Kaiser & Schelb, J Prosthet Dent, geometric study of "
        "incisal guide pin opening"
    ),
    "gum": say("JCGM 100:2008, 5.1.2 (first order) and JCGM 101:2008 (Monte Carlo, as the check)"),
    "critical": say("ISO 5725-6, critical range"),
    "stone": say("own arithmetic from the product sheet; ISO 6873 names the classes"),
    "contact": say("own closed forms for contact under a rotation (docs/theory/first-contact.md)"),
    "iso3950": say("ISO 3950:2016, tooth numbers"),
}
