"""What the usual steps of a mounting say: what is done, why it matters, what closes the gate."""

from __future__ import annotations

from typing import NamedTuple

from mountproof.case.procedure import Stage
from mountproof.said import say


class StepWords(NamedTuple):
    """The words of one usual step. ``closes`` is what closes its gate; empty for a step that is none."""

    words: str
    why: str
    closes: str = ""


STAGES: dict[Stage, str] = {
    Stage.UPPER: say("Upper cast"),
    Stage.BETWEEN: say("Between"),
    Stage.LOWER: say("Lower cast"),
    Stage.AFTER: say("After"),
}

USUAL_WORDS: dict[str, StepWords] = {
    "fork": StepWords(
        say("Upper cast sits in the transfer fork without a rock"),
        say("A cast that rocks in the fork is mounted where it never stood in the face."),
        say("Pressed at the front and at both ends in turn, nothing moves."),
    ),
    "upper_base": StepWords(
        say("Base of the upper cast keyed and wetted"),
        say("A dry base draws water out of the mix, and a smooth one comes off."),
        say("Keys are cut, and the base takes up no more water."),
    ),
    "upper_space": StepWords(
        say("Space between upper cast and plate looked at"),
        say("Too little leaves no stone to hold, much of it lifts the cast: trim now, or pour twice."),
        say("The cast clears the plate everywhere, and the gap is one that was meant."),
    ),
    "upper_mix": StepWords(
        say("Mix for the upper cast"),
        say("The clock begins when powder meets water."),
    ),
    "upper_close": StepWords(
        say("Upper member closed to full contact"),
        say("A member that stops short leaves the height to the stone."),
        say("The member rests on its stop, and the fork still carries the cast."),
    ),
    "upper_wait": StepWords(
        say("Stone of the upper cast left alone until its release"),
        say("What moves before it has set stays moved."),
        say("The release time of its last pour has passed."),
    ),
    "pin_back": StepWords(
        say("Table and pin back"),
        say("They were out for the transfer; without them the next closing has no stop."),
    ),
    "home": StepWords(
        say("Index parts home"),
        say("A grain of stone under a plate or in a lock opens this mounting and every one after it."),
        say("Plates and centric locks are clean and seated, and nothing gives."),
    ),
    "record": StepWords(
        say("Record evaluated"),
        say("No mounting is better than its record."),
        say("Question 3 says that the record agrees."),
    ),
    "luted": StepWords(
        say("Casts luted together at three places"),
        say("Two places are a hinge."),
        say("Three places or more, not in a line; nothing gives when pressed."),
    ),
    "lower_base": StepWords(
        say("Base of the lower cast keyed and soaked"),
        say("A dry base draws water out of the mix, and a smooth one comes off."),
        say("Keys are cut, and the base takes up no more water."),
    ),
    "pin_set": StepWords(
        say("Pin set to the answer"),
        say("Only then do the members stand parallel, and only then does a later reading tell something."),
        say("The pin stands where question 1 says."),
    ),
    "lower_mix": StepWords(
        say("Mix for the lower cast"),
        say("The clock begins when powder meets water."),
    ),
    "column": StepWords(
        say("Column of stone built up on cast and plate"),
        say("A column that is too low leaves a void, one too high pushes the cast."),
    ),
    "lower_close": StepWords(
        say("Closed until the pin touches"),
        say("A pin that floats leaves the opening to the stone."),
        say("The pin stands on its table, and the record still carries the lower cast."),
    ),
    "lower_wait": StepWords(
        say("Stone of the lower cast left alone until its release"),
        say("What moves before it has set stays moved."),
        say("The release time of its last pour has passed."),
    ),
    "marks_set": StepWords(
        say("Marks measured with the record still in"),
        say("Only with the record in do they show whether the cast moved while the stone set."),
        say("The same pairs stand in a state of the kind record in, after set."),
    ),
    "record_out": StepWords(
        say("Record taken out"),
        say("From here on the casts meet tooth to tooth."),
    ),
    "reading": StepWords(
        say("Pin read at first contact, marks measured once more"),
        say("It is the best free check: the pin against its prediction."),
        say("The pin's reading at first contact is entered."),
    ),
}

#: Where a step stands, in words.
STATE_WORDS: tuple[str, ...] = (
    say("to come"),
    say("met"),
    say("not met"),
    say("passed over"),
    say("asked"),
    say("left out"),
)
