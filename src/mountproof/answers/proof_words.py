"""Causes in words, what to do about each, and how long that takes: our stated defaults."""

from __future__ import annotations

from typing import Final, NamedTuple

from mountproof.said import say


class CauseWords(NamedTuple):
    """A cause as it is told: what it is, what to do, and how many minutes that takes with everything at hand."""

    words: str
    action: str
    minutes: float


_REMOUNT: Final = say("remount with the same record")
_NEW_RECORD: Final = say("take a new record, and remount on it")
_NEW_IMPRESSION: Final = say("take a new impression and pour a new cast")

#: Minutes are our own estimate of hands-on time and setting together; nobody measured them.
CAUSES: Final[dict[str, CauseWords]] = {
    "nothing": CauseWords(say("nothing is wrong"), say("go on"), 0.0),
    "record_right": CauseWords(say("the mounted record lets the right condyle hang"), _NEW_RECORD, 75.0),
    "record_left": CauseWords(say("the mounted record lets the left condyle hang"), _NEW_RECORD, 75.0),
    "record_off": CauseWords(say("the mounted record is off"), _NEW_RECORD, 75.0),
    "record_seat": CauseWords(
        say("the record was not down on the casts when they were mounted"),
        say("seat the record again, and remount with it"),
        50.0,
    ),
    "record_rocks": CauseWords(
        say("the record rocks between right and left"), say("trim it to the cusp tips, and remount"), 55.0
    ),
    "stops": CauseWords(
        say("the record rests on stops that do not hold the cast"),
        say("add stops far from these, or take a new record"),
        60.0,
    ),
    "behind": CauseWords(
        say("gum, pad or base meets behind the teeth"),
        say("trim behind the last teeth; remount where the record was in"),
        20.0,
    ),
    "pin_apart": CauseWords(say("the pin holds the members apart"), say("lift the pin and look again"), 2.0),
    "set_right": CauseWords(say("the cast moved on the right while the stone set"), _REMOUNT, 45.0),
    "set_left": CauseWords(say("the cast moved on the left while the stone set"), _REMOUNT, 45.0),
    "set_front": CauseWords(say("the cast moved in front while the stone set"), _REMOUNT, 45.0),
    "set_back": CauseWords(say("the cast moved behind while the stone set"), _REMOUNT, 45.0),
    "set_evenly": CauseWords(
        say("the cast rose or sank evenly while the stone set (floating, or expansion)"),
        say("remount with the same record, in two pours"),
        60.0,
    ),
    "set_aside": CauseWords(say("the cast slid or turned while the stone set"), _REMOUNT, 45.0),
    "cast_narrow": CauseWords(
        say("the cast is narrower than the mouth: a bent impression or jaw"), _NEW_IMPRESSION, 100.0
    ),
    "cast_wide": CauseWords(
        say("the cast is wider than the mouth: an impression that gave way, or a cast that grew"),
        _NEW_IMPRESSION,
        100.0,
    ),
    "cast_twist": CauseWords(say("a cast is twisted"), _NEW_IMPRESSION, 100.0),
    "cast_misfit": CauseWords(
        say("impression or cast does not fit the mouth"), say("stop; {action}", action=_NEW_IMPRESSION), 100.0
    ),
    "teeth_moved": CauseWords(
        say("teeth moved since, or the list of the mouth was made under firm closure"),
        say("make the list of the mouth once more, closing lightly"),
        10.0,
    ),
    "axis": CauseWords(say("the hinge axis is far off"), say("repeat the facebow, or locate the axis"), 60.0),
    "instrument": CauseWords(
        say("the instrument, or the habit with it, adds an offset"),
        say("check the instrument's condyles and locks, and look at earlier cases"),
        15.0,
    ),
    "pin": CauseWords(
        say("the pin's kind, scale or setting is not what was entered"),
        say("look at the pin's shape, and measure its scale on two blocks"),
        5.0,
    ),
    "other_right": CauseWords(
        say("another record lets the right condyle hang, not the mounted one"),
        say("do not use that record"),
        0.0,
    ),
    "other_left": CauseWords(
        say("another record lets the left condyle hang, not the mounted one"),
        say("do not use that record"),
        0.0,
    ),
    "other_off": CauseWords(
        say("another record is off, not the mounted one"), say("do not use that record"), 0.0
    ),
}

_COMPARE: Final = say(
    "compare one tooth that stands out with the patient; then mend the tooth numbers, or export the scan again"
)
_SIDES: Final = CauseWords(
    say(
        "the scans, not the mounting: right and left are exchanged, by a mirrored mesh or by its tooth numbers"
    ),
    _COMPARE,
    10.0,
)
#: The cause ``scans``, by what is likeliest wrong with them (the modes of ``doubt.faults.scan_faults``).
SCANS: Final[dict[str, CauseWords]] = {
    "scan_unit": CauseWords(
        say("the scans, not the mounting: their numbers are in another unit than is said"),
        say("look into the export settings, and say the unit in the case; or export them again"),
        3.0,
    ),
    "scan_arches": CauseWords(
        say("the scans, not the mounting: upper and lower are exchanged"),
        say("exchange the two scan files in the case"),
        2.0,
    ),
    "scan_sides": _SIDES,
    "scan_mirrored": _SIDES,
    "scan_turned": CauseWords(
        say("the scans, not the mounting: one faces inwards, turned inside out or mirrored"),
        say("ask whether it was mirrored, and export it again with the outside outside"),
        5.0,
    ),
}

#: A rank of causes that is told at all.
WORTH_TELLING: Final = 0.03

#: Checks that could be made and need no record's name: what to read, minutes, and where it is entered.
NEXT: Final[dict[str, tuple[str, float, str]]] = {
    "set_movement": (
        say("the same marks with the record in, before stone and after set"),
        10.0,
        "marks.states",
    ),
    "new_record": (say("one more CR record, its marks read before stone"), 25.0, "records"),
    "width": (say("the width across the molars, in the mouth and on the cast"), 6.0, "casts.widths"),
    "rock": (
        say("the casts by hand in MIP: in how many ways do they come to rest?"),
        2.0,
        "casts.seats_by_hand",
    ),
    "hand_foils": (say("foil in MIP, in the mouth and on the casts by hand"), 12.0, "foils"),
    "foils": (say("foil in CR at light closure, in the mouth and on the mounting"), 15.0, "foils"),
    "reseat": (
        say("the record taken off and put back five times, three pairs of marks each"),
        10.0,
        "marks.reseat_mm",
    ),
    "pin": (say("what the pin reads with the record out, and the marks there"), 6.0, "pin_readings"),
    "calibration": (
        say("the pin's scale on two blocks of known height"),
        4.0,
        "instrument.pin.calibration",
    ),
    "stops": (say("where the record bears on the casts"), 3.0, "records"),
    "other_cases": (
        say("other cases mounted on this instrument: are they off in the same way?"),
        10.0,
        "proof.other_cases_looked_at",
    ),
    "none_held": (say("paper behind the last teeth with the record out: does anything touch?"), 2.0, "foils"),
}


def next_check(key: str, record: str) -> tuple[str, float, str]:
    """Return what to read, the minutes it takes, and where it is entered; ``record`` is the one that is in."""
    if key == "seating":
        return say("{record} tried on the mounted casts: does it seat?", record=record), 3.0, "proof.seatings"
    if key == "split_cast":
        return say("the gaps of the split cast with {record} in", record=record), 10.0, "proof.split_casts"
    if key == "condyles":
        words = say("how far the condylar elements stand off with {record} in", record=record)
        return words, 5.0, "proof.condyle_gaps"
    return NEXT[key]
